//! `kitwright reprint`: a kit's paper once more, as it was or with new times.

use std::fmt::Write;
use std::path::PathBuf;

use chrono::{NaiveDate, TimeDelta};

use super::again::{self, Target};
use super::{Outcome, complain, note, placing, print, today_of, workshop_for};
use crate::cli::Reprint as Args;
use crate::days::Search;
use crate::fault::Fault;
use crate::ledger::{Document, Reprint, What, difference, digest};
use crate::order::HoldKind;
use crate::order::rewrite::{Change, changed};
use crate::output::Staged;
use crate::proof::FileKind;
use crate::report;
use crate::run::book::new_kit;
use crate::run::list::late_day;
use crate::workshop::{Planned, Workshop};

pub(super) fn reprint(args: &Args) -> Outcome {
    let text = workshop_for(&args.again, &args.making).and_then(|mut shop| {
        let mut target = again::find(&mut shop, &args.again)?;
        if args.revise {
            target.take_correction(args.restore).map_err(|fault| vec![fault])?;
        }
        let planned = target.plan(&mut shop)?;
        let change = args.change();
        if change.is_none() && !args.revise {
            same(args, &mut shop, target, planned)
        } else {
            revised(args, &mut shop, target, &planned, change)
        }
    });
    match text {
        Ok(text) => print(&text),
        Err(faults) => complain(&faults),
    }
}

/// The paper as it was.
fn same(
    args: &Args,
    shop: &mut Workshop,
    mut target: Target,
    mut planned: Planned,
) -> Result<String, Vec<Fault>> {
    target.as_it_was(shop, &planned)?;
    let order = planned.order.number.clone();
    let lab_digest = digest(planned.lab.lab.source.text.as_bytes());
    let mut files = Files::of(args, &order);
    let mut set = |number: u32| -> Result<Vec<Document>, Vec<Fault>> {
        planned.edition.reprint = number;
        let name = format!("paper-reprint-{number}.pdf");
        let paper = shop.make_paper(&[&planned])?;
        shop.prove_paper(&[&planned], &paper, &name)?;
        files.add(&name, &paper.bytes, paper.sides)?;
        Ok(files.documents.clone())
    };
    match &mut target.book {
        Some((ledger, stored)) => {
            let reprint = Reprint {
                order: order.clone(),
                from: stored.basis(),
                what: What::Sheet,
                reason: args.again.reason.clone(),
                // Paper alone is on none.
                stock: String::new(),
                lab_digest,
            };
            ledger.record_reprint(&target.stamp, &reprint, &mut set)?;
        }
        None => {
            set(args.again.number.unwrap_or(1))?;
        }
    }
    let mark = format!("reprint {}", planned.edition.reprint);
    let mut text = target.publish(files.staged, &order, &mark)?;
    text.push_str("the earlier paper is void: the patient uses this one\n");
    Ok(text)
}

/// New paper, labels and packing slip for an order that was changed, or that comes to
/// other times.
fn revised(
    args: &Args,
    shop: &mut Workshop,
    mut target: Target,
    before: &Planned,
    mut change: Change,
) -> Result<String, Vec<Fault>> {
    target.may_be_revised(before, args.revise)?;
    still_cleared(&change, before)?;
    let basis = target.corrected.as_ref().unwrap_or(&target.source);
    let was = before.order.start.as_ref().map(|start| start.date);
    let mut source = changed(basis, &change);
    let (order, ..) = shop.read(&source, &target.path)?;
    if order.first_suitable.is_some() {
        // It was chosen once, and the patient knows it.
        change.start = was;
        source = changed(basis, &change);
    }
    let mut planned = shop.plan(&source, &target.path)?;
    same_person(before, &planned)?;
    let start = planned.order.start.as_ref().map(|start| start.date);
    match start.filter(|start| args.start.is_some() || Some(*start) != was) {
        Some(start) => suits(args, &planned, start)?,
        None if start.is_none() && was.is_some() => note(&format!(
            "note: the order {} has no day now: its paper says \u{201c}Day 1\u{201d}\n",
            planned.order.number
        )),
        None => {
            same_evening(args, before, &planned)?;
            note_the_day(args, &planned);
        }
    }
    let stock = target.stock(shop, &args.making, &planned)?;
    let kit = new_kit(&planned, &stock.name, Vec::new());
    let placing = placing(&args.laying, Some(&planned.lab.lab), None)?;
    let order = planned.order.number.clone();
    let mut files = Files::of(args, &order);
    let mut set = |number: u32| -> Result<Vec<Document>, Vec<Fault>> {
        planned.edition.revision = number;
        let name = |kind: FileKind| {
            kind.name().replace(".pdf", &format!("-revision-{number}.pdf"))
        };
        let one = [&planned];
        let batch = shop.make_batch(&one, &placing)?;
        for (kind, bytes, pages) in [
            (FileKind::Paper, &batch.paper, batch.sides),
            (FileKind::Labels, &batch.labels, batch.imposition.sheets),
        ] {
            shop.prove_batch(&one, &batch, kind, bytes, &name(kind))?;
            files.add(&name(kind), bytes, pages)?;
        }
        let slip = name(FileKind::Packing);
        let counts = [batch.kits[0].counts];
        let packing = shop.make_packing(&one, &batch.stock, &counts, None)?;
        shop.prove_packing(&one, &batch.stock, &counts, None, &packing, &slip)?;
        files.add(&slip, &packing, 1)?;
        Ok(files.documents.clone())
    };
    match &mut target.book {
        Some((ledger, stored)) => {
            let (from, reason) = (stored.basis(), &args.again.reason);
            ledger.record_revision(&target.stamp, &kit, &from, reason, &mut set)?;
        }
        None => {
            set(args.again.number.unwrap_or(1))?;
        }
    }
    let mark = format!("revision {}", planned.edition.revision);
    let mut text = target.publish(files.staged, &order, &mark)?;
    let (was, is) = ((&before.order, &before.plan), (&planned.order, &planned.plan));
    let changes = report::changes(was, is);
    if !changes.is_empty() {
        text.push_str("what changed, before (-) and now (+):\n");
        text.push_str(&changes);
    }
    let (old, new) = (&target.source.text, &planned.order.source.text);
    if old != new {
        let lines = difference(old, new);
        let _ = writeln!(text, "the order, before (-) and now (+):\n{lines}");
    }
    for finding in &planned.plan.findings {
        let level = finding.level.word();
        let _ = writeln!(text, "{level}: {}: {}", finding.code, finding.text);
    }
    text.push_str("earlier paper and labels are void: the patient uses these\n");
    Ok(text)
}

