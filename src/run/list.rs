//! Lists what a run holds: reads and plans every order, sorts out those that get
//! no kit, and cuts the rest into parts.
//!
//! A part is what is printed together: kits of one size of paper and one label
//! stock, in the order in which the orders came.

use std::collections::HashMap;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::Shard;
use crate::fault::Fault;
use crate::imposition::{EachKit, impose};
use crate::ledger::digest;
use crate::order::Paper;
use crate::stock::Stock;
use crate::workshop::{Item, LabFiles, Planned, Workshop};

/// An order that gets no kit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LeftOut {
    pub status: Status,
    /// Order number, or the name of its file where that cannot be read.
    pub order: String,
    /// Family and given name, where they are known.
    pub name: String,
    pub why: Vec<String>,
}

/// What came of an order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Status {
    Made,
    Hold,
    Wrong,
    /// A kit was made of it before.
    Before,
}

impl Status {
    pub fn word(self) -> &'static str {
        match self {
            Self::Made => "made",
            Self::Hold => "hold",
            Self::Wrong => "wrong",
            Self::Before => "before",
        }
    }
}

/// What a run holds.
pub struct List {
    pub lab: Option<Arc<LabFiles>>,
    pub parts: Vec<PartList>,
    pub left_out: Vec<LeftOut>,
    /// Every fault, to be shown.
    pub faults: Vec<Fault>,
}

/// The orders of one part.
pub struct PartList {
    /// Counted from 1.
    pub number: usize,
    pub items: Vec<Item>,
    pub orders: Vec<String>,
    pub paper: Paper,
    pub stock: Stock,
    /// First free cell of the first sheet of labels.
    pub start_at: usize,
    /// Sheets of labels to load, or labels of a roll.
    pub sheets: usize,
}

/// How the list is made.
pub struct Asked {
    pub shard: Option<Shard>,
    pub kits_a_file: usize,
    pub start_at: usize,
    pub each_kit: EachKit,
}

/// Reads and plans `items`. `before` says of a sound order why it gets no kit
/// although nothing is wrong with it, such as that it has one already.
pub fn list(
    shop: &mut Workshop,
    items: Vec<Item>,
    asked: &Asked,
    mut before: impl FnMut(&Planned) -> Result<Option<LeftOut>, Vec<Fault>>,
) -> List {
    let mut list =
        List { lab: None, parts: Vec::new(), left_out: Vec::new(), faults: Vec::new() };
    let mut seen: HashMap<String, String> = HashMap::new();
    let mut groups: Vec<Group> = Vec::new();
    for item in items {
        let planned = match shop.plan_item(&item) {
            Ok(planned) => planned,
            Err(_) if asked.shard.is_some_and(|shard| !shard.holds(known_as(&item))) => {
                continue;
            }
            Err(faults) => {
                list.wrong(item.row.source.name.clone(), String::new(), faults);
                continue;
            }
        };
        let number = planned.order.number.clone();
        if asked.shard.is_some_and(|shard| !shard.holds(&number)) {
            continue;
        }
        if let Some(first) = seen.insert(number.clone(), item.row.source.name.clone()) {
            let fault = Fault::new(
                format!("the order number {number} stands in {first} already"),
                "each order has a number of its own; mend one of the files",
            );
            list.wrong(
                item.row.source.name.clone(),
                planned.order.patient.name(),
                vec![fault.at(&item.row.source, 0..0, "order")],
            );
            continue;
        }
        match list.sound(shop, &planned, &mut before) {
            Ok(Some(stock)) => {
                let labels = planned.plan.slots.len();
                let paper = planned.order.paper;
                let found = groups
                    .iter_mut()
                    .find(|group| group.paper == paper && group.stock == stock);
                let entry = (number, labels, item);
                match found {
                    Some(group) => group.kits.push(entry),
                    None => groups.push(Group { paper, stock, kits: vec![entry] }),
                }
            }
            Ok(None) => {}
            Err(faults) => list.wrong(number, planned.order.patient.name(), faults),
        }
    }
    list.cut(groups, asked);
    list
}

/// Kits that can be printed together.
struct Group {
    paper: Paper,
    stock: Stock,
    /// Order number, labels and item of each.
    kits: Vec<(String, usize, Item)>,
}

/// What a wrong order can be known by on every machine: its number, where that
/// could be read, or its file's name without the folder.
fn known_as(item: &Item) -> &str {
    let name = &item.row.source.name;
    let file = name.rsplit(['/', '\\']).next().unwrap_or(name);
    item.row.number.as_deref().unwrap_or(file)
}

impl List {
    fn wrong(&mut self, order: String, name: String, faults: Vec<Fault>) {
        let why = faults.iter().map(|fault| fault.what.clone()).collect();
        self.left_out.push(LeftOut { status: Status::Wrong, order, name, why });
        self.faults.extend(faults);
    }

    /// The stock of a kit that can be made; `None` if it is left out.
    fn sound(
        &mut self,
        shop: &Workshop,
        planned: &Planned,
        before: &mut impl FnMut(&Planned) -> Result<Option<LeftOut>, Vec<Fault>>,
    ) -> Result<Option<Stock>, Vec<Fault>> {
        let lab = self.lab.get_or_insert_with(|| planned.lab.clone());
        if !Arc::ptr_eq(lab, &planned.lab) {
            return Err(vec![Fault::new(
                format!(
                    "the order {} has another laboratory's file, {}",
                    planned.order.number, planned.lab.lab.source.name
                ),
                "make a run for each laboratory, or name one file for all with --lab",
            )]);
        }
        if planned.plan.holds().next().is_some() {
            self.left_out.push(LeftOut {
                status: Status::Hold,
                order: planned.order.number.clone(),
                name: planned.order.patient.name(),
                why: planned.plan.holds().map(|hold| hold.text.clone()).collect(),
            });
            return Ok(None);
        }
        let stock = shop.stock_for(planned)?;
        if let Some(left_out) = before(planned)? {
            self.left_out.push(left_out);
            return Ok(None);
        }
        Ok(Some(stock))
    }

    fn cut(&mut self, groups: Vec<Group>, asked: &Asked) {
        // One sheet is part-used: the first of the run.
        let mut start_at = asked.start_at;
        for group in groups {
            let mut kits = group.kits.into_iter().peekable();
            while kits.peek().is_some() {
                let kits: Vec<_> = kits.by_ref().take(asked.kits_a_file).collect();
                let labels: Vec<usize> = kits.iter().map(|kit| kit.1).collect();
                let imposed = impose(&group.stock, &labels, start_at, asked.each_kit);
                self.parts.push(PartList {
                    number: self.parts.len() + 1,
                    orders: kits.iter().map(|kit| kit.0.clone()).collect(),
                    items: kits.into_iter().map(|kit| kit.2).collect(),
                    paper: group.paper,
                    stock: group.stock.clone(),
                    start_at,
                    sheets: imposed.sheets,
                });
                start_at = 1;
            }
        }
    }

    pub fn kits(&self) -> usize {
        self.parts.iter().map(|part| part.orders.len()).sum()
    }

    /// What is the same for a run and for its going on later: every order with
    /// its text, in order.
    pub fn digest(&self) -> String {
        let mut text = String::new();
        for part in &self.parts {
            // The whole stock: one of the user's own may change and keep its name.
            text.push_str(&format!("part {:?} {}\n", part.stock, part.start_at));
            for (order, item) in part.orders.iter().zip(&part.items) {
                let own = digest(item.row.source.text.as_bytes());
                text.push_str(&format!("{order} {own}\n"));
            }
        }
        digest(text.as_bytes())
    }
}
