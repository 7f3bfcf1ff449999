//! Records kits, the end of a run, and what went to a printer.
//!
//! Each call is one transaction: it records everything it was given, or it gives
//! every fault and has changed nothing.

use std::collections::HashMap;

use rusqlite::Connection;

use super::Ledger;
use super::chain::shown;
use super::entry::{self, Document, Entry, Kind, SELECT, Sealed};
use super::file::sql_fault;
use super::given::{
    Again, NewKit, Recorded, RunCounts, Stamp, document_faults, text_fault,
};
use super::kit::{StoredKit, counters, entries};
use super::refuse::{again, known, resumed, taken};
use super::write::{Draft, append, document_lines};
use crate::fault::Fault;

impl Ledger {
    /// Records the kits of one part of a run, or kits outside a run.
    ///
    /// A part that was recorded before with the same orders is not recorded
    /// again: the earlier entries are given back with `fresh` false. So a run
    /// that was stopped can be given again.
    ///
    /// # Errors
    ///
    /// Every order whose number is taken by another text, with both texts as a
    /// diff; every order made before, if `again` refuses it; an order number that
    /// stands twice; values the ledger does not keep; a file that cannot be
    /// written.
    pub fn record_kits(
        &mut self,
        stamp: &Stamp,
        kits: &[NewKit],
        again: Again,
    ) -> Result<Vec<Recorded>, Vec<Fault>> {
        let mut faults = stamp.faults();
        let mut seen = HashMap::new();
        for kit in kits {
            faults.extend(kit.faults());
            if let Some(first) = seen.insert(&kit.order, &kit.source.name) {
                faults.push(kit.fault(
                    format!("the order number {} stands in {first} already", kit.order),
                    "each order has a number of its own; mend one of the files".into(),
                ));
            }
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let path = self.path.clone();
        let sql = |error: rusqlite::Error| vec![sql_fault(&path, "write", &error)];
        let transaction = self.begin().map_err(|fault| vec![fault])?;
        if stamp.part > 0 {
            let earlier = part_entries(&transaction, stamp).map_err(sql)?;
            if !earlier.is_empty() {
                return resumed(stamp, kits, &earlier);
            }
        }
        let mut recorded = Vec::new();
        for kit in kits {
            let before = entries(&transaction, &kit.order).map_err(sql)?;
            let draft = match StoredKit::of(&before) {
                None => kit.draft(Kind::Made, 0, &kit.documents),
                Some(stored) => match taken(kit, &stored, again) {
                    Some(fault) => {
                        faults.push(fault);
                        continue;
                    }
                    None => {
                        let counter = counters(&before).next(Kind::MadeAgain, "");
                        kit.draft(Kind::MadeAgain, counter, &kit.documents)
                    }
                },
            };
            recorded.push(append(&transaction, stamp, draft).map_err(sql)?);
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        transaction.commit().map_err(sql)?;
        Ok(recorded)
    }

    /// Records that documents were sent to a printer: those of an order, or,
    /// with `order` empty, those of the run that the stamp names.
    ///
    /// # Errors
    ///
    /// An order that is unknown or forgotten, neither order nor run, values the
    /// ledger does not keep, a file that cannot be written.
    pub fn record_printed(
        &mut self,
        stamp: &Stamp,
        order: &str,
        printer: &str,
        documents: &[Document],
    ) -> Result<Recorded, Vec<Fault>> {
        let mut faults = stamp.faults();
        text_fault(&mut faults, "printer", printer, 1);
        document_faults(&mut faults, documents);
        if order.is_empty() && stamp.run.is_empty() {
            faults.push(Fault::new(
                "what was printed belongs to no order and to no run",
                "name one of them",
            ));
        }
        let path = self.path.clone();
        let sql = |error: rusqlite::Error| vec![sql_fault(&path, "write", &error)];
        let transaction = self.begin().map_err(|fault| vec![fault])?;
        if !order.is_empty() {
            let before = entries(&transaction, order).map_err(sql)?;
            faults.extend(known(order, &before).err());
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let draft = Draft {
            detail: printer.to_owned(),
            sealed: Some(Sealed {
                documents: document_lines(documents),
                ..Sealed::default()
            }),
            ..Draft::new(Kind::Printed, order)
        };
        let recorded = append(&transaction, stamp, draft).map_err(sql)?;
        transaction.commit().map_err(sql)?;
        Ok(recorded)
    }

    /// Records the end of the run that the stamp names. The same end once more
    /// is not recorded again.
    ///
    /// # Errors
    ///
    /// No run, a run that ended with other counts or documents, a file that
    /// cannot be written.
    pub fn record_run(
        &mut self,
        stamp: &Stamp,
        counts: RunCounts,
        documents: &[Document],
    ) -> Result<Recorded, Vec<Fault>> {
        let stamp = &Stamp { part: 0, ..stamp.clone() };
        let mut faults = stamp.faults();
        text_fault(&mut faults, "run", &stamp.run, 1);
        document_faults(&mut faults, documents);
        if !faults.is_empty() {
            return Err(faults);
        }
        let RunCounts { made, held, wrong } = counts;
        let detail = format!("made {made} held {held} wrong {wrong}");
        let lines = document_lines(documents);
        let path = self.path.clone();
        let sql = |error: rusqlite::Error| vec![sql_fault(&path, "write", &error)];
        let transaction = self.begin().map_err(|fault| vec![fault])?;
        if let Some(earlier) = run_end(&transaction, &stamp.run).map_err(sql)? {
            let same_files =
                earlier.sealed.as_ref().is_none_or(|sealed| sealed.documents == lines);
            if earlier.detail == detail && same_files {
                return Ok(again(&earlier));
            }
            return Err(vec![Fault::new(
                format!(
                    "the run {} ended on {} already, with {}, and not with {detail}",
                    shown(&stamp.run),
                    earlier.at,
                    earlier.detail
                ),
                "give a new run a name of its own",
            )]);
        }
        let draft = Draft {
            detail,
            sealed: Some(Sealed { documents: lines, ..Sealed::default() }),
            ..Draft::new(Kind::RunFinished, "")
        };
        let recorded = append(&transaction, stamp, draft).map_err(sql)?;
        transaction.commit().map_err(sql)?;
        Ok(recorded)
    }
}

fn part_entries(connection: &Connection, stamp: &Stamp) -> rusqlite::Result<Vec<Entry>> {
    let sql = format!(
        "{SELECT} WHERE e.run = ?1 AND e.part = ?2 AND e.kind IN ('made', 'made-again')
         ORDER BY e.seq"
    );
    let mut statement = connection.prepare(&sql)?;
    statement.query_map((&stamp.run, stamp.part), entry::read)?.collect()
}

fn run_end(connection: &Connection, run: &str) -> rusqlite::Result<Option<Entry>> {
    let sql = format!("{SELECT} WHERE e.run = ?1 AND e.kind = 'run-finished'");
    let mut statement = connection.prepare(&sql)?;
    statement.query_map([run], entry::read)?.next().transpose()
}
