//! Makes the documents of one kit, or of several that are printed together, and
//! proves them.
//!
//! Takes planned orders, gives PDF bytes and where in them each kit is. Writes
//! no file.

mod fit;
mod paper;
mod proven;

use std::rc::Rc;

use serde::{Deserialize, Serialize};

use fit::{missing_glyphs, name_a_stock};
pub use paper::PaperFile;

use crate::document::{
    CoverFacts, Edition, Kit, Packing, PageCounts, PageSetting, PaperDocuments,
    SlipPlace, cover, label_sheets, modules, packing_slip, page_numbers, paper_documents,
};
use crate::fault::Fault;
use crate::imposition::{Imposition, Placing, impose};
use crate::proof::{self, Difference, FileKind};
use crate::stock::Stock;
use crate::typeset::{About, Laid, Part, Press, Template, lay_out, typeset};
use crate::words::Words;
use crate::workshop::{Planned, Workshop};

/// The paper and the labels of some kits. All are of one size of paper and one
/// stock.
pub struct Batch {
    pub paper: Vec<u8>,
    pub labels: Vec<u8>,
    pub kits: Vec<KitPages>,
    /// Sides of `paper`, blank ones included.
    pub sides: usize,
    pub stock: Stock,
    pub placing: Placing,
    pub imposition: Imposition,
}

/// Labels of some kits.
pub struct LabelFile {
    pub bytes: Vec<u8>,
    pub stock: Stock,
    pub placing: Placing,
    pub imposition: Imposition,
}

/// What the packing slips of a run say beside their kits.
pub struct RunFacts {
    pub cover: CoverFacts,
    /// Of each kit.
    pub places: Vec<SlipPlace>,
}

/// Where one kit's paper is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KitPages {
    /// Its first side, counted from 1.
    pub first: usize,
    /// For each of its sides up to the last printed one, whether it is blank.
    pub blank: Vec<bool>,
    pub counts: PageCounts,
}

/// The finished documents of one order.
pub struct MadeKit {
    pub batch: Batch,
    pub packing: Vec<u8>,
}

impl MadeKit {
    pub fn file(&self, kind: FileKind) -> &[u8] {
        match kind {
            FileKind::Paper => &self.batch.paper,
            FileKind::Labels => &self.batch.labels,
            FileKind::Packing => &self.packing,
        }
    }

    pub fn counts(&self) -> PageCounts {
        self.batch.kits[0].counts
    }
}

/// The paper of one kit, as its template reads it.
#[derive(Serialize)]
struct OnePaper<'a> {
    /// Whether no other kit is in the file: its sections stand in the bookmarks then.
    alone: bool,
    #[serde(flatten)]
    documents: &'a PaperDocuments,
}

impl Workshop {
    /// Makes, and does not yet prove, the documents of one planned order.
    ///
    /// # Errors
    ///
    /// As [`Workshop::make_batch`].
    pub fn make(
        &mut self,
        planned: &Planned,
        placing: &Placing,
    ) -> Result<MadeKit, Vec<Fault>> {
        let batch = self.make_batch(&[planned], placing)?;
        let counts = [batch.kits[0].counts];
        let packing = self.make_packing(&[planned], &batch.stock, &counts, None)?;
        Ok(MadeKit { batch, packing })
    }

    /// Makes, and does not yet prove, the paper and the labels of planned orders
    /// that share their size of paper and their stock.
    ///
    /// # Errors
    ///
    /// Every hold that nobody has cleared; faults of the stock, of the words, and
    /// of texts that do not fit.
    pub fn make_batch(
        &mut self,
        planned: &[&Planned],
        placing: &Placing,
    ) -> Result<Batch, Vec<Fault>> {
        let press = self.press_for(planned)?;
        let stock = self.stock_of(planned, placing)?;
        let paper = self.paper_on(&press, planned)?;
        let labels = self.labels_on(&press, planned, stock, placing)?;
        Ok(Batch {
            paper: paper.bytes,
            labels: labels.bytes,
            kits: paper.kits,
            sides: paper.sides,
            stock: labels.stock,
            placing: labels.placing,
            imposition: labels.imposition,
        })
    }

