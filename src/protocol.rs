//! Reads a protocol: the laboratory's rules for one kind of kit, as data.
//!
//! Takes a TOML text, gives a [`Protocol`] in which every reference has been
//! followed once, so that the plan cannot meet a slot that is not there. Holds
//! rules and no code: it knows nothing of a patient's times.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::NaiveTime;

use crate::fault::{Fault, Source, suggest, visible};
use crate::fields::{Fields, Found, read_file};

/// Protocols built into the program: name and text.
const BUILTIN: &[(&str, &str)] = &[
    ("four-card", include_str!("../templates/protocols/four-card.toml")),
    ("first-morning", include_str!("../templates/protocols/first-morning.toml")),
];

/// The most slots of one protocol: the slot's digit in a specimen code is one
/// figure from 1 to 9.
const MOST_SLOTS: usize = 9;

/// The longest name of a protocol or a slot, and the longest title, in characters.
const LONGEST_NAME: usize = 40;
const LONGEST_TITLE: usize = 60;

/// The rules of one kind of kit.
#[derive(Debug, Clone)]
pub struct Protocol {
    pub name: String,
    pub version: String,
    /// The anchor that falls on the order's start date.
    pub starts_with: Anchor,
    pub routine: DefaultRoutine,
    /// In the order of the file; the labels are printed in it.
    pub slots: Vec<SlotRule>,
    pub drinks: Vec<DrinkRule>,
    pub caffeine: Option<(Point, Point)>,
    pub allowance: AllowanceRule,
    pub doses: DoseRules,
    pub drying_minimum_minutes: i64,
    pub limits: Limits,
}

/// The wall times used where an order does not give the patient's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DefaultRoutine {
    pub lunch: NaiveTime,
    pub dinner: NaiveTime,
    pub bedtime: NaiveTime,
    pub wake: NaiveTime,
}

/// What an offset counts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Anchor {
    Lunch,
    Dinner,
    Bedtime,
    Waking,
    /// The first time up in the night: no planned moment.
    Night,
}

impl Anchor {
    pub const CHOICES: &'static [(&'static str, Self)] = &[
        ("lunch", Self::Lunch),
        ("dinner", Self::Dinner),
        ("bedtime", Self::Bedtime),
        ("waking", Self::Waking),
        ("night", Self::Night),
    ];
}

/// One planned collection.
#[derive(Debug, Clone)]
pub struct SlotRule {
    pub id: String,
    /// The figure that stands for this slot in a specimen code.
    pub digit: u8,
    /// The card's number; absent for the spare.
    pub card: Option<u8>,
    pub anchor: Anchor,
    /// Elapsed minutes from the anchor to the collection.
    pub offset_minutes: i64,
    /// Elapsed minutes before the collection at which the bladder is emptied
    /// and drinking stops.
    pub empty_before_minutes: Option<i64>,
    /// The slot whose collection empties the bladder for this one.
    pub emptied_by: Option<String>,
    /// Elapsed minutes after the planned moment within which to collect.
    pub within_minutes: Option<i64>,
    /// Title by language.
    pub title: BTreeMap<String, String>,
}

/// A point of the plan that a rule can name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Point {
    Anchor(Anchor),
    /// When drinking stops before a slot: `evening.stop`.
    Stop(String),
    /// When a slot is collected: `evening.card`.
    Card(String),
}

impl Point {
    /// The point as a protocol file writes it.
    fn name(&self) -> String {
        match self {
            Self::Anchor(anchor) => {
                let known = Anchor::CHOICES.iter().find(|choice| choice.1 == *anchor);
                known.map_or("", |choice| choice.0).to_owned()
            }
            Self::Stop(slot) => format!("{slot}.stop"),
            Self::Card(slot) => format!("{slot}.card"),
        }
    }
}

/// What may be drunk in one stretch.
#[derive(Debug, Clone)]
pub struct DrinkRule {
    pub from: Point,
    pub until: Option<Point>,
    pub allowed: Allowed,
    /// The limit, for [`Allowed::WaterUpTo`].
    pub quarter_cups: Option<u32>,
}

