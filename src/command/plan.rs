//! `kitwright plan`: the timeline of orders, and nothing written.

use std::path::Path;

use super::{Outcome, complain, print, workshop};
use crate::cli::Plan as Args;
use crate::fault::Fault;
use crate::workshop::{Planned, Workshop};
use crate::{calendar, input, report};

pub(super) fn plan(args: &Args) -> Outcome {
    let mut shop = match workshop(&args.orders.shared) {
        Ok(shop) => shop,
        Err(faults) => return complain(&faults),
    };
    let (files, faults) = input::order_files(&args.orders.orders);
    let mut worst = if faults.is_empty() { Outcome::Done } else { complain(&faults) };
    for (index, file) in files.iter().enumerate() {
        let outcome = match one(&mut shop, file, args) {
            Ok(text) => {
                let gap = if index > 0 && !args.json && !args.ics { "\n" } else { "" };
                print(&format!("{gap}{text}"))
            }
            Err(faults) => complain(&faults),
        };
        worst = worst.max(outcome);
    }
    worst
}

fn one(shop: &mut Workshop, file: &Path, args: &Args) -> Result<String, Vec<Fault>> {
    let source = input::read_text(file).map_err(|fault| vec![fault])?;
    let planned = shop.plan(&source, file)?;
    let Planned { order, plan, .. } = &planned;
    if args.json {
        return Ok(format!("{}\n", report::json(plan)));
    }
    if args.ics {
        let words = shop.words(&order.language)?;
        return calendar::calendar(order, plan, &words).map_err(|fault| vec![fault]);
    }
    Ok(report::table(order, plan))
}