    /// Makes, and does not yet prove, a label for each slot of planned orders that
    /// share their stock.
    ///
    /// # Errors
    ///
    /// As [`Workshop::make_batch`].
    pub fn make_labels(
        &mut self,
        planned: &[&Planned],
        placing: &Placing,
    ) -> Result<LabelFile, Vec<Fault>> {
        let press = self.press_for(planned)?;
        let stock = self.stock_of(planned, placing)?;
        self.labels_on(&press, planned, stock, placing)
    }

    /// The press, if the orders may be printed at all.
    fn press_for(&self, planned: &[&Planned]) -> Result<Press, Vec<Fault>> {
        let holds: Vec<Fault> =
            planned.iter().flat_map(|planned| planned.plan.hold_faults()).collect();
        if !holds.is_empty() {
            return Err(holds);
        }
        let press = self.press()?;
        let missing: Vec<Fault> =
            planned.iter().flat_map(|planned| missing_glyphs(&press, planned)).collect();
        if missing.is_empty() { Ok(press) } else { Err(missing) }
    }

    /// The stock of orders that share theirs, if labels can be laid on it so.
    fn stock_of(
        &self,
        planned: &[&Planned],
        placing: &Placing,
    ) -> Result<Stock, Vec<Fault>> {
        let stock = self.stock_for(planned.first().ok_or_else(nothing)?)?;
        placing.check(&stock).map_err(|(what, help)| vec![Fault::new(what, help)])?;
        Ok(stock)
    }

    fn labels_on(
        &mut self,
        press: &Press,
        planned: &[&Planned],
        stock: Stock,
        placing: &Placing,
    ) -> Result<LabelFile, Vec<Fault>> {
        let first = planned.first().ok_or_else(nothing)?;
        let words = self.words_of(planned)?;
        let packers = self.packers(first)?;
        let kits = kits_of(planned, &stock, &words);
        let counts: Vec<usize> = kits.iter().map(|kit| kit.plan.slots.len()).collect();
        let imposition = impose(&stock, &counts, placing.start_at, placing.each_kit);
        // Where nothing fits on the part-used sheet a fresh one is begun.
        let placing = Placing { start_at: imposition.start_at, ..*placing };
        let data = label_sheets(&kits, &stock, &placing, &imposition.cells, &packers)?;
        let bytes = typeset(
            press,
            Template::Labels,
            &data,
            Some(&modules(&data)),
            &about(planned, FileKind::Labels, &kits, &packers),
        )
        .map_err(|faults| match &kits[..] {
            [kit] => name_a_stock(press, kit, &packers, faults),
            _ => faults,
        })?;
        Ok(LabelFile { bytes, stock, placing, imposition })
    }

    /// Lays out the paper, kit by kit, so that what was laid out for one serves the
    /// next and memory does not grow with their number.
    fn lay_out_paper(
        &mut self,
        press: &Press,
        kits: &[Kit],
        first: &Planned,
    ) -> Result<(Laid, Vec<KitPages>), Vec<Fault>> {
        let mut whole: Option<Laid> = None;
        let mut pages = Vec::new();
        for kit in kits {
            let documents = paper_documents(kit, &[])?;
            let data = OnePaper { alone: kits.len() == 1, documents: &documents };
            let logo = first.lab.logo.as_deref();
            let mut laid = lay_out(press, Template::Paper, &data, logo)?;
            let blank = laid.blank_pages();
            put_feet(press, &mut laid, documents.page, kit.words, &blank)?;
            let parts = laid.parts().to_vec();
            let before = add_leaves(&mut whole, laid);
            pages.push(kit_pages(before, &parts, &blank));
        }
        Ok((whole.ok_or_else(nothing)?, pages))
    }

    /// Makes, and does not yet prove, the packing slips of kits whose paper is
    /// made, after the run sheet where they are of a `run`.
    ///
    /// # Errors
    ///
    /// As [`Workshop::make_batch`].
    pub fn make_packing(
        &mut self,
        planned: &[&Planned],
        stock: &Stock,
        counts: &[PageCounts],
        run: Option<&RunFacts>,
    ) -> Result<Vec<u8>, Vec<Fault>> {
        let first = planned.first().ok_or_else(nothing)?;
        let press = self.press()?;
        let words = self.words_of(planned)?;
        let packers = self.packers(first)?;
        let kits = kits_of(planned, stock, &words);
        let data = packing(&kits, &packers, counts, run, &[])?;
        let laid = lay_out_packing(&press, data, &packers)?;
        let about = about(planned, FileKind::Packing, &kits, &packers);
        laid.export(&about)
    }

