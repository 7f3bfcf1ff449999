//! `kitwright proof`: reads finished PDFs back and compares them.

use std::path::Path;

use super::{Outcome, complain, print, workshop};
use crate::cli::Proof;
use crate::fault::Fault;
use crate::imposition::Placing;
use crate::input;
use crate::making::MadeKit;
use crate::proof::{FileKind, read};
use crate::workshop::{Planned, Workshop};

/// The largest PDF that is read, in bytes.
const PDF_MAX_BYTES: usize = 64 * 1024 * 1024;

pub(super) fn proof(args: &Proof) -> Outcome {
    let ready = workshop(&args.shared).and_then(|shop| {
        shop.with_press(args.making.stock.as_deref(), args.making.fonts.as_deref())
    });
    let planned = ready.and_then(|mut shop| {
        let source = input::read_text(&args.order).map_err(|fault| vec![fault])?;
        let planned = shop.plan(&source, &args.order)?;
        let made = shop.make(&planned, &Placing::default())?;
        Ok((shop, planned, made))
    });
    let (mut shop, planned, made) = match planned {
        Ok(ready) => ready,
        Err(faults) => return complain(&faults),
    };
    let mut worst = Outcome::Done;
    for pdf in &args.pdfs {
        worst = worst.max(match one(&mut shop, &planned, &made, pdf) {
            Ok(kind) => print(&format!(
                "{}: {} of {} as planned\n",
                pdf.display(),
                kind.name(),
                planned.order.number
            )),
            Err(faults) => complain(&faults),
        });
    }
    worst
}

fn one(
    shop: &mut Workshop,
    planned: &Planned,
    made: &MadeKit,
    pdf: &Path,
) -> Result<FileKind, Vec<Fault>> {
    let bytes = input::read_bytes(pdf, PDF_MAX_BYTES).map_err(|fault| vec![fault])?;
    let name = pdf.display().to_string();
    let kind = kind_of(made, &bytes, &name).map_err(|fault| vec![fault])?;
    shop.prove(planned, made, kind, &bytes, &name)?;
    Ok(kind)
}

/// Which of the kit's files this is, by how its first page begins.
fn kind_of(made: &MadeKit, bytes: &[u8], name: &str) -> Result<FileKind, Fault> {
    let beginning = |bytes: &[u8]| {
        let pages = read(bytes)?;
        let glyphs = pages.first().map_or(&[][..], |page| &page.glyphs[..]);
        Ok::<String, String>(
            glyphs.iter().take(12).map(|glyph| glyph.text.as_str()).collect(),
        )
    };
    let wrong = |what: String| {
        Fault::new(what, "name a paper.pdf, labels.pdf or packing.pdf that `make` wrote")
    };
    let found = beginning(bytes).map_err(|why| wrong(format!("{name}: {why}")))?;
    FileKind::ALL
        .into_iter()
        .find(|kind| beginning(made.file(*kind)).as_ref() == Ok(&found))
        .ok_or_else(|| {
            wrong(format!("{name} begins with \"{found}\", which no file of a kit does"))
        })
}
