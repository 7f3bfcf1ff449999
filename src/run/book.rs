//! The ledger as a run uses it: what was made before, and what is made now.

use std::path::Path;

use unicode_normalization::UnicodeNormalization;

use super::journal::{Ended, FileRecord, PartRecord};
use super::list::{LeftOut, PartList, Status};
use crate::fault::Fault;
use crate::ledger::{
    Again, Document, Ledger, NewKit, RunCounts, Sealed, Stamp, StoredKit, digest,
};
use crate::making::MadeKit;
use crate::proof::FileKind;
use crate::workshop::{Planned, Workshop};
use crate::{kept, order, specimen};

pub struct Book {
    ledger: Ledger,
    stamp: Stamp,
    /// The run's name in the ledger; empty until it has one.
    pub run: String,
}

impl Book {
    /// Opens the ledger `path`, and makes it where there is none.
    ///
    /// # Errors
    ///
    /// What stands in the way; everything that is wrong with it.
    pub fn open(path: &Path, stamp: Stamp) -> Result<Self, Vec<Fault>> {
        let mut ledger = Ledger::open(path).map_err(|fault| vec![fault])?;
        // What it says of kits made before must be true.
        ledger.check(None)?;
        Ok(Self { ledger, stamp, run: String::new() })
    }

    /// Whether the ledger was made just now.
    pub fn was_begun(&self) -> bool {
        self.ledger.was_begun()
    }

    /// The order left out, if a kit was made of it before by another run.
    ///
    /// # Errors
    ///
    /// A fault with both texts if its number was used for another text; or what
    /// stands in the way of the ledger.
    pub fn made_before(&self, planned: &Planned) -> Result<Option<LeftOut>, Vec<Fault>> {
        let number = &planned.order.number;
        let Some(stored) = self.ledger.kit(number).map_err(|fault| vec![fault])? else {
            return Ok(None);
        };
        if !self.run.is_empty() && stored.run == self.run {
            return Ok(None);
        }
        let kit = new_kit(planned, "", Vec::new());
        let text = &planned.order.source.text;
        let same = stored.person.as_ref().is_some_and(|person| {
            person.input_digest == digest(text.as_bytes())
                // Names are read in this form, so it is the same on paper.
                || person.order_text.nfc().eq(text.nfc())
        });
        if same || self.has_its_day(planned, &stored).map_err(|fault| vec![fault])? {
            let run = match stored.run.as_str() {
                "" => String::new(),
                run => format!(" in the run {run}"),
            };
            let why = format!("a kit of it was made on {}{run}", stored.made_at);
            return Ok(Some(LeftOut::of(planned, Status::Before, vec![why])));
        }
        stored.refuses(&kit, Again::Refuse).map_or(Ok(None), |fault| Err(vec![fault]))
    }

    /// Whether an order that asks for the first suitable day is the one, but for its
    /// day, of which a kit was made for a day that was chosen.
    fn has_its_day(&self, planned: &Planned, stored: &StoredKit) -> Result<bool, Fault> {
        let undated = |text: &str| undated(text).nfc().collect::<String>();
        let text = undated(&planned.order.source.text);
        let is_it = stored
            .person
            .as_ref()
            .is_some_and(|kit| planned.day_chosen && undated(&kit.order_text) == text);
        // A revision may have another day, which somebody wrote.
        let was_chosen = |sealed: Sealed| {
            order::has(&sealed.order_text, "first_suitable_from")
                && undated(&sealed.order_text) == text
        };
        Ok(is_it
            && self
                .ledger
                .history(&stored.order)?
                .into_iter()
                .filter_map(|entry| entry.sealed)
                .any(was_chosen))
    }

