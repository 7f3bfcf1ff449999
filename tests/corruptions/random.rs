//! Laws: a glyph anywhere that is made another is found, wherever it stands, and so is
//! a line or a shape; a text that is moved is found or stands where it is read as before.
//!
//! The choices are the same in each run, so that a change of the proof and not
//! chance decides. `PROPTEST_RNG_SEED` and `PROPTEST_CASES` try others.

use std::collections::BTreeSet;

use kitwright::proof::{Area, FileKind, Page, read};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

use crate::kits::{Of, made, shop};
use crate::pdf::{Block, Pdf, Placed};

/// Which of the kits and files.
fn file() -> impl Strategy<Value = (Of, FileKind)> {
    (prop::sample::select(&Of::ALL[..]), prop::sample::select(&FileKind::ALL[..]))
}

fn settled(cases: u32) -> ProptestConfig {
    let asked = ProptestConfig::default();
    let defaults = asked.cases == 256;
    ProptestConfig {
        cases: if defaults { cases } else { asked.cases },
        rng_seed: match asked.rng_seed {
            RngSeed::Random => RngSeed::Fixed(20_424),
            asked => asked,
        },
        failure_persistence: None,
        max_shrink_iters: 20,
        ..asked
    }
}

fn nth<T: Clone>(items: &[T], index: prop::sample::Index) -> T {
    items[index.index(items.len())].clone()
}

/// Glyphs of which something is to be seen.
fn seen(pdf: &Pdf, page: usize) -> Vec<Placed> {
    let mut glyphs = pdf.glyphs(page);
    glyphs.retain(|glyph| !glyph.text.trim().is_empty());
    glyphs
}

proptest! {
    #![proptest_config(settled(60))]

    #[test]
    fn any_glyph_made_another_is_found_on_its_page(
        (of, kind) in file(),
        page: prop::sample::Index,
        glyph: prop::sample::Index,
        with: prop::sample::Index,
    ) {
        let mut pdf = Pdf::open(made(of).file(kind));
        let pages: Vec<usize> =
            (1..=pdf.page_count()).filter(|page| !seen(&pdf, *page).is_empty()).collect();
        let page = nth(&pages, page);
        let glyph = nth(&seen(&pdf, page), glyph);
        let others: Vec<u16> = pdf
            .characters(glyph.font)
            .into_iter()
            .filter(|(_, text)| *text != glyph.text)
            .map(|(code, _)| code)
            .collect();
        let with = nth(&others, with);
        pdf.set_codes(page, &[(glyph.clone(), Some(with))]);
        let said = made(of).prove(&mut shop(), kind, &pdf.bytes());
        let place = format!("{}, page {page}: ", kind.name());
        prop_assert!(
            said.iter().any(|line| line.starts_with(&place)),
            "\"{}\" on page {page} of {of:?} {} made {with}: {said:?}",
            glyph.text,
            kind.name()
        );
    }
}

/// What can be done to a line or a shape.
#[derive(Debug, Clone, Copy)]
enum Made {
    Gone,
    /// Put elsewhere, by millimetres.
    Moved(f64, f64),
    Doubled(f64, f64),
    Thick,
    Broken,
    Grey,
    Turned,
    Larger,
}

const MADE: [Made; 11] = [
    Made::Gone,
    Made::Moved(25.0, 0.0),
    Made::Moved(-25.0, 0.0),
    Made::Moved(0.0, 25.0),
    Made::Moved(0.0, -25.0),
    Made::Doubled(7.0, 7.0),
    Made::Thick,
    Made::Broken,
    Made::Grey,
    Made::Turned,
    Made::Larger,
];

/// Whether a piece is a line from top to bottom.
fn is_upright(pdf: &Pdf, page: usize, block: &Block) -> bool {
    let operations = pdf.operations(page);
    let mut points = operations[block.operators.clone()]
        .iter()
        .filter(|operation| ["m", "l"].contains(&operation.operator.as_str()))
        .map(|operation| operation.operands[0].as_float().unwrap());
    let first = points.next();
    first.is_some() && points.all(|x| Some(x) == first)
}

fn make_other(pdf: &mut Pdf, page: usize, block: &Block, made: Made) {
    let blocks = std::slice::from_ref(block);
    match made {
        Made::Gone => pdf.remove(page, blocks),
        Made::Moved(right, down) => pdf.shift(page, blocks, right, down),
        Made::Doubled(right, down) => {
            pdf.repeat(page, block);
            pdf.shift(page, blocks, right, down);
        }
        Made::Thick => pdf.before_paint(page, block, "20 w"),
        Made::Broken => pdf.before_paint(page, block, "[1 3] 0 d"),
        Made::Grey => pdf.before_paint(page, block, "0.5 SCN 0.5 scn"),
        Made::Turned => pdf.distort(page, blocks, block.origin, [0.7, 0.7, -0.7, 0.7]),
        Made::Larger => pdf.distort(page, blocks, block.origin, [3.0, 0.0, 0.0, 3.0]),
    }
}

