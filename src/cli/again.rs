//! The command line of what is printed again.

use std::path::PathBuf;

use chrono::{NaiveDate, NaiveTime};
use clap::Args;

use super::{Laying, LedgerFile, Making, Signing};
use crate::order::rewrite::Change;

/// What is printed again, and why.
#[derive(Debug, Args)]
pub struct Again {
    /// The code on a label, an order number, an order file, an export, or a PDF of
    /// the kit; a `lab.toml` beside a file goes before the one in this folder.
    #[arg(value_name = "CODE|ORDER|FILE")]
    pub what: String,

    /// Why, in your own words; it is remembered.
    #[arg(long, value_name = "TEXT")]
    pub reason: String,

    /// Which order, for a PDF or an export that holds several.
    #[arg(long, value_name = "NUMBER")]
    pub order: Option<String>,

    /// Only where there is no ledger to count: which reprint or revision this is.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=999))]
    pub number: Option<u32>,

    /// The folder to write to; each order gets a folder of its own in it.
    #[arg(long, value_name = "DIR", default_value = "reprints")]
    pub out: PathBuf,

    /// A protocol file of your own.
    #[arg(long, value_name = "FILE")]
    pub protocol: Option<PathBuf>,

    /// The day on which the order is read; default: today.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = super::date)]
    pub today: Option<NaiveDate>,

    #[command(flatten)]
    pub file: LedgerFile,

    #[command(flatten)]
    pub signing: Signing,
}

#[derive(Debug, Args)]
pub struct Relabel {
    #[command(flatten)]
    pub again: Again,

    /// Which card, such as 3 or spare; default: that of the code, or all.
    #[arg(long, value_name = "CARD")]
    pub card: Option<WhichCard>,

    #[command(flatten)]
    pub making: Making,

    #[command(flatten)]
    pub laying: Laying,
}

/// A card of a kit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhichCard {
    Number(u8),
    Spare,
}

impl std::str::FromStr for WhichCard {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text.parse() {
            _ if text == "spare" => Ok(Self::Spare),
            Ok(number @ 1..=9) => Ok(Self::Number(number)),
            _ => Err("give the number of the card, or spare".into()),
        }
    }
}

#[derive(Debug, Args)]
pub struct Reprint {
    #[command(flatten)]
    pub again: Again,

    #[command(flatten)]
    pub making: Making,

    #[command(flatten)]
    pub laying: Laying,

    /// Makes a revision of what the order comes to now: from an order file that was
    /// corrected, or with other times than those of the kit.
    #[arg(long)]
    pub revise: bool,

    /// Lets the corrected order have again what a revision replaced or added.
    #[arg(long, requires = "revise")]
    pub restore: bool,

    /// The patient's family name, corrected.
    #[arg(long, value_name = "NAME")]
    pub family: Option<String>,

    /// The patient's given name, corrected.
    #[arg(long, value_name = "NAME")]
    pub given: Option<String>,

    /// The patient's date of birth, corrected.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = super::date)]
    pub born: Option<NaiveDate>,

    /// The patient's weight, corrected, such as "150 lb" or "68 kg".
    #[arg(long, value_name = "WEIGHT")]
    pub weight: Option<String>,

    /// The patient's new day of card 1; it must suit, as `days` says.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = super::date)]
    pub start: Option<NaiveDate>,

    /// The patient's new time of lunch.
    #[arg(long, value_name = "HH:MM", value_parser = wall_time)]
    pub lunch: Option<NaiveTime>,

    /// The patient's new time of the evening meal.
    #[arg(long, value_name = "HH:MM", value_parser = wall_time)]
    pub dinner: Option<NaiveTime>,

    /// The patient's new bedtime.
    #[arg(long, value_name = "HH:MM", value_parser = wall_time)]
    pub bedtime: Option<NaiveTime>,

    /// The patient's new time of waking.
    #[arg(long, value_name = "HH:MM", value_parser = wall_time)]
    pub wake: Option<NaiveTime>,
}

impl Reprint {
    /// What of the order is to be changed.
    pub fn change(&self) -> Change {
        let Self { born, start, lunch, dinner, bedtime, wake, .. } = *self;
        let (family, given) = (self.family.clone(), self.given.clone());
        let weight = self.weight.clone();
        Change { family, given, born, weight, start, lunch, dinner, bedtime, wake }
    }
}

fn wall_time(text: &str) -> Result<NaiveTime, String> {
    NaiveTime::parse_from_str(text, "%H:%M")
        .ok()
        .filter(|_| text.len() == 5)
        .ok_or_else(|| "write hours and minutes, such as 23:15".to_owned())
}
