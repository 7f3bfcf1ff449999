//! Why something is not recorded: the rules about order numbers that are taken,
//! parts that were recorded before, and orders that are unknown or forgotten.

use std::collections::HashSet;

use similar::{ChangeTag, TextDiff};
use unicode_normalization::UnicodeNormalization;

use super::chain::{Head, shown};
use super::entry::Entry;
use super::given::{Again, Basis, NewKit, Recorded, Stamp};
use super::kit::StoredKit;
use crate::fault::Fault;

/// The longest diff that a fault shows, in lines.
const LONGEST_DIFF: usize = 40;

/// An entry of an earlier call.
pub(super) fn again(entry: &Entry) -> Recorded {
    let hash = entry.hash.as_slice().try_into().unwrap_or_default();
    Recorded {
        kind: entry.kind,
        counter: entry.counter,
        head: Head { seq: entry.seq, hash },
        fresh: false,
    }
}

/// A part that was recorded before: its entries, if the kits are the same.
pub(super) fn resumed(
    stamp: &Stamp,
    kits: &[NewKit],
    earlier: &[Entry],
) -> Result<Vec<Recorded>, Vec<Fault>> {
    let mut faults = Vec::new();
    let mut recorded = Vec::new();
    let part = format!("part {} of the run {}", stamp.part, shown(&stamp.run));
    let help = "give the run with the orders it had, or start one with a new name";
    for kit in kits {
        let same = earlier.iter().find(|entry| entry.order == kit.order);
        let sealed = same.and_then(|entry| entry.sealed.as_ref());
        match (same, sealed) {
            (Some(entry), Some(sealed)) if sealed.input_digest == kit.input_digest() => {
                recorded.push(again(entry));
            }
            (Some(entry), Some(_)) => faults.push(kit.fault(
                format!("{part} was recorded on {} with another text of it", entry.at),
                help.into(),
            )),
            (Some(entry), None) => faults.push(kit.fault(
                format!("{part} was recorded on {} and forgotten since", entry.at),
                "start a new run with numbers that were never used".into(),
            )),
            (None, _) => faults.push(kit.fault(
                format!("{part} was recorded before without order {}", kit.order),
                help.into(),
            )),
        }
    }
    for entry in earlier {
        if !kits.iter().any(|kit| kit.order == entry.order) {
            faults.push(Fault::new(
                format!(
                    "{part} was recorded with order {}, which is missing",
                    entry.order
                ),
                help,
            ));
        }
    }
    if faults.is_empty() { Ok(recorded) } else { Err(faults) }
}

impl StoredKit {
    /// Why `kit`, which has this order's number, may not be recorded, if so.
    pub fn refuses(&self, kit: &NewKit, again: Again) -> Option<Fault> {
        taken(kit, self, again)
    }
}

/// Why an order number that is in the ledger may not be made again, if so.
pub(super) fn taken(kit: &NewKit, stored: &StoredKit, again: Again) -> Option<Fault> {
    let number = &kit.order;
    let run = match stored.run.as_str() {
        "" => String::new(),
        run => format!(" in the run {}", shown(run)),
    };
    let made = format!("order {number} was made on {}{run}", stored.made_at);
    let Some(person) = &stored.person else {
        return Some(kit.fault(
            format!("{made}, and its text was forgotten since: it cannot be compared"),
            "give the order a number that was never used".into(),
        ));
    };
    if person.input_digest == kit.input_digest() {
        if again == Again::Record {
            let from = Basis { revision: kit.revision, input_digest: kit.input_digest() };
            return changed(stored, &from);
        }
        return Some(kit.fault(
            format!("{made} from the same text"),
            format!(
                "to print it again: kitwright reprint {number} --reason \u{2026}; if this is \
                 another kit, give it a number of its own"
            ),
        ));
    }
    let revision = match stored.revision {
        0 => String::new(),
        n => format!(" (revision {n})"),
    };
    Some(kit.fault(
        format!("{made} from another text{revision}"),
        format!(
            "if this is another kit, give it a number of its own; if it is this one \
             corrected: kitwright reprint {} --reason \u{2026} --revise\n\
             in the ledger (-) and now (+):\n{}",
            kit.source.on_the_command_line(number),
            difference(&person.order_text, &kit.source.text)
        ),
    ))
}

/// The lines in which two orders differ, each with its number. Characters in which two
/// lines differ that look alike are written as numbers.
pub(crate) fn difference(old: &str, new: &str) -> String {
    let diff = TextDiff::from_lines(old, new);
    let looks = |text: &str| {
        text.lines().map(|line| line.nfc().collect()).collect::<HashSet<_>>()
    };
    let (old_looks, new_looks): (HashSet<String>, _) = (looks(old), looks(new));
    let lines: Vec<String> = diff
        .iter_all_changes()
        .filter_map(|change| {
            let (sign, index, others) = match change.tag() {
                ChangeTag::Equal => return None,
                ChangeTag::Delete => ('-', change.old_index()?, &new_looks),
                ChangeTag::Insert => ('+', change.new_index()?, &old_looks),
            };
            let look: String =
                change.value().trim_end_matches(['\r', '\n']).nfc().collect();
            Some(line(index + 1, sign, change.value(), others.contains(&look)))
        })
        .collect();
    let shown = lines.iter().take(LONGEST_DIFF).cloned().collect::<Vec<_>>();
    match lines.len().saturating_sub(LONGEST_DIFF) {
        0 => shown.join("\n"),
        more => format!("{}\nand {more} lines more", shown.join("\n")),
    }
}

/// One line of a difference; what cannot be seen in it is marked, and in one that looks
/// like another every character beyond ASCII is a number.
fn line(number: usize, sign: char, text: &str, looks_alike: bool) -> String {
    let (text, end) = match text.strip_suffix('\n') {
        Some(text) => (text, ""),
        None => (text, " (no line end)"),
    };
    let mut shown = String::new();
    for c in text.chars() {
        if looks_alike && !c.is_ascii() {
            shown.push_str(&format!("<U+{:04X}>", u32::from(c)));
        } else if c.is_control() && c != '\t' {
            shown.push(char::REPLACEMENT_CHARACTER);
        } else {
            shown.push(c);
        }
    }
    format!("{number:>4} {sign} {shown}{end}")
}

/// Why papers that were planned from `from` may not be recorded, if the order has
/// another content by now.
pub(super) fn changed(stored: &StoredKit, from: &Basis) -> Option<Fault> {
    let now = stored.basis();
    let shown = |revision| match revision {
        0 => "the order as first made".to_owned(),
        number => format!("revision {number}"),
    };
    (now != *from).then(|| {
        Fault::new(
            format!(
                "the order {} was changed meanwhile: this is of {}, and the ledger has {}",
                stored.order,
                shown(from.revision),
                shown(now.revision)
            ),
            "nothing was recorded and nothing written: look at what the order is now, \
             and give the command again",
        )
    })
}

pub(super) fn unknown(order: &str) -> Fault {
    Fault::new(
        format!("order {} is not in the ledger", shown(order)),
        "check the number: kitwright find; a kit is recorded when it is made",
    )
}

/// The kit that papers are to be made for.
pub(super) fn known(order: &str, entries: &[Entry]) -> Result<StoredKit, Fault> {
    let Some(stored) = StoredKit::of(entries) else { return Err(unknown(order)) };
    let order = shown(order);
    if stored.person.is_none() {
        return Err(Fault::new(
            format!("order {order}, made on {}, was forgotten", stored.made_at),
            "make a new order with a number that was never used",
        ));
    }
    Ok(stored)
}
