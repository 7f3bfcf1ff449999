//! What a run is given: all that decides what is printed, piece by piece, so that one
//! that goes on later can say what is not as it was.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::list::List;
use crate::ledger::digest;

/// The most orders that are named as not what they were.
const MOST_NAMED: usize = 10;

/// Names of what was given, each with a digest or a word for it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Given {
    settings: BTreeMap<String, String>,
    /// In their order.
    orders: Vec<(String, String)>,
}

impl Given {
    /// The orders of `list`, those that are left out, too.
    pub fn new(list: &List) -> Self {
        let mut given = Self::default();
        for part in &list.parts {
            let inputs = part.orders.iter().zip(&part.inputs);
            given
                .orders
                .extend(inputs.map(|(order, input)| (order.clone(), input.clone())));
        }
        given.orders.extend(list.left_out.iter().map(|out| {
            let why = format!(
                "{} {}",
                out.status.word(),
                digest(out.why.join("\n").as_bytes())
            );
            (out.order.clone(), why)
        }));
        given
    }

    /// Adds a setting, as the user knows it.
    pub fn set(&mut self, name: &str, value: String) {
        self.settings.insert(name.to_owned(), digest(value.as_bytes()));
    }

    /// Of all of it.
    pub fn digest(&self) -> String {
        let lines = |name: &String, value: &String| format!("{name}\n{value}\n");
        let settings = self.settings.iter().map(|(name, value)| lines(name, value));
        let orders = self.orders.iter().map(|(order, input)| lines(order, input));
        digest(settings.chain(orders).collect::<String>().as_bytes())
    }

    /// What is not as in `self`, a line each.
    pub fn differences(&self, now: &Self) -> Vec<String> {
        let names: BTreeSet<&String> =
            self.settings.keys().chain(now.settings.keys()).collect();
        let mut lines: Vec<String> = names
            .into_iter()
            .filter(|name| self.settings.get(*name) != now.settings.get(*name))
            .map(|name| format!("{name}: not what it was"))
            .collect();
        let (old, new): (BTreeMap<_, _>, BTreeMap<_, _>) =
            (self.orders.iter().cloned().collect(), now.orders.iter().cloned().collect());
        let gone = old.keys().filter(|order| !new.contains_key(*order));
        let gone = gone.map(|order| format!("the order {order}: was there, and is not"));
        let other = new.iter().filter_map(|(order, input)| match old.get(order) {
            Some(before) if before == input => None,
            Some(before) => {
                let (before, now) = (left_out(before), left_out(input));
                Some(match (before, now) {
                    (None, None) => format!("the order {order}: has another text"),
                    (None, Some(now)) => format!("the order {order}: is {now} now"),
                    (Some(before), _) => {
                        format!("the order {order}: was {before}, and is not as it was")
                    }
                })
            }
            None => Some(format!("the order {order}: is new")),
        });
        let orders: Vec<String> = gone.chain(other).collect();
        if orders.is_empty() && self.orders != now.orders {
            lines.push("the orders: come in another order".into());
        }
        let more = orders.len().saturating_sub(MOST_NAMED);
        lines.extend(orders.into_iter().take(MOST_NAMED));
        if more > 0 {
            lines.push(format!("and {more} orders more"));
        }
        lines
    }
}

/// How an order was left out, if it was.
fn left_out(input: &str) -> Option<&str> {
    Some(match input.split_once(' ')?.0 {
        "hold" => "on hold",
        "before" => "made before",
        word => word,
    })
}