    /// Compares one finished PDF of one order with its plan.
    ///
    /// # Errors
    ///
    /// A fault for every difference; `name` is the file's name in them.
    pub fn prove(
        &mut self,
        planned: &Planned,
        made: &MadeKit,
        kind: FileKind,
        bytes: &[u8],
        name: &str,
    ) -> Result<(), Vec<Fault>> {
        if kind == FileKind::Packing {
            let (stock, counts) = (&made.batch.stock, [made.counts()]);
            return self.prove_packing(&[planned], stock, &counts, None, bytes, name);
        }
        self.prove_batch(&[planned], &made.batch, kind, bytes, name)
    }

    /// Compares the finished paper or labels of some orders with their plans.
    ///
    /// # Errors
    ///
    /// As [`Workshop::prove`].
    pub fn prove_batch(
        &mut self,
        planned: &[&Planned],
        batch: &Batch,
        kind: FileKind,
        bytes: &[u8],
        name: &str,
    ) -> Result<(), Vec<Fault>> {
        let first = planned.first().ok_or_else(nothing)?;
        let words = self.words_of(planned)?;
        let packers = self.packers(first)?;
        let kits = kits_of(planned, &batch.stock, &words);
        let proven = match kind {
            FileKind::Paper => {
                proof::prove_paper(bytes, &kits, &packers, &batch.kits, &self.setup.proof)
            }
            _ => proof::prove_labels(
                bytes,
                &kits,
                &packers,
                &batch.placing,
                &batch.imposition,
                &self.setup.proof,
            ),
        };
        proven.map_err(|differences| faults_of(&differences, name))
    }

    /// Compares finished labels with the plans of their orders.
    ///
    /// # Errors
    ///
    /// As [`Workshop::prove`].
    pub fn prove_labels(
        &mut self,
        planned: &[&Planned],
        labels: &LabelFile,
        name: &str,
    ) -> Result<(), Vec<Fault>> {
        let first = planned.first().ok_or_else(nothing)?;
        let words = self.words_of(planned)?;
        let packers = self.packers(first)?;
        let kits = kits_of(planned, &labels.stock, &words);
        let LabelFile { bytes, placing, imposition, .. } = labels;
        let by = &self.setup.proof;
        proof::prove_labels(bytes, &kits, &packers, placing, imposition, by)
            .map_err(|differences| faults_of(&differences, name))
    }

    /// Compares finished packing slips with the plans of their orders.
    ///
    /// # Errors
    ///
    /// As [`Workshop::prove`].
    pub fn prove_packing(
        &mut self,
        planned: &[&Planned],
        stock: &Stock,
        counts: &[PageCounts],
        run: Option<&RunFacts>,
        bytes: &[u8],
        name: &str,
    ) -> Result<(), Vec<Fault>> {
        let first = planned.first().ok_or_else(nothing)?;
        let words = self.words_of(planned)?;
        let packers = self.packers(first)?;
        let kits = kits_of(planned, stock, &words);
        proof::prove_packing(bytes, &kits, &packers, &self.setup.proof, |pages| {
            packing(&kits, &packers, counts, run, pages)
        })
        .map_err(|differences| faults_of(&differences, name))
    }

    fn press(&self) -> Result<Press, Vec<Fault>> {
        self.setup.press.clone().ok_or_else(|| {
            vec![Fault::new("no press was set up", "call with_press first")]
        })
    }

    fn words_of(&mut self, planned: &[&Planned]) -> Result<Vec<Rc<Words>>, Vec<Fault>> {
        planned.iter().map(|planned| self.words(&planned.order.language)).collect()
    }

    /// The words of those who pack: the laboratory's.
    fn packers(&mut self, planned: &Planned) -> Result<Rc<Words>, Vec<Fault>> {
        self.words(&planned.lab.lab.language)
    }
}

fn nothing() -> Vec<Fault> {
    vec![Fault::new("there is no order to make", "name an order that is not on hold")]
}

