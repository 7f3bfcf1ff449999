//! `kitwright history`: the trail of one order, newest last.

use std::collections::HashSet;
use std::fmt::Write;

use super::{Outcome, complain, counted, print};
use crate::cli::History as Args;
use crate::fault::Fault;
use crate::ledger::{Entry, Kind, Ledger, ledger_file};

pub(super) fn history(args: &Args) -> Outcome {
    let trail = ledger_file(args.file.ledger.as_deref(), args.file.lab.as_deref())
        .and_then(|path| trail(&path, &args.order).map_err(|fault| vec![fault]));
    match trail {
        Ok(text) => print(&text),
        Err(faults) => complain(&faults),
    }
}

fn trail(path: &std::path::Path, typed: &str) -> Result<String, Fault> {
    let ledger = Ledger::open_existing(path)?;
    let order: String = typed.chars().filter(|c| !c.is_whitespace()).collect();
    let order = order.to_uppercase();
    let mut entries = ledger.history(&order)?;
    if entries.is_empty()
        && let Some((order, _)) = crate::specimen::parse(&order)
    {
        entries = ledger.history(&order)?;
    }
    if entries.is_empty() {
        let shown: String = typed.chars().take(40).flat_map(char::escape_debug).collect();
        return Err(Fault::new(
            format!("order {shown} is not in the ledger"),
            "to look for it by code, name or birth date: kitwright find",
        ));
    }
    entries.extend(printings(&ledger, &entries)?);
    entries.sort_by_key(|entry| entry.seq);
    let mut text = String::new();
    for entry in &entries {
        let _ = writeln!(text, "{}  {}", entry.at, sentence(entry));
    }
    Ok(text)
}

/// When the files of print runs that a kit lies in were sent to a printer.
fn printings(ledger: &Ledger, kit: &[Entry]) -> Result<Vec<Entry>, Fault> {
    let files = |entry: &Entry| -> Vec<(String, String)> {
        let documents = entry.sealed.iter().flat_map(|sealed| sealed.documents());
        documents.map(|document| (entry.run.clone(), document.name)).collect()
    };
    let mut known: HashSet<(String, String)> = kit.iter().flat_map(files).collect();
    known.retain(|(run, _)| !run.is_empty());
    let mut found = if known.is_empty() { Vec::new() } else { ledger.history("")? };
    found.retain(|entry| {
        entry.kind == Kind::Printed
            && files(entry).iter().any(|file| known.contains(file))
    });
    Ok(found)
}

fn sentence(entry: &Entry) -> String {
    let Entry { who, counter, .. } = entry;
    let mut text = match entry.kind {
        Kind::Made => format!("Made by {who}"),
        Kind::MadeAgain => {
            format!("Made again by {who} from the same text, time {counter}")
        }
        Kind::Relabelled => {
            let slots = entry.slots.chars().map(String::from).collect::<Vec<_>>();
            let noun = if slots.len() == 1 { "slot" } else { "slots" };
            format!(
                "Labels of {noun} {} made again by {who}, reprint {counter}, earlier ones \
                 void",
                slots.join(", ")
            )
        }
        Kind::Reprinted => {
            format!("Sheet made again by {who}, reprint {counter}, earlier ones void")
        }
        Kind::Revised => {
            format!(
                "Changed by {who}, revision {counter}, earlier sheets and labels void"
            )
        }
        Kind::Printed => format!("Sent to the printer {} by {who}", entry.detail),
        Kind::RunFinished => format!("Run finished by {who}: {}", entry.detail),
        Kind::Forgotten => format!("Entries {} forgotten by {who}", entry.detail),
    };
    if !entry.run.is_empty() {
        let _ = write!(text, " in the run {}", entry.run);
        if entry.part > 0 {
            let _ = write!(text, ", part {}", entry.part);
        }
    }
    if !entry.protocol.is_empty() {
        let _ = write!(text, ", protocol {}", entry.protocol);
    }
    if !entry.stock.is_empty() {
        let _ = write!(text, ", stock {}", entry.stock);
    }
    let _ = write!(text, ", version {}, zone data {}", entry.program, entry.zone_data);
    if let Some(sealed) = &entry.sealed {
        if !sealed.reason.is_empty() {
            let _ = write!(text, ", because: {}", sealed.reason);
        }
        let files = sealed.documents().iter().filter(|one| one.is_file()).count();
        let _ = write!(text, ", {}", counted(files, "document", "documents"));
    } else if entry.is_forgotten() {
        text.push_str(", person forgotten");
    }
    let _ = write!(text, ". (entry {}, {})", entry.seq, entry.short_hash());
    text
}
