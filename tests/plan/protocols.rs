//! Protocols of a laboratory's own: the same engine, other rules.

use kitwright::order::Order;
use kitwright::plan::{Plan, plan};
use kitwright::protocol::{Anchor, read_protocol};

use super::common::{AGREED, codes, lab, order, order_text, planned, source};
use super::{cards, dose, local, with_routine};

/// The plan of an order by the four-card protocol with some text changed.
#[track_caller]
fn by(changes: &[(&str, &str)], order: &Order) -> Plan {
    let mut text = include_str!("../../templates/protocols/four-card.toml").to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replacen(from, to, 1);
    }
    let protocol = read_protocol(&source(&text))
        .unwrap_or_else(|faults| panic!("{}", faults[0].plain()));
    plan(order, &protocol, &lab().mail)
}

/// Common practice, no source: nobody packs at night, so packing waits for a waking.
#[test]
fn cards_that_dry_long_are_packed_at_the_first_waking_after_it() {
    let order = order(&order_text(""));
    for (minutes, expected) in [
        ("240", "10-16 06:30"),
        ("1320", "10-16 06:30"), // 22 hours after 08:30 is 06:30, just then
        ("1321", "10-17 06:30"),
        ("2760", "10-17 06:30"),
        ("2761", "10-18 06:30"),
    ] {
        let changed = format!("minimum_minutes = {minutes}");
        let plan = by(&[("minimum_minutes = 240", &changed)], &order);
        assert_eq!(local(plan.pack_at), expected, "{minutes} minutes of drying");
    }
}

#[test]
fn the_order_gives_the_day_of_the_anchor_that_the_protocol_starts_with() {
    let routine = "lunch = 12:00\ndinner = 18:00\nbedtime = 22:30\nwake = 06:30";
    let night = "lunch = 23:00\ndinner = 05:00\nbedtime = 09:00\nwake = 16:00";
    for (why, starts_with, routine, expected) in [
        (
            "dinner",
            "dinner",
            routine,
            ["10-14 18:00", "10-14 22:30", "10-15 06:30", "10-15 08:30"],
        ),
        (
            "bedtime, which is on the same day",
            "bedtime",
            routine,
            ["10-14 18:00", "10-14 22:30", "10-15 06:30", "10-15 08:30"],
        ),
        (
            "waking, so the evening is the day before",
            "waking",
            routine,
            ["10-13 18:00", "10-13 22:30", "10-14 06:30", "10-14 08:30"],
        ),
        (
            "waking of somebody who sleeps by day",
            "waking",
            night,
            ["10-14 05:00", "10-14 09:00", "10-14 16:00", "10-14 18:00"],
        ),
    ] {
        let order = order(&with_routine("2026-10-14", "America/Denver", routine));
        let changed = format!("starts_with = \"{starts_with}\"");
        let plan = by(&[("starts_with = \"dinner\"", &changed)], &order);
        assert_eq!(cards(&plan), expected, "{why}");
    }
    let late = "lunch = 12:00\ndinner = 20:00\nbedtime = 00:30\nwake = 07:00";
    let order = order(&with_routine("2026-10-14", "America/Denver", late));
    let plan = by(&[("starts_with = \"dinner\"", "starts_with = \"bedtime\"")], &order);
    assert_eq!(
        cards(&plan),
        ["10-13 20:00", "10-14 00:30", "10-14 07:00", "10-14 09:00"],
        "a bedtime after midnight has its dinner on the day before"
    );
}

#[test]
fn cards_out_of_their_order_are_a_finding() {
    let order = order(&order_text(""));
    for (why, minutes, found) in [
        ("card 4 before card 3", "-30", true),
        ("card 4 at once with card 3", "0", true),
        ("card 4 a minute after card 3", "1", false),
    ] {
        let changed = format!("offset_minutes = {minutes}");
        let plan = by(&[("offset_minutes = 120", &changed)], &order);
        assert_eq!(codes(&plan).contains(&"card-order"), found, "{why}");
        assert_eq!(plan.senseless().is_empty(), !found, "{why}");
    }
}

/// Of such a day no paper is made, whatever anybody clears.
#[test]
fn rules_that_contradict_each_other_on_a_day_are_faults() {
    let order = order(&order_text(""));
    let dinner = "anchor = \"dinner\"\n";
    let caffeine = "[caffeine]\nfrom  = \"lunch\"\nuntil = \"later.card\"";
    for (why, from, to, wanted) in [
        ("no change", "", "", None),
        (
            "card 1 after dinner, whose drink comes before it",
            dinner,
            &*format!("{dinner}offset_minutes = 90\n"),
            Some("nothing may be drunk from 2026-10-14 16:45 to 2026-10-14 18:45"),
        ),
        (
            "caffeine until before it began",
            caffeine,
            &*caffeine.replace("\"lunch\"", "\"waking\"").replace("later", "bedtime"),
            Some("caffeine stops at 2026-10-15 06:30"),
        ),
    ] {
        let found: String = by(&[(from, to)], &order)
            .senseless()
            .iter()
            .map(|fault| fault.what.clone())
            .collect();
        match wanted {
            Some(wanted) => assert!(found.contains(wanted), "{why}: {found}"),
            None => assert_eq!(found, "", "{why}"),
        }
    }
}

