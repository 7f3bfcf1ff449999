//! What must be as it was before anything is printed again: the order's text, its
//! day, its plan, its laboratory; and the stock of its labels.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::{Target, kept_text};
use crate::cli::Making;
use crate::command::note;
use crate::fault::{Fault, Source, visible};
use crate::imposition::Placing;
use crate::kept::{self, Compared};
use crate::ledger::StoredKit;
use crate::order::{Values, values_in};
use crate::proof::{FileKind, attached_orders};
use crate::stock::{self, Stock};
use crate::workshop::{Planned, Workshop};

impl Target {
    /// Takes the order file that was named as a correction, if its text is not that of
    /// the ledger. One that may `restore` can have what was replaced once.
    ///
    /// # Errors
    ///
    /// A text that a revision replaced, one with a value of such a text, or without one
    /// that a revision added; faults of reading the ledger.
    pub(in crate::command) fn take_correction(
        &mut self,
        restore: bool,
    ) -> Result<(), Fault> {
        let Some((ledger, stored)) = &self.book else { return Ok(()) };
        // What a PDF carries was an order once, and nobody corrects it there.
        if self.pdf.is_some() || stored.is_of(&self.source.text) {
            return Ok(());
        }
        let kept = kept_text(stored);
        if !restore {
            let history = ledger.history(&stored.order)?;
            let sealed = history.into_iter().filter_map(|entry| entry.sealed);
            let mut older: Vec<String> = Vec::new();
            for old in sealed.map(|sealed| sealed.order_text) {
                if self.source.text == old {
                    older = vec!["is the order as it was".to_owned()];
                    break;
                }
                older.extend(self.is_older(&old, &kept.text));
            }
            older.sort();
            older.dedup();
            if !older.is_empty() {
                return Err(self.older(stored, &older.join(", ")));
            }
        }
        self.corrected = Some(std::mem::replace(&mut self.source, kept));
        Ok(())
    }

    /// What the text has, or lacks, as `old` did, which is not so `now`.
    fn is_older(&self, old: &str, now: &str) -> Vec<String> {
        let (new, old, now) =
            (values_in(&self.source.text), values_in(old), values_in(now));
        let has = |values: &Values, name: &String, value: &String| {
            values.get(name).is_some_and(|all| all.contains(value))
        };
        let one_by_one = |values: &Values| -> Vec<(String, String)> {
            let one = |(name, all): (&String, &BTreeSet<String>)| {
                all.iter().map(|value| (name.clone(), value.clone())).collect::<Vec<_>>()
            };
            values.iter().flat_map(one).collect()
        };
        let written = |name: &str, value: &str| {
            visible(&format!("{} = {value}", name.rsplit('.').next().unwrap_or(name)))
        };
        let mut found = Vec::new();
        for (name, value) in one_by_one(&new) {
            if has(&old, &name, &value) && !has(&now, &name, &value) {
                found.push(format!("brings `{}` back", written(&name, &value)));
            }
        }
        for (name, value) in one_by_one(&now) {
            if !new.contains_key(&name) && !old.contains_key(&name) {
                found.push(format!("lacks `{}`", written(&name, &value)));
            }
        }
        found
    }

    /// That the text is an older one, in the words of `what`.
    fn older(&self, stored: &StoredKit, what: &str) -> Fault {
        let (order, revision) = (&stored.order, stored.revision);
        let fault = Fault::new(
            format!(
                "{} {what}: as before revision {revision} of {order}",
                self.source.name
            ),
            format!(
                "correct the order as it is now: a PDF of the revision carries it; or name \
                 the order, with what changes: kitwright reprint {order} --reason \u{2026} \
                 --weight \u{2026}; if the revision was the mistake, add --restore",
            ),
        );
        fault.at(&self.source, 0..0, "")
    }

    /// The order, planned as it is now.
    ///
    /// # Errors
    ///
    /// Faults of the order; one that leaves the choice of the day to the program;
    /// one that is not the newest text in the ledger.
    pub(in crate::command) fn plan(
        &self,
        shop: &mut Workshop,
    ) -> Result<Planned, Vec<Fault>> {
        let (order, ..) = shop.read(&self.source, &self.path)?;
        if let Some(asked) = &order.first_suitable {
            return Err(vec![asked.fault(
                &order.source,
                "the order asks for the first suitable day: the day of its kit does not \
                 stand in it",
                format!(
                    "name a PDF of the kit, which carries the order with its day, or the \
                     order number {}",
                    order.number
                ),
            )]);
        }
        if let Some((_, stored)) = &self.book {
            same(&self.source, stored).map_err(|fault| vec![fault])?;
        }
        let mut planned = shop.plan(&self.source, &self.path)?;
        if let Some((_, stored)) = &self.book {
            planned.edition.revision = stored.revision;
        }
        Ok(planned)
    }

