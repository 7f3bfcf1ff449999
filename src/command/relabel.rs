//! `kitwright relabel`: one label of a kit, or all of them, once more.

use super::again::{self, Target};
use super::{Outcome, complain, placing, print, workshop_for};
use crate::cli::{Relabel, WhichCard};
use crate::fault::Fault;
use crate::ledger::{Document, Reprint, What, digest};
use crate::making::LabelFile;
use crate::output::Staged;
use crate::plan::PlannedSlot;
use crate::specimen;
use crate::workshop::Planned;

pub(super) fn relabel(args: &Relabel) -> Outcome {
    match carry_out(args) {
        Ok(text) => print(&text),
        Err(faults) => complain(&faults),
    }
}

fn carry_out(args: &Relabel) -> Result<String, Vec<Fault>> {
    let mut shop = workshop_for(&args.again, &args.making)?;
    let mut target = again::find(&mut shop, &args.again)?;
    let mut planned = target.plan(&mut shop)?;
    target.as_it_was(&mut shop, &planned)?;
    let stock = target.stock(&mut shop, &args.making, &planned)?;
    let slot = one_slot(args, &target, &planned)?;
    if let Some(digit) = slot {
        planned.plan.slots.retain(|slot| digit_of(slot) == Some(digit));
    }
    let order = planned.order.number.clone();
    let lab_digest = digest(planned.lab.lab.source.text.as_bytes());
    let placing = placing(&args.laying, Some(&planned.lab.lab), None)?;
    let mut staged = Staged::default();
    let mut made = None;
    let mut set = |number: u32| -> Result<Vec<Document>, Vec<Fault>> {
        planned.edition.reprint = number;
        let labels = shop.make_labels(&[&planned], &placing)?;
        let name = file_name(slot, &planned, number);
        shop.prove_labels(&[&planned], &labels, &format!("{order}/{name}"))?;
        let document =
            Document::whole(&name, &labels.bytes, labels.imposition.sheets as u32);
        staged
            .add(args.again.out.join(&order).join(name), &labels.bytes)
            .map_err(|fault| vec![fault])?;
        made = Some(labels);
        Ok(vec![document])
    };
    match &mut target.book {
        Some((ledger, stored)) => {
            let reprint = Reprint {
                order: order.clone(),
                from: stored.basis(),
                what: What::Labels(slot),
                reason: args.again.reason.clone(),
                stock: stock.name,
                lab_digest,
            };
            ledger.record_reprint(&target.stamp, &reprint, &mut set)?;
        }
        None => {
            set(args.again.number.unwrap_or(1))?;
        }
    }
    let Some(labels) = made else { return Ok(String::new()) };
    let mark = format!("reprint {}", planned.edition.reprint);
    let wrote = target.publish(staged, &order, &mark)?;
    Ok(told(wrote.trim_end(), &labels, &planned, &target, args.laying.start_at))
}

/// The name of a file of labels. Marks are counted card by card, so one card's
/// name says which.
fn file_name(slot: Option<u8>, planned: &Planned, number: u32) -> String {
    let card = planned.plan.slots.first().map(|slot| slot.card);
    match (slot, card) {
        (Some(_), Some(Some(card))) => format!("label-card-{card}-reprint-{number}.pdf"),
        (Some(_), Some(None)) => format!("label-spare-reprint-{number}.pdf"),
        _ => format!("labels-reprint-{number}.pdf"),
    }
}

fn digit_of(slot: &PlannedSlot) -> Option<u8> {
    specimen::parse(&slot.code).map(|(_, digit)| digit)
}

/// The digit of the slot whose label is asked for; `None` for all.
fn one_slot(
    args: &Relabel,
    target: &Target,
    planned: &Planned,
) -> Result<Option<u8>, Vec<Fault>> {
    let Some(which) = &args.card else { return Ok(target.slot) };
    let card = match which {
        WhichCard::Number(card) => Some(*card),
        WhichCard::Spare => None,
    };
    let found =
        planned.plan.slots.iter().find(|slot| slot.card == card).and_then(digit_of);
    match (found, target.slot) {
        (Some(digit), Some(named)) if digit != named => Err(vec![Fault::new(
            format!("the code {} is not that of the card asked for", args.again.what),
            "name the code alone, or the order number with --card",
        )]),
        (Some(digit), _) => Ok(Some(digit)),
        (None, _) => {
            let cards: Vec<String> = planned
                .plan
                .slots
                .iter()
                .map(|slot| slot.card.map_or("spare".into(), |card| card.to_string()))
                .collect();
            Err(vec![Fault::new(
                format!("the kit {} has no such card", planned.order.number),
                format!("its cards are: {}", cards.join(", ")),
            )])
        }
    }
}

fn told(
    wrote: &str,
    labels: &LabelFile,
    planned: &Planned,
    target: &Target,
    asked: usize,
) -> String {
    let codes: Vec<&str> =
        planned.plan.slots.iter().map(|slot| slot.code.as_str()).collect();
    let mut text = format!(
        "{wrote}: {} on {}, marked reprint {}\n",
        codes.join(" "),
        labels.stock.name,
        planned.edition.reprint
    );
    if labels.placing.start_at < asked {
        text.push_str(&format!(
            "they do not fit from cell {asked} on: load a fresh sheet, they begin at cell 1\n"
        ));
    }
    text.push_str("the earlier label is void: destroy it if it comes back\n");
    if let Some(cell) = labels.imposition.free_from {
        text.push_str(&format!("the sheet is free from cell {cell} on\n"));
    }
    if target.book.is_none() {
        text.push_str("no ledger: this reprint is remembered nowhere\n");
    }
    text
}