/// What may be drunk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Allowed {
    /// Water, up to an amount.
    WaterUpTo,
    Nothing,
    /// A normal drink with the meal.
    WithDinner,
    /// A sip of water if thirsty.
    IfThirsty,
    /// Water, up to an amount by body weight.
    Allowance,
    /// As on any day.
    Normal,
}

impl Allowed {
    pub const CHOICES: &'static [(&'static str, Self)] = &[
        ("water-up-to", Self::WaterUpTo),
        ("nothing", Self::Nothing),
        ("with-dinner", Self::WithDinner),
        ("if-thirsty", Self::IfThirsty),
        ("allowance", Self::Allowance),
        ("normal", Self::Normal),
    ];

    pub fn word(self) -> &'static str {
        Self::CHOICES.iter().find(|c| c.1 == self).map_or("normal", |c| c.0)
    }
}

/// The drink allowance by body weight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AllowanceRule {
    /// Thousandths of a US cup for each 100 lb.
    pub thousandths_of_cup_per_100_lb: i64,
    /// Weights outside these pounds get no figure.
    pub lowest_lb: i64,
    pub highest_lb: i64,
}

/// What happens to a hormone dose.
#[derive(Debug, Clone)]
pub struct DoseRules {
    pub windows: Vec<DoseWindow>,
    /// A dose that would move further is asked about instead.
    pub longest_shift_minutes: i64,
}

#[derive(Debug, Clone)]
pub struct DoseWindow {
    pub from: Point,
    pub until: Point,
    /// The slot after whose card the dose is taken; absent: ask.
    pub after: Option<String>,
}

/// Lengths of interval outside which the plan says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    pub longest_evening_minutes: i64,
    pub shortest_sleep_minutes: i64,
    pub longest_sleep_minutes: i64,
}

impl Protocol {
    pub fn slot(&self, id: &str) -> Option<&SlotRule> {
        self.slots.iter().find(|slot| slot.id == id)
    }

    /// Whether cards are collected both before and after the night's sleep.
    pub fn spans_night(&self) -> bool {
        let has =
            |wanted: &[Anchor]| self.slots.iter().any(|s| wanted.contains(&s.anchor));
        has(&[Anchor::Lunch, Anchor::Dinner, Anchor::Bedtime]) && has(&[Anchor::Waking])
    }
}

/// Names of the protocols built in.
pub fn builtin_names() -> Vec<&'static str> {
    BUILTIN.iter().map(|(name, _)| *name).collect()
}

/// The source of the protocol called `name`.
pub fn builtin(name: &str) -> Option<Arc<Source>> {
    let (_, text) = BUILTIN.iter().find(|(known, _)| *known == name)?;
    Some(Source::new(format!("templates/protocols/{name}.toml"), *text))
}

/// Reads one protocol.
///
/// # Errors
///
/// Every fault of the file, each with its place.
pub fn read_protocol(source: &Arc<Source>) -> Result<Protocol, Vec<Fault>> {
    let protocol = read_file(source, protocol)?;
    let faults = what_no_page_says(source, &protocol);
    if faults.is_empty() { Ok(protocol) } else { Err(faults) }
}