    /// Refuses an order that comes to other times than those of the papers that
    /// are out, or whose kit another laboratory made.
    ///
    /// # Errors
    ///
    /// What is not as it was.
    pub(in crate::command) fn as_it_was(
        &self,
        shop: &mut Workshop,
        planned: &Planned,
    ) -> Result<(), Vec<Fault>> {
        let Some((_, stored)) = &self.book else { return self.is_the_pdf(shop, planned) };
        let compared = kept::compare(planned, stored);
        let faults = compared.faults(planned, stored);
        if !faults.is_empty() {
            return Err(faults);
        }
        notes(&compared, planned, stored);
        Ok(())
    }

    /// Without a ledger: that the PDF of one kit is what its order makes now. Of an
    /// order file, or a PDF of many kits, that cannot be told, and is said.
    fn is_the_pdf(
        &self,
        shop: &mut Workshop,
        planned: &Planned,
    ) -> Result<(), Vec<Fault>> {
        let one_kit = |bytes: &&Vec<u8>| attached_orders(bytes).len() == 1;
        let Some(pdf) = self.pdf.as_ref().filter(one_kit) else {
            note(
                "note: without a ledger nobody can tell whether these are the times of \
                 the papers that are out: compare them\n",
            );
            return Ok(());
        };
        let made = shop.make(planned, &Placing::default())?;
        if FileKind::ALL.iter().any(|kind| made.file(*kind) == *pdf) {
            return Ok(());
        }
        Err(vec![Fault::new(
            "the PDF is not what its order makes now: its times, its stock, or the program \
             are others, or it is a reprint or a revision",
            "give the ledger with --ledger; or name the PDF that was made first, with the \
             files of then; or make a revision: reprint --revise",
        )])
    }

    /// Refuses a kit of another laboratory or protocol, unless a revision is asked for
    /// by name; says what of the papers before is not known.
    ///
    /// # Errors
    ///
    /// A laboratory of another name, another protocol or another version of it.
    pub(in crate::command) fn may_be_revised(
        &self,
        planned: &Planned,
        by_name: bool,
    ) -> Result<(), Vec<Fault>> {
        let Some((_, stored)) = &self.book else { return Ok(()) };
        let compared = kept::compare(planned, stored);
        if (compared.laboratory == Some(false) || !compared.protocol) && !by_name {
            return Err(compared.faults(planned, stored));
        }
        if compared.is_other_plan() {
            note(&format!(
                "note: the program, the zone data, the protocol or the laboratory\u{2019}s \
                 file has changed since the kit {} was made, so its times before are not \
                 known: compare the whole sheet with the earlier one\n",
                stored.order
            ));
        }
        notes(&compared, planned, stored);
        Ok(())
    }

    /// The stock that labels are laid on: the one asked for, or the kit's. Says so
    /// where that is not known here.
    ///
    /// # Errors
    ///
    /// Faults of the stock.
    pub(in crate::command) fn stock(
        &self,
        shop: &mut Workshop,
        making: &Making,
        planned: &Planned,
    ) -> Result<Stock, Vec<Fault>> {
        let usual = shop.stock_for(planned);
        let Some((_, stored)) = &self.book else { return usual };
        let is_the_kits = usual.as_ref().is_ok_and(|usual| usual.name == stored.stock);
        if making.stock.is_some() || is_the_kits || stored.stock.is_empty() {
            return usual;
        }
        if let Some(stock) = stock::builtin(&stored.stock) {
            shop.use_stock(stock.clone());
            return Ok(stock);
        }
        let usual = usual?;
        note(&format!(
            "note: the labels of the kit {} were on {}, which is not built in; these are \
             on {}: for others name the stock\u{2019}s file with --stock\n",
            stored.order, stored.stock, usual.name
        ));
        Ok(usual)
    }
}

/// What may matter and stops nothing.
fn notes(compared: &Compared, planned: &Planned, stored: &StoredKit) {
    if compared.plan.is_none() {
        note(&format!(
            "note: the entry of the kit {} does not say what it was planned by: compare \
             the times with the earlier sheet\n",
            stored.order
        ));
    }
    if !compared.lab_file {
        note(&format!(
            "note: {} has changed since the kit was made\n",
            planned.lab.lab.source.name
        ));
    }
}

/// Refuses a text that is not the newest in the ledger: the patient has another
/// sheet.
fn same(source: &Arc<Source>, kit: &StoredKit) -> Result<(), Fault> {
    if kit.is_of(&source.text) {
        return Ok(());
    }
    Err(Fault::new(
        format!(
            "{} is not the order {} as the ledger has it{}",
            source.name,
            kit.order,
            match kit.revision {
                0 => String::new(),
                revision => format!(", revision {revision}"),
            }
        ),
        format!(
            "to print what the ledger has, name the order: {0}; to put this text in its \
             place, once it is corrected: kitwright reprint {1} --reason \u{2026} --revise; \
             to change a single value: kitwright reprint {0} --reason \u{2026} --weight \
             \u{2026} (see kitwright reprint --help)",
            kit.order,
            source.on_the_command_line(&kit.order)
        ),
    )
    .at(source, 0..0, ""))
}
