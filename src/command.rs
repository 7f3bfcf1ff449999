//! Carries out one command: reads what it names, shows what came of it.

mod again;
mod days;
mod find;
mod history;
mod ledger;
mod make;
mod manifest;
mod new;
mod plan;
mod proof;
mod relabel;
mod reprint;
mod run;
mod stock;

use std::collections::BTreeSet;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::{Arc, Mutex};

use chrono::{DateTime, Datelike, NaiveDate, Utc};
use clap::CommandFactory;

use crate::cli::{Again, Cli, Command, Laying, Making, Shared, Signing};
use crate::fault::{Fault, Source, suggest};
use crate::imposition::Placing;
use crate::lab::Lab;
use crate::ledger::{Stamp, by_whom, ledger_beside};
use crate::run::book::Book;
use crate::run::printing::named;
use crate::workshop::{Item, Unread, Workshop};
use crate::{import, input};

/// How a command ended; the number is the program's exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    Done = 0,
    /// An order, protocol, stock or PDF is wrong, an order is on hold, or no day
    /// suits.
    Wrong = 1,
    /// A file cannot be read or written.
    Unusable = 3,
    /// Stopped by Ctrl-C.
    Stopped = 130,
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> Self {
        ExitCode::from(outcome as u8)
    }
}

/// Runs one command line.
pub fn run(cli: Cli) -> Outcome {
    match cli.command {
        Command::Make(args) => make::make(&args),
        Command::Run(args) => run::run(&args),
        Command::Manifest(args) => manifest::manifest(&args),
        Command::Relabel(args) => relabel::relabel(&args),
        Command::Reprint(args) => reprint::reprint(&args),
        Command::Plan(args) => plan::plan(&args),
        Command::Days(args) => days::days(&args),
        Command::Proof(args) => proof::proof(&args),
        Command::New(args) => new::new(&args),
        Command::Stock(args) => stock::stock(&args),
        Command::Find(args) => find::find(&args),
        Command::History(args) => history::history(&args),
        Command::Ledger(command) => ledger::ledger(&command),
        Command::Completions { shell } => {
            let mut out = Vec::new();
            clap_complete::generate(shell, &mut Cli::command(), "kitwright", &mut out);
            print(&String::from_utf8_lossy(&out))
        }
        Command::Man => {
            let mut out = Vec::new();
            let page = clap_mangen::Man::new(Cli::command());
            match page.render(&mut out) {
                Ok(()) => print(&String::from_utf8_lossy(&out)),
                Err(error) => complain(&[Fault::new(
                    format!("cannot make the manual page: {error}"),
                    "this is a mistake in the program; please report it",
                )]),
            }
        }
    }
}

/// The text of the one order file that a command takes.
fn order_file(path: &Path) -> Result<Arc<Source>, Fault> {
    if import::is_export(path) {
        return Err(Fault::of_file(
            format!("{} is an export, and one order is asked for", path.display()),
            "write the order into a file of its own; `kitwright new` has the form",
        ));
    }
    input::read_text(path)
}

/// Prints to standard output; a reader that has gone away is no fault.
fn print(text: &str) -> Outcome {
    let mut out = anstream::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            complain(&[Fault::of_file(
                format!("cannot write to standard output: {error}"),
                "what the command makes is made: look there, and with a ledger at \
                 `kitwright history`, before you give it again",
            )])
        }
        _ => Outcome::Done,
    }
}

/// Says something on standard error. If that cannot be written, there is nowhere to
/// say so, and what is being made goes on.
fn note(text: &str) {
    let mut err = anstream::stderr().lock();
    let _ = err.write_all(text.as_bytes()).and_then(|()| err.flush());
}

/// Shows faults on standard error. One that stands at a place of a file is shown once,
/// whatever many orders meet it there.
fn complain(faults: &[Fault]) -> Outcome {
    // The hashes of what was shown: there can be a million.
    static SHOWN: Mutex<BTreeSet<u64>> = Mutex::new(BTreeSet::new());
    let is_new = |text: &str| {
        let mut hasher = DefaultHasher::new();
        text.hash(&mut hasher);
        SHOWN.lock().is_ok_and(|mut shown| shown.insert(hasher.finish()))
    };
    for fault in faults {
        let text = fault.render();
        if fault.place.is_none() || is_new(&text) {
            note(&format!("{text}\n\n"));
        }
    }
    let of_file = faults.iter().any(|fault| fault.of_file);
    if of_file { Outcome::Unusable } else { Outcome::Wrong }
}

/// Shows the faults of files that gave no orders.
fn complain_of(unread: &[Unread]) -> Outcome {
    let outcomes = unread.iter().map(|file| complain(&file.faults));
    outcomes.max().unwrap_or(Outcome::Done)
}

/// Years that a clock can say while this program is in use. Common practice, no
/// source: it was written in the first, and no program is used for fifty years.
const CLOCK_YEARS: std::ops::RangeInclusive<i32> = 2026..=2075;

