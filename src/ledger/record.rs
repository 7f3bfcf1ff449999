//! What can be recorded, and the rules that refuse it.
//!
//! Each call is one transaction: it records everything it was given, or it gives
//! every fault and has changed nothing.

use std::collections::HashMap;
use std::sync::Arc;

use chrono::{DateTime, Datelike, NaiveDate, Utc};
use rusqlite::Connection;
use similar::TextDiff;

use super::Ledger;
use super::chain::{Head, digest, shown};
use super::entry::{self, Document, Entry, Kind, SELECT, Sealed};
use super::file::sql_fault;
use super::kit::{StoredKit, counters, entries};
use super::write::{Draft, append, document_lines};
use crate::fault::{Fault, Source};
use crate::lab::Lab;
use crate::order::{Order, check_number};
use crate::plan::Plan;
use crate::protocol::Protocol;
use crate::specimen;

/// The longest diff that a fault shows, in lines.
const LONGEST_DIFF: usize = 40;

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
}

impl NewKit {
    /// The kit of a planned order.
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
        }
    }

    fn input_digest(&self) -> String {
        digest(self.source.text.as_bytes())
    }

    /// A fault that points at the order number in the order.
    fn fault(&self, what: String, help: String) -> Fault {
        let start = self.source.text.find(&self.order).unwrap_or(0);
        let end = if start == 0 { 0 } else { start + self.order.len() };
        Fault::new(what, help).at(&self.source, start..end, "order")
    }

    fn faults(&self) -> Vec<Fault> {
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

    fn draft(&self, kind: Kind, counter: u32, documents: &[Document]) -> Draft {
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

/// Papers to be made again for a kit that is in the ledger.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reprint {
    pub order: String,
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

    /// Records labels or a sheet made again. `set` is given the reprint number
    /// and makes the documents that bear it, while no other process can record;
    /// it should take well under the ten seconds that others wait. Write the
    /// documents once this has returned: if `set` or the recording fails, the
    /// number is given to the next who asks.
    ///
    /// # Errors
    ///
    /// An order that is unknown or forgotten, a slot it has no card for, no
    /// reason, the faults of `set`, a file that cannot be written.
    pub fn record_reprint(
        &mut self,
        stamp: &Stamp,
        reprint: &Reprint,
        set: impl FnOnce(u32) -> Result<Vec<Document>, Vec<Fault>>,
    ) -> Result<Recorded, Vec<Fault>> {
        let mut faults = stamp.faults();
        text_fault(&mut faults, "reason", &reprint.reason, 1);
        text_fault(&mut faults, "stock", &reprint.stock, 0);
        let path = self.path.clone();
        let sql = |error: rusqlite::Error| vec![sql_fault(&path, "write", &error)];
        let transaction = self.begin().map_err(|fault| vec![fault])?;
        let before = entries(&transaction, &reprint.order).map_err(sql)?;
        let stored = match known(&reprint.order, &before) {
            Ok(stored) => stored,
            Err(fault) => {
                faults.push(fault);
                return Err(faults);
            }
        };
        let (kind, slots) = match reprint.what {
            What::Sheet => (Kind::Reprinted, String::new()),
            What::Labels(slot) => (Kind::Relabelled, slots(&stored, slot, &mut faults)),
        };
        if !faults.is_empty() {
            return Err(faults);
        }
        let counter = counters(&before).next(kind, &slots);
        let documents = set(counter)?;
        document_faults(&mut faults, &documents);
        if !faults.is_empty() {
            return Err(faults);
        }
        let digest = stored.person.map(|person| person.input_digest);
        let codes = stored.codes.into_iter().filter(|code| {
            let digit = specimen::parse(code).map(|(_, digit)| digit.to_string());
            slots.is_empty() || digit.is_some_and(|digit| slots.contains(&digit))
        });
        let draft = Draft {
            counter,
            codes: codes.collect::<Vec<_>>().join(" "),
            slots,
            protocol: stored.protocol,
            stock: reprint.stock.clone(),
            lab_digest: reprint.lab_digest.clone(),
            sealed: Some(Sealed {
                input_digest: digest.unwrap_or_default(),
                reason: reprint.reason.clone(),
                documents: document_lines(&documents),
                ..Sealed::default()
            }),
            ..Draft::new(kind, &reprint.order)
        };
        let recorded = append(&transaction, stamp, draft).map_err(sql)?;
        transaction.commit().map_err(sql)?;
        Ok(recorded)
    }

    /// Records a new text for an order number that is in the ledger. `set` is
    /// given the revision's number, as in [`Ledger::record_reprint`]; its
    /// documents are kept after those of `kit`.
    ///
    /// # Errors
    ///
    /// An order that is unknown or forgotten, a text that is the same as before,
    /// no reason, the faults of `set`, a file that cannot be written.
    pub fn record_revision(
        &mut self,
        stamp: &Stamp,
        kit: &NewKit,
        reason: &str,
        set: impl FnOnce(u32) -> Result<Vec<Document>, Vec<Fault>>,
    ) -> Result<Recorded, Vec<Fault>> {
        let mut faults = stamp.faults();
        faults.extend(kit.faults());
        text_fault(&mut faults, "reason", reason, 1);
        let path = self.path.clone();
        let sql = |error: rusqlite::Error| vec![sql_fault(&path, "write", &error)];
        let transaction = self.begin().map_err(|fault| vec![fault])?;
        let before = entries(&transaction, &kit.order).map_err(sql)?;
        let from = match known(&kit.order, &before) {
            Ok(stored) => stored.person.map(|p| p.input_digest).unwrap_or_default(),
            Err(fault) => {
                faults.push(fault);
                return Err(faults);
            }
        };
        if from == kit.input_digest() {
            faults.push(kit.fault(
                format!("order {} has this text already: nothing is revised", kit.order),
                format!(
                    "change the order, or print it again as it is: kitwright reprint {}",
                    kit.order
                ),
            ));
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let counter = counters(&before).next(Kind::Revised, "");
        let mut documents = kit.documents.clone();
        documents.extend(set(counter)?);
        document_faults(&mut faults, &documents);
        if !faults.is_empty() {
            return Err(faults);
        }
        let mut draft = kit.draft(Kind::Revised, counter, &documents);
        if let Some(sealed) = &mut draft.sealed {
            sealed.revised_from = from;
            sealed.reason = reason.to_owned();
        }
        let recorded = append(&transaction, stamp, draft).map_err(sql)?;
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

/// An entry of an earlier call.
fn again(entry: &Entry) -> Recorded {
    let hash = entry.hash.as_slice().try_into().unwrap_or_default();
    Recorded {
        kind: entry.kind,
        counter: entry.counter,
        head: Head { seq: entry.seq, hash },
        fresh: false,
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

/// A part that was recorded before: its entries, if the kits are the same.
fn resumed(
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
                format!("{part} was recorded with order {}, which is missing", entry.order),
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
fn taken(kit: &NewKit, stored: &StoredKit, again: Again) -> Option<Fault> {
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
    let unified = diff.unified_diff().context_radius(0).missing_newline_hint(false).to_string();
    let lines: Vec<String> = unified
        .lines()
        .map(|line| {
            let control = |c: char| c.is_control() && c != '\t';
            line.chars().map(|c| if control(c) { '\u{FFFD}' } else { c }).collect()
        })
        .collect();
    let mut text = lines.iter().take(LONGEST_DIFF).cloned().collect::<Vec<_>>().join("\n");
    if lines.len() > LONGEST_DIFF {
        text.push_str(&format!("\nand {} lines more", lines.len() - LONGEST_DIFF));
    }
    text
}

/// The kit that papers are to be made for.
fn known(order: &str, entries: &[Entry]) -> Result<StoredKit, Fault> {
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

/// The digits of the slots whose labels are made.
fn slots(stored: &StoredKit, one: Option<u8>, faults: &mut Vec<Fault>) -> String {
    let all: Vec<u8> = stored
        .codes
        .iter()
        .filter_map(|code| specimen::parse(code))
        .map(|(_, digit)| digit)
        .collect();
    let list = all.iter().map(u8::to_string).collect::<Vec<_>>();
    match one {
        None => list.concat(),
        Some(digit) if all.contains(&digit) => digit.to_string(),
        Some(digit) => {
            faults.push(Fault::new(
                format!("order {} has no slot {digit}", stored.order),
                format!("its slots are {}", list.join(", ")),
            ));
            String::new()
        }
    }
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

fn document_faults(faults: &mut Vec<Fault>, documents: &[Document]) {
    for document in documents {
        text_fault(faults, "document name", &document.name, 1);
    }
}
