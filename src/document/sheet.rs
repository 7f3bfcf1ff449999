//! The instruction sheet.

use serde::Serialize;

use super::medicines::{Medicines, medicines};
use super::repeats::{Repeats, repeats};
use super::steps::{Part, parts};
use super::timeline::{Timeline, timeline};
use super::{Entry, Kit, each_once};
use crate::order::{HealthFlag, HoldKind};
use crate::plan::{Action, Amount, Plan, PlannedSlot};
use crate::protocol::Allowed;
use crate::words::{Words, bound, say};

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Sheet {
    pub lab: String,
    pub title: String,
    pub start: String,
    pub who: Vec<Entry>,
    /// Who must call first.
    pub first: List,
    /// What else to know before the first day.
    pub before: Vec<String>,
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
        before: before(kit),
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
    let plan = kit.plan;
    let slots = plan.slots.iter().flat_map(|slot| [slot.empty_at, slot.collect_at]);
    let caffeine = plan.caffeine.map(|(from, _)| from);
    let first = slots.flatten().chain(caffeine).chain([plan.anchors.bedtime]).min();
    first.map_or(start.date, |first| first.date_naive().min(start.date))
}

fn before(kit: &Kit) -> Vec<String> {
    let has = |code| kit.plan.has_finding(code);
    let mut lines = Vec::new();
    lines.extend((kit.edition.revision > 0).then(|| say!(kit.words, "sheet-revised")));
    lines.extend(cleared(kit));
    lines.extend(ask(kit));
    lines.extend(has("clock-change").then(|| say!(kit.words, "sheet-clocks")));
    lines
        .extend(has("clock-change-later").then(|| say!(kit.words, "sheet-clocks-later")));
    lines.extend(assumed(kit));
    lines
}

/// Which of the times are not the patient's own.
fn assumed(kit: &Kit) -> Option<String> {
    let names = kit.plan.assumed.iter().map(|anchor| kit.anchor_word(*anchor));
    let what = kit.in_words(names.collect())?;
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
        say!(words, "how-rinse"),
    ];
    let numbered = lines
        .into_iter()
        .enumerate()
        .map(|(index, value)| Entry { label: (index + 1).to_string(), value });
    Steps { title: say!(words, "how-heading"), lines: numbered.collect() }
}

/// What a missed waking card means for the one that counts from it.
fn wrong_waking(kit: &Kit) -> Option<String> {
    kit.plan.slots.iter().find_map(|slot| {
        let (next, _) = super::repeats::follower(kit, slot)?;
        let card = slot.card?.to_string();
        let Some(by) = slot.collect_by else {
            return Some(say!(
                kit.words,
                "wrong-waking-missed",
                card = card,
                next = next
            ));
        };
        let minutes = (by - slot.collect_at?).num_minutes();
        Some(say!(kit.words, "wrong-waking", card = card, minutes = minutes, next = next))
    })
}

/// Who cleared what of the box above, so that the sheet does not send a patient away
/// who was told to go on; and that the rest of the box holds.
fn cleared(kit: &Kit) -> Option<String> {
    let words = kit.words;
    let of_the_box = kit.order.cleared.iter().filter_map(|clearance| {
        let what = match clearance.hold {
            // Breast-feeding is one of the reasons to ask about drinking.
            HoldKind::FluidLimit
                if kit.order.health.contains(&HealthFlag::Breastfeeding) =>
            {
                say!(words, "cleared-breastfeeding")
            }
            HoldKind::FluidLimit => say!(words, "cleared-limits"),
            HoldKind::Pregnant => say!(words, "cleared-pregnant"),
            HoldKind::UnderAge => say!(words, "cleared-age"),
            _ => return None,
        };
        let date = words.full_date(clearance.on);
        let by = &clearance.by;
        kit.plan
            .cleared
            .contains(&clearance.hold)
            .then(|| say!(words, "first-cleared", by = by, what = what, date = date))
    });
    let mut sentences: Vec<String> = of_the_box.collect();
    if sentences.is_empty() {
        return None;
    }
    sentences.push(say!(words, "first-cleared-rest"));
    Some(sentences.join(" "))
}

/// What to ask about before the first day: medicines, and how much to drink.
fn ask(kit: &Kit) -> Vec<String> {
    let asked = kit.plan.doses.iter().filter(|dose| dose.action == Action::Ask);
    let names = each_once(asked.map(|dose| kit.medicine_told(dose.index)));
    let medicines = (!names.is_empty())
        .then(|| say!(kit.words, "sheet-ask", medicines = names.join(", ")));
    let drinks =
        (kit.plan.allowance == Amount::Ask).then(|| say!(kit.words, "sheet-ask-drinks"));
    medicines.into_iter().chain(drinks).collect()
}

fn wrong(kit: &Kit) -> List {
    let words = kit.words;
    let mut lines = vec![say!(words, "wrong-missed")];
    lines.extend(wrong_waking(kit));
    for slot in &kit.plan.slots {
        let after = kit.plan.doses_after(&slot.id);
        let medicines =
            kit.in_words(each_once(after.map(|dose| kit.medicine_told(dose.index))));
        let (Some(medicines), Some(card)) = (medicines, slot.card) else { continue };
        let card = card.to_string();
        let is_next = |other: &PlannedSlot| {
            super::repeats::follower(kit, other).is_some_and(|(next, _)| next == card)
        };
        // Who missed the card before is told above.
        let before = kit.plan.slots.iter().find(|other| is_next(other));
        lines.push(match before.and_then(|before| before.card) {
            Some(before) => say!(
                words,
                "wrong-dose-next",
                before = before.to_string(),
                card = card,
                medicines = medicines
            ),
            None => say!(words, "wrong-dose", card = card, medicines = medicines),
        });
    }
    if kit.plan.allowance.is_ours() {
        lines.push(say!(words, "wrong-cannot"));
    }
    if kit.plan.drinks.iter().any(|stretch| stretch.allowed == Allowed::Nothing) {
        lines.push(say!(words, "wrong-drank"));
    }
    if !kit.plan.what_if.is_empty() {
        lines.push(say!(words, "wrong-changed"));
    }
    lines.push(if kit.plan.allowance == Amount::Prescribed {
        say!(words, "wrong-ill-prescribed")
    } else {
        say!(words, "wrong-ill")
    });
    List { title: say!(words, "wrong-heading"), lines }
}

fn care(kit: &Kit) -> List {
    let words = kit.words;
    let emergency = &kit.lab.emergency;
    List {
        title: say!(words, "care-heading"),
        lines: vec![
            care_drink(words, kit.plan),
            say!(words, "care-later"),
            say!(words, "care-signs", emergency = emergency),
            say!(words, "care-steroid", emergency = emergency),
            say!(words, "care-cards"),
            say!(words, "care-not"),
        ],
    }
}

/// Whom thirst or illness comes to: who has an amount of their own keeps to it.
pub(super) fn care_drink(words: &Words, plan: &Plan) -> String {
    if plan.allowance == Amount::Prescribed {
        say!(words, "care-drink-prescribed")
    } else {
        say!(words, "care-drink")
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
        hours = bound(hours)
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
