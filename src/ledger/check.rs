//! Checks a whole ledger: the file, the chain, what was forgotten, counters and
//! codes. Lists all that is wrong, each with its entry, and changes nothing.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate};
use rusqlite::Transaction;

use super::Ledger;
use super::chain::{Head, START, ShortHead, commitment, digest, hash, shown};
use super::counters::Counters;
use super::entry::{self, Entry, Kind, SELECT, Sum};
use super::file::sql_fault;
use super::forget::read_ranges;
use crate::fault::Fault;
use crate::specimen;

/// What to do about an entry that is wrong.
const HELP: &str = "the ledger was changed outside the program: keep the file, compare it \
                    with the last backup and the printed heads";

/// A ledger in which nothing is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checked {
    pub entries: usize,
    /// Entries whose sealed part was taken by retention.
    pub forgotten: usize,
    pub head: Option<Head>,
    /// Worth knowing and no fault: a clock that went back, a file that others may
    /// read.
    pub notes: Vec<String>,
}

/// What has been seen of the chain so far.
struct Walk<'a> {
    known: Option<&'a ShortHead>,
    faults: Vec<Fault>,
    checked: Checked,
    before: Head,
    before_at: String,
    orders: HashMap<String, Counters>,
    /// Entries without their sealed part.
    bare: Vec<i64>,
    /// Ranges that entries say were forgotten, with the number of that entry.
    covered: Vec<(i64, i64, i64)>,
    known_found: bool,
}

impl Ledger {
    /// Walks the whole ledger. `known` is a head that was printed: it must be in
    /// the chain, so that a tail that was cut off shows.
    ///
    /// # Errors
    ///
    /// Everything that is wrong, each with its entry.
    pub fn check(&mut self, known: Option<ShortHead>) -> Result<Checked, Vec<Fault>> {
        let path = self.path.clone();
        let sql = |error: rusqlite::Error| vec![sql_fault(&path, "read", &error)];
        // One transaction: what is checked is one state of the ledger.
        let transaction = self.connection.transaction().map_err(sql)?;
        let mut walk = Walk {
            known: known.as_ref(),
            faults: file_faults(&transaction).map_err(sql)?,
            checked: Checked {
                entries: 0,
                forgotten: 0,
                head: None,
                notes: readers(&path).into_iter().collect(),
            },
            before: Head { seq: 0, hash: START },
            before_at: String::new(),
            orders: HashMap::new(),
            bare: Vec::new(),
            covered: Vec::new(),
            known_found: false,
        };
        let query = format!("{SELECT} ORDER BY e.seq");
        let mut statement = transaction.prepare(&query).map_err(sql)?;
        let mut rows = statement.query([]).map_err(sql)?;
        loop {
            match rows.next() {
                Ok(Some(row)) => match entry::read(row) {
                    Ok(entry) => walk.entry(&entry),
                    Err(error) => walk.unreadable(row.get(0).ok(), &error),
                },
                Ok(None) => break,
                Err(error) => {
                    walk.faults.push(sql_fault(&path, "read", &error));
                    break;
                }
            }
        }
        walk.finish()
    }
}

/// A note if others than the owner may read or write the file.
#[cfg(unix)]
fn readers(path: &std::path::Path) -> Option<String> {
    use std::os::unix::fs::PermissionsExt;
    let mode = std::fs::metadata(path).ok()?.permissions().mode() & 0o777;
    (mode & 0o077 != 0).then(|| {
        format!(
            "others than its owner may use {} (mode {mode:04o}, made with 0600)",
            path.display()
        )
    })
}

#[cfg(not(unix))]
fn readers(_: &std::path::Path) -> Option<String> {
    None
}

/// What SQLite finds wrong with the file itself.
fn file_faults(transaction: &Transaction) -> rusqlite::Result<Vec<Fault>> {
    let help = "the file is damaged: keep it, and put the last backup in its place";
    let mut faults = Vec::new();
    let mut statement = transaction.prepare("PRAGMA integrity_check")?;
    for line in statement.query_map([], |row| row.get::<_, String>(0))? {
        let line = line?;
        if line != "ok" {
            faults.push(Fault::new(format!("SQLite finds: {}", shown(&line)), help));
        }
    }
    let mut statement = transaction.prepare("PRAGMA foreign_key_check")?;
    for row in statement.query_map([], |row| row.get::<_, Option<i64>>(1))? {
        let seq = row?.unwrap_or_default();
        faults.push(Fault::new(
            format!("entry {seq}: there is a sealed part and no entry"),
            HELP,
        ));
    }
    Ok(faults)
}

