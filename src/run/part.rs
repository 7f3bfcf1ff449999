//! Makes one part of a run: its kits in one file of paper and one of labels,
//! proven before they are written.

use super::journal::{Begun, FileRecord, Journal, KitRecord, PartRecord};
use super::list::{LeftOut, PartList};
use crate::document::sheet_version;
use crate::fault::Fault;
use crate::imposition::Placing;
use crate::ledger::digest;
use crate::making::Batch;
use crate::proof::FileKind;
use crate::stock::Stock;
use crate::workshop::{Planned, Workshop};

/// How a run's parts are made.
#[derive(Debug, Clone, Copy)]
pub struct Making {
    pub placing: Placing,
    /// Keep each kit's paper in a file of its own, too.
    pub archive: bool,
    /// How many parts the run has.
    pub parts: usize,
}

/// The name of a part's file: `paper.pdf`, or `paper-07.pdf` of many.
pub fn file_name(kind: FileKind, part: usize, parts: usize) -> String {
    if parts == 1 {
        return kind.name().to_owned();
    }
    let digits = parts.to_string().len().max(2);
    kind.name().replace(".pdf", &format!("-{part:0digits$}.pdf"))
}

/// Makes and proves one part. An order whose texts do not fit is left out, as those
/// in `left_out` are, and the others are made without it; its faults come back. The
/// files are staged: see [`Journal::publish`].
///
/// # Errors
///
/// A fault if a file cannot be written, or the kits fail together although each
/// is sound alone.
pub fn make_part(
    shop: &mut Workshop,
    part: &PartList,
    making: &Making,
    journal: &Journal,
    begun: &Begun,
    mut left_out: Vec<LeftOut>,
) -> Result<(PartRecord, Vec<Fault>), Vec<Fault>> {
    let placing = Placing { start_at: part.start_at, ..making.placing };
    let mut planned = Vec::new();
    let mut faults = Vec::new();
    for (order, item) in part.orders.iter().zip(&part.items) {
        if left_out.iter().any(|out| out.order == *order) {
            continue;
        }
        match shop.plan_item(item) {
            Ok(one) => planned.push(one),
            // It was sound when it was listed: a file beside it has changed.
            Err(found) => {
                left_out.push(LeftOut::unread(order.clone(), &found));
                faults.extend(found);
            }
        }
    }
    let mut made = proven(shop, &planned, &placing, making, part);
    if made.is_err() {
        planned.retain(|one| match proven_alone(shop, one, &placing) {
            Ok(()) => true,
            Err(found) => {
                left_out.push(LeftOut::wrong(one, &found));
                faults.extend(found);
                false
            }
        });
        made = if planned.is_empty() {
            Ok(None)
        } else {
            proven(shop, &planned, &placing, making, part)
        };
    }
    let mut record = PartRecord {
        run: begun.ledger_name(),
        part: part.number,
        stock: part.stock.name.clone(),
        paper: FileRecord::default(),
        labels: FileRecord::default(),
        leaves: 0,
        sheets: 0,
        start_at: part.start_at,
        free_from: None,
        archive: Vec::new(),
        kits: Vec::new(),
        left_out,
    };
    if let Some(batch) = made? {
        let write = |kind, bytes: &[u8]| {
            journal
                .stage(&file_name(kind, part.number, making.parts), bytes)
                .map_err(|fault| vec![fault])
        };
        record.paper = write(FileKind::Paper, &batch.paper)?;
        record.labels = write(FileKind::Labels, &batch.labels)?;
        record.leaves = batch.sides.div_ceil(2);
        record.sheets = batch.imposition.sheets;
        record.free_from = batch.imposition.free_from;
        record.kits = planned
            .iter()
            .enumerate()
            .map(|(index, planned)| kit_record(planned, &batch, index))
            .collect();
        if making.archive {
            record.archive = archive(shop, &planned, journal)?;
        }
    }
    journal.end_part(&record).map_err(|fault| vec![fault])?;
    Ok((record, faults))
}

fn proven(
    shop: &mut Workshop,
    planned: &[Planned],
    placing: &Placing,
    making: &Making,
    part: &PartList,
) -> Result<Option<Batch>, Vec<Fault>> {
    let planned: Vec<&Planned> = planned.iter().collect();
    if planned.is_empty() {
        return Ok(None);
    }
    let batch = shop.make_batch(&planned, placing)?;
    let mut faults = Vec::new();
    for (kind, bytes) in
        [(FileKind::Paper, &batch.paper), (FileKind::Labels, &batch.labels)]
    {
        let name = file_name(kind, part.number, making.parts);
        if let Err(found) = shop.prove_batch(&planned, &batch, kind, bytes, &name) {
            faults.extend(found);
        }
    }
    if faults.is_empty() { Ok(Some(batch)) } else { Err(faults) }
}

/// Whether an order's kit can be made and proven by itself.
fn proven_alone(
    shop: &mut Workshop,
    planned: &Planned,
    placing: &Placing,
) -> Result<(), Vec<Fault>> {
    shop.make_proven(planned, &Placing { start_at: 1, ..*placing }).map(drop)
}

/// Writes each kit's paper to a file of its own.
fn archive(
    shop: &mut Workshop,
    planned: &[Planned],
    journal: &Journal,
) -> Result<Vec<FileRecord>, Vec<Fault>> {
    let mut files = Vec::new();
    for one in planned {
        let batch = shop.make_batch(&[one], &Placing::default())?;
        let name = format!("archive/{}.pdf", one.order.number);
        shop.prove_batch(&[one], &batch, FileKind::Paper, &batch.paper, &name)?;
        files.push(journal.stage(&name, &batch.paper).map_err(|fault| vec![fault])?);
    }
    Ok(files)
}

/// Cells in words, each sheet's counted from 1.
fn places(cells: &[usize], stock: &Stock) -> String {
    let a_sheet = stock.cells_per_page();
    let mut text = String::new();
    let mut sheet = 0;
    for cell in cells {
        if cell / a_sheet + 1 != sheet {
            sheet = cell / a_sheet + 1;
            let gap = if text.is_empty() { "" } else { "; " };
            text.push_str(&format!("{gap}sheet {sheet}:"));
        }
        text.push_str(&format!(" {}", cell % a_sheet + 1));
    }
    text
}

fn kit_record(planned: &Planned, batch: &Batch, index: usize) -> KitRecord {
    let order = &planned.order;
    let pages = batch.kits[index].clone();
    KitRecord {
        order: order.number.clone(),
        input: digest(order.source.text.as_bytes()),
        family: order.patient.family.clone(),
        given: order.patient.given.clone(),
        born: order.patient.born,
        start: order.start.as_ref().map(|start| start.date),
        protocol: sheet_version(&planned.protocol),
        codes: planned.plan.slots.iter().map(|slot| slot.code.clone()).collect(),
        sides: pages.blank.len(),
        pages,
        places: places(&batch.imposition.cells[index], &batch.stock),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_numbered_only_where_there_are_several() {
        assert_eq!(file_name(FileKind::Paper, 1, 1), "paper.pdf");
        assert_eq!(file_name(FileKind::Labels, 7, 12), "labels-07.pdf");
        assert_eq!(file_name(FileKind::Packing, 7, 120), "packing-007.pdf");
    }
}
