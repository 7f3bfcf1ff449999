//! `kitwright plan`: the timeline of orders, and nothing written.

use std::path::Path;

use super::{Outcome, complain, print, workshop};
use crate::cli::Plan as Args;
use crate::fault::Fault;
use crate::run::{Planned, Workshop};
use crate::{calendar, import, input, report};

pub(super) fn plan(args: &Args) -> Outcome {
    let mut shop = match workshop(&args.orders.shared) {
        Ok(shop) => shop,
        Err(faults) => return complain(&faults),
    };
    let (files, faults) = input::order_files(&args.orders.orders);
    let mut worst = if faults.is_empty() { Outcome::Done } else { complain(&faults) };
    let mut gap = "";
    for file in &files {
        for planned in all(&mut shop, file) {
            let text = planned.and_then(|planned| show(&mut shop, &planned, args));
            let outcome = match text {
                Ok(text) => print(&format!("{gap}{text}")),
                Err(faults) => complain(&faults),
            };
            gap = if args.json || args.ics { "" } else { "\n" };
            worst = worst.max(outcome);
        }
    }
    worst
}

/// The plan of an order file, or the plans of an export's rows.
fn all(shop: &mut Workshop, file: &Path) -> Vec<Result<Planned, Vec<Fault>>> {
    if !import::is_export(file) {
        let source = input::read_text(file).map_err(|fault| vec![fault]);
        return vec![source.and_then(|source| shop.plan(&source, file))];
    }
    match shop.rows(file) {
        Ok(rows) => rows
            .iter()
            .map(|row| row.and_then(|source| shop.plan(source, file)))
            .collect(),
        Err(faults) => vec![Err(faults)],
    }
}

fn show(
    shop: &mut Workshop,
    planned: &Planned,
    args: &Args,
) -> Result<String, Vec<Fault>> {
    let Planned { order, plan, .. } = planned;
    if args.json {
        return Ok(format!("{}\n", report::json(plan)));
    }
    if args.ics {
        let words = shop.words(&order.language)?;
        return calendar::calendar(order, plan, &words).map_err(|fault| vec![fault]);
    }
    Ok(report::table(order, plan))
}
