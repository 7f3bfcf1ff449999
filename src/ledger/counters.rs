//! Counters of one order: which revision it is, how often its papers were made.
//!
//! The same rule gives out the next number and checks the numbers that stand in
//! the ledger.

use std::collections::BTreeMap;

use super::entry::Kind;

/// What the entries of one order come to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Counters {
    pub made: bool,
    pub made_again: u32,
    pub revision: u32,
    pub reprints: u32,
    /// The highest mark on a label of each slot digit.
    pub relabels: BTreeMap<u8, u32>,
}

impl Counters {
    /// The counter of the next entry of this kind. `slots` are the digits of the
    /// slots that an entry [`Kind::Relabelled`] concerns.
    pub fn next(&self, kind: Kind, slots: &str) -> u32 {
        match kind {
            Kind::Made | Kind::Printed | Kind::RunFinished | Kind::Forgotten => 0,
            Kind::MadeAgain => self.made_again.saturating_add(1),
            Kind::Revised => self.revision.saturating_add(1),
            Kind::Reprinted => self.reprints.saturating_add(1),
            Kind::Relabelled => {
                let marks = digits(slots).map(|digit| self.relabels.get(&digit));
                marks.flatten().max().map_or(1, |mark| mark.saturating_add(1))
            }
        }
    }

    /// Takes in an entry.
    pub fn add(&mut self, kind: Kind, slots: &str, counter: u32) {
        match kind {
            Kind::Made => self.made = true,
            Kind::MadeAgain => self.made_again = counter,
            Kind::Revised => self.revision = counter,
            Kind::Reprinted => self.reprints = counter,
            Kind::Relabelled => {
                for digit in digits(slots) {
                    self.relabels.insert(digit, counter);
                }
            }
            Kind::Printed | Kind::RunFinished | Kind::Forgotten => {}
        }
    }
}

fn digits(slots: &str) -> impl Iterator<Item = u8> {
    slots.chars().filter_map(|c| c.to_digit(10)).filter_map(|d| u8::try_from(d).ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_labels_of_one_slot_bear_the_same_mark() {
        let mut counters = Counters::default();
        let mut marks = Vec::new();
        for slots in ["3", "3", "12345", "1", "3"] {
            let mark = counters.next(Kind::Relabelled, slots);
            counters.add(Kind::Relabelled, slots, mark);
            marks.push(mark);
        }
        assert_eq!(marks, [1, 2, 3, 4, 4]);
        assert_eq!(counters.relabels[&2], 3);
    }
}
