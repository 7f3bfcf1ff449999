//! `kitwright make`: orders in, proven kits out.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use super::{
    Outcome, complain, complain_of, counted, ledger_of, note, open_book, print,
    ready_to_make, workshop,
};
use crate::cli::Make;
use crate::fault::{Fault, Source};
use crate::imposition::Placing;
use crate::input;
use crate::making::MadeKit;
use crate::output::Staged;
use crate::plan::Level;
use crate::proof::{FileKind, attached_order};
use crate::run::book::{Book, undated};
use crate::run::list::late_day;
use crate::workshop::{Item, Planned, Workshop};

/// What came of one order.
enum Result {
    Made { order: String, line: String },
    Held { order: String, name: String, why: Vec<String> },
    Wrong { place: String, outcome: Outcome },
}

pub(super) fn make(args: &Make) -> Outcome {
    let ready =
        workshop(&args.orders.shared).and_then(|shop| ready_to_make(shop, &args.making));
    let mut shop = match ready {
        Ok(shop) => shop,
        Err(faults) => return complain(&faults),
    };
    let (items, unread) = shop.items(&args.orders.orders);
    let mut worst = complain_of(&unread);
    let mut books = match Books::open(args, &mut shop, &items) {
        Ok(books) => books,
        Err(faults) => return complain(&faults),
    };
    let mut results = Vec::new();
    for item in &items {
        let result = one(&mut shop, item, &args.out, &mut books);
        worst = worst.max(match &result {
            Result::Made { .. } => Outcome::Done,
            Result::Held { .. } => Outcome::Wrong,
            Result::Wrong { outcome, .. } => *outcome,
        });
        results.push(result);
    }
    worst.max(print(&summary(&results, &args.out)))
}

/// The ledgers that the orders' laboratories name.
struct Books {
    named: Option<PathBuf>,
    open: BTreeMap<PathBuf, Book>,
}

impl Books {
    /// Opens them all, before anything is made.
    fn open(
        args: &Make,
        shop: &mut Workshop,
        items: &[Item],
    ) -> std::result::Result<Self, Vec<Fault>> {
        let mut books = Self { named: args.ledger.clone(), open: BTreeMap::new() };
        for item in items {
            if let Some(path) = ledger_of(shop, &item.path, books.named.as_deref())
                && !books.open.contains_key(&path)
            {
                let book = open_book(&path, &args.signing)?;
                books.open.insert(path, book);
            }
        }
        Ok(books)
    }

    /// That of one order.
    fn of(&mut self, shop: &mut Workshop, item: &Item) -> Option<&mut Book> {
        let path = ledger_of(shop, &item.path, self.named.as_deref())?;
        self.open.get_mut(&path)
    }
}

fn one(shop: &mut Workshop, item: &Item, out: &Path, books: &mut Books) -> Result {
    let place = &item.row.source.name;
    let wrong = |faults: Vec<Fault>| Result::Wrong {
        place: place.clone(),
        outcome: complain(&faults),
    };
    let mut planned = match shop.plan_item(item) {
        Ok(planned) => planned,
        Err(faults) => return wrong(faults),
    };
    let number = planned.order.number.clone();
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
    if let Some(fault) = other_text(shop, &planned, &item.path, &out.join(&number)) {
        return wrong(vec![fault]);
    }
    let mut book = books.of(shop, item);
    if let Some(book) = &book {
        match book.revision(&planned) {
            Ok(revision) => planned.edition.revision = revision,
            Err(faults) => return wrong(faults),
        }
    }
    let made = shop.make_proven(&planned, &Placing::default()).and_then(|made| {
        let staged = stage(&planned, &made, &out.join(&number))?;
        // First, so that no paper is about that the ledger does not know.
        if let Some(book) = &mut book {
            book.record_kit(&planned, &made)?;
        }
        staged.publish().map_err(|faults| half_written(faults, &number))?;
        Ok(made)
    });
    match made {
        Ok(made) => {
            if let Some(late) = late_day(&planned, shop.setup().today()) {
                note(&format!("note: {number}: {late}\n"));
            }
            let line = made_line(&planned, &made, &name);
            Result::Made { order: number, line }
        }
        Err(faults) => wrong(faults),
    }
}