fn protocol(top: &Fields) -> Option<Protocol> {
    let name = top.require("name", "\"four-card\"", top.text_up_to("name", LONGEST_NAME));
    let version =
        top.require("version", "\"1\"", top.text_up_to("version", LONGEST_NAME));
    // Every protocol says where its rules come from; nothing reads it but people.
    top.require("source", "\"common practice, no source\"", top.text("source"));
    let starts_with = top.require(
        "starts_with",
        "\"dinner\"",
        top.choice("starts_with", &Anchor::CHOICES[1..4]),
    );
    let routine = top.table("routine", default_routine).flatten();
    if !top.has("routine") {
        top.missing("routine", "[routine], with lunch, dinner, bedtime and wake");
    }
    let slots = slots(top);
    // Where the slots are faulty themselves, no rule that names one is.
    let known: Option<Vec<&str>> =
        slots.as_ref().map(|slots| slots.iter().map(|slot| slot.id.as_str()).collect());
    let known = known.as_deref();
    let drinks = top.tables("drink", |fields| drink(fields, known));
    let caffeine = top.table("caffeine", |fields| {
        fields.text("source");
        point(fields, "from", known).zip(point(fields, "until", known))
    });
    let allowance = top.table("allowance", allowance).flatten();
    if !top.has("allowance") {
        top.missing(
            "allowance",
            "[allowance], with cups_per_100_lb, lowest_lb and highest_lb",
        );
    }
    let longest = top.table("doses", |fields| {
        fields.text("source");
        minutes(fields, "longest_shift_minutes", 0..=1440)
    });
    let windows = top.tables("dose_rule", |fields| dose_window(fields, known));
    let drying = top.table("drying", |fields| {
        fields.text("source");
        minutes(fields, "minimum_minutes", 60..=10_080)
    });
    if !top.has("drying") {
        top.missing("drying", "[drying], with minimum_minutes");
    }
    let limits = top.table("limits", limits).flatten();
    let caffeine = match caffeine {
        Some(None) => return None,
        Some(Some(points)) => Some(points),
        None => None,
    };
    let drinks: Vec<DrinkRule> = drinks.into_iter().collect::<Option<_>>()?;
    let windows: Vec<DoseWindow> = windows.into_iter().collect::<Option<_>>()?;
    let slots = slots?;
    let drink_points =
        drinks.iter().flat_map(|rule| [Some(&rule.from), rule.until.as_ref()]).flatten();
    let dose_points = windows.iter().flat_map(|window| [&window.from, &window.until]);
    let caffeine_points = caffeine.iter().flat_map(|(from, until)| [from, until]);
    for point in drink_points.chain(dose_points).chain(caffeine_points) {
        if !has_moment(point, &slots) {
            top.fault(
                Fault::new(
                    format!("a rule names `{}`, a point without a time", point.name()),
                    "name a stop of a slot with empty_before_minutes, or a card that \
                     is not the spare",
                )
                .at(top.source, 0..0, ""),
            );
        }
    }
    Some(Protocol {
        name: name?.value,
        version: version?.value,
        starts_with: starts_with?.value,
        routine: routine?,
        drinks,
        caffeine,
        allowance: allowance?,
        doses: DoseRules {
            windows,
            longest_shift_minutes: longest.flatten().unwrap_or(0),
        },
        drying_minimum_minutes: drying.flatten()?,
        limits: limits.unwrap_or(Limits {
            longest_evening_minutes: 600,
            shortest_sleep_minutes: 180,
            longest_sleep_minutes: 840,
        }),
        slots,
    })
}

/// Rules for drinks that are not those that the steps of the sheet tell. They tell: nothing from an
/// emptying to its card, and at no other time; and the amount by weight from a card of
/// waking on.
fn what_no_page_says(source: &Arc<Source>, protocol: &Protocol) -> Vec<Fault> {
    let (slots, drinks) = (&protocol.slots, &protocol.drinks);
    let mut faults = Vec::new();
    let mut fault = |what: String, help: String| {
        faults.push(Fault::new(what, help).at(source, 0..0, "drink"));
    };
    let is_nothing = |rule: &&DrinkRule| rule.allowed == Allowed::Nothing;
    for slot in slots.iter().filter(|slot| slot.empty_before_minutes.is_some()) {
        let id = &slot.id;
        let is_its_own = |rule: &DrinkRule| {
            rule.from == Point::Stop(id.clone())
                && rule.until == Some(Point::Card(id.clone()))
        };
        if slot.card.is_some() && !drinks.iter().filter(is_nothing).any(is_its_own) {
            fault(
                format!(
                    "the steps say to drink nothing from the emptying before `{id}` until its \
                     card, and no rule for drinks does"
                ),
                format!(
                    "add a [[drink]] with from = \"{id}.stop\", until = \"{id}.card\", rule = \
                     \"nothing\""
                ),
            );
        }
    }
    for rule in drinks.iter().filter(is_nothing) {
        let is_told = match (&rule.from, &rule.until) {
            (Point::Stop(from), Some(Point::Card(until))) => from == until,
            _ => false,
        };
        if !is_told {
            fault(
                format!(
                    "nothing may be drunk from `{}` on, and no step of the sheet would say so",
                    rule.from.name()
                ),
                "let the rule run from a slot's stop to its card, such as from = \
                 \"evening.stop\", until = \"evening.card\"; a night or a morning without a \
                 drink cannot be written yet"
                    .to_owned(),
            );
        }
    }
    let begins_with_card = |point: &Point| {
        slots.iter().any(|slot| {
            let of_waking = slot.anchor == Anchor::Waking && slot.card.is_some();
            let is_it = match point {
                Point::Anchor(Anchor::Waking) => slot.offset_minutes == 0,
                Point::Card(id) => slot.id == *id,
                _ => false,
            };
            of_waking && is_it
        })
    };
    for rule in drinks.iter().filter(|rule| rule.allowed == Allowed::Allowance) {
        if !begins_with_card(&rule.from) {
            fault(
                format!(
                    "the amount by weight may be drunk from `{}` on, where no card of waking \
                     is done, and no step of the sheet would say so",
                    rule.from.name()
                ),
                "let it begin with a card whose anchor is \"waking\", such as \"waking.card\"".to_owned(),
            );
        }
    }
    faults
}

