//! Records papers made again and orders changed: what gives out numbers.

use super::Ledger;
use super::entry::{Document, Kind, PLAN, Sealed};
use super::file::sql_fault;
use super::given::{
    Basis, NewKit, Recorded, Reprint, Stamp, What, document_faults, text_fault,
};
use super::kit::{StoredKit, counters, entries};
use super::refuse::{changed, known};
use super::write::{Draft, append, document_lines};
use crate::fault::Fault;
use crate::specimen;

impl Ledger {
    /// Records labels or a sheet made again. `set` is given the reprint number
    /// and makes the documents that bear it, while no other process can record;
    /// it should take well under the ten seconds that others wait. Write the
    /// documents once this has returned: if `set` or the recording fails, the
    /// number is given to the next who asks.
    ///
    /// # Errors
    ///
    /// An order that is unknown or forgotten, or was revised since its papers were
    /// planned, a slot it has no card for, no reason, the faults of `set`, a file that cannot be written.
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
        faults.extend(changed(&stored, &reprint.from));
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

    /// Records a new text, or other times from the same text, for an order number
    /// that is in the ledger and has the content `from`. `set` is
    /// given the revision's number, as in [`Ledger::record_reprint`]; its
    /// documents are kept after those of `kit`.
    ///
    /// # Errors
    ///
    /// An order that is unknown or forgotten, or was revised meanwhile, text and
    /// plan the same as before, no reason, the faults of `set`, a file that cannot be written.
    pub fn record_revision(
        &mut self,
        stamp: &Stamp,
        kit: &NewKit,
        from: &Basis,
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
        let stored = match known(&kit.order, &before) {
            Ok(stored) => stored,
            Err(fault) => {
                faults.push(fault);
                return Err(faults);
            }
        };
        // Before what follows from the content.
        if let Some(fault) = changed(&stored, from) {
            faults.push(fault);
            return Err(faults);
        }
        let same_plan = plan_of(&stored.documents) == plan_of(&kit.documents);
        if from.input_digest == kit.input_digest() && same_plan {
            faults.push(kit.fault(
                format!("order {} has this text already: nothing is revised", kit.order),
                format!(
                    "change the order, or print its paper and labels again as they are: \
                     kitwright reprint {0}, kitwright relabel {0}",
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
            sealed.revised_from.clone_from(&from.input_digest);
            sealed.reason = reason.to_owned();
        }
        let recorded = append(&transaction, stamp, draft).map_err(sql)?;
        transaction.commit().map_err(sql)?;
        Ok(recorded)
    }
}

/// The digest of the plan among a kit's documents; older entries have none.
fn plan_of(documents: &[Document]) -> Option<&str> {
    let plan = documents.iter().find(|document| document.name == PLAN)?;
    Some(&plan.sha256)
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
