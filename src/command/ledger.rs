//! `kitwright ledger`: checks the ledger, and forgets persons in it.

use std::fmt::Write as _;
use std::io::IsTerminal;

use chrono::{DateTime, TimeDelta, Utc};

use super::{Outcome, complain, counted, note, print, stamp};
use crate::cli::{LedgerCheck, LedgerCommand, LedgerFile, LedgerForget};
use crate::fault::{Fault, visible};
use crate::ledger::{Forgotten, Ledger, Which, ledger_file};

pub(super) fn ledger(command: &LedgerCommand) -> Outcome {
    let text = match command {
        LedgerCommand::Check(args) => check(args),
        LedgerCommand::Forget(args) => forget(args),
    };
    match text {
        Ok(text) => print(&text),
        Err(faults) => complain(&faults),
    }
}

fn open(file: &LedgerFile) -> Result<Ledger, Vec<Fault>> {
    let path = ledger_file(file.ledger.as_deref(), file.lab.as_deref())?;
    Ledger::open_existing(&path).map_err(|fault| vec![fault])
}

fn check(args: &LedgerCheck) -> Result<String, Vec<Fault>> {
    let mut ledger = open(&args.file)?;
    let checked = ledger.check(args.head)?;
    let mut text = String::new();
    for note in &checked.notes {
        let _ = writeln!(text, "note: {note}");
    }
    let entries = counted(checked.entries, "entry", "entries");
    let _ = writeln!(text, "{entries} checked, {} forgotten", checked.forgotten);
    if let Some(head) = args.head {
        let _ = writeln!(text, "the printed head {head} is in it");
    }
    if let Some(head) = checked.head {
        let _ = writeln!(text, "head: {}", head.short());
    }
    Ok(text)
}

fn forget(args: &LedgerForget) -> Result<String, Vec<Fault>> {
    let mut ledger = open(&args.file)?;
    let stamp = stamp(&args.signing).map_err(|fault| vec![fault])?;
    let (which, named) = match &args.order {
        Some(order) => (Which::Order(order), format!("of the number {}", visible(order))),
        None => {
            let before = days_before(stamp.at, args.older_than.unwrap_or_default())?;
            let since = before.format("%Y-%m-%d");
            (Which::Before(before), format!("with no entry since {since}"))
        }
    };
    let told = |forgotten: Forgotten| {
        let Forgotten { orders, entries } = forgotten;
        format!(
            "{} ({})",
            counted(orders, "order", "orders"),
            counted(entries, "entry", "entries")
        )
    };
    if !args.yes {
        let old = ledger.to_forget(which).map_err(|fault| vec![fault])?;
        let question = format!("forget {} {named}?", told(old));
        if !agreed(&question)? {
            return Ok("nothing was forgotten\n".into());
        }
    }
    let forgotten = ledger.forget(&stamp, which)?;
    Ok(format!("forgot {}; copies and backups are not reached\n", told(forgotten)))
}

fn days_before(now: DateTime<Utc>, days: u32) -> Result<DateTime<Utc>, Vec<Fault>> {
    now.checked_sub_signed(TimeDelta::days(days.into())).ok_or_else(|| {
        vec![Fault::new(
            format!("{days} days before {now} is no date"),
            "give fewer days",
        )]
    })
}

/// Asks on the terminal; without one nobody can answer, which is a fault.
fn agreed(question: &str) -> Result<bool, Vec<Fault>> {
    let unanswered = || {
        vec![Fault::new(
            format!("nobody was there to answer: {question}"),
            "what is forgotten cannot be brought back; give --yes if you mean it",
        )]
    };
    if !std::io::stdin().is_terminal() {
        return Err(unanswered());
    }
    note(&format!("{question} It cannot be brought back. [y/N] "));
    let mut answer = String::new();
    std::io::stdin().read_line(&mut answer).map_err(|_| unanswered())?;
    Ok(matches!(answer.trim().to_lowercase().as_str(), "y" | "yes"))
}
