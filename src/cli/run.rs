//! The command line of a print run.

use std::path::PathBuf;

use clap::Args;

use super::{Making, Orders, Signing};
use crate::fields::parse_thousandths;
use crate::imposition::{EachKit, Feed};
use crate::lab::MOST_NUDGE;
use crate::run::Shard;
use crate::run::printing::Printers;
use crate::stock::Length;

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
    #[arg(long, value_name = "N", default_value_t = 8, value_parser = kits_per_file)]
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
    #[arg(long, value_name = "CELL", default_value_t = 1, value_parser = cell)]
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

/// A stock has at most 40 columns and 40 rows.
fn cell(text: &str) -> Result<usize, String> {
    in_range(text, 1..=1600)
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
