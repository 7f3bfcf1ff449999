//! `kitwright proof`: reads finished PDFs back and compares them.

use std::path::Path;
use std::sync::Arc;

use super::{
    Outcome, complain, note, order_file, placing, print, ready_to_make, workshop,
};
use crate::cli::Proof;
use crate::document::Edition;
use crate::fault::{Fault, Source, visible};
use crate::input;
use crate::making::MadeKit;
use crate::proof::{FileKind, attached_order, attached_orders, read};
use crate::workshop::{Planned, Workshop};

pub(super) fn proof(args: &Proof) -> Outcome {
    let ready = workshop(&args.shared).and_then(|shop| ready_to_make(shop, &args.making));
    let planned = ready.and_then(|mut shop| {
        let source = order_file(&args.order).map_err(|fault| vec![fault])?;
        search_as_made(&mut shop, args, &source)?;
        let edition = Edition { revision: args.revision, reprint: args.reprint };
        let planned = Planned { edition, ..shop.plan(&source, &args.order)? };
        let placing = placing(&args.laying, Some(&planned.lab.lab), None)?;
        let made = shop.make(&planned, &placing)?;
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
    if worst != Outcome::Done && (args.revision, args.reprint) == (0, 0) {
        note(
            "note: paper that says \"Revision 1\" or \"Reprint 1\" is compared with --revision 1 \
             or --reprint 1, and labels that begin in another cell with --start-at\n",
        );
    }
    worst
}

/// For an order that asks for the first suitable day: takes from the first PDF
/// the day after which that day was looked for, and nothing else. The search is
/// made again, so a day in the PDF that does not follow from it is a difference.
fn search_as_made(
    shop: &mut Workshop,
    args: &Proof,
    source: &Arc<Source>,
) -> Result<(), Vec<Fault>> {
    let (order, ..) = shop.read(source, &args.order)?;
    let (Some(asked), Some(pdf)) = (&order.first_suitable, args.pdfs.first()) else {
        return Ok(());
    };
    let bytes =
        input::read_bytes(pdf, input::PDF_MAX_BYTES).map_err(|fault| vec![fault])?;
    let name = pdf.display().to_string();
    let from = attached_order(&bytes)
        .and_then(|text| shop.read(&Source::new(&name, text), &args.order).ok())
        .and_then(|(made, ..)| made.first_suitable_from);
    match from {
        Some(from) => {
            shop.search_from(from);
            Ok(())
        }
        None => Err(vec![asked.fault(
            source,
            format!(
                "the order asks for a day, and {name} was made from one that did not"
            ),
            "name a PDF that was made from this order, or compare with the order that \
             the PDF carries as an attachment",
        )]),
    }
}

fn one(
    shop: &mut Workshop,
    planned: &Planned,
    made: &MadeKit,
    pdf: &Path,
) -> Result<FileKind, Vec<Fault>> {
    let bytes =
        input::read_bytes(pdf, input::PDF_MAX_BYTES).map_err(|fault| vec![fault])?;
    let name = pdf.display().to_string();
    let orders = attached_orders(&bytes).len();
    if orders > 1 {
        return Err(vec![Fault::new(
            format!("{name} holds the kits of {orders} orders"),
            "a file of a print run is proven when it is made; `kitwright run` with \
             --archive keeps each kit's paper in a file of its own",
        )]);
    }
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
            wrong(format!(
                "{name} begins with \"{}\", which no file of a kit does",
                visible(&found)
            ))
        })
}
