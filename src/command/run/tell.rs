//! What a print run tells the packer.

use std::fmt::Write;

use super::Room;
use super::send::{BY_HAND, Sending};
use crate::command::{Outcome, counted, note};
use crate::fields::forbidden;
use crate::run::journal::{PartRecord, Sent};
use crate::run::list::{LeftOut, PartList, Status};
use crate::stock::{Medium, Stock};
use crate::typeset::Press;

/// Sheets, or labels of a roll.
pub(super) fn sheets(stock: &Stock, count: usize) -> String {
    match stock.medium {
        Medium::Roll => counted(count, "label", "labels"),
        Medium::Sheet(_) => counted(count, "sheet", "sheets"),
    }
}

/// What to load, before anything is made.
pub(super) fn load(room: &Room) {
    let kits: usize = room.list.parts.iter().map(|part| part.orders.len()).sum();
    let mut text = format!(
        "run {}: {} in {}\n",
        room.begun.run,
        counted(kits, "kit", "kits"),
        counted(room.list.parts.len(), "part", "parts"),
    );
    let mut stocks: Vec<(&PartList, usize)> = Vec::new();
    for part in &room.list.parts {
        match stocks.iter_mut().find(|(first, _)| first.stock == part.stock) {
            Some((_, sheets)) => *sheets += part.sheets,
            None => stocks.push((part, part.sheets)),
        }
    }
    for (part, sheets) in stocks {
        let from = match part.stock.medium {
            Medium::Roll => String::new(),
            Medium::Sheet(_) => format!(", the first from cell {} on", part.start_at),
        };
        let load = self::sheets(&part.stock, sheets);
        let _ = writeln!(text, "load {load} of {}{from}", part.stock.name);
    }
    for (code, found) in &room.list.to_look_at {
        let kits = counted(found.kits, "kit", "kits");
        let _ = writeln!(
            text,
            "look at: {code}, {kits}, such as {}: {}",
            found.order, found.text
        );
    }
    let asked = room.args.laying.start_at;
    if room.list.parts.first().is_some_and(|part| part.start_at < asked) {
        let _ = writeln!(
            text,
            "no kit fits from cell {asked} on: put the part-used sheet away, the labels begin \
             on a fresh one"
        );
    }
    note(&text);
}

/// Says which files were not as the run had left them, or not there.
pub(super) fn replaced(room: &Room) {
    for path in room.journal.gone() {
        note(&format!(
            "note: {} was no longer there, and is made again: if it was printed, it is \
             not to be printed twice\n",
            path.display()
        ));
    }
    for path in room.journal.replaced() {
        note(&format!(
            "note: {} was not as the run had left it, and is made again: if it was \
             printed, look which of the two is with the patient\n",
            path.display()
        ));
    }
}

pub(super) fn stopped(room: &Room) -> Outcome {
    let is_whole =
        |part: &&PartList| matches!(room.journal.part(&room.begun, part), Ok(Some(_)));
    let whole = room.list.parts.iter().filter(is_whole).count();
    note(&format!(
        "stopped: {whole} of {} are whole; go on with --resume\n",
        counted(room.list.parts.len(), "part", "parts")
    ));
    Outcome::Stopped
}

/// The most characters of an order without a kit on the run sheet; the manifest
/// has all of them.
const MOST_SHOWN: usize = 300;

/// An order without a kit, on one line of the run sheet. What was wrong with it
/// must not spoil the sheet: characters that cannot be printed stand as numbers.
pub(super) fn left_out_line(out: &LeftOut, press: Option<&Press>) -> String {
    let line = left_out_text(out);
    let mut shown = String::new();
    for (count, c) in line.chars().enumerate() {
        if count == MOST_SHOWN {
            shown.push_str(" ...");
            break;
        }
        let missing =
            press.is_some_and(|press| press.missing_glyph(&c.to_string()).is_some());
        if missing || forbidden(c) || (c.is_whitespace() && c != ' ') {
            let _ = write!(shown, "U+{:04X}", u32::from(c));
        } else {
            shown.push(c);
        }
    }
    shown
}

/// The most orders without a kit that the run sheet names.
const MOST_LISTED: usize = 60;