    /// The revision that the paper of an order bears, if its kit is made again
    /// outside a run. Another text of it is refused when it is recorded.
    ///
    /// # Errors
    ///
    /// Why the kit cannot be made again as it was; what stands in the way of the
    /// ledger.
    pub fn revision(&self, planned: &Planned) -> Result<u32, Vec<Fault>> {
        let number = &planned.order.number;
        let Some(stored) = self.ledger.kit(number).map_err(|fault| vec![fault])? else {
            return Ok(0);
        };
        if !stored.is_of(&planned.order.source.text) {
            if !self.has_its_day(planned, &stored).map_err(|fault| vec![fault])? {
                return Ok(0);
            }
            return Err(vec![Fault::new(
                format!(
                    "the order {number} got its first suitable day when its kit was made, \
                     on {}",
                    stored.made_at
                ),
                format!(
                    "to print that kit again: kitwright reprint {number} --reason \u{2026}; \
                     for another day add --start"
                ),
            )]);
        }
        let mut faults = kept::compare(planned, &stored).faults(planned, &stored);
        faults.extend(void_copy(&stored));
        if faults.is_empty() { Ok(stored.revision) } else { Err(faults) }
    }

    /// Records one kit outside a run; the same order once more is one made again.
    ///
    /// # Errors
    ///
    /// A fault with both texts if its number was used for another text; or what
    /// stands in the way of the ledger.
    pub fn record_kit(
        &mut self,
        planned: &Planned,
        made: &MadeKit,
    ) -> Result<(), Vec<Fault>> {
        let pages = |kind| match kind {
            FileKind::Paper => made.batch.sides,
            FileKind::Labels => made.batch.imposition.sheets,
            FileKind::Packing => 1,
        };
        let documents = FileKind::ALL
            .map(|kind| Document::whole(kind.name(), made.file(kind), pages(kind) as u32))
            .into();
        let kit = new_kit(planned, &made.batch.stock.name, documents);
        self.ledger.record_kits(&self.stamp, &[kit], Again::Record)?;
        Ok(())
    }

    /// The orders of a part that were recorded by others since they were listed,
    /// left out, and their faults.
    ///
    /// # Errors
    ///
    /// What stands in the way of the ledger.
    pub fn taken(
        &self,
        shop: &mut Workshop,
        part: &PartList,
    ) -> Result<(Vec<LeftOut>, Vec<Fault>), Vec<Fault>> {
        let (mut taken, mut faults) = (Vec::new(), Vec::new());
        for item in &part.items {
            let planned = shop.plan_item(item)?;
            match self.made_before(&planned) {
                Ok(out) => taken.extend(out),
                Err(found) if found.iter().any(|fault| fault.of_file) => {
                    return Err(found);
                }
                Err(found) => {
                    taken.push(LeftOut::wrong(&planned, &found));
                    faults.extend(found);
                }
            }
        }
        Ok((taken, faults))
    }

    /// What is void in a part's file of one kind since it was made again: the orders,
    /// or of one with some new labels the codes of those.
    ///
    /// # Errors
    ///
    /// What stands in the way of the ledger.
    pub fn void(
        &self,
        record: &PartRecord,
        kind: FileKind,
    ) -> Result<Vec<String>, Fault> {
        let mut void = Vec::new();
        for kit in &record.kits {
            let Some(stored) = self.ledger.kit(&kit.order)? else { continue };
            let again: Vec<&String> = stored
                .codes
                .iter()
                .filter(|code| {
                    specimen::parse(code)
                        .is_some_and(|(_, digit)| stored.relabels.contains_key(&digit))
                })
                .collect();
            let is_all = match kind {
                FileKind::Paper => stored.reprints > 0,
                FileKind::Labels => {
                    !again.is_empty() && again.len() == stored.codes.len()
                }
                FileKind::Packing => false,
            };
            if stored.revision > 0 || is_all {
                void.push(kit.order.clone());
            } else if kind == FileKind::Labels {
                void.extend(again.into_iter().cloned());
            }
        }
        Ok(void)
    }

