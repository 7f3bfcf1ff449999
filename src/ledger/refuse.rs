//! Why something is not recorded: the rules about order numbers that are taken,
//! parts that were recorded before, and orders that are unknown or forgotten.

use similar::TextDiff;

use super::chain::{Head, shown};
use super::entry::Entry;
use super::given::{Again, NewKit, Recorded, Stamp};
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
            (Some(entry), _) => faults.push(kit.fault(
                format!("{part} was recorded on {} with another text of it", entry.at),
                help.into(),
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
        return (again == Again::Refuse).then(|| {
            kit.fault(
                format!("{made} from the same text"),
                format!(
                    "to print it again: kitwright reprint {number}; if this is another \
                     kit, give it a number of its own"
                ),
            )
        });
    }
    let revision = match stored.revision {
        0 => String::new(),
        n => format!(" (revision {n})"),
    };
    Some(kit.fault(
        format!("{made} from another text{revision}"),
        format!(
            "if this is another kit, give it a number of its own; if it is the same kit \
             changed, record a revision. `-` is in the ledger, `+` is now:\n{}",
            difference(&person.order_text, &kit.source.text)
        ),
    ))
}

/// The lines in which two orders differ.
fn difference(old: &str, new: &str) -> String {
    let diff = TextDiff::from_lines(old, new);
    let unified =
        diff.unified_diff().context_radius(0).missing_newline_hint(false).to_string();
    let lines: Vec<String> = unified
        .lines()
        .map(|line| {
            let control = |c: char| c.is_control() && c != '\t';
            line.chars().map(|c| if control(c) { '\u{FFFD}' } else { c }).collect()
        })
        .collect();
    let mut text =
        lines.iter().take(LONGEST_DIFF).cloned().collect::<Vec<_>>().join("\n");
    if lines.len() > LONGEST_DIFF {
        text.push_str(&format!("\nand {} lines more", lines.len() - LONGEST_DIFF));
    }
    text
}

/// The kit that papers are to be made for.
pub(super) fn known(order: &str, entries: &[Entry]) -> Result<StoredKit, Fault> {
    let order = shown(order);
    let Some(stored) = StoredKit::of(entries) else {
        return Err(Fault::new(
            format!("order {order} is not in the ledger"),
            "check the number: kitwright find; a kit is recorded when it is made",
        ));
    };
    if stored.person.is_none() {
        return Err(Fault::new(
            format!("order {order}, made on {}, was forgotten", stored.made_at),
            "make a new order with a number that was never used",
        ));
    }
    Ok(stored)
}