/// A fault if an older kit in the folder is of another text of the order, or of
/// another day where that was chosen just now: it may be with the patient, and a
/// second sheet with other times is a danger.
fn other_text(
    shop: &mut Workshop,
    planned: &Planned,
    file: &Path,
    folder: &Path,
) -> Option<Fault> {
    let source = &planned.order.source;
    for kind in FileKind::ALL {
        let path = folder.join(kind.name());
        let bytes = input::read_bytes(&path, input::PDF_MAX_BYTES).ok();
        let Some(text) = bytes.and_then(|bytes| attached_order(&bytes)) else { continue };
        if text == source.text {
            continue;
        }
        // What was looked for from another day on can come to the same day.
        let same_wish = planned.day_chosen && undated(&text) == undated(&source.text);
        let older = Source::new(path.display().to_string(), text);
        let older = shop.read(&older, file).ok().and_then(|(order, ..)| order.start);
        let fault = match (older, &planned.order.start) {
            (Some(older), Some(start)) if same_wish && older.date == start.date => {
                continue;
            }
            (Some(older), Some(start)) if same_wish => Fault::new(
                format!(
                    "the first suitable day is {}, and {} was made for {}",
                    start.date,
                    path.display(),
                    older.date
                ),
                format!(
                    "to print that kit again print its files, which are in {0}; to give it \
                     up move {0} away",
                    folder.display()
                ),
            )
            .at(source, 0..0, "start"),
            _ => Fault::new(
                format!("{} is of another text of this order", path.display()),
                format!(
                    "it may be with the patient: for a corrected order make a revision \
                     with kitwright reprint {} --reason \u{2026} --revise; or move {} away \
                     to give it up, or name another folder with --out",
                    source.on_the_command_line(&planned.order.number),
                    folder.display()
                ),
            )
            .at(source, 0..0, "order"),
        };
        return Some(fault);
    }
    None
}

/// Puts the files of a kit on the disk that are not there yet, under temporary
/// names. What is there in the place of one is not written over: it may be with
/// the patient, or somebody's own file. A kit of another text is [`other_text`]'s to
/// judge, and gives way here.
fn stage(
    planned: &Planned,
    made: &MadeKit,
    folder: &Path,
) -> std::result::Result<Staged, Vec<Fault>> {
    let is_of_other_text = |there: &[u8]| {
        attached_order(there).is_some_and(|text| text != planned.order.source.text)
    };
    let mut staged = Staged::default();
    let mut faults = Vec::new();
    for kind in FileKind::ALL {
        let path = folder.join(kind.name());
        // A link that leads nowhere is there, too.
        if path.symlink_metadata().is_err() {
            faults.extend(staged.add(path, made.file(kind)).err());
            continue;
        }
        match input::read_bytes(&path, input::PDF_MAX_BYTES) {
            Ok(there) if there == made.file(kind) => {}
            Ok(there) if is_of_other_text(&there) => {
                faults.extend(staged.replace(path, made.file(kind)).err());
            }
            Ok(_) => faults.push(Fault::new(
                format!(
                    "{} is there, and is not what this order makes now",
                    path.display()
                ),
                "its times, its stock, or the program are others: look at both, and move \
                 the older folder away",
            )),
            Err(fault) => faults.push(Fault {
                help: "it is in the place of a file of this kit: move it away".into(),
                ..fault
            }),
        }
    }
    if faults.is_empty() { Ok(staged) } else { Err(faults) }
}

/// What to do about a kit that is recorded and not all there.
fn half_written(mut faults: Vec<Fault>, number: &str) -> Vec<Fault> {
    for fault in &mut faults {
        fault.help.push_str(&format!(
            "; then give the command again: what is missing of {number} is written"
        ));
    }
    faults
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
