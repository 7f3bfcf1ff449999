//! The command line. Definitions only; nothing here opens a file.

mod ledger;

use std::path::PathBuf;
use std::sync::LazyLock;

use chrono::{NaiveDate, NaiveTime};
use clap::{Args, Parser, Subcommand};

use crate::fields::parse_thousandths;
use crate::input::LAB_FILE;
use crate::imposition::{EachKit, Feed};
use crate::lab::MOST_NUDGE;
use crate::order::rewrite::Change;
use crate::run::Shard;
use crate::run::printing::Printers;
use crate::stock::Length;
pub use ledger::{
    Find, History, LedgerCheck, LedgerCommand, LedgerFile, LedgerForget, Signing,
};

/// Prints the paperwork of a home specimen collection kit from an order file.
#[derive(Debug, Parser)]
#[command(
    version,
    long_version = long_version(),
    max_term_width = 80,
    arg_required_else_help = true,
    after_help = EXIT_CODES
)]
pub struct Cli {
    #[command(subcommand)]
    pub command: Command,
}

const EXIT_CODES: &str = "\
Exit codes:
  0  everything asked for was done
  1  an order, protocol, stock or PDF is wrong, an order is on hold, or no day
     suits
  2  the command line is wrong
  3  a file cannot be read or written
  130  stopped by Ctrl-C";

/// Version of the program and of the zone data it carries.
fn long_version() -> &'static str {
    static TEXT: LazyLock<String> = LazyLock::new(|| {
        let zone_data = crate::clock::zone_data_version();
        format!("{}\nzone data {zone_data}", env!("CARGO_PKG_VERSION"))
    });
    &TEXT
}

#[derive(Debug, Subcommand)]
pub enum Command {
    /// Writes the documents of orders, each proven before it is written.
    Make(Make),
    /// Writes a print run: the kits of many orders in files for two trays.
    Run(Run),
    /// Joins the manifests of the shards of a run.
    Manifest(Manifest),
    /// Prints one label of a kit, or all of them, once more.
    Relabel(Relabel),
    /// Prints a kit's paper once more, as it was or with new times.
    Reprint(Reprint),
    /// Prints the plan of orders and writes nothing.
    Plan(Plan),
    /// Lists the dates that suit as the day of card 1, and why others do not.
    Days(Days),
    /// Reads finished PDFs back and compares them with their order.
    Proof(Proof),
    /// Writes a commented order file to fill in.
    New(New),
    /// Lists the label stocks, or writes an alignment page for one.
    Stock(Stock),
    /// Finds kits in the ledger by order number, code, name or birth date.
    Find(Find),
    /// Tells what was done with one order, newest last.
    History(History),
    /// Checks the ledger, or forgets persons in it.
    #[command(subcommand)]
    Ledger(LedgerCommand),
    /// Prints shell completions.
    Completions {
        /// The shell to complete in.
        shell: clap_complete::Shell,
    },
    /// Prints the manual page.
    Man,
}

/// Orders, and what is the same for all of them.
#[derive(Debug, Args)]
pub struct Orders {
    /// Order files or folders of them; `-` reads one order from standard input.
    #[arg(required = true, value_name = "ORDER")]
    pub orders: Vec<PathBuf>,

    #[command(flatten)]
    pub shared: Shared,
}

/// What can be said of every order of a run.
#[derive(Debug, Args)]
pub struct Shared {
    /// The laboratory's file; default: `lab.toml` beside each order.
    #[arg(long, value_name = "FILE")]
    pub lab: Option<PathBuf>,

    /// A protocol file of your own, for every order that names it.
    #[arg(long, value_name = "FILE")]
    pub protocol: Option<PathBuf>,

    /// The day on which the orders are read, for birth dates and the choice
    /// of a day; default: today.
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub today: Option<NaiveDate>,
}

/// How the documents are made.
#[derive(Debug, Args)]
pub struct Making {
    /// A label stock by name, or a stock file of your own.
    #[arg(long, value_name = "STOCK")]
    pub stock: Option<String>,

