//! `kitwright days`: which dates suit as the day of card 1, and why others do
//! not.

use super::{Outcome, complain, order_file, print, today, workshop};
use crate::cli::Days;
use crate::days::{Search, day_json, table};
use crate::fault::Fault;

pub(super) fn days(args: &Days) -> Outcome {
    match list(args) {
        Ok((text, any)) => {
            let printed = print(&text);
            printed.max(if any { Outcome::Done } else { Outcome::Wrong })
        }
        Err(faults) => complain(&faults),
    }
}

/// The list, and whether any day in it suits.
fn list(args: &Days) -> Result<(String, bool), Vec<Fault>> {
    let mut shop = workshop(&args.shared)?;
    let source = order_file(&args.order).map_err(|fault| vec![fault])?;
    let (order, protocol, lab) = shop.read(&source, &args.order)?;
    let today = today(&args.shared).map_err(|fault| vec![fault])?;
    let search = Search::new(&order, &protocol, &lab.lab, today)?;
    let days = search.days(args.from.unwrap_or(today), args.days.into());
    let any = days.iter().any(|day| day.suits());
    if !args.json {
        return Ok((table(&search, &days), any));
    }
    let own = search.start().filter(|start| days.iter().all(|day| day.date != *start));
    let own = own.map(|start| search.day(start));
    let lines = own.iter().chain(&days);
    Ok((lines.map(|day| format!("{}\n", day_json(&search, day))).collect(), any))
}
