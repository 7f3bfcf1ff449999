//! Retention: takes out what could lead back to a person, and keeps the chain.
//!
//! An order is forgotten as a whole, once its newest entry is older than the
//! limit: a kit that was reprinted last week is still in use. Entries about runs
//! go by their own age. A single order is forgotten whatever its age, as its patient
//! may ask for.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use rusqlite::Connection;

use super::Ledger;
use super::entry::Kind;
use super::file::sql_fault;
use super::given::Stamp;
use super::kit::{StoredKit, entries};
use super::refuse::unknown;
use super::write::{Draft, append};
use crate::fault::{Fault, visible};

/// What retention took, or would take.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Forgotten {
    pub orders: usize,
    /// Entries whose sealed part went.
    pub entries: usize,
}

/// What is to be forgotten.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which<'a> {
    /// What has no entry since then.
    Before(DateTime<Utc>),
    /// All of one order.
    Order(&'a str),
}

const OLD: &str = "\
SELECT e.seq, e.order_number FROM entry e JOIN sealed s ON s.seq = e.seq
WHERE e.at < ?1 AND (e.order_number = '' OR NOT EXISTS
  (SELECT 1 FROM entry n WHERE n.order_number = e.order_number AND n.at >= ?1))
ORDER BY e.seq";

const OF_ORDER: &str = "\
SELECT e.seq, e.order_number FROM entry e JOIN sealed s ON s.seq = e.seq
WHERE e.order_number = ?1 ORDER BY e.seq";

impl Ledger {
    /// What [`Ledger::forget`] would take out.
    ///
    /// # Errors
    ///
    /// A fault if the file cannot be read, or the order is not in it.
    pub fn to_forget(&self, which: Which) -> Result<Forgotten, Fault> {
        if let Which::Order(order) = which {
            is_known(&self.connection, order).map_err(self.reading())??;
        }
        let chosen = chosen(&self.connection, which).map_err(self.reading())?;
        Ok(count(&chosen))
    }

    /// Takes out the sealed parts of the orders that are `which`, and records that. Then the file is written anew and its journal
    /// emptied, so that the bytes are gone from both; copies and backups are not
    /// reached.
    ///
    /// # Errors
    ///
    /// A fault if the file cannot be written or another program is reading it,
    /// so that it cannot be written anew; in that case what was taken out is
    /// recorded, and the help says what to do. A fault if the newest entry is
    /// later than the stamp: with such a clock nobody can say what is old. A fault if
    /// the order that is named is not in the ledger.
    pub fn forget(
        &mut self,
        stamp: &Stamp,
        which: Which,
    ) -> Result<Forgotten, Vec<Fault>> {
        let mut faults = stamp.faults();
        if let Which::Before(before) = which
            && before > stamp.at
        {
            faults.push(Fault::new(
                format!(
                    "{} is later than now, {}",
                    Stamp::new(before, "").at(),
                    stamp.at()
                ),
                "give a moment in the past",
            ));
        }
        let path = self.path.clone();
        let sql = |error: rusqlite::Error| vec![sql_fault(&path, "write", &error)];
        let transaction = self.begin().map_err(|fault| vec![fault])?;
        let newest: Option<String> = transaction
            .query_row("SELECT max(at) FROM entry", [], |row| row.get(0))
            .map_err(sql)?;
        if matches!(which, Which::Before(_))
            && let Some(newest) = newest.filter(|newest| *newest > stamp.at())
        {
            faults.push(Fault::new(
                format!("an entry is of {newest}, later than now, {}", stamp.at()),
                "set the clock of this machine; if the entry's is wrong, wait until it is \
                 past",
            ));
        }
        if let Which::Order(order) = which {
            faults.extend(is_known(&transaction, order).map_err(sql)?.err());
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let old = chosen(&transaction, which).map_err(sql)?;
        if !old.is_empty() {
            for (seq, _) in &old {
                transaction
                    .execute("DELETE FROM sealed WHERE seq = ?1", [seq])
                    .map_err(sql)?;
            }
            let seqs: BTreeSet<i64> = old.iter().map(|(seq, _)| *seq).collect();
            let draft =
                Draft { detail: ranges(&seqs), ..Draft::new(Kind::Forgotten, "") };
            append(&transaction, stamp, draft).map_err(sql)?;
        }
        transaction.commit().map_err(sql)?;
        self.wipe().map_err(|why| {
            vec![Fault::of_file(
                format!(
                    "cannot write the ledger {} anew: {why}; {} were forgotten, but their \
                     bytes may still be in the file",
                    path.display(),
                    count(&old).entries
                ),
                "close every other program that uses the ledger and give the command \
                 again",
            )]
        })?;
        Ok(count(&old))
    }

    /// Writes the file anew without what was deleted and empties the journal.
    /// Done even when nothing was forgotten: an earlier call may not have got
    /// this far.
    fn wipe(&self) -> Result<(), String> {
        let connection = &self.connection;
        connection
            .execute_batch("VACUUM")
            .map_err(|error| visible(&error.to_string()))?;
        let busy: i64 = connection
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0))
            .map_err(|error| visible(&error.to_string()))?;
        if busy == 0 { Ok(()) } else { Err("another program is reading it".into()) }
    }
}