/// Refuses a text with names and birth date of somebody else: one that was
/// corrected has one of the three as it was.
fn same_person(before: &Planned, now: &Planned) -> Result<(), Vec<Fault>> {
    let (was, is) = (&before.order.patient, &now.order.patient);
    if was.family == is.family || was.given == is.given || was.born == is.born {
        return Ok(());
    }
    Err(vec![Fault::new(
        format!("the order {} is of another patient", now.order.number),
        "a correction keeps the family name, the given name or the birth date; for \
         somebody else make a new order with a number of its own",
    )])
}

/// Refuses a new day that does not suit.
fn suits(args: &Args, planned: &Planned, start: NaiveDate) -> Result<(), Vec<Fault>> {
    let today = today_of(&args.again).map_err(|fault| vec![fault])?;
    let Planned { order, protocol, lab, .. } = planned;
    let search = Search::new(order, protocol, &lab.lab, today)?;
    let against = search.day(start).against;
    let faults: Vec<Fault> = against
        .iter()
        .map(|reason| {
            Fault::new(
                format!("the day {start} does not suit: it {}", reason.text),
                "give a day that suits; `kitwright days` lists them for an order file",
            )
        })
        .collect();
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

/// Refuses usual times by which a collection that keeps its date comes on another night:
/// a dinner that moves over midnight moves the other way by a day.
fn same_evening(args: &Args, before: &Planned, now: &Planned) -> Result<(), Vec<Fault>> {
    let (Some(start), None) = (&now.order.start, args.start) else { return Ok(()) };
    let begins =
        |planned: &Planned| planned.plan.anchors.moment(planned.protocol.starts_with);
    let (Some(was), Some(is)) = (begins(before), begins(now)) else { return Ok(()) };
    if (is - was).num_hours().abs() < 12 {
        return Ok(());
    }
    let day = TimeDelta::days(if is < was { 1 } else { -1 });
    Err(vec![Fault::new(
        format!(
            "the day stays {}, and by the new times the collection begins on {}, not \
             near {}",
            start.date,
            is.format("%Y-%m-%d at %H:%M"),
            was.format("%Y-%m-%d at %H:%M")
        ),
        format!(
            "give the day, too: --start {} for the same night, or --start {} if it is \
             meant so",
            start.date + day,
            start.date
        ),
    )])
}

/// Refuses a new birth date or weight where a hold for the old one was cleared by name.
fn still_cleared(change: &Change, before: &Planned) -> Result<(), Vec<Fault>> {
    let what = |hold| match hold {
        HoldKind::UnderAge if change.born.is_some() => Some("birth date"),
        HoldKind::Weight if change.weight.is_some() => Some("weight"),
        _ => None,
    };
    let faults: Vec<Fault> = before
        .order
        .cleared
        .iter()
        .filter_map(|clearance| {
            let value = what(clearance.hold)?;
            Some(Fault::new(
                format!(
                    "{} cleared the hold {} for the {value} as it was",
                    clearance.by,
                    clearance.hold.word()
                ),
                "write the new value and who cleared it, or no [[cleared]], into the order\u{2019}s \
                 file, and make the revision of that with --revise",
            ))
        })
        .collect();
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

/// Says of a day that is kept that it is today or past.
fn note_the_day(args: &Args, planned: &Planned) {
    let Ok(today) = today_of(&args.again) else { return };
    if let Some(late) = late_day(planned, today) {
        note(&format!("note: {late}, and stays: for another, give --start\n"));
    }
}

/// Files on their way to the disk and into the ledger.
struct Files {
    folder: PathBuf,
    staged: Staged,
    documents: Vec<Document>,
}

impl Files {
    fn of(args: &Args, order: &str) -> Self {
        Self {
            folder: args.again.out.join(order),
            staged: Staged::default(),
            documents: Vec::new(),
        }
    }

    fn add(&mut self, name: &str, bytes: &[u8], pages: usize) -> Result<(), Vec<Fault>> {
        self.staged.add(self.folder.join(name), bytes).map_err(|fault| vec![fault])?;
        self.documents.push(Document::whole(name, bytes, pages as u32));
        Ok(())
    }
}