/// The lines of the run sheet, and how many more the manifest has.
pub(super) fn shortened(mut lines: Vec<String>) -> Vec<String> {
    if lines.len() > MOST_LISTED {
        let more = lines.len() - MOST_LISTED;
        lines.truncate(MOST_LISTED);
        lines.push(format!("and {more} more, which manifest.csv names"));
    }
    lines
}

fn left_out_text(out: &LeftOut) -> String {
    let status = match out.status {
        Status::Hold => "on hold",
        Status::Wrong => "wrong",
        Status::Before => "made before",
        Status::Made => "made",
    };
    let name = out.name();
    let name = if name.is_empty() { name } else { format!(", {name}") };
    format!("{}{name}: {status}: {}", out.order, out.why.join("; "))
}

/// One screen: the files, what to load, what is left out, how to print.
pub(super) fn summary(room: &Room, parts: &[PartRecord], jobs: &[Sending]) -> String {
    let mut text = String::new();
    for (part, list) in parts.iter().zip(&room.list.parts) {
        let (Some(first), Some(last)) = (part.kits.first(), part.kits.last()) else {
            continue;
        };
        let orders = if part.kits.len() == 1 {
            first.order.clone()
        } else {
            format!("{} … {}", first.order, last.order)
        };
        let free = match part.free_from {
            Some(cell) => format!(", the last one free from cell {cell} on"),
            None => String::new(),
        };
        let _ = writeln!(
            text,
            "  {:<16} {}, {orders}: {} of paper, {} of {}{free}",
            part.paper.name,
            counted(part.kits.len(), "kit", "kits"),
            counted(part.leaves, "leaf", "leaves"),
            sheets(&list.stock, part.sheets),
            part.stock,
        );
    }
    let left_out = room.left_out(parts);
    for out in &left_out {
        let _ = writeln!(
            text,
            "  {:<8} {:<20}  {}",
            out.status.word(),
            out.order,
            out.name()
        );
        for why in &out.why {
            let _ = writeln!(text, "  {:<8} {:<20}  {why}", "", "");
        }
    }
    if let Some(out) = left_out.iter().find(|out| out.status == Status::Before) {
        let _ = writeln!(
            text,
            "to print one again: kitwright reprint {} --reason ..., or relabel",
            out.order
        );
    }
    let (void, sound): (Vec<&Sending>, Vec<&Sending>) =
        jobs.iter().partition(|sending| !sending.void.is_empty());
    if !void.is_empty() {
        let _ =
            writeln!(text, "made again since, so that what is in these files is void:");
        for sending in void {
            let orders = sending.void.join(", ");
            let _ = writeln!(text, "  {:<16} {orders}", sending.job.file);
        }
        let _ = writeln!(text, "of such a file: {BY_HAND}");
    }
    // What is sent at once is not to be printed by hand, too.
    if room.args.print.is_none() {
        let is_new = |sending: &&Sending| {
            matches!(room.journal.sent(&sending.job.file), Ok(Sent::No))
        };
        let (new, sent): (Vec<&Sending>, Vec<&Sending>) =
            sound.into_iter().partition(is_new);
        for (heading, jobs) in
            [("print with:", new), ("sent before; only if it did not come out:", sent)]
        {
            if !jobs.is_empty() {
                let _ = writeln!(text, "{heading}");
            }
            for sending in jobs {
                let _ = writeln!(text, "  {}", sending.job.command_line(&room.args.out));
            }
        }
    }
    if room.book.is_none() {
        let _ = writeln!(
            text,
            "no ledger: nothing is remembered; write ledger = \"ledger.db\" in lab.toml, \
             or give --ledger"
        );
    }
    let counts = room.counts(parts);
    let before = left_out.iter().filter(|out| out.status == Status::Before).count();
    let before = match before {
        0 => String::new(),
        count => format!(", {count} made before"),
    };
    let _ = writeln!(
        text,
        "{} proven and written to {}, {} on hold, {} wrong{before}",
        counted(counts.made as usize, "kit", "kits"),
        room.args.out.display(),
        counts.held,
        counts.wrong,
    );
    text
}
