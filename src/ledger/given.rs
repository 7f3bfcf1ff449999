//! What callers hand in to be recorded, and what they get back.
//!
//! Values the ledger does not keep are refused here, before anything is written.

use std::sync::Arc;

use chrono::{DateTime, Datelike, NaiveDate, Utc};

use super::chain::{Head, digest, shown};
use super::entry::{Document, Kind, Sealed};
use super::write::{Draft, document_lines};
use crate::fault::{Fault, Source};
use crate::fields::span_of;
use crate::lab::Lab;
use crate::order::{Order, check_number};
use crate::plan::Plan;
use crate::protocol::Protocol;
use crate::specimen;

/// When, by whom and in which run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamp {
    pub at: DateTime<Utc>,
    pub who: String,
    /// Name of the run; empty outside one.
    pub run: String,
    /// Part of the run, from 1; 0 for the run as a whole and outside one.
    pub part: u32,
}

impl Stamp {
    /// A stamp outside any run.
    pub fn new(at: DateTime<Utc>, who: &str) -> Self {
        Self { at, who: who.to_owned(), run: String::new(), part: 0 }
    }

    /// The same for a part of a run; part 0 is the run as a whole.
    pub fn in_run(&self, run: &str, part: u32) -> Self {
        Self { run: run.to_owned(), part, ..self.clone() }
    }

    /// The moment as the ledger keeps it, to the second.
    pub(super) fn at(&self) -> String {
        self.at.format("%Y-%m-%dT%H:%M:%SZ").to_string()
    }

    pub(super) fn faults(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        if !(1970..=9999).contains(&self.at.year()) {
            faults.push(Fault::new(
                format!("the year {} is outside 1970 to 9999", self.at.year()),
                "set the clock of this machine",
            ));
        }
        text_fault(&mut faults, "who", &self.who, 1);
        text_fault(&mut faults, "run", &self.run, 0);
        if self.run.is_empty() && self.part > 0 {
            faults.push(Fault::new(
                format!("part {} belongs to no run", self.part),
                "give the run a name",
            ));
        }
        faults
    }
}

/// A kit to be recorded.
#[derive(Debug, Clone)]
pub struct NewKit {
    pub order: String,
    pub family: String,
    pub given: String,
    pub born: NaiveDate,
    /// The exact order, with the name a reader knows it by.
    pub source: Arc<Source>,
    /// Name and version of the protocol.
    pub protocol: String,
    pub stock: String,
    /// SHA-256 of the laboratory's file, as [`digest`] gives it.
    pub lab_digest: String,
    /// Specimen codes in the order of the labels.
    pub codes: Vec<String>,
    pub documents: Vec<Document>,
    /// The revision that its papers bear, if it is one made again.
    pub revision: u32,
}

impl NewKit {
    /// The kit of a planned order, as first made.
    pub fn of(
        order: &Order,
        plan: &Plan,
        protocol: &Protocol,
        lab: &Lab,
        stock: &str,
        documents: Vec<Document>,
    ) -> Self {
        Self {
            order: order.number.clone(),
            family: order.patient.family.clone(),
            given: order.patient.given.clone(),
            born: order.patient.born,
            source: order.source.clone(),
            protocol: format!("{} {}", protocol.name, protocol.version),
            stock: stock.to_owned(),
            lab_digest: digest(lab.source.text.as_bytes()),
            codes: plan.slots.iter().map(|slot| slot.code.clone()).collect(),
            documents,
            revision: 0,
        }
    }

    pub(super) fn input_digest(&self) -> String {
        digest(self.source.text.as_bytes())
    }

    /// A fault that points at the order number in the order.
    pub(super) fn fault(&self, what: String, help: String) -> Fault {
        let span = span_of(&self.source.text, "order");
        Fault::new(what, help).at(&self.source, span, "order")
    }

