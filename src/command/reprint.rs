//! `kitwright reprint`: a kit's paper once more, as it was or with new times.

use super::again::{self, Target};
use super::{Outcome, complain, placing, print, workshop_for};
use crate::cli::Reprint as Args;
use crate::fault::Fault;
use crate::imposition::Placing;
use crate::ledger::{Document, Reprint, What};
use crate::making::Batch;
use crate::order::rewrite::{Change, changed};
use crate::output;
use crate::proof::FileKind;
use crate::report;
use crate::run::book::new_kit;
use crate::workshop::{Planned, Workshop};

pub(super) fn reprint(args: &Args) -> Outcome {
    let text = workshop_for(&args.again, &args.making).and_then(|mut shop| {
        let target = again::find(&args.again)?;
        let planned = target.plan(&mut shop)?;
        let change = args.change();
        if change.is_none() {
            same(args, &mut shop, target, planned)
        } else {
            revised(args, &mut shop, target, &planned, &change)
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
    let placing = placing(&args.laying, Some(&planned.lab.lab), None)?;
    let mut made = None;
    let mut set = |number: u32| -> Result<Vec<Document>, Vec<Fault>> {
        planned.edition.reprint = number;
        let mark = format!("reprint-{number}");
        let files = make(shop, &planned, &placing, &mark, &[FileKind::Paper])?;
        let documents = documents(&files);
        made = Some(files);
        Ok(documents)
    };
    let order = match &mut target.book {
        Some((ledger, stored)) => {
            let reprint = Reprint {
                order: stored.order.clone(),
                what: What::Sheet,
                reason: args.again.reason.clone(),
                stock: stored.stock.clone(),
                lab_digest: stored.lab_digest.clone(),
            };
            ledger.record_reprint(&target.stamp, &reprint, &mut set)?;
            stored.order.clone()
        }
        None => {
            set(args.again.number.unwrap_or(1))?;
            planned.order.number.clone()
        }
    };
    let mut text = write(args, &order, made.unwrap_or_default())?;
    text.push_str("the earlier paper is void: the patient uses this one\n");
    Ok(text)
}

/// New paper and labels for a day with other times.
fn revised(
    args: &Args,
    shop: &mut Workshop,
    mut target: Target,
    before: &Planned,
    change: &Change,
) -> Result<String, Vec<Fault>> {
    let source = changed(&target.source, change);
    let mut planned = shop.plan(&source, &target.path)?;
    let holds = planned.plan.hold_faults();
    if !holds.is_empty() {
        return Err(holds);
    }
    let stock = shop.stock_for(&planned)?;
    let kit = new_kit(&planned, &stock.name, Vec::new());
    let placing = placing(&args.laying, Some(&planned.lab.lab), None)?;
    let mut made = None;
    let mut set = |number: u32| -> Result<Vec<Document>, Vec<Fault>> {
        planned.edition.revision = number;
        let kinds = [FileKind::Paper, FileKind::Labels];
        let files =
            make(shop, &planned, &placing, &format!("revision-{number}"), &kinds)?;
        let documents = documents(&files);
        made = Some(files);
        Ok(documents)
    };
    let reason = &args.again.reason;
    match &mut target.book {
        Some((ledger, _)) => {
            ledger.record_revision(&target.stamp, &kit, reason, &mut set)?;
        }
        None => {
            set(args.again.number.unwrap_or(1))?;
        }
    }
    let mut text = write(args, &planned.order.number, made.unwrap_or_default())?;
    text.push_str("what changed, before (-) and now (+):\n");
    text.push_str(&report::changes(
        (&before.order, &before.plan),
        (&planned.order, &planned.plan),
    ));
    text.push_str("earlier paper and labels are void: the patient uses these\n");
    Ok(text)
}

/// Files with their names and contents.
type Files = Vec<(String, Vec<u8>, u32)>;

fn make(
    shop: &mut Workshop,
    planned: &Planned,
    placing: &Placing,
    mark: &str,
    kinds: &[FileKind],
) -> Result<Files, Vec<Fault>> {
    let batch: Batch = shop.make_batch(&[planned], placing)?;
    let mut files = Vec::new();
    for kind in kinds {
        let (bytes, pages) = match kind {
            FileKind::Labels => (&batch.labels, batch.imposition.sheets),
            _ => (&batch.paper, batch.sides),
        };
        let name = kind.name().replace(".pdf", &format!("-{mark}.pdf"));
        shop.prove_batch(&[planned], &batch, *kind, bytes, &name)?;
        files.push((name, bytes.clone(), pages as u32));
    }
    Ok(files)
}

fn documents(files: &Files) -> Vec<Document> {
    files
        .iter()
        .map(|(name, bytes, pages)| Document::whole(name, bytes, *pages))
        .collect()
}

fn write(args: &Args, order: &str, files: Files) -> Result<String, Vec<Fault>> {
    let mut text = String::new();
    for (name, bytes, _) in files {
        let path = args.again.out.join(order).join(name);
        output::write_new(&path, &bytes).map_err(|fault| vec![fault])?;
        text.push_str(&format!("wrote {}\n", path.display()));
    }
    Ok(text)
}
