//! The instruction sheet.

use serde::Serialize;

use super::medicines::{Medicines, medicines};
use super::repeats::{Repeats, repeats};
use super::steps::{Part, parts};
use super::timeline::{Timeline, timeline};
use super::{Entry, Kit};
use crate::words::say;

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Sheet {
    pub lab: String,
    pub title: String,
    pub start: String,
    pub who: Vec<Entry>,
    /// Who must call first.
    pub first: List,
    /// Said where the protocol's times stand in for the patient's.
    pub assumed: Option<String>,
    pub timeline: Timeline,
    /// What to do after each card.
    pub remember: String,
    pub parts: Vec<Part>,
    pub how: Steps,
    pub medicines: Medicines,
    pub wrong: List,
    pub repeats: Repeats,
    pub care: List,
    pub call: List,
}

/// A heading and its lines.
#[derive(Debug, Clone, Serialize)]
pub struct List {
    pub title: String,
    pub lines: Vec<String>,
}

/// A heading and its numbered lines.
#[derive(Debug, Clone, Serialize)]
pub struct Steps {
    pub title: String,
    pub lines: Vec<Entry>,
}

pub(super) fn sheet(kit: &Kit) -> Sheet {
    let words = kit.words;
    let start = match &kit.order.start {
        Some(start) => {
            say!(words, "sheet-start", date = words.day(first_day(kit, start)))
        }
        None => say!(words, "sheet-start-blank"),
    };
    Sheet {
        lab: kit.lab.name.clone(),
        title: say!(words, "sheet-title"),
        start,
        who: kit.who(),
        first: List {
            title: say!(words, "first-heading"),
            lines: vec![
                say!(words, "first-limits"),
                say!(words, "first-pregnant"),
                say!(words, "first-ill"),
                say!(words, "first-call", phone = &kit.lab.phone),
            ],
        },
        assumed: assumed(kit),
        timeline: timeline(kit),
        remember: say!(words, "step-write"),
        parts: parts(kit),
        how: how(kit),
        medicines: medicines(kit),
        wrong: wrong(kit),
        repeats: repeats(kit),
        care: care(kit),
        call: call(kit),
    }
}

/// The day on which the patient first has something to do.
fn first_day(kit: &Kit, start: &crate::order::Start) -> chrono::NaiveDate {
    let first = kit.plan.caffeine.map(|(from, _)| from.date_naive());
    first.map_or(start.date, |first| first.min(start.date))
}

/// Which of the times are not the patient's own.
fn assumed(kit: &Kit) -> Option<String> {
    let mut names: Vec<String> =
        kit.plan.assumed.iter().map(|anchor| kit.anchor_word(*anchor)).collect();
    let last = names.pop()?;
    let what = if names.is_empty() {
        last
    } else {
        say!(kit.words, "list-and", first = names.join(", "), last = last)
    };
    Some(say!(kit.words, "sheet-assumed", what = what))
}

fn how(kit: &Kit) -> Steps {
    let words = kit.words;
    let lines = [
        say!(words, "how-check"),
        say!(words, "how-hands"),
        say!(words, "how-catch"),
        say!(words, "how-wet"),
        say!(words, "how-write"),
        say!(words, "how-dry"),
    ];
    let numbered = lines
        .into_iter()
        .enumerate()
        .map(|(index, value)| Entry { label: (index + 1).to_string(), value });
    Steps { title: say!(words, "how-heading"), lines: numbered.collect() }
}

fn wrong(kit: &Kit) -> List {
    let words = kit.words;
    let mut lines = vec![
        say!(words, "wrong-missed"),
        say!(words, "wrong-cannot"),
        say!(words, "wrong-drank"),
    ];
    if !super::repeats::changes(kit).tables.is_empty() {
        lines.push(say!(words, "wrong-changed"));
    }
    lines.push(say!(words, "wrong-ill"));
    List { title: say!(words, "wrong-heading"), lines }
}

fn care(kit: &Kit) -> List {
    let words = kit.words;
    let emergency = &kit.lab.emergency;
    List {
        title: say!(words, "care-heading"),
        lines: vec![
            say!(words, "care-drink"),
            say!(words, "care-later"),
            say!(words, "care-signs", emergency = emergency),
            say!(words, "care-steroid", emergency = emergency),
            say!(words, "care-cards"),
            say!(words, "care-not"),
        ],
    }
}

fn call(kit: &Kit) -> List {
    let words = kit.words;
    let hours = kit
        .lab
        .words
        .get(words.language)
        .and_then(|texts| texts.hours.as_ref())
        .unwrap_or(&kit.lab.hours);
    let mut lines = vec![say!(
        words,
        "call-lab",
        lab = &kit.lab.name,
        phone = &kit.lab.phone,
        hours = hours
    )];
    if let Some(provider) = &kit.order.provider {
        lines.push(say!(
            words,
            "call-provider",
            provider = &provider.name,
            phone = &provider.phone
        ));
    }
    lines.push(say!(words, "call-language"));
    List { title: say!(words, "call-heading"), lines }
}
