//! `kitwright find`: the kits that an order number, a code, a name or a date
//! can mean.

use std::fmt::Write;

use super::{Outcome, complain, print};
use crate::cli::Find as Args;
use crate::fault::Fault;
use crate::ledger::{Found, Ledger, ledger_file};

pub(super) fn find(args: &Args) -> Outcome {
    let found = ledger_file(args.file.ledger.as_deref(), args.file.lab.as_deref())
        .and_then(|path| look(&path, &args.text).map_err(|fault| vec![fault]));
    match found {
        Ok(found) => {
            let mut text = String::new();
            for kit in &found {
                let _ = writeln!(text, "{}", line(kit));
            }
            print(&text)
        }
        Err(faults) => complain(&faults),
    }
}

fn look(path: &std::path::Path, text: &str) -> Result<Vec<Found>, Fault> {
    Ledger::open_existing(path)?.find(text)
}

/// One kit: order, name, birth date, when made, revision, reprints.
fn line(found: &Found) -> String {
    let kit = &found.kit;
    let person = match &kit.person {
        Some(person) => format!(
            "{}, {}, born {}",
            person.family.to_uppercase(),
            person.given,
            person.born
        ),
        None => "forgotten".to_owned(),
    };
    let mut line = format!("{:<20}  {person}, made {}", kit.order, kit.made_at);
    for (count, what) in [
        (kit.revision, "revision"),
        (kit.made_again, "made again"),
        (kit.reprints, "sheet reprint"),
        (kit.relabels.values().copied().max().unwrap_or(0), "label reprint"),
    ] {
        if count > 0 {
            let _ = write!(line, ", {what} {count}");
        }
    }
    if let Some(slot) = found.slot {
        let _ = write!(line, " (the code of slot {slot})");
    }
    line
}