fn kits_of<'a>(
    planned: &'a [&Planned],
    stock: &'a Stock,
    words: &'a [Rc<Words>],
) -> Vec<Kit<'a>> {
    planned.iter().zip(words).map(|(planned, words)| planned.kit(stock, words)).collect()
}

fn faults_of(differences: &[Difference], name: &str) -> Vec<Fault> {
    differences.iter().map(|difference| difference.fault(name)).collect()
}

fn packing(
    kits: &[Kit],
    packers: &Words,
    counts: &[PageCounts],
    run: Option<&RunFacts>,
    pages: &[bool],
) -> Result<Packing, Vec<Fault>> {
    let cover =
        |run: &RunFacts| cover(&run.cover, kits, &kits[0].lab.name, packers, pages);
    let slip = |(index, kit): (usize, &Kit)| {
        let place = run.and_then(|run| run.places.get(index));
        packing_slip(kit, packers, counts[index], place)
    };
    Ok(Packing {
        cover: run.map(cover).transpose()?,
        slips: kits.iter().enumerate().map(slip).collect::<Result<_, _>>()?,
    })
}

/// What one of the files says about itself.
fn about(planned: &[&Planned], kind: FileKind, kits: &[Kit], packers: &Words) -> About {
    let numbers: Vec<&str> =
        planned.iter().map(|planned| planned.order.number.as_str()).collect();
    let kit = &kits[0];
    let Edition { revision, reprint } = kit.edition;
    About {
        identity: format!(
            "{}/{}/{revision}/{reprint}",
            numbers.join(" "),
            kind.name().trim_end_matches(".pdf")
        ),
        title: kind.title(kits, packers),
        sides: kind.sides(),
    }
}

/// Lays out packing slips, after the run sheet if there is one.
///
/// # Errors
///
/// As [`lay_out`].
pub fn lay_out_packing(
    press: &Press,
    packing: Packing,
    packers: &Words,
) -> Result<Laid, Vec<Fault>> {
    let mut whole = packing
        .cover
        .map(|cover| -> Result<Laid, Vec<Fault>> {
            let mut laid = lay_out(press, Template::Cover, &cover, None)?;
            let blank = laid.blank_pages();
            put_feet(press, &mut laid, cover.page, packers, &blank)?;
            Ok(laid)
        })
        .transpose()?;
    for slip in packing.slips {
        let mut laid = lay_out(press, Template::Slip, &slip, None)?;
        let blank = laid.blank_pages();
        put_feet(press, &mut laid, slip.page, packers, &blank)?;
        match &mut whole {
            Some(whole) => whole.append(laid),
            None => whole = Some(laid),
        }
    }
    whole.ok_or_else(nothing)
}

/// Puts feet on pages whose number is now known.
fn put_feet(
    press: &Press,
    laid: &mut Laid,
    mut page: PageSetting,
    words: &Words,
    blank: &[bool],
) -> Result<(), Vec<Fault>> {
    page.numbers = page_numbers(words, blank);
    laid.put_feet(lay_out(press, Template::Feet, &page, None)?);
    Ok(())
}

/// Adds the pages of a kit, on a leaf of their own, and gives how many sides there
/// were before.
fn add_leaves(whole: &mut Option<Laid>, laid: Laid) -> usize {
    let Some(whole) = whole else {
        *whole = Some(laid);
        return 0;
    };
    whole.fill_leaf();
    let before = whole.blank_pages().len();
    whole.append(laid);
    before
}

/// The sides of a kit that has `before` it other sides, from where its parts begin.
fn kit_pages(before: usize, parts: &[Part], blank: &[bool]) -> KitPages {
    let end = blank.len() + 1;
    let start = |name: &str| {
        parts.iter().find(|part| part.name == name).map_or(end, |part| part.page)
    };
    let printed = |from: usize, until: usize| {
        blank[from - 1..until - 1].iter().filter(|blank| !**blank).count()
    };
    let (fluids, card) = (start("fluids"), start("card"));
    KitPages {
        first: before + 1,
        blank: blank.to_vec(),
        counts: PageCounts {
            sheet: printed(1, fluids),
            fluids: printed(fluids, card),
            card: printed(card, end),
        },
    }
}