fn chosen(connection: &Connection, which: Which) -> rusqlite::Result<Vec<(i64, String)>> {
    let (sql, value) = match which {
        Which::Before(before) => (OLD, Stamp::new(before, "").at()),
        Which::Order(order) => (OF_ORDER, order.to_owned()),
    };
    let mut statement = connection.prepare(sql)?;
    statement.query_map([value], |row| Ok((row.get(0)?, row.get(1)?)))?.collect()
}

/// Whether an order of that number was ever made.
fn is_known(connection: &Connection, order: &str) -> rusqlite::Result<Result<(), Fault>> {
    let entries = entries(connection, order)?;
    Ok(StoredKit::of(&entries).map(|_| ()).ok_or_else(|| unknown(order)))
}

fn count(old: &[(i64, String)]) -> Forgotten {
    let orders: BTreeSet<&str> =
        old.iter().map(|(_, order)| order.as_str()).filter(|o| !o.is_empty()).collect();
    Forgotten { orders: orders.len(), entries: old.len() }
}

/// Entry numbers as text: `1-40 42`.
fn ranges(seqs: &BTreeSet<i64>) -> String {
    let mut ranges: Vec<(i64, i64)> = Vec::new();
    for seq in seqs {
        match ranges.last_mut() {
            Some((_, last)) if last.checked_add(1) == Some(*seq) => *last = *seq,
            _ => ranges.push((*seq, *seq)),
        }
    }
    let words = ranges.iter().map(|(first, last)| match first == last {
        true => first.to_string(),
        false => format!("{first}-{last}"),
    });
    words.collect::<Vec<_>>().join(" ")
}

/// First and last of each range of a text that [`ranges`] wrote; `None` if it is
/// none.
pub(super) fn read_ranges(text: &str) -> Option<Vec<(i64, i64)>> {
    let range = |word: &str| {
        let (first, last) = word.split_once('-').unwrap_or((word, word));
        let (first, last): (i64, i64) = (first.parse().ok()?, last.parse().ok()?);
        (1 <= first && first <= last).then_some((first, last))
    };
    text.split(' ').map(range).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_read_back() {
        let seqs = BTreeSet::from([1, 2, 3, 5, 9, 10]);
        assert_eq!(ranges(&seqs), "1-3 5 9-10");
        assert_eq!(read_ranges("1-3 5 9-10"), Some(vec![(1, 3), (5, 5), (9, 10)]));
        for wrong in ["", "a", "3-1", "1--3", "0", "1  2"] {
            assert_eq!(read_ranges(wrong), None, "{wrong}");
        }
    }
}
