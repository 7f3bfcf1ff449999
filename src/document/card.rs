//! The information card: what we know, and blanks for what really happened.

use serde::Serialize;

use super::{Entry, Kit, each_once};
use crate::words::say;

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct InformationCard {
    pub title: String,
    pub intro: String,
    pub who: Vec<Entry>,
    /// Filled in where the order says it.
    pub known: Vec<Entry>,
    /// For the patient's pen.
    pub blanks: Vec<String>,
    /// A question with its two boxes.
    pub pregnant: [String; 3],
    pub accession: String,
    pub times_title: String,
    pub columns: Vec<String>,
    pub rows: Vec<Row>,
    pub night: Vec<String>,
    pub drinks: String,
    pub medicines_title: String,
    pub medicines: Vec<String>,
    pub other_medicines: String,
    pub sign: String,
}

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Row {
    pub card: String,
    pub code: String,
    pub planned: String,
}

pub(super) fn information_card(kit: &Kit) -> InformationCard {
    let words = kit.words;
    let mut known = Vec::new();
    let mut entry = |label, value| {
        let label = say!(words, "card-known", label = label);
        known.push(Entry { label, value });
    };
    if let Some(weight) = kit.order.patient.weight {
        entry(say!(words, "card-weight"), weight.to_string());
    }
    if let Some(provider) = kit.provider_name() {
        entry(say!(words, "card-provider"), provider.to_owned());
    }
    let mut blanks = vec![say!(words, "card-phone"), say!(words, "card-sex")];
    if kit.order.patient.weight.is_none() {
        blanks.push(say!(words, "card-weight"));
    }
    blanks.push(say!(words, "card-cycle"));
    InformationCard {
        title: say!(words, "card-title"),
        intro: say!(words, "card-intro"),
        who: kit.who(),
        known,
        blanks,
        pregnant: [
            say!(words, "card-pregnant"),
            say!(words, "card-yes"),
            say!(words, "card-no"),
        ],
        accession: say!(words, "card-accession"),
        times_title: say!(words, "card-times"),
        columns: vec![
            say!(words, "card-card"),
            say!(words, "card-code"),
            say!(words, "card-planned"),
            say!(words, "card-emptied"),
            say!(words, "card-date"),
            say!(words, "card-time"),
        ],
        rows: rows(kit),
        night: vec![
            say!(words, "card-slept"),
            say!(words, "card-times-up"),
            say!(words, "card-woke"),
        ],
        drinks: say!(words, "card-drinks"),
        medicines_title: say!(words, "card-medicines"),
        medicines: medicines(kit),
        other_medicines: say!(words, "card-medicine-other"),
        sign: say!(words, "card-sign"),
    }
}

fn rows(kit: &Kit) -> Vec<Row> {
    kit.plan
        .slots
        .iter()
        .map(|slot| Row {
            card: slot
                .card
                .map_or_else(|| say!(kit.words, "card-spare"), |card| card.to_string()),
            code: slot.code.clone(),
            planned: slot.collect_at.map_or_else(String::new, |at| kit.day_and_time(at)),
        })
        .collect()
}

fn medicines(kit: &Kit) -> Vec<String> {
    each_once((0..kit.order.doses.len()).map(|index| kit.medicine_told(index)))
}
