//! Lists what a run holds: reads and plans every order, sorts out those that get
//! no kit, and cuts the rest into parts.
//!
//! A part is what is printed together: kits of one size of paper and one label
//! stock, in the order in which the orders came.

use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::Shard;
use crate::fault::Fault;
use crate::imposition::{EachKit, impose};
use crate::ledger::{digest, fold};
use crate::order::{Paper, Patient};
use crate::plan::Level;
use crate::stock::Stock;
use crate::workshop::{Item, LabFiles, Planned, Unread, Workshop};

/// An order that gets no kit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LeftOut {
    pub status: Status,
    /// Order number, or the name of its file where that cannot be read.
    pub order: String,
    /// Empty where it cannot be read.
    pub family: String,
    pub given: String,
    pub born: Option<NaiveDate>,
    pub why: Vec<String>,
}

impl LeftOut {
    /// An order that cannot be read, under the name of its file or its number.
    pub fn unread(order: String, faults: &[Fault]) -> Self {
        let why = faults.iter().map(|fault| fault.what.clone()).collect();
        let (family, given) = Default::default();
        Self { status: Status::Wrong, order, family, given, born: None, why }
    }

    pub fn of(planned: &Planned, status: Status, why: Vec<String>) -> Self {
        let Patient { family, given, born, .. } = planned.order.patient.clone();
        let order = planned.order.number.clone();
        Self { status, order, family, given, born: Some(born), why }
    }

    /// An order that is wrong although it can be read.
    pub fn wrong(planned: &Planned, faults: &[Fault]) -> Self {
        let why = faults.iter().map(|fault| fault.what.clone()).collect();
        Self::of(planned, Status::Wrong, why)
    }

    /// The name as packers read it; empty where it is not known.
    pub fn name(&self) -> String {
        if self.family.is_empty() {
            return String::new();
        }
        format!("{}, {}", self.family.to_uppercase(), self.given)
    }
}

/// The patients of a run so far, each with an order number.
#[derive(Default)]
struct Names {
    by_family: HashMap<(String, String), String>,
    by_birth: HashMap<(NaiveDate, String), Vec<(String, String)>>,
}

impl Names {
    /// Adds a patient; gives the order of one before whose name is like theirs: the same
    /// as on a label, whatever the accents, or of those with the same birth date one with
    /// a slip in it.
    fn add(&mut self, patient: &Patient, number: &str) -> Option<String> {
        const SLIPS: usize = 2;
        const MOST_COMPARED: usize = 100;
        let initial: String = fold(&patient.given).chars().take(1).collect();
        let family = fold(&patient.family);
        let born = self.by_birth.entry((patient.born, initial.clone())).or_default();
        let slip = born
            .iter()
            .rev()
            .take(MOST_COMPARED)
            .find(|(known, _)| strsim::damerau_levenshtein(known, &family) <= SLIPS)
            .map(|(_, order)| order.clone());
        born.push((family.clone(), number.to_owned()));
        match self.by_family.entry((family, initial)) {
            Entry::Occupied(first) => Some(first.get().clone()),
            Entry::Vacant(free) => {
                free.insert(number.to_owned());
                slip
            }
        }
    }
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
    /// Orders of the run whose names a packer can take for each other, each with
    /// one such other.
    pub alike: HashMap<String, String>,
    pub left_out: Vec<LeftOut>,
    /// What stands on the kits' slips to be looked at, by its code.
    pub to_look_at: BTreeMap<&'static str, ToLookAt>,
    /// Every fault, to be shown.
    pub faults: Vec<Fault>,
}

/// Kits with the same thing to look at.
pub struct ToLookAt {
    pub kits: usize,
    /// The first of them, and what it says there.
    pub order: String,
    pub text: String,
}

/// The orders of one part.
pub struct PartList {
    /// Counted from 1.
    pub number: usize,
    pub items: Vec<Item>,
    pub orders: Vec<String>,
    /// SHA-256 of each order's text, with the day that was chosen for it.
    pub inputs: Vec<String>,
    pub paper: Paper,
    pub stock: Stock,
    /// First free cell of the first sheet of labels.
    pub start_at: usize,
    /// Sheets of labels to load, or labels of a roll.
    pub sheets: usize,
}

