//! `kitwright plan`: the timeline of orders, and nothing written.

use chrono::{NaiveTime, Utc};

use super::{Outcome, complain, complain_of, print, workshop};
use crate::cli::Plan as Args;
use crate::fault::Fault;
use crate::workshop::{Planned, Workshop};
use crate::{calendar, report};

pub(super) fn plan(args: &Args) -> Outcome {
    let mut shop = match workshop(&args.orders.shared) {
        Ok(shop) => shop,
        Err(faults) => return complain(&faults),
    };
    let (items, unread) = shop.items(&args.orders.orders);
    let mut worst = complain_of(&unread);
    let mut gap = "";
    for item in &items {
        let planned = shop.plan_item(item);
        let text = planned.and_then(|planned| show(&mut shop, &planned, args));
        let outcome = match text {
            Ok(text) => print(&format!("{gap}{text}")),
            Err(faults) => complain(&faults),
        };
        gap = if args.json || args.ics { "" } else { "\n" };
        worst = worst.max(outcome);
    }
    worst
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
        let named = args.orders.shared.today.map(|day| day.and_time(NaiveTime::MIN));
        let made = named.unwrap_or_else(|| Utc::now().naive_utc());
        return calendar::calendar(order, plan, &words, made)
            .map_err(|fault| vec![fault]);
    }
    Ok(report::table(order, plan))
}