impl Walk<'_> {
    fn fault(&mut self, seq: i64, what: impl std::fmt::Display) {
        self.faults.push(Fault::new(format!("entry {seq}: {what}"), HELP));
    }

    /// An entry that cannot be read: the chain goes on after it as it can.
    fn unreadable(&mut self, seq: Option<i64>, error: &rusqlite::Error) {
        let seq = seq.unwrap_or_else(|| self.before.seq.saturating_add(1));
        self.fault(seq, format!("it cannot be read ({error})"));
        self.before.seq = seq;
        self.checked.entries += 1;
    }

    fn entry(&mut self, entry: &Entry) {
        let seq = entry.seq;
        let expected = self.before.seq.saturating_add(1);
        if seq != expected {
            let gap = match seq.saturating_sub(1) {
                last if last == expected => format!("entry {expected} is missing"),
                last => format!("entries {expected} to {last} are missing"),
            };
            self.fault(seq, format!("{gap} before it"));
        }
        let sum = hash(&self.before.hash, entry);
        if entry.hash != sum {
            self.fault(
                seq,
                "its hash does not follow from it and the entry before: one of the two \
                 was changed, or one between them is gone",
            );
        }
        // The stored hash and not the one worked out, so that one change is one
        // fault and not one for each entry after it.
        let stored = Sum::try_from(entry.hash.as_slice()).unwrap_or(sum);
        self.before = Head { seq, hash: stored };
        if let Some(known) = self.known
            && known.seq == seq
        {
            self.known_found = true;
            if !known.fits(&self.before) {
                let now = self.before.short();
                self.fault(seq, format!("the printed head is {known}, here it is {now}"));
            }
        }
        self.moment(entry);
        self.sealed(entry);
        self.content(entry);
        self.checked.entries += 1;
        self.checked.head = Some(self.before);
    }

    fn moment(&mut self, entry: &Entry) {
        if DateTime::parse_from_rfc3339(&entry.at).is_err() || entry.at.len() != 20 {
            self.fault(entry.seq, format!("`{}` is no moment", shown(&entry.at)));
        } else if entry.at < self.before_at {
            self.checked.notes.push(format!(
                "entry {} is of {}, before the entry before it, {}: the clock went back",
                entry.seq, entry.at, self.before_at
            ));
        }
        self.before_at.clone_from(&entry.at);
    }

    fn sealed(&mut self, entry: &Entry) {
        let seq = entry.seq;
        let Some(sealed) = &entry.sealed else {
            if entry.is_forgotten() {
                self.bare.push(seq);
                self.checked.forgotten += 1;
            } else if !matches!(entry.kind, Kind::Forgotten) {
                self.fault(seq, "it has no sealed part and never had one");
            }
            return;
        };
        if entry.salt.len() != 16
            || entry.commitment != commitment(&entry.salt, sealed).as_slice()
        {
            self.fault(seq, "its sealed part is not the one it was made with");
        }
        let documents = sealed.documents();
        if super::write::document_lines(&documents) != sealed.documents {
            self.fault(seq, "its list of documents cannot be read");
        }
        let brings_text = matches!(entry.kind, Kind::Made | Kind::Revised);
        if brings_text && digest(sealed.order_text.as_bytes()) != sealed.input_digest {
            self.fault(seq, "its order text has another digest");
        }
        if brings_text && sealed.born.parse::<NaiveDate>().is_err() {
            self.fault(seq, format!("`{}` is no birth date", shown(&sealed.born)));
        }
    }

    fn content(&mut self, entry: &Entry) {
        let Entry { seq, kind, counter, .. } = *entry;
        if kind == Kind::Forgotten {
            match read_ranges(&entry.detail) {
                Some(ranges) => {
                    self.covered.extend(ranges.iter().map(|(a, b)| (*a, *b, seq)));
                }
                None => self.fault(
                    seq,
                    format!("`{}` does not say what was forgotten", shown(&entry.detail)),
                ),
            }
        }
        let has_codes = matches!(
            kind,
            Kind::Made
                | Kind::MadeAgain
                | Kind::Revised
                | Kind::Relabelled
                | Kind::Reprinted
        );
        for code in entry.codes.split(' ').filter(|_| has_codes) {
            if specimen::parse(code).is_none_or(|(order, _)| order != entry.order) {
                let code = shown(code);
                self.fault(
                    seq,
                    format!("`{code}` is no code of order {}", shown(&entry.order)),
                );
            }
        }
        let mut counters = self.orders.remove(&entry.order).unwrap_or_default();
        if counters.made == (kind == Kind::Made) && !entry.order.is_empty() {
            let what = if counters.made { "a second time" } else { "before it was made" };
            self.fault(
                seq,
                format!("order {} is {} {what}", shown(&entry.order), kind.word()),
            );
        }
        let expected = counters.next(kind, &entry.slots);
        if counter != expected {
            self.fault(seq, format!("its counter is {counter} and not {expected}"));
        }
        counters.add(kind, &entry.slots, counter);
        self.orders.insert(entry.order.clone(), counters);
    }

    fn finish(mut self) -> Result<Checked, Vec<Fault>> {
        for seq in std::mem::take(&mut self.bare) {
            let told = |(first, last, by): &(i64, i64, i64)| {
                *first <= seq && seq <= *last && seq < *by
            };
            if !self.covered.iter().any(told) {
                self.fault(
                    seq,
                    "its sealed part is gone, and no entry says it was forgotten",
                );
            }
        }
        if let Some(known) = self.known
            && !self.known_found
        {
            let end = self.before.seq;
            self.faults.push(Fault::new(
                format!(
                    "the printed head {known} is not in the ledger, which ends at {end}"
                ),
                "entries were cut off, or this is another ledger: keep the file, and \
                 compare it with the last backup",
            ));
        }
        if self.faults.is_empty() { Ok(self.checked) } else { Err(self.faults) }
    }
}
