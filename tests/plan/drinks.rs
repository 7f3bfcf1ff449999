//! What may be drunk, stretch by stretch, and the look-up table by weight.
//!
//! The amounts are common practice, no source; the units are those of NIST Handbook
//! 44, Appendix C, from memory.

use kitwright::plan::{Plan, look_up};
use kitwright::units::WeightUnit;

use super::common::{order_text, planned, protocol};
use super::{local, with_routine};

/// Each stretch as "from until rule millilitres".
fn drinks(plan: &Plan) -> Vec<String> {
    plan.drinks
        .iter()
        .map(|stretch| {
            let until = stretch.until.map_or("on".to_owned(), local);
            let amount = stretch.amount.map_or(String::new(), |a| format!(" {}", a.ml()));
            format!(
                "{} to {until} {}{amount}",
                local(stretch.from),
                stretch.allowed.word()
            )
        })
        .collect()
}

#[test]
fn each_stretch_of_the_day_has_its_rule_and_its_amount() {
    let expected = |water: &str, morning: &str| {
        [
            format!("10-14 12:30 to 10-14 15:15 water-up-to{water}"),
            "10-14 15:15 to 10-14 17:15 nothing".into(),
            "10-14 17:15 to 10-14 20:30 with-dinner".into(),
            "10-14 20:30 to 10-14 22:30 nothing".into(),
            "10-14 22:30 to 10-15 06:30 if-thirsty".into(),
            format!("10-15 06:30 to 10-15 08:30 allowance{morning}"),
            "10-15 08:30 to on normal".into(),
        ]
    };
    let order = order_text("");
    let lighter = order.replace("150 lb", "60 kg");
    let unknown = order.replace("weight = \"150 lb\"", "");
    let heavier = order.replace("150 lb", "401 lb");
    let limited = order_text("[health]\nfluid_limit = true\n");
    let pregnant = order_text("[health]\npregnant = true\n");
    for (why, text, water, morning) in [
        ("150 lb, a cup and a half", &order, " 470", " 350"),
        ("60 kg are 132 lb", &lighter, " 470", " 290"),
        ("no weight: the look-up table", &unknown, " 470", ""),
        ("outside the rule: ask", &heavier, "", ""),
        ("a limit of their own", &limited, "", ""),
        ("pregnant: ask", &pregnant, "", ""),
    ] {
        assert_eq!(drinks(&planned(text)), expected(water, morning), "{why}");
    }
}

/// Bedtime 90 minutes after dinner: there is no time for a drink with dinner, and a
/// stretch of no length is no line of the sheet.
#[test]
fn a_stretch_without_length_is_left_out() {
    let plan = planned(&with_routine(
        "2026-10-14",
        "America/Denver",
        "lunch = 18:00\ndinner = 20:00\nbedtime = 21:30\nwake = 06:00",
    ));
    assert_eq!(
        drinks(&plan),
        [
            "10-14 18:00 to 10-14 20:00 nothing",
            "10-14 20:00 to 10-14 21:30 nothing",
            "10-14 21:30 to 10-15 06:00 if-thirsty",
            "10-15 06:00 to 10-15 08:00 allowance",
            "10-15 08:00 to on normal",
        ]
    );
}

/// A cup for each 100 lb, rounded down to a quarter: 25 lb to a quarter cup, and a
/// pound is 0.45359237 kg. The rows of kilograms were computed with Python's
/// `fractions`.
#[test]
fn the_table_by_weight_has_every_weight_of_the_rule_once() {
    let rule = protocol("four-card").allowance;
    let rows = |unit| -> Vec<(i64, i64, u32)> {
        let rows = look_up(&rule, unit);
        rows.iter().map(|row| (row.from, row.until, row.amount.quarter_cups())).collect()
    };
    let mut pounds = vec![(70, 74, 2)];
    pounds.extend((3..16).map(|quarters| {
        let from = i64::from(quarters) * 25;
        (from, from + 24, quarters)
    }));
    pounds.push((400, 400, 16));
    assert_eq!(rows(WeightUnit::Pound), pounds);
    assert_eq!(
        rows(WeightUnit::Kilogram),
        [
            (32, 34, 2),
            (35, 45, 3),
            (46, 56, 4),
            (57, 68, 5),
            (69, 79, 6),
            (80, 90, 7),
            (91, 102, 8),
            (103, 113, 9),
            (114, 124, 10),
            (125, 136, 11),
            (137, 147, 12),
            (148, 158, 13),
            (159, 170, 14),
            (171, 181, 15),
        ]
    );
}