/// The code of [`late_day`].
const LATE_DAY: &str = "day-past";

/// That the day on which a plan begins is today or past, which no plan knows: it reads
/// no clock. That can be the day before card 1's.
pub fn late_day(planned: &Planned, today: NaiveDate) -> Option<String> {
    let start = planned.order.start.as_ref()?.date;
    let begins = planned.plan.first_rule().date_naive();
    let word = |day: NaiveDate| if day == today { "today" } else { "past" };
    if start <= today {
        Some(format!("the day of card 1, {start}, is {}", word(start)))
    } else if begins <= today {
        Some(format!(
            "the plan begins on {begins}, the day before card 1, which is {}",
            word(begins)
        ))
    } else {
        None
    }
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
///
/// `unread` are the files that gave no orders at all. Every shard shows their faults,
/// and the first one counts them.
pub fn list(
    shop: &mut Workshop,
    items: Vec<Item>,
    unread: Vec<Unread>,
    asked: &Asked,
    mut before: impl FnMut(&Planned) -> Result<Option<LeftOut>, Vec<Fault>>,
) -> List {
    let mut list = List {
        lab: None,
        parts: Vec::new(),
        alike: HashMap::new(),
        left_out: Vec::new(),
        to_look_at: BTreeMap::new(),
        faults: Vec::new(),
    };
    for file in unread {
        if asked.shard.is_none_or(|shard| shard.number == 1) {
            let name = file.path.file_name().unwrap_or(file.path.as_os_str());
            let name = name.to_string_lossy().into_owned();
            list.left_out.push(LeftOut::unread(name, &file.faults));
        }
        list.faults.extend(file.faults);
    }
    let mut groups: Vec<Group> = Vec::new();
    let mut names = Names::default();
    let mut labs = OneLab::of(shop, &items);
    for item in items {
        let number = known_as(&item).to_owned();
        if asked.shard.is_some_and(|shard| !shard.holds(&number)) {
            continue;
        }
        let planned = match shop.plan_item(&item) {
            Ok(planned) => planned,
            Err(faults) => {
                list.leave_out(LeftOut::unread(number, &faults), faults);
                continue;
            }
        };
        let sound = labs
            .check(shop, &item, &planned)
            .and_then(|()| list.sound(shop, &planned, &mut before));
        match sound {
            Ok(Some(stock)) => {
                list.note_warnings(&planned, shop.setup().today());
                if let Some(first) = names.add(&planned.order.patient, &number) {
                    list.alike.entry(first.clone()).or_insert(number.clone());
                    list.alike.insert(number.clone(), first);
                }
                let labels = planned.plan.slots.len();
                let paper = planned.order.paper;
                let found = groups
                    .iter_mut()
                    .find(|group| group.paper == paper && group.stock == stock);
                let input = digest(planned.order.source.text.as_bytes());
                let entry = ListedKit { number, labels, input, item };
                match found {
                    Some(group) => group.kits.push(entry),
                    None => groups.push(Group { paper, stock, kits: vec![entry] }),
                }
            }
            Ok(None) => {}
            Err(faults) => list.leave_out(LeftOut::wrong(&planned, &faults), faults),
        }
    }
    list.cut(groups, asked);
    list
}

/// The laboratory's file of a run: that of the first order, which the ledger is named
/// in, whether or not that order gets a kit in this shard.
struct OneLab {
    first: PathBuf,
    /// Other ways to write it.
    same: HashSet<PathBuf>,
}

impl OneLab {
    fn of(shop: &Workshop, items: &[Item]) -> Self {
        let first = items.first().map(|item| shop.lab_path(&item.path));
        Self { first: first.unwrap_or_default(), same: HashSet::new() }
    }

    /// Refuses an order with another one.
    fn check(
        &mut self,
        shop: &Workshop,
        item: &Item,
        planned: &Planned,
    ) -> Result<(), Vec<Fault>> {
        let path = shop.lab_path(&item.path);
        if path == self.first || self.same.contains(&path) {
            return Ok(());
        }
        let place = |path: &Path| path.canonicalize().ok();
        if place(&path).is_some_and(|there| Some(there) == place(&self.first)) {
            self.same.insert(path);
            return Ok(());
        }
        Err(vec![Fault::new(
            format!(
                "the order {} has another laboratory's file, {}, and not {}",
                planned.order.number,
                path.display(),
                self.first.display()
            ),
            "make a run for each laboratory, or name one file for all with --lab",
        )])
    }
}

/// Kits that can be printed together.
struct Group {
    paper: Paper,
    stock: Stock,
    kits: Vec<ListedKit>,
}

/// One order that gets a kit.
struct ListedKit {
    number: String,
    labels: usize,
    /// SHA-256 of its text, with the day that was chosen for it.
    input: String,
    item: Item,
}

/// What an order, wrong ones too, is known by on every machine: its number, where that
/// could be read, or its file's name without the folder.
fn known_as(item: &Item) -> &str {
    let name = &item.row.source.name;
    let file = name.rsplit(['/', '\\']).next().unwrap_or(name);
    item.row.number.as_deref().unwrap_or(file)
}

impl List {
    fn leave_out(&mut self, out: LeftOut, faults: Vec<Fault>) {
        self.left_out.push(out);
        self.faults.extend(faults);
    }

    /// Remembers what is to be looked at in a kit that is made.
    fn note_warnings(&mut self, planned: &Planned, today: NaiveDate) {
        let late = late_day(planned, today);
        let warnings = planned.plan.findings.iter();
        let warnings = warnings.filter(|finding| finding.level == Level::Warning);
        let all = warnings
            .map(|finding| (finding.code, finding.text.clone()))
            .chain(late.map(|text| (LATE_DAY, text)));
        let mut of_this_kit = HashSet::new();
        for (code, text) in all.filter(|(code, _)| of_this_kit.insert(*code)) {
            let order = planned.order.number.clone();
            let entry = ToLookAt { kits: 0, order, text };
            self.to_look_at.entry(code).or_insert(entry).kits += 1;
        }
    }

    /// The stock of a kit that can be made; `None` if it is left out.
    fn sound(
        &mut self,
        shop: &Workshop,
        planned: &Planned,
        before: &mut impl FnMut(&Planned) -> Result<Option<LeftOut>, Vec<Fault>>,
    ) -> Result<Option<Stock>, Vec<Fault>> {
        self.lab.get_or_insert_with(|| planned.lab.clone());
        if planned.plan.holds().next().is_some() {
            let why = planned.plan.holds().map(|hold| hold.text.clone()).collect();
            self.left_out.push(LeftOut::of(planned, Status::Hold, why));
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
                let labels: Vec<usize> = kits.iter().map(|kit| kit.labels).collect();
                let imposed = impose(&group.stock, &labels, start_at, asked.each_kit);
                self.parts.push(PartList {
                    number: self.parts.len() + 1,
                    orders: kits.iter().map(|kit| kit.number.clone()).collect(),
                    inputs: kits.iter().map(|kit| kit.input.clone()).collect(),
                    items: kits.into_iter().map(|kit| kit.item).collect(),
                    paper: group.paper,
                    stock: group.stock.clone(),
                    start_at: imposed.start_at,
                    sheets: imposed.sheets,
                });
                start_at = 1;
            }
        }
    }

    pub fn kits(&self) -> usize {
        self.parts.iter().map(|part| part.orders.len()).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_alike_by_a_slip_only_with_the_same_birth_date() {
        let mut names = Names::default();
        let mut add = |family: &str, given: &str, born: &str, number: &str| {
            let (family, given) = (family.to_owned(), given.to_owned());
            let born = born.parse().unwrap();
            let patient = Patient { family, given, born, weight: None, weighed: None };
            names.add(&patient, number)
        };
        assert_eq!(add("Ostrander", "Pell", "1980-01-02", "A-1"), None);
        assert_eq!(add("Ostrandor", "Paul", "1980-01-03", "A-2"), None, "another day");
        assert_eq!(add("Ostrandor", "Pell", "1980-01-02", "A-3"), Some("A-2".into()));
        assert_eq!(add("Östrander", "P.", "1999-01-01", "A-4"), Some("A-1".into()));
        assert_eq!(add("Ostranderr", "Pia", "1980-01-02", "A-5"), Some("A-3".into()));
        assert_eq!(add("Quill", "Pell", "1980-01-02", "A-6"), None, "another name");
    }
}