#[test]
fn a_card_is_collected_within_the_minutes_of_the_protocol() {
    let order = order(&order_text(""));
    let plan = by(&[("within_minutes = 10", "within_minutes = 25")], &order);
    let by: Vec<_> = plan.slots.iter().map(|slot| slot.collect_by.map(local)).collect();
    assert_eq!(by, [None, None, Some("10-15 06:55".into()), None, None]);
}

/// What is printed of an emptying goes by the longest time that fits.
#[test]
fn a_longer_emptying_ends_at_the_card_before() {
    let order = order(&order_text(""));
    let text = "anchor = \"bedtime\"\nempty_before_minutes = ";
    for (minutes, expected, by_card) in [
        ("314", "10-14 17:16", None),
        ("315", "10-14 17:15", Some(1)),
        ("400", "10-14 17:15", Some(1)),
    ] {
        let plan = by(&[(&format!("{text}120"), &format!("{text}{minutes}"))], &order);
        let slot = plan.slot("bedtime").unwrap();
        assert_eq!(slot.empty_at.map(local).unwrap(), expected, "{minutes} minutes");
        assert_eq!(slot.emptied_by_card, by_card, "{minutes} minutes");
        let short = codes(&plan).contains(&"short-interval");
        assert_eq!(short, by_card.is_some(), "{minutes} minutes");
    }
}

#[test]
fn after_waking_the_table_is_of_the_card_and_not_of_its_emptying() {
    let order = order(&order_text(""));
    let dry = "[[drink]]\nfrom = \"later.stop\"\nuntil = \"later.card\"\nrule = \"nothing\"\n\n\
               [caffeine]";
    let changes = [
        ("emptied_by = \"waking\"", "empty_before_minutes = 60"),
        ("until = \"later.card\"", "until = \"later.stop\""),
        ("[caffeine]", dry),
    ];
    let plan = by(&changes, &order);
    let rows: Vec<_> = plan.what_if.waking.iter().map(|row| local(row.then_at)).collect();
    assert_eq!((rows[0].as_str(), rows[8].as_str()), ("10-15 07:30", "10-15 09:30"));
    assert_eq!(plan.slot("later").unwrap().empty_at.map(local).unwrap(), "10-15 07:30");
}

/// The sheet says which times are not the patient's own, if anything hangs on them.
#[test]
fn a_time_that_was_not_given_is_known_where_the_protocol_leans_on_it() {
    use Anchor::{Bedtime, Dinner, Lunch, Waking};
    let all = [Lunch, Dinner, Bedtime, Waking];
    let later_caffeine =
        [("[caffeine]\nfrom  = \"lunch\"", "[caffeine]\nfrom = \"dinner\"")];
    for (why, changes, routine, expected) in [
        (
            "all are given",
            &[][..],
            "lunch = 12:00\ndinner = 18:00\nbedtime = 22:00\nwake = 06:00",
            &[][..],
        ),
        ("none is given", &[], "", &all[..]),
        ("one is not", &[], "lunch = 12:00\ndinner = 18:00\nwake = 06:00", &[Bedtime]),
        (
            "water is limited from lunch on",
            &later_caffeine,
            "dinner = 18:00",
            &[Lunch, Bedtime, Waking],
        ),
    ] {
        let order = order(&with_routine("2026-10-14", "America/Denver", routine));
        assert_eq!(by(changes, &order).assumed, expected, "{why}");
    }
    let morning = with_routine("2026-10-14", "America/Denver", "");
    let morning = planned(&morning.replace("four-card", "first-morning"));
    assert_eq!(morning.assumed, [Bedtime, Waking], "no card, and no drink, is at dinner");
}

#[test]
fn a_dose_is_moved_no_further_back_than_forward() {
    // Among the rules for doses, not those for drinks.
    let rule = "from  = \"bedtime.card\"\nuntil = \"waking\"\n";
    let back = format!("{rule}after = \"bedtime\"\n");
    let melatonin = |time: &str| {
        format!("{AGREED}\n{}", dose("melatonin", "tablet", time, "protocol"))
    };
    for (time, expected) in [("02:30", "after-card"), ("02:31", "ask")] {
        let plan = by(&[(rule, &back)], &order(&order_text(&melatonin(time))));
        let night = plan.doses.iter().find(|dose| dose.day == 1).unwrap();
        assert_eq!(night.action.word(), expected, "{time}");
    }
}