    /// A folder of fonts for names in other scripts.
    #[arg(long, value_name = "DIR")]
    pub fonts: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub struct Make {
    #[command(flatten)]
    pub orders: Orders,

    /// The folder to write to; each order gets a folder of its own in it.
    #[arg(long, value_name = "DIR", default_value = "kits")]
    pub out: PathBuf,

    #[command(flatten)]
    pub making: Making,

    /// The ledger; default: the one that `lab.toml` names, if it names one.
    #[arg(long, value_name = "FILE")]
    pub ledger: Option<PathBuf>,

    #[command(flatten)]
    pub signing: Signing,
}

#[derive(Debug, Args)]
pub struct Run {
    #[command(flatten)]
    pub orders: Orders,

    /// The folder to write to; one run to a folder.
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,

    #[command(flatten)]
    pub making: Making,

    #[command(flatten)]
    pub laying: Laying,

    /// The most kits in one file.
    #[arg(long, value_name = "N", default_value_t = 25, value_parser = kits_per_file)]
    pub kits_per_file: usize,

    /// Keeps the paper of each kit in a file of its own, too, in DIR/archive.
    #[arg(long)]
    pub archive: bool,

    /// Goes on with the run that was stopped in this folder, if there is one.
    #[arg(long)]
    pub resume: bool,

    /// Takes only the orders of one shard, such as 3/16.
    #[arg(long, value_name = "K/N")]
    pub shard: Option<Shard>,

    /// How many threads; default: one for each core.
    #[arg(long, value_name = "N", value_parser = threads)]
    pub threads: Option<usize>,

    /// The ledger; default: the one that `lab.toml` names, if it names one.
    #[arg(long, value_name = "FILE")]
    pub ledger: Option<PathBuf>,

    #[command(flatten)]
    pub signing: Signing,

    /// Prints the files with CUPS, after asking: PAPER=printer,LABELS=printer.
    #[arg(long, value_name = "PRINTERS")]
    pub print: Option<Printers>,

    /// Prints without asking.
    #[arg(long, requires = "print")]
    pub yes: bool,
}

/// How labels are laid on their sheets.
#[derive(Debug, Clone, Args)]
pub struct Laying {
    /// First free cell of the first sheet, counted row by row from 1.
    #[arg(long, value_name = "CELL", default_value_t = 1)]
    pub start_at: usize,

    /// Where each kit's first label lies.
    #[arg(long, value_name = "WHERE", value_enum, default_value_t = EachKit::Next)]
    pub each_kit: EachKit,

    /// The printer of the labels, as lab.toml names and measures it.
    #[arg(long, value_name = "NAME")]
    pub printer: Option<String>,

    /// Moves the labels to the right and down, in millimetres, such as 0.5,-1.2.
    #[arg(long, value_name = "X,Y", value_parser = nudge, allow_hyphen_values = true)]
    pub nudge: Option<(Length, Length)>,

    /// Which edge of a label sheet goes in first.
    #[arg(long, value_name = "EDGE", value_enum)]
    pub feed: Option<Feed>,
}

impl Default for Laying {
    fn default() -> Self {
        let (start_at, each_kit) = (1, EachKit::Next);
        Self { start_at, each_kit, printer: None, nudge: None, feed: None }
    }
}

fn kits_per_file(text: &str) -> Result<usize, String> {
    in_range(text, 1..=MOST_KITS_A_FILE)
}

fn threads(text: &str) -> Result<usize, String> {
    in_range(text, 1..=256)
}

/// Beyond this a file is too large for printers and for one document.
const MOST_KITS_A_FILE: usize = 100;

fn in_range(text: &str, range: std::ops::RangeInclusive<usize>) -> Result<usize, String> {
    let number = text.parse().ok().filter(|number| range.contains(number));
    number.ok_or_else(|| {
        format!("give a whole number from {} to {}", range.start(), range.end())
    })
}

/// Two lengths in millimetres, to the right and down.
fn nudge(text: &str) -> Result<(Length, Length), String> {
    let length = |text: &str| {
        let um = parse_thousandths(text.trim())?;
        (-MOST_NUDGE..=MOST_NUDGE).contains(&um).then(|| Length::from_um(um))
    };
    text.split_once(',').and_then(|(x, y)| Some((length(x)?, length(y)?))).ok_or_else(
        || "write two lengths in millimetres, each from -10 to 10: 0.5,-1.2".to_owned(),
    )
}

#[derive(Debug, Args)]
pub struct Manifest {
    /// The folders that the shards wrote to.
    #[arg(required = true, value_name = "DIR")]
    pub folders: Vec<PathBuf>,