/// Whether a plan will have a moment for `point`; a rule with one that has none
/// would silently not hold.
fn has_moment(point: &Point, slots: &[SlotRule]) -> bool {
    let slot = |id: &String| slots.iter().find(|slot| slot.id == *id);
    match point {
        Point::Anchor(anchor) => *anchor != Anchor::Night,
        Point::Stop(id) => {
            slot(id).is_some_and(|slot| slot.empty_before_minutes.is_some())
        }
        Point::Card(id) => slot(id).is_some_and(|slot| slot.card.is_some()),
    }
}

fn default_routine(fields: &Fields) -> Option<DefaultRoutine> {
    let time =
        |key| fields.require(key, "12:30", fields.time(key)).map(|time| time.value);
    let (lunch, dinner) = (time("lunch"), time("dinner"));
    let (bedtime, wake) = (time("bedtime"), time("wake"));
    Some(DefaultRoutine {
        lunch: lunch?,
        dinner: dinner?,
        bedtime: bedtime?,
        wake: wake?,
    })
}

/// All slots, with the references between them checked.
fn slots(top: &Fields) -> Option<Vec<SlotRule>> {
    let read: Vec<Option<(Found<String>, SlotRule)>> = top.tables("slot", slot);
    if read.is_empty() || read.len() > MOST_SLOTS {
        let count = read.len();
        top.fault(
            Fault::new(
                format!("the protocol has {count} slots"),
                format!("give 1 to {MOST_SLOTS} tables that start with [[slot]]"),
            )
            .at(top.source, 0..0, "slot"),
        );
        return None;
    }
    let read: Vec<(Found<String>, SlotRule)> = read.into_iter().collect::<Option<_>>()?;
    let mut sound = true;
    if read.iter().all(|(_, slot)| slot.card.is_none()) {
        top.fault(read[0].0.fault(
            top.source,
            "the protocol has a spare and no card",
            "give at least one slot a card number and an anchor",
        ));
        return None;
    }
    let mut fault = |place: &Found<String>, what: String, help: &str| {
        top.fault(place.fault(top.source, what, help));
        sound = false;
    };
    for (index, (place, slot)) in read.iter().enumerate() {
        let earlier = &read[..index];
        if earlier.iter().any(|(_, other)| other.id == slot.id) {
            fault(place, format!("the slot `{}` stands twice", slot.id), "rename one");
        }
        if earlier.iter().any(|(_, other)| other.digit == slot.digit) {
            let what = format!("the digit {} stands for two slots", slot.digit);
            fault(place, what, "give each slot a digit of its own");
        }
        if slot.card.is_some() && earlier.iter().any(|(_, other)| other.card == slot.card)
        {
            let what = format!("the slot `{}` repeats a card number", slot.id);
            fault(place, what, "number the cards 1, 2, 3, ...");
        }
        if let Some(by) = &slot.emptied_by {
            // The two are made up together, so they go by one anchor.
            let is_it = |other: &SlotRule| other.id == *by && other.anchor == slot.anchor;
            if !earlier.iter().any(|(_, other)| is_it(other)) {
                fault(
                    place,
                    format!("`{}` is emptied by `{by}`, which is not before it", slot.id),
                    "name a slot that stands earlier in the file and has the same anchor",
                );
            }
        }
    }
    sound.then(|| read.into_iter().map(|(_, slot)| slot).collect())
}