/// The moment by the machine's clock, the only one the program looks at.
///
/// # Errors
///
/// A fault if the clock cannot be right: by it a day would be chosen that is past,
/// a child taken for an adult, or everybody in a ledger forgotten.
fn clock() -> Result<DateTime<Utc>, Fault> {
    let now = Utc::now();
    if CLOCK_YEARS.contains(&now.year()) {
        return Ok(now);
    }
    Err(Fault::new(
        format!("the clock of this machine says {}", now.format("%Y-%m-%d")),
        "set the clock",
    ))
}

/// Today's date in UTC, or the one the user gave: birth dates and ages are compared
/// with it, and a day is chosen after it.
fn today(shared: &Shared) -> Result<NaiveDate, Fault> {
    shared.today.map_or_else(|| Ok(clock()?.date_naive()), Ok)
}

fn workshop(shared: &Shared) -> Result<Workshop, Vec<Fault>> {
    let today = today(shared).map_err(|fault| vec![fault])?;
    Workshop::new(shared.lab.clone(), shared.protocol.as_deref(), today)
}

/// How labels are laid: as asked for, and as their printer was measured: the one
/// that is named, or the one whose queue they go to.
fn placing(
    laying: &Laying,
    lab: Option<&Lab>,
    queue: Option<&str>,
) -> Result<Placing, Vec<Fault>> {
    let mut placing = Placing {
        start_at: laying.start_at,
        each_kit: laying.each_kit,
        ..Placing::default()
    };
    let known = lab.map(|lab| &lab.printers);
    let find = |name: &str| known.and_then(|known| known.get(name));
    let printer = match &laying.printer {
        Some(name) => {
            let unknown = || {
                let names: Vec<&str> =
                    known.iter().flat_map(|k| k.keys()).map(String::as_str).collect();
                let help = if names.is_empty() {
                    format!(
                        "measure it with `kitwright stock NAME --ruler FILE` and write \
                         [printers.{}] in lab.toml",
                        toml_edit::Key::new(name)
                    )
                } else {
                    suggest(name, &names)
                };
                vec![Fault::new(format!("lab.toml has no printer `{name}`"), help)]
            };
            Some(find(name).ok_or_else(unknown)?)
        }
        None => match (queue, known) {
            (Some(queue), Some(known)) => {
                named(queue, known).map_err(|fault| vec![fault])?
            }
            _ => None,
        },
    };
    if let Some(printer) = printer {
        placing.nudge = printer.nudge;
        placing.feed = printer.feed;
    }
    placing.nudge = laying.nudge.unwrap_or(placing.nudge);
    placing.feed = laying.feed.unwrap_or(placing.feed);
    Ok(placing)
}

/// A workshop for what is printed again.
fn workshop_for(again: &Again, making: &Making) -> Result<Workshop, Vec<Fault>> {
    let lab = again.file.lab.clone();
    let today = today_of(again).map_err(|fault| vec![fault])?;
    ready_to_make(Workshop::new(lab, again.protocol.as_deref(), today)?, making)
}

/// `shop` with what the documents are made with and how they are proven.
fn ready_to_make(shop: Workshop, making: &Making) -> Result<Workshop, Vec<Fault>> {
    let mut shop = shop.with_press(making.stock.as_deref(), making.fonts.as_deref())?;
    shop.prove_by(making.proof);
    Ok(shop)
}

/// The day on which something is printed again, a date of UTC.
fn today_of(again: &Again) -> Result<NaiveDate, Fault> {
    again.today.map_or_else(|| Ok(now(&again.signing)?.date_naive()), Ok)
}

/// The moment that is recorded.
fn now(signing: &Signing) -> Result<DateTime<Utc>, Fault> {
    signing.now.map_or_else(clock, Ok)
}

/// The stamp of a command.
fn stamp(signing: &Signing) -> Result<Stamp, Fault> {
    Ok(Stamp::new(now(signing)?, &by_whom(signing.by.as_deref())))
}

/// The ledger that the command line or, beside the order in the file `order`, the
/// laboratory's file names; none if neither does.
fn ledger_of(shop: &mut Workshop, order: &Path, named: Option<&Path>) -> Option<PathBuf> {
    if let Some(named) = named {
        return Some(named.to_path_buf());
    }
    let path = shop.lab_path(order);
    // A laboratory's file that cannot be read is a fault of each order.
    let lab = shop.lab(order).ok()?;
    ledger_beside(&path, &lab.lab)
}

/// Opens a ledger to record in it. One that was not there is begun and told of: it
/// remembers nothing, and its name may be a slip.
fn open_book(path: &Path, signing: &Signing) -> Result<Book, Vec<Fault>> {
    let book = Book::open(path, stamp(signing).map_err(|fault| vec![fault])?)?;
    if book.was_begun() {
        note(&format!("began the ledger {}\n", path.display()));
    }
    Ok(book)
}

/// The ledger of a run, whose orders have one laboratory.
fn book(
    shop: &mut Workshop,
    items: &[Item],
    named: Option<&Path>,
    signing: &Signing,
) -> Result<Option<Book>, Vec<Fault>> {
    let first = items.first().map_or(Path::new(""), |first| &first.path);
    let path = ledger_of(shop, first, named);
    path.map(|path| open_book(&path, signing)).transpose()
}

/// `count` and the noun that goes with it.
fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