    pub(super) fn faults(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        if let Err((what, help)) = check_number(&self.order, "") {
            faults.push(self.fault(what, help));
        }
        if self.codes.is_empty() {
            faults.push(self.fault(
                format!("order {} has no specimen code", self.order),
                "a kit has a code for each card".into(),
            ));
        }
        for code in &self.codes {
            if specimen::parse(code).is_none_or(|(order, _)| order != self.order) {
                faults.push(self.fault(
                    format!("`{}` is no code of order {}", shown(code), self.order),
                    "this is a mistake in the program; please report it".into(),
                ));
            }
        }
        text_fault(&mut faults, "protocol", &self.protocol, 1);
        text_fault(&mut faults, "stock", &self.stock, 0);
        document_faults(&mut faults, &self.documents);
        faults
    }

    pub(super) fn draft(
        &self,
        kind: Kind,
        counter: u32,
        documents: &[Document],
    ) -> Draft {
        let mut sealed = Sealed {
            input_digest: self.input_digest(),
            documents: document_lines(documents),
            ..Sealed::default()
        };
        // A kit made again has its text in the entry that made it.
        if kind != Kind::MadeAgain {
            sealed.order_text = self.source.text.clone();
            sealed.family = self.family.clone();
            sealed.given = self.given.clone();
            sealed.born = self.born.format("%Y-%m-%d").to_string();
        }
        Draft {
            counter,
            protocol: self.protocol.clone(),
            stock: self.stock.clone(),
            lab_digest: self.lab_digest.clone(),
            codes: self.codes.join(" "),
            sealed: Some(sealed),
            ..Draft::new(kind, &self.order)
        }
    }
}

/// What to do with an order that was made before from the same text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Again {
    /// Refuse it: a kit that goes out twice is a slip.
    Refuse,
    /// Record it as made again.
    Record,
}

/// The content of an order that papers were planned from: it is read before the ledger
/// is held, and another process may have revised the order by the time they are recorded.
///
/// Whatever else was recorded meanwhile changes no paper: marks are given out while the
/// ledger is held.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Basis {
    /// 0 for the order as first made.
    pub revision: u32,
    /// SHA-256 of the order's text, as [`digest`] gives it.
    pub input_digest: String,
}

/// Papers to be made again for a kit that is in the ledger.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reprint {
    pub order: String,
    /// What they are planned from.
    pub from: Basis,
    pub what: What,
    /// Why, in somebody's own words.
    pub reason: String,
    pub stock: String,
    /// SHA-256 of the laboratory's file, as [`digest`] gives it.
    pub lab_digest: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    Sheet,
    /// The label of one slot, by its digit, or those of all.
    Labels(Option<u8>),
}

/// How a run came out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct RunCounts {
    pub made: u32,
    pub held: u32,
    pub wrong: u32,
}

/// An entry that is in the ledger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Recorded {
    pub kind: Kind,
    /// The mark for the paper; see [`Kind`].
    pub counter: u32,
    /// The head once it was recorded.
    pub head: Head,
    /// Whether it was recorded by this call and not by an earlier one.
    pub fresh: bool,
}

/// A fault if `text` is not what the ledger keeps in a line of its own.
pub(super) fn text_fault(
    faults: &mut Vec<Fault>,
    field: &str,
    text: &str,
    shortest: usize,
) {
    let length = text.trim().chars().count();
    if length < shortest {
        faults.push(Fault::new(
            format!("no {field} is given"),
            format!("say it in 1 to 200 characters: --{}", flag(field)),
        ));
    } else if length > 200 || text.chars().any(char::is_control) {
        faults.push(Fault::new(
            format!("`{}` cannot be kept as {field}", shown(text)),
            "write at most 200 characters on one line",
        ));
    }
}

fn flag(field: &str) -> &str {
    if field == "who" { "by" } else { field }
}

pub(super) fn document_faults(faults: &mut Vec<Fault>, documents: &[Document]) {
    for document in documents {
        text_fault(faults, "document name", &document.name, 1);
    }
}
