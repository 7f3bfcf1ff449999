//! The command line. Definitions only; nothing here opens a file.

mod again;
mod ledger;
mod run;

use std::path::PathBuf;
use std::sync::LazyLock;

use chrono::{Datelike, NaiveDate};
use clap::{Args, Parser, Subcommand};

use crate::input::LAB_FILE;
use crate::proof::Mode;
pub use again::{Again, Relabel, Reprint, WhichCard};
pub use ledger::{
    Find, History, LedgerCheck, LedgerCommand, LedgerFile, LedgerForget, Signing,
};
pub use run::{Laying, Manifest, Run};

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
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = date)]
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

    /// How thoroughly finished PDFs are read back.
    #[arg(long, value_name = "HOW", value_enum, default_value_t = Mode::Modules)]
    pub proof: Mode,
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
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = date)]
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

    /// The revision that their pages name.
    #[arg(long, value_name = "NUMBER", default_value_t = 0)]
    pub revision: u32,

    /// The reprint that their pages name.
    #[arg(long, value_name = "NUMBER", default_value_t = 0)]
    pub reprint: u32,

    #[command(flatten)]
    pub shared: Shared,

    #[command(flatten)]
    pub making: Making,

    #[command(flatten)]
    pub laying: Laying,
}

#[derive(Debug, Args)]
pub struct New {
    /// The file to write; default, and `-`: standard output.
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

/// Reads a day of the command line.
fn date(text: &str) -> Result<NaiveDate, String> {
    text.parse()
        .ok()
        .filter(|date: &NaiveDate| (1..=9999).contains(&date.year()))
        .ok_or_else(|| "write a day that there is, as 2026-10-14".to_owned())
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
