//! The tables for a day that goes differently: quarters of an hour around the plan.
//!
//! The rules are common practice, no source.

use kitwright::plan::{Shifted, WhatIf};

use super::common::{order_text, planned};
use super::{local, with_routine};

/// Each row as "if then", the planned one with a star.
fn rows(table: &[Shifted]) -> Vec<String> {
    table
        .iter()
        .map(|row| {
            let star = if row.planned { "*" } else { "" };
            format!("{} {}{star}", local(row.if_at), local(row.then_at))
        })
        .collect()
}

#[test]
fn each_table_has_an_hour_to_each_side_of_the_plan() {
    let plan = planned(&order_text(""));
    assert_eq!(
        rows(&plan.what_if.dinner),
        [
            "10-14 16:15 10-14 14:15",
            "10-14 16:30 10-14 14:30",
            "10-14 16:45 10-14 14:45",
            "10-14 17:00 10-14 15:00",
            "10-14 17:15 10-14 15:15*",
            "10-14 17:30 10-14 15:30",
            "10-14 17:45 10-14 15:45",
            "10-14 18:00 10-14 16:00",
            "10-14 18:15 10-14 16:15",
        ],
        "empty the bladder two hours before dinner"
    );
    assert_eq!(
        rows(&plan.what_if.bedtime),
        [
            "10-14 21:30 10-14 19:30",
            "10-14 21:45 10-14 19:45",
            "10-14 22:00 10-14 20:00",
            "10-14 22:15 10-14 20:15",
            "10-14 22:30 10-14 20:30*",
            "10-14 22:45 10-14 20:45",
            "10-14 23:00 10-14 21:00",
            "10-14 23:15 10-14 21:15",
            "10-14 23:30 10-14 21:30",
        ],
        "empty the bladder two hours before bedtime"
    );
    assert_eq!(
        rows(&plan.what_if.waking),
        [
            "10-15 05:30 10-15 07:30",
            "10-15 05:45 10-15 07:45",
            "10-15 06:00 10-15 08:00",
            "10-15 06:15 10-15 08:15",
            "10-15 06:30 10-15 08:30*",
            "10-15 06:45 10-15 08:45",
            "10-15 07:00 10-15 09:00",
            "10-15 07:15 10-15 09:15",
            "10-15 07:30 10-15 09:30",
        ],
        "card 4 two hours after waking"
    );
}

/// New York's clocks go back from 02:00 to 01:00 on 1 November 2026 (IANA 2026f).
#[test]
fn the_tables_count_elapsed_time_over_a_change_of_the_clocks() {
    let plan = planned(&with_routine(
        "2026-10-31",
        "America/New_York",
        "dinner = 17:00\nbedtime = 21:00\nwake = 00:30",
    ));
    let found = rows(&plan.what_if.waking);
    assert_eq!(found[0], "10-31 23:30 11-01 01:30", "an hour before the first 01:30");
    assert_eq!(found[4], "11-01 00:30 11-01 01:30*");
    assert_eq!(found[8], "11-01 01:30 11-01 02:30");
    assert_ne!(plan.what_if.waking[0].then_at, plan.what_if.waking[4].then_at);
}

/// Dinner at 20:00 and bedtime at 21:30: card 1 is the emptying, whenever bedtime is
/// less than two hours after it.
#[test]
fn a_bedtime_soon_after_dinner_is_never_emptied_for_before_card_1() {
    let plan = planned(&with_routine(
        "2026-10-14",
        "America/Denver",
        "dinner = 20:00\nbedtime = 21:30\nwake = 06:00",
    ));
    assert_eq!(
        rows(&plan.what_if.bedtime),
        [
            "10-14 20:30 10-14 20:00",
            "10-14 20:45 10-14 20:00",
            "10-14 21:00 10-14 20:00",
            "10-14 21:15 10-14 20:00",
            "10-14 21:30 10-14 20:00*",
            "10-14 21:45 10-14 20:00",
            "10-14 22:00 10-14 20:00",
            "10-14 22:15 10-14 20:15",
            "10-14 22:30 10-14 20:30",
        ]
    );
}

#[test]
fn there_are_tables_as_long_as_one_of_them_has_rows() {
    let whole = planned(&order_text("")).what_if;
    let none = WhatIf::default;
    assert!(none().is_empty());
    for (why, table) in [
        ("dinner", WhatIf { dinner: whole.dinner.clone(), ..none() }),
        ("bedtime", WhatIf { bedtime: whole.bedtime.clone(), ..none() }),
        ("waking", WhatIf { waking: whole.waking.clone(), ..none() }),
        ("all", whole),
    ] {
        assert!(!table.is_empty(), "{why}");
    }
    let morning = planned(&order_text("").replace("four-card", "first-morning"));
    assert!(morning.what_if.is_empty(), "a card at once on waking hangs on nothing");
}

#[test]
fn no_row_comes_to_the_cards_before_and_after_it() {
    let table = |dinner: &str, bedtime: &str| {
        let routine = format!("dinner = {dinner}\nbedtime = {bedtime}\nwake = 06:30");
        planned(&with_routine("2026-10-14", "America/Denver", &routine)).what_if
    };
    // Card 1 is the emptying, so bed comes after it, and it before bed.
    let short = table("20:00", "20:45");
    assert_eq!(rows(&short.bedtime)[0], "10-14 20:15 10-14 20:00");
    assert_eq!(rows(&short.dinner).last().unwrap(), "10-14 20:30 10-14 18:30");
    // The bladder is emptied for card 2 at 18:15, and from then on nothing is drunk.
    let close = table("18:00", "20:15");
    assert_eq!(rows(&close.dinner).last().unwrap(), "10-14 18:00 10-14 16:00*");
    assert_eq!(rows(&close.bedtime)[0], "10-14 19:15 10-14 18:00");
}