proptest! {
    #![proptest_config(settled(60))]

    #[test]
    fn any_line_or_shape_made_another_is_found_on_its_page(
        (of, kind) in file(),
        page: prop::sample::Index,
        drawing: prop::sample::Index,
        made_other in prop::sample::select(&MADE[..]),
    ) {
        let mut pdf = Pdf::open(made(of).file(kind));
        let drawings = |page: usize| -> Vec<Block> {
            let operations = pdf.operations(page);
            let mut blocks = pdf.blocks(page);
            // The logo, in its clip, is the laboratory's.
            blocks.retain(|block| {
                let before = operations[..block.operators.start].last();
                !block.is_text
                    && block.picture.is_none()
                    && before.is_none_or(|before| before.operator != "n")
            });
            blocks
        };
        let pages: Vec<usize> =
            (1..=pdf.page_count()).filter(|page| !drawings(*page).is_empty()).collect();
        prop_assume!(!pages.is_empty());
        let page = nth(&pages, page);
        let block = nth(&drawings(page), drawing);
        let has = |operator: &str| {
            let operations = &pdf.operations(page)[block.operators.clone()];
            operations.iter().any(|operation| operation.operator == operator)
        };
        // What is filled has no line that could be another.
        prop_assume!(has("S") || !matches!(made_other, Made::Thick | Made::Broken));
        prop_assume!(!has("d") || !matches!(made_other, Made::Broken));
        // Where between two columns their line stands is nobody's to say.
        prop_assume!(!matches!(made_other, Made::Moved(x, _) if x != 0.0 && is_upright(&pdf, page, &block)));
        make_other(&mut pdf, page, &block, made_other);
        let said = made(of).prove(&mut shop(), kind, &pdf.bytes());
        let place = format!("{}, page {page}: ", kind.name());
        prop_assert!(
            said.iter().any(|line| line.starts_with(&place)),
            "{made_other:?} at {:?} on page {page} of {of:?} {}: {said:?}",
            block.origin,
            kind.name()
        );
    }
}

/// Runs that stand on the line of one: at least half as high as it is where
/// their heights meet, with the side on which they stand.
fn beside(page: &Page, run: usize) -> BTreeSet<(usize, bool)> {
    let runs = runs(page);
    let own = &runs[run];
    let high = own.bottom - own.top;
    let meets =
        |other: &Area| other.bottom.min(own.bottom) - other.top.max(own.top) > high / 2.0;
    let others = runs.iter().enumerate().filter(|(index, _)| *index != run);
    let others = others.filter(|(_, other)| other.right > other.left && meets(other));
    others.map(|(index, other)| (index, other.left < own.left)).collect()
}

/// The areas of a page's runs of text.
fn runs(page: &Page) -> Vec<Area> {
    let mut runs: Vec<Area> = Vec::new();
    for glyph in &page.glyphs {
        if glyph.starts_run {
            runs.push(NOWHERE);
        }
        let run = runs.last_mut().unwrap();
        if !glyph.blank {
            run.left = run.left.min(glyph.area.left);
            run.top = run.top.min(glyph.area.top);
            run.right = run.right.max(glyph.area.right);
            run.bottom = run.bottom.max(glyph.area.bottom);
        }
    }
    runs
}

const NOWHERE: Area = Area { left: 1e6, top: 1e6, right: -1e6, bottom: -1e6 };

proptest! {
    #![proptest_config(settled(40))]

    /// What is moved by 1 mm and not found is read as before: it touches nothing,
    /// lies on its page or label, and has no text on its line that was not there,
    /// nor on the other side of it. Lines are further apart than that.
    #[test]
    fn any_text_moved_by_1_mm_is_found_or_is_read_as_before(
        (of, kind) in file(),
        page: prop::sample::Index,
        glyph: prop::sample::Index,
        degrees in 0..360_u32,
    ) {
        let bytes = made(of).file(kind);
        let mut pdf = Pdf::open(bytes);
        let pages: Vec<usize> =
            (1..=pdf.page_count()).filter(|page| !seen(&pdf, *page).is_empty()).collect();
        let page = nth(&pages, page);
        let glyph = nth(&seen(&pdf, page), glyph);
        let mut shown: Vec<usize> =
            pdf.glyphs(page).iter().map(|glyph| glyph.operator).collect();
        shown.dedup();
        let run = shown.iter().position(|at| *at == glyph.operator).unwrap();
        let (down, right) = f64::from(degrees).to_radians().sin_cos();
        let mut blocks = pdf.blocks(page);
        blocks.retain(|block| block.operators.contains(&glyph.operator));
        pdf.shift(page, &blocks, right, down);
        let changed = pdf.bytes();
        let said = made(of).prove(&mut shop(), kind, &changed);
        if said.is_empty() {
            let before = &read(bytes).unwrap()[page - 1];
            let after = &read(&changed).unwrap()[page - 1];
            prop_assert_ne!(before, after);
            let (before, after) = (beside(before, run), beside(after, run));
            prop_assert!(after.is_subset(&before), "{:?} {:?}", before, after);
        } else {
            let place = format!("{}, page {page}: ", kind.name());
            prop_assert!(said.iter().any(|line| line.starts_with(&place)), "{said:?}");
        }
    }
}
