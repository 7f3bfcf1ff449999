//! The drawing of this person's evening, night and morning: stations in order
//! and what lies between them.

use std::collections::BTreeSet;

use serde::Serialize;

use super::Kit;
use crate::clock::Moment;
use crate::plan::PlannedSlot;
use crate::protocol::{Allowed, Anchor};
use crate::words::say;

/// The drawing: stations along a line, segments between them.
#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Timeline {
    /// The whole drawing in words, for readers who hear it.
    pub alt: String,
    pub stations: Vec<Station>,
    /// One fewer than stations.
    pub segments: Vec<Segment>,
}

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Station {
    pub time: String,
    /// What is done there; absent for a card, whose number says it.
    pub label: Option<String>,
    /// The card's number; absent where no card is done.
    pub card: Option<String>,
}

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Segment {
    /// Share of the line: minutes, held within bounds so that nothing collides.
    pub weight: i64,
    /// "stop", "sleep" or "free".
    pub kind: &'static str,
    pub label: Option<String>,
}

/// Bounds of a segment's weight in minutes: a night is drawn no longer than
/// this, two close moments no nearer.
const WEIGHTS: (i64, i64) = (120, 260);

/// The most stretches that each have words of their own; of more the first of each kind
/// has some.
const MOST_WORDS: usize = 7;

struct Stop {
    at: Moment,
    label: String,
    card: Option<u8>,
}

pub(super) fn timeline(kit: &Kit) -> Timeline {
    let stops = stops(kit);
    let stations: Vec<Station> = stops
        .iter()
        .map(|stop| Station {
            time: kit.exact_time(stop.at),
            label: stop.card.is_none().then(|| stop.label.clone()),
            card: stop.card.map(|card| card.to_string()),
        })
        .collect();
    let mut segments: Vec<Segment> =
        stops.windows(2).map(|pair| segment(kit, pair[0].at, pair[1].at)).collect();
    if segments.len() > MOST_WORDS {
        let mut said = BTreeSet::new();
        for segment in &mut segments {
            segment.label = segment.label.take().filter(|_| said.insert(segment.kind));
        }
    }
    let spoken: Vec<String> = stops
        .iter()
        .map(|stop| format!("{} {}", kit.exact_time(stop.at), stop.label))
        .collect();
    Timeline {
        alt: say!(kit.words, "timeline-alt", stations = spoken.join("; ")),
        stations,
        segments,
    }
}

fn stops(kit: &Kit) -> Vec<Stop> {
    let mut stops = Vec::new();
    for slot in &kit.plan.slots {
        let (Some(at), Some(card)) = (slot.collect_at, slot.card) else { continue };
        if let (Some(empty), None) = (slot.empty_at, slot.emptied_by_card) {
            let label = say!(kit.words, "timeline-empty");
            stops.push(Stop { at: empty, label, card: None });
        }
        let label = say!(kit.words, "timeline-card", card = card.to_string());
        stops.push(Stop { at, label, card: Some(card) });
    }
    // A plan without a card at bedtime still shows the night.
    let is_at_bedtime =
        |slot: &PlannedSlot| (slot.anchor, slot.offset_minutes) == (Anchor::Bedtime, 0);
    if !kit.plan.slots.iter().any(is_at_bedtime) {
        let label = say!(kit.words, "timeline-bed");
        stops.push(Stop { at: kit.plan.anchors.bedtime, label, card: None });
    }
    stops.sort_by_key(|stop| (stop.at, stop.card));
    // An emptying at the very moment of a card is that card.
    let cards: Vec<Moment> =
        stops.iter().filter(|stop| stop.card.is_some()).map(|stop| stop.at).collect();
    stops.retain(|stop| stop.card.is_some() || !cards.contains(&stop.at));
    stops
}

fn segment(kit: &Kit, from: Moment, until: Moment) -> Segment {
    let anchors = &kit.plan.anchors;
    let stopped = kit.plan.drinks.iter().any(|stretch| {
        stretch.allowed == Allowed::Nothing
            && stretch.from <= from
            && stretch.until.is_some_and(|end| end >= until)
    });
    let (kind, label) = if stopped {
        let label = if kit.plan.allowance.is_ours() {
            say!(kit.words, "timeline-stop")
        } else {
            say!(kit.words, "timeline-stop-prescribed")
        };
        ("stop", Some(label))
    } else if from >= anchors.bedtime && until <= anchors.waking {
        ("sleep", Some(say!(kit.words, "timeline-sleep")))
    } else if from == anchors.dinner {
        ("free", Some(say!(kit.words, "timeline-dinner")))
    } else {
        ("free", None)
    };
    let weight = (until - from).num_minutes().clamp(WEIGHTS.0, WEIGHTS.1);
    Segment { weight, kind, label }
}
