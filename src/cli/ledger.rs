//! The command line of what concerns the ledger.

use std::path::PathBuf;

use chrono::{DateTime, Utc};
use clap::{Args, Subcommand};

use crate::ledger::{ShortHead, parse_moment};

/// Where the ledger is.
#[derive(Debug, Args)]
pub struct LedgerFile {
    /// The ledger; default: the one that `lab.toml` names.
    #[arg(long, value_name = "FILE")]
    pub ledger: Option<PathBuf>,

    /// The laboratory's file; default: `lab.toml` in this folder.
    #[arg(long, value_name = "FILE")]
    pub lab: Option<PathBuf>,
}

/// Who gives a command, and when.
#[derive(Debug, Args)]
pub struct Signing {
    /// Who gives the command; default: the user's name.
    #[arg(long, value_name = "NAME")]
    pub by: Option<String>,

    /// The moment that is recorded, for tests; default: now.
    #[arg(long, value_name = "RFC3339", value_parser = parse_moment, hide = true)]
    pub now: Option<DateTime<Utc>>,
}

#[derive(Debug, Args)]
pub struct Find {
    /// An order number, a code, the beginning of a family name, or a birth date.
    #[arg(value_name = "TEXT")]
    pub text: String,

    #[command(flatten)]
    pub file: LedgerFile,
}

#[derive(Debug, Args)]
pub struct History {
    /// An order number, or a code of one of its cards.
    #[arg(value_name = "ORDER")]
    pub order: String,

    #[command(flatten)]
    pub file: LedgerFile,
}

#[derive(Debug, Subcommand)]
pub enum LedgerCommand {
    /// Checks that no entry was changed, taken out or cut off.
    Check(LedgerCheck),
    /// Forgets the persons of orders that are long done, or of one order.
    Forget(LedgerForget),
}

#[derive(Debug, Args)]
pub struct LedgerCheck {
    /// A head from a run sheet, such as "42 3f2a 9c1d 0b11 77e0".
    #[arg(long, value_name = "HEAD", value_parser = parse_head)]
    pub head: Option<ShortHead>,

    #[command(flatten)]
    pub file: LedgerFile,
}

#[derive(Debug, Args)]
pub struct LedgerForget {
    /// Orders whose newest entry is older than this many days.
    #[arg(long, value_name = "DAYS", required_unless_present = "order",
          value_parser = clap::value_parser!(u32).range(1..=36_500))]
    pub older_than: Option<u32>,

    /// One order, whatever its age, as its patient may ask for; no label or sheet of it
    /// can be made again.
    #[arg(long, value_name = "NUMBER", conflicts_with = "older_than")]
    pub order: Option<String>,

    /// Forgets without asking.
    #[arg(long)]
    pub yes: bool,

    #[command(flatten)]
    pub signing: Signing,

    #[command(flatten)]
    pub file: LedgerFile,
}

fn parse_head(text: &str) -> Result<ShortHead, String> {
    text.parse()
        .map_err(|fault: crate::fault::Fault| format!("{}; {}", fault.what, fault.help))
}
