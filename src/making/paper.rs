//! The paper of some kits alone: it is on no label stock, so none can stop it.

use super::{KitPages, about, faults_of, kits_of, nothing};
use crate::fault::Fault;
use crate::proof::{self, FileKind};
use crate::stock::{self, Stock};
use crate::typeset::Press;
use crate::workshop::{Planned, Workshop, find_stock};

/// The paper of some kits.
pub struct PaperFile {
    pub bytes: Vec<u8>,
    pub kits: Vec<KitPages>,
    /// Sides of `bytes`, blank ones included.
    pub sides: usize,
}

impl Workshop {
    /// Makes, and does not yet prove, the paper alone of planned orders that share
    /// their size of paper, whatever their stock.
    ///
    /// # Errors
    ///
    /// As [`Workshop::make_batch`], without those of the stock.
    pub fn make_paper(&mut self, planned: &[&Planned]) -> Result<PaperFile, Vec<Fault>> {
        let press = self.press_for(planned)?;
        self.paper_on(&press, planned)
    }

    pub(super) fn paper_on(
        &mut self,
        press: &Press,
        planned: &[&Planned],
    ) -> Result<PaperFile, Vec<Fault>> {
        let first = planned.first().ok_or_else(nothing)?;
        let words = self.words_of(planned)?;
        let packers = self.packers(first)?;
        let stock = any_stock(first)?;
        let kits = kits_of(planned, &stock, &words);
        let (laid, pages) = self.lay_out_paper(press, &kits, first)?;
        let sides = laid.blank_pages().len();
        let about = about(planned, FileKind::Paper, &kits, &packers);
        Ok(PaperFile { bytes: laid.export(&about)?, kits: pages, sides })
    }

    /// Compares finished paper with the plans of its orders.
    ///
    /// # Errors
    ///
    /// As [`Workshop::prove`].
    pub fn prove_paper(
        &mut self,
        planned: &[&Planned],
        paper: &PaperFile,
        name: &str,
    ) -> Result<(), Vec<Fault>> {
        let first = planned.first().ok_or_else(nothing)?;
        let words = self.words_of(planned)?;
        let packers = self.packers(first)?;
        let stock = any_stock(first)?;
        let kits = kits_of(planned, &stock, &words);
        let by = &self.setup.proof;
        proof::prove_paper(&paper.bytes, &kits, &packers, &paper.kits, by)
            .map_err(|differences| faults_of(&differences, name))
    }
}

/// A stock for documents that say nothing of it, and which another must not stop.
fn any_stock(planned: &Planned) -> Result<Stock, Vec<Fault>> {
    find_stock(stock::default_for(planned.order.paper))
}