    /// The file to write; default: standard output.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

/// What is printed again, and why.
#[derive(Debug, Args)]
pub struct Again {
    /// The code on a label, an order number, an order file, or a PDF of the kit.
    #[arg(value_name = "CODE|ORDER|FILE")]
    pub what: String,

    /// Why, in your own words; it is remembered.
    #[arg(long, value_name = "TEXT")]
    pub reason: String,

    /// Which order, for a PDF that carries several.
    #[arg(long, value_name = "NUMBER")]
    pub order: Option<String>,

    /// Where there is no ledger to count: which reprint or revision this is.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=999))]
    pub number: Option<u32>,

    /// The folder to write to; each order gets a folder of its own in it.
    #[arg(long, value_name = "DIR", default_value = "reprints")]
    pub out: PathBuf,

    /// A protocol file of your own.
    #[arg(long, value_name = "FILE")]
    pub protocol: Option<PathBuf>,

    /// The day on which the order is read; default: today.
    #[arg(long, value_name = "YYYY-MM-DD")]
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

    /// The patient's new day of card 1.
    #[arg(long, value_name = "YYYY-MM-DD")]
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
        let Self { start, lunch, dinner, bedtime, wake, .. } = *self;
        Change { start, lunch, dinner, bedtime, wake }
    }
}

fn wall_time(text: &str) -> Result<NaiveTime, String> {
    NaiveTime::parse_from_str(text, "%H:%M")
        .ok()
        .filter(|_| text.len() == 5)
        .ok_or_else(|| "write hours and minutes, such as 23:15".to_owned())
}

#[derive(Debug, Args)]
pub struct Plan {
    #[command(flatten)]
    pub orders: Orders,

    /// Prints one JSON object a line, times as ISO 8601 with offset.
    #[arg(long, conflicts_with = "ics")]
    pub json: bool,

    /// Prints a calendar (RFC 5545) with an alarm for each moment.
    #[arg(long)]
    pub ics: bool,
}

#[derive(Debug, Args)]
pub struct Days {
    /// The order, with a date or without; `-` reads it from standard input.
    #[arg(value_name = "ORDER")]
    pub order: PathBuf,

    /// The first day to list; default: today.
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub from: Option<NaiveDate>,

    /// How many days to list.
    #[arg(long, value_name = "COUNT", default_value_t = 60,
          value_parser = clap::value_parser!(u16).range(1..=366))]
    pub days: u16,

    /// Prints one JSON object a line.
    #[arg(long)]
    pub json: bool,

    #[command(flatten)]
    pub shared: Shared,
}

#[derive(Debug, Args)]
pub struct Proof {
    /// The order that the PDFs were made from.
    #[arg(value_name = "ORDER")]
    pub order: PathBuf,

    /// Finished PDFs of that order.
    #[arg(required = true, value_name = "PDF")]
    pub pdfs: Vec<PathBuf>,

    #[command(flatten)]
    pub shared: Shared,

    #[command(flatten)]
    pub making: Making,
}

#[derive(Debug, Args)]
pub struct New {
    /// The file to write; default: standard output.
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub struct Stock {
    /// A stock by name, or a stock file of your own; default: all of them.
    #[arg(value_name = "STOCK")]
    pub stock: Option<String>,

    /// Writes an alignment page of the stock to this PDF file.
    #[arg(long, value_name = "PDF", requires = "stock")]
    pub ruler: Option<PathBuf>,

    /// Draws it as this printer of lab.toml prints labels.
    #[arg(long, value_name = "NAME", requires = "ruler")]
    pub printer: Option<String>,

    /// The laboratory's file; default: `lab.toml` in this folder.
    #[arg(long, value_name = "FILE", default_value = LAB_FILE)]
    pub lab: PathBuf,
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn the_command_line_is_consistent() {
        Cli::command().debug_assert();
    }
}