fn slot(fields: &Fields) -> Option<(Found<String>, SlotRule)> {
    fields.text("source");
    let id = fields.require("id", "\"evening\"", fields.text_up_to("id", LONGEST_NAME));
    let digit = fields.require("digit", "1", fields.number("digit", 1..=9));
    let card = fields.number("card", 1..=9);
    let anchor =
        fields.require("anchor", "\"dinner\"", fields.choice("anchor", Anchor::CHOICES));
    let offset = fields.number("offset_minutes", -720..=1440);
    let empty = fields.number("empty_before_minutes", 1..=720);
    let emptied_by = fields.text("emptied_by");
    let within = fields.number("within_minutes", 1..=240);
    let title = fields.table("title", |fields| {
        fields
            .keys()
            .into_iter()
            .filter_map(|key| {
                let title = fields.printed(&key.value, LONGEST_TITLE)?;
                Some((key.value, title.value))
            })
            .collect::<BTreeMap<String, String>>()
    });
    let has_title = match &title {
        Some(title) => !title.is_empty(),
        None => fields.has("title"),
    };
    if !has_title {
        fields.missing("title", "{ en = \"Evening\" }");
    }
    // What is there and faulty is not taken for what is not there.
    let is_lost = |key, is_read: bool| !is_read && fields.has(key);
    if is_lost("card", card.is_some()) || is_lost("empty_before_minutes", empty.is_some())
    {
        return None;
    }
    let (id, anchor) = (id?, anchor?.value);
    if !id.value.chars().all(|c| c.is_ascii_lowercase() || c == '-')
        || id.value.is_empty()
    {
        fields.fault(id.fault(
            fields.source,
            format!("`{}` is no name for a slot", visible(&id.value)),
            "use small letters a to z and hyphens",
        ));
        return None;
    }
    if (anchor == Anchor::Night) != card.is_none() {
        fields.fault(id.fault(
            fields.source,
            format!(
                "the slot `{}` must have a card number or the night anchor",
                id.value
            ),
            "number every card but the spare, whose anchor is \"night\"",
        ));
        return None;
    }
    let rule = SlotRule {
        id: id.value.clone(),
        digit: digit?.value as u8,
        card: card.map(|card| card.value as u8),
        anchor,
        offset_minutes: offset.map_or(0, |offset| offset.value),
        empty_before_minutes: empty.map(|minutes| minutes.value),
        emptied_by: emptied_by.map(|slot| slot.value),
        within_minutes: within.map(|minutes| minutes.value),
        title: title?,
    };
    Some((id, rule))
}

fn point(fields: &Fields, key: &str, slots: Option<&[&str]>) -> Option<Point> {
    let word = fields.require(key, "\"lunch\"", fields.text(key))?;
    read_point(fields, &word, slots)
}

fn read_point(
    fields: &Fields,
    word: &Found<String>,
    slots: Option<&[&str]>,
) -> Option<Point> {
    let anchors = &Anchor::CHOICES[..4];
    if let Some((_, anchor)) = anchors.iter().find(|(name, _)| *name == word.value) {
        return Some(Point::Anchor(*anchor));
    }
    if let Some((slot, part)) = word.value.split_once('.')
        && slots.is_none_or(|slots| slots.contains(&slot))
    {
        match part {
            "stop" => return Some(Point::Stop(slot.to_owned())),
            "card" => return Some(Point::Card(slot.to_owned())),
            _ => {}
        }
    }
    let mut known: Vec<String> =
        anchors.iter().map(|(name, _)| (*name).to_owned()).collect();
    for slot in slots.unwrap_or_default() {
        known.extend([format!("{slot}.stop"), format!("{slot}.card")]);
    }
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    fields.fault(word.fault(
        fields.source,
        format!("`{}` is no point of this plan", visible(&word.value)),
        suggest(&word.value, &known),
    ));
    None
}