    /// Records the kits of one part; a part that is recorded already is not
    /// recorded again.
    ///
    /// # Errors
    ///
    /// An order that another process recorded meanwhile; what stands in the way
    /// of the ledger.
    pub fn record_part(
        &mut self,
        shop: &mut Workshop,
        part: &PartList,
        record: &PartRecord,
    ) -> Result<(), Vec<Fault>> {
        let mut kits = Vec::new();
        for (order, item) in part.orders.iter().zip(&part.items) {
            let Some(made) = record.kits.iter().find(|kit| kit.order == *order) else {
                continue;
            };
            let planned = shop.plan_item(item)?;
            let paper = Document {
                name: record.paper.name.clone(),
                sha256: record.paper.sha256.clone(),
                first_page: made.pages.first as u32,
                pages: made.sides as u32,
            };
            let labels = whole(&record.labels, record.sheets);
            kits.push(new_kit(&planned, &record.stock, vec![paper, labels]));
        }
        if kits.is_empty() {
            return Ok(());
        }
        let stamp = self.stamp.in_run(&self.run, record.part as u32);
        self.ledger.record_kits(&stamp, &kits, Again::Refuse)?;
        Ok(())
    }

    /// The newest entry, as it is printed.
    ///
    /// # Errors
    ///
    /// What stands in the way of the ledger.
    pub fn head(&self) -> Result<Option<String>, Fault> {
        Ok(self.ledger.head()?.map(|head| head.short().to_string()))
    }

    /// Records the end of the run.
    ///
    /// # Errors
    ///
    /// What stands in the way of the ledger.
    pub fn record_end(
        &mut self,
        counts: RunCounts,
        ended: &Ended,
    ) -> Result<(), Vec<Fault>> {
        let files = ended.packing.iter().filter(|file| !file.name.is_empty());
        let documents: Vec<Document> =
            files.chain([&ended.manifest]).map(|file| whole(file, 0)).collect();
        let stamp = self.stamp.in_run(&self.run, 0);
        self.ledger.record_run(&stamp, counts, &documents)?;
        Ok(())
    }

    /// Records that a file was sent to a printer.
    ///
    /// # Errors
    ///
    /// What stands in the way of the ledger.
    pub fn record_printed(
        &mut self,
        printer: &str,
        file: &FileRecord,
    ) -> Result<(), Vec<Fault>> {
        let stamp = self.stamp.in_run(&self.run, 0);
        self.ledger.record_printed(&stamp, "", printer, &[whole(file, 0)])?;
        Ok(())
    }
}

/// Why a copy without a mark would be void: a newer one with a mark is about.
fn void_copy(stored: &StoredKit) -> Option<Fault> {
    let order = &stored.order;
    let is_marked = stored.reprints > 0 || !stored.relabels.is_empty();
    is_marked.then(|| {
        Fault::new(
            format!(
                "the sheet or labels of {order} were printed again with a mark, so a copy \
                 without one is void"
            ),
            format!(
                "to print it again: kitwright reprint {order} --reason \u{2026}, or relabel"
            ),
        )
    })
}

/// An order's text without the lines that choosing a day writes.
pub(crate) fn undated(text: &str) -> String {
    let of_the_day = |line: &&str| {
        let key = line.split('=').next().unwrap_or_default().trim();
        !["start", "first_suitable_from"].contains(&key)
    };
    text.lines().filter(of_the_day).collect::<Vec<_>>().join("\n")
}

fn whole(file: &FileRecord, pages: usize) -> Document {
    Document {
        name: file.name.clone(),
        sha256: file.sha256.clone(),
        first_page: 1,
        pages: pages as u32,
    }
}

/// A planned order's kit, to be recorded with what it was planned by.
pub fn new_kit(planned: &Planned, stock: &str, mut documents: Vec<Document>) -> NewKit {
    documents.extend(kept::documents(planned));
    let kit = NewKit::of(
        &planned.order,
        &planned.plan,
        &planned.protocol,
        &planned.lab.lab,
        stock,
        documents,
    );
    NewKit { revision: planned.edition.revision, ..kit }
}
