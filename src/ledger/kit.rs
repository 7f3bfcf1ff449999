//! What the entries of one order come to: its newest content and its counters.

use std::collections::BTreeMap;

use rusqlite::Connection;

use super::Ledger;
use super::chain::{Head, digest};
use super::counters::Counters;
use super::entry::{self, Document, Entry, Kind, SELECT, Sealed};
use super::given::Basis;
use super::write;
use crate::fault::Fault;

/// One order as the ledger knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredKit {
    pub order: String,
    /// Absent once it was forgotten.
    pub person: Option<Person>,
    /// When it was first made, RFC 3339 in UTC; and by whom, in which run.
    pub made_at: String,
    pub made_by: String,
    pub run: String,
    /// 0 for the order as first made.
    pub revision: u32,
    pub made_again: u32,
    /// How often the sheet was reprinted.
    pub reprints: u32,
    /// The newest reprint number on a label, by slot digit; absent for none.
    pub relabels: BTreeMap<u8, u32>,
    /// Version of the program and of the zone data, name and version of the
    /// protocol, stock, digest of the laboratory's file, codes and documents, all
    /// of the newest content.
    pub program: String,
    pub zone_data: String,
    pub protocol: String,
    pub stock: String,
    pub lab_digest: String,
    pub codes: Vec<String>,
    /// None once it was forgotten.
    pub documents: Vec<Document>,
}

/// The newest content of an order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    pub family: String,
    pub given: String,
    /// ISO date.
    pub born: String,
    /// The exact order.
    pub order_text: String,
    /// SHA-256 of the order in lower-case hex.
    pub input_digest: String,
}

impl StoredKit {
    /// `None` if no entry made a kit.
    pub(super) fn of(entries: &[Entry]) -> Option<Self> {
        let first = entries.iter().find(|entry| entry.kind == Kind::Made)?;
        let newest = entries
            .iter()
            .rfind(|entry| matches!(entry.kind, Kind::Made | Kind::Revised))?;
        let counters = counters(entries);
        Some(Self {
            order: first.order.clone(),
            person: newest.sealed.as_ref().map(|sealed| Person {
                family: sealed.family.clone(),
                given: sealed.given.clone(),
                born: sealed.born.clone(),
                order_text: sealed.order_text.clone(),
                input_digest: sealed.input_digest.clone(),
            }),
            made_at: first.at.clone(),
            made_by: first.who.clone(),
            run: first.run.clone(),
            revision: counters.revision,
            made_again: counters.made_again,
            reprints: counters.reprints,
            relabels: counters.relabels,
            program: newest.program.clone(),
            zone_data: newest.zone_data.clone(),
            protocol: newest.protocol.clone(),
            stock: newest.stock.clone(),
            lab_digest: newest.lab_digest.clone(),
            codes: newest.codes.split(' ').map(str::to_owned).collect(),
            documents: newest.sealed.as_ref().map(Sealed::documents).unwrap_or_default(),
        })
    }

    /// What papers are planned from that are planned now.
    pub fn basis(&self) -> Basis {
        let digest = self.person.as_ref().map(|person| person.input_digest.clone());
        Basis { revision: self.revision, input_digest: digest.unwrap_or_default() }
    }

    /// Whether the newest content is of this order text.
    pub fn is_of(&self, text: &str) -> bool {
        let digest = digest(text.as_bytes());
        self.person.as_ref().is_some_and(|person| person.input_digest == digest)
    }
}

pub(super) fn counters(entries: &[Entry]) -> Counters {
    let mut counters = Counters::default();
    for entry in entries {
        counters.add(entry.kind, &entry.slots, entry.counter);
    }
    counters
}

/// All entries of one order, in the order of the chain.
pub(super) fn entries(
    connection: &Connection,
    order: &str,
) -> rusqlite::Result<Vec<Entry>> {
    let sql = format!("{SELECT} WHERE e.order_number = ?1 ORDER BY e.seq");
    let mut statement = connection.prepare(&sql)?;
    statement.query_map([order], entry::read)?.collect()
}

impl Ledger {
    /// The last entry's number and hash; `None` in an empty ledger.
    ///
    /// # Errors
    ///
    /// A fault if the file cannot be read.
    pub fn head(&self) -> Result<Option<Head>, Fault> {
        write::head(&self.connection).map_err(self.reading())
    }

    /// The newest content of an order, its revision and its counters; `None` if
    /// it was never made.
    ///
    /// # Errors
    ///
    /// A fault if the file cannot be read.
    pub fn kit(&self, order: &str) -> Result<Option<StoredKit>, Fault> {
        Ok(StoredKit::of(&self.history(order)?))
    }

    /// The trail of an order, newest last.
    ///
    /// # Errors
    ///
    /// A fault if the file cannot be read.
    pub fn history(&self, order: &str) -> Result<Vec<Entry>, Fault> {
        entries(&self.connection, order).map_err(self.reading())
    }

    /// The parts of a run that are recorded, rising.
    ///
    /// # Errors
    ///
    /// A fault if the file cannot be read.
    pub fn parts(&self, run: &str) -> Result<Vec<u32>, Fault> {
        let all = || {
            let mut statement = self.connection.prepare(
                "SELECT DISTINCT part FROM entry
                 WHERE run = ?1 AND part > 0 AND kind IN ('made', 'made-again')
                 ORDER BY part",
            )?;
            statement.query_map([run], |row| row.get(0))?.collect::<rusqlite::Result<_>>()
        };
        if run.is_empty() { Ok(Vec::new()) } else { all().map_err(self.reading()) }
    }
}