fn drink(fields: &Fields, slots: Option<&[&str]>) -> Option<DrinkRule> {
    fields.text("source");
    let from = point(fields, "from", slots);
    let until = fields.text("until").map(|word| read_point(fields, &word, slots));
    let allowed =
        fields.require("rule", "\"nothing\"", fields.choice("rule", Allowed::CHOICES));
    let quarter_cups = fields.number("quarter_cups", 1..=40);
    let allowed = allowed?.value;
    if (allowed == Allowed::WaterUpTo) != fields.has("quarter_cups") {
        fields.fault(
            Fault::new(
                "an amount belongs to the rule `water-up-to` and to no other",
                "add or take out the line `quarter_cups`",
            )
            .at(fields.source, fields.span(), "drink"),
        );
        return None;
    }
    let until = match until {
        Some(None) => return None,
        Some(Some(point)) => Some(point),
        None => None,
    };
    Some(DrinkRule {
        from: from?,
        until,
        allowed,
        quarter_cups: quarter_cups.map(|number| number.value as u32),
    })
}

fn allowance(fields: &Fields) -> Option<AllowanceRule> {
    fields.text("source");
    let cups = fields.require(
        "cups_per_100_lb",
        "1.0",
        fields.thousandths("cups_per_100_lb", 100..=4000),
    );
    let lowest = fields.require("lowest_lb", "70", fields.number("lowest_lb", 20..=700));
    let highest =
        fields.require("highest_lb", "400", fields.number("highest_lb", 20..=700));
    if let (Some(low), Some(high)) = (&lowest, &highest)
        && low.value > high.value
    {
        fields.fault(low.fault(
            fields.source,
            format!("the lowest weight is {} lb, the highest {}", low.value, high.value),
            "give the weights between which the rule holds",
        ));
        return None;
    }
    let (cups, low) = (cups?, lowest?);
    // Amounts are told in quarter cups, rounded down.
    let per_pound = 4 * cups.value;
    let least = (100_000 + per_pound - 1) / per_pound;
    if low.value < least {
        fields.fault(low.fault(
            fields.source,
            format!("for {} lb the rule gives less than a quarter cup", low.value),
            format!("write {least} or more"),
        ));
        return None;
    }
    Some(AllowanceRule {
        thousandths_of_cup_per_100_lb: cups.value,
        lowest_lb: low.value,
        highest_lb: highest?.value,
    })
}

fn dose_window(fields: &Fields, slots: Option<&[&str]>) -> Option<DoseWindow> {
    fields.text("source");
    let from = point(fields, "from", slots);
    let until = point(fields, "until", slots);
    let after = fields.text("after");
    if let Some(after) = &after
        && let Some(slots) = slots
        && !slots.contains(&after.value.as_str())
    {
        fields.fault(after.fault(
            fields.source,
            format!("there is no slot `{}`", visible(&after.value)),
            suggest(&after.value, slots),
        ));
        return None;
    }
    Some(DoseWindow { from: from?, until: until?, after: after.map(|slot| slot.value) })
}

fn minutes(
    fields: &Fields,
    key: &str,
    range: std::ops::RangeInclusive<i64>,
) -> Option<i64> {
    let number = fields.number(key, range);
    fields.require(key, "240", number).map(|number| number.value)
}

fn limits(fields: &Fields) -> Option<Limits> {
    fields.text("source");
    let longest_evening = minutes(fields, "longest_evening_minutes", 0..=1440);
    let shortest_sleep = minutes(fields, "shortest_sleep_minutes", 0..=1440);
    let longest_sleep = minutes(fields, "longest_sleep_minutes", 0..=1440);
    Some(Limits {
        longest_evening_minutes: longest_evening?,
        shortest_sleep_minutes: shortest_sleep?,
        longest_sleep_minutes: longest_sleep?,
    })
}
