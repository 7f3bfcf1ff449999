//! `kitwright make`: orders in, proven kits out.

use std::collections::HashMap;
use std::fmt::Write;
use std::path::Path;

use super::{Outcome, book, complain, counted, print, workshop};
use crate::cli::Make;
use crate::fault::{Fault, Source};
use crate::imposition::Placing;
use crate::making::MadeKit;
use crate::plan::Level;
use crate::proof::{FileKind, attached_order};
use crate::run::book::Book;
use crate::workshop::{Item, Planned, Workshop};
use crate::{input, output};

/// What came of one order.
enum Result {
    Made { order: String, line: String },
    Held { order: String, name: String, why: Vec<String> },
    Wrong { place: String, outcome: Outcome },
}

pub(super) fn make(args: &Make) -> Outcome {
    let ready = workshop(&args.orders.shared).and_then(|shop| {
        shop.with_press(args.making.stock.as_deref(), args.making.fonts.as_deref())
    });
    let mut shop = match ready {
        Ok(shop) => shop,
        Err(faults) => return complain(&faults),
    };
    let (items, faults) = shop.items(&args.orders.orders);
    let mut worst = if faults.is_empty() { Outcome::Done } else { complain(&faults) };
    let mut book = match book(&mut shop, &items, args.ledger.as_deref(), &args.signing) {
        Ok(book) => book,
        Err(faults) => return complain(&faults),
    };
    let mut seen = HashMap::new();
    let mut results = Vec::new();
    for item in &items {
        let result = one(&mut shop, item, &args.out, &mut seen, &mut book);
        worst = worst.max(match &result {
            Result::Made { .. } => Outcome::Done,
            Result::Held { .. } => Outcome::Wrong,
            Result::Wrong { outcome, .. } => *outcome,
        });
        results.push(result);
    }
    print(&summary(&results, &args.out));
    worst
}

fn one(
    shop: &mut Workshop,
    item: &Item,
    out: &Path,
    seen: &mut HashMap<String, String>,
    book: &mut Option<Book>,
) -> Result {
    let place = &item.row.source.name;
    let wrong = |faults: Vec<Fault>| Result::Wrong {
        place: place.clone(),
        outcome: complain(&faults),
    };
    let planned = match shop.plan_item(item) {
        Ok(planned) => planned,
        Err(faults) => return wrong(faults),
    };
    let number = planned.order.number.clone();
    if let Some(first) = seen.insert(number.clone(), place.clone()) {
        let fault = Fault::new(
            format!("the order number {number} stands in {first} already"),
            "each order has a number of its own; mend one of the files",
        );
        return wrong(vec![fault.at(&planned.order.source, 0..0, "order")]);
    }
    let name = planned.order.patient.name();
    if planned.plan.holds().next().is_some() {
        let mut why: Vec<String> =
            planned.plan.holds().map(|hold| hold.text.clone()).collect();
        let older = out.join(&number);
        if older.exists() {
            why.push(format!("an older kit lies in {}: do not use it", older.display()));
        }
        return Result::Held { order: number, name, why };
    }
    if let Some(fault) = other_day(shop, &planned, &item.path, &out.join(&number)) {
        return wrong(vec![fault]);
    }
    let made = shop.make(&planned, &Placing::default()).and_then(|made| {
        prove_all(shop, &planned, &made)?;
        // First, so that no paper is about that the ledger does not know.
        if let Some(book) = book {
            book.record_kit(&planned, &made)?;
        }
        write_all(&made, &out.join(&number))?;
        Ok(made)
    });
    match made {
        Ok(made) => {
            let line = made_line(&planned, &made, &name);
            Result::Made { order: number, line }
        }
        Err(faults) => wrong(faults),
    }
}

/// A fault if the day was chosen just now and an older kit has another: that kit
/// may be with the patient, and a second sheet with other dates is a danger.
fn other_day(
    shop: &mut Workshop,
    planned: &Planned,
    file: &Path,
    folder: &Path,
) -> Option<Fault> {
    let path = folder.join(FileKind::Paper.name());
    let start = planned.order.start.as_ref().filter(|_| planned.day_chosen)?;
    let bytes = input::read_bytes(&path, input::PDF_MAX_BYTES).ok()?;
    let older = Source::new(path.display().to_string(), attached_order(&bytes)?);
    let older = shop.read(&older, file).ok()?.0.start?;
    (older.date != start.date).then(|| {
        Fault::new(
            format!(
                "the first suitable day is {}, and {} was made for {}",
                start.date,
                path.display(),
                older.date
            ),
            format!(
                "to print that kit again write start = {} in the order; to give it up \
                 move its folder away",
                older.date
            ),
        )
        .at(&planned.order.source, 0..0, "start")
    })
}

fn prove_all(
    shop: &mut Workshop,
    planned: &Planned,
    made: &MadeKit,
) -> std::result::Result<(), Vec<Fault>> {
    let mut faults = Vec::new();
    for kind in FileKind::ALL {
        let name = format!("{}/{}", planned.order.number, kind.name());
        let bytes = made.file(kind);
        if let Err(found) = shop.prove(planned, made, kind, bytes, &name) {
            faults.extend(found);
        }
    }
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

fn write_all(made: &MadeKit, folder: &Path) -> std::result::Result<(), Vec<Fault>> {
    for kind in FileKind::ALL {
        output::write_whole(&folder.join(kind.name()), made.file(kind))
            .map_err(|fault| vec![fault])?;
    }
    Ok(())
}

fn made_line(planned: &Planned, made: &MadeKit, name: &str) -> String {
    let warnings =
        planned.plan.findings.iter().filter(|finding| finding.level == Level::Warning);
    let warnings = match warnings.count() {
        0 => String::new(),
        count => format!(", {} to look at", counted(count, "thing", "things")),
    };
    format!(
        "{name}: {} of paper, {} of labels ({}){warnings}",
        counted(made.batch.sides, "side", "sides"),
        counted(made.batch.imposition.sheets, "sheet", "sheets"),
        made.batch.stock.name,
    )
}

/// One screen: what was made, what is on hold and why, what is wrong.
fn summary(results: &[Result], out: &Path) -> String {
    let mut text = String::new();
    let (mut made, mut held, mut wrong) = (0, 0, 0);
    for result in results {
        if let Result::Made { order, line } = result {
            made += 1;
            let _ = writeln!(text, "  made   {order:<20}  {line}");
        }
    }
    for result in results {
        if let Result::Held { order, name, why } = result {
            held += 1;
            let _ = writeln!(text, "  hold   {order:<20}  {name}");
            for reason in why {
                let _ = writeln!(text, "         {:<20}  {reason}", "");
            }
        }
    }
    for result in results {
        if let Result::Wrong { place, .. } = result {
            wrong += 1;
            let _ = writeln!(text, "  wrong  {place}");
        }
    }
    let kits = counted(made, "kit", "kits");
    let _ = writeln!(
        text,
        "{kits} proven and written to {}, {held} on hold, {wrong} wrong",
        out.display()
    );
    text
}
