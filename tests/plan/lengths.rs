//! What is said of evenings, nights and afternoons, at and just past their limits.
//!
//! The limits are common practice, no source; changes of clocks are those of IANA
//! 2026f.

use kitwright::plan::{Level, Plan};

use super::common::planned;
use super::with_routine;

const LENGTHS: [&str; 6] = [
    "long-interval",
    "short-interval",
    "short-sleep",
    "long-sleep",
    "long-afternoon",
    "short-afternoon",
];

fn about(plan: &Plan, codes: &[&str]) -> Vec<String> {
    plan.findings
        .iter()
        .filter(|finding| codes.contains(&finding.code))
        .inspect(|finding| assert_ne!(finding.level, Level::Hold))
        .map(|finding| finding.text.clone())
        .collect()
}

#[test]
fn a_limit_is_kept_to_the_minute_and_what_is_past_it_is_said() {
    let long_afternoon = "lunch is 10 h 1 min before dinner: check the times, as no \
                          caffeine and little water are allowed from lunch on";
    for (why, routine, expected) in [
        (
            "ten hours of evening, and a night of eight",
            "lunch = 08:00\ndinner = 12:30\nbedtime = 22:30\nwake = 06:30",
            "",
        ),
        (
            "a minute more",
            "lunch = 08:00\ndinner = 12:29\nbedtime = 22:30\nwake = 06:30",
            "bedtime is 10 h 1 min after dinner, more than 10 h",
        ),
        (
            "three hours of sleep",
            "lunch = 12:00\ndinner = 18:00\nbedtime = 23:00\nwake = 02:00",
            "",
        ),
        (
            "a minute less",
            "lunch = 12:00\ndinner = 18:00\nbedtime = 23:00\nwake = 01:59",
            "the night is 2 h 59 min long, less than 3 h",
        ),
        (
            "less than an hour",
            "lunch = 12:00\ndinner = 18:00\nbedtime = 23:00\nwake = 23:45",
            "the night is 45 min long, less than 3 h",
        ),
        (
            "fourteen hours",
            "lunch = 12:00\ndinner = 17:00\nbedtime = 20:00\nwake = 10:00",
            "",
        ),
        (
            "a minute more of sleep",
            "lunch = 12:00\ndinner = 17:00\nbedtime = 20:00\nwake = 10:01",
            "the night is 14 h 1 min long, more than 14 h",
        ),
        (
            "a lunch ten hours before dinner",
            "lunch = 08:00\ndinner = 18:00\nbedtime = 22:30\nwake = 06:30",
            "",
        ),
        (
            "a minute more of afternoon",
            "lunch = 07:59\ndinner = 18:00\nbedtime = 22:30\nwake = 06:30",
            long_afternoon,
        ),
        (
            "a lunch just on waking",
            "lunch = 10:00\ndinner = 18:00\nbedtime = 22:30\nwake = 10:00",
            "",
        ),
        (
            "a lunch before waking",
            "lunch = 09:59\ndinner = 18:00\nbedtime = 22:30\nwake = 10:00",
            "lunch is 8 h 1 min before dinner: check the times, as no caffeine and \
             little water are allowed from lunch on",
        ),
        (
            "a lunch just before nothing is drunk",
            "lunch = 15:59\ndinner = 18:00\nbedtime = 22:30\nwake = 06:30",
            "",
        ),
        (
            "a lunch when nothing is drunk",
            "lunch = 16:00\ndinner = 18:00\nbedtime = 22:30\nwake = 06:30",
            "lunch is 2 h before dinner: check the times, as nothing is drunk in the 2 h \
             before it",
        ),
        (
            "a lunch at the time of dinner is that of the day before",
            "lunch = 18:00\ndinner = 18:00\nbedtime = 22:30\nwake = 06:30",
            "lunch is 24 h before dinner: check the times, as no caffeine and little \
             water are allowed from lunch on",
        ),
        (
            "bedtime a minute more than two hours after dinner",
            "lunch = 12:00\ndinner = 20:29\nbedtime = 22:30\nwake = 06:30",
            "",
        ),
        (
            "two hours between the cards",
            "lunch = 12:00\ndinner = 20:30\nbedtime = 22:30\nwake = 06:30",
            "bedtime comes 120 minutes after the card before it, no more than 120: that \
             card is the emptying, and nothing is drunk in between",
        ),
    ] {
        let plan = planned(&with_routine("2026-10-14", "America/Denver", routine));
        assert_eq!(about(&plan, &LENGTHS).join("; "), expected, "{why}");
    }
}

#[test]
fn a_change_of_the_clocks_during_the_collection_is_said() {
    for (start, zone, lunch, wake, expected) in [
        (
            "2026-10-31",
            "America/New_York",
            "12:30",
            "06:30",
            "the clocks go back 60 minutes at 2026-11-01 02:00, during the collection",
        ),
        (
            "2027-03-13",
            "America/New_York",
            "12:30",
            "06:30",
            "the clocks go forward 60 minutes at 2027-03-14 02:00, during the collection",
        ),
        (
            "2026-10-03",
            "Australia/Lord_Howe",
            "12:30",
            "06:30",
            "the clocks go forward 30 minutes at 2026-10-04 02:00, during the collection",
        ),
        // Card 4 is collected two hours after waking: the change is at 2:00.
        (
            "2026-10-31",
            "America/New_York",
            "12:30",
            "00:00",
            "the clocks go back 60 minutes at 2026-11-01 02:00, during the collection",
        ),
        ("2026-10-31", "America/New_York", "12:30", "23:59", ""),
        ("2026-11-01", "America/New_York", "12:30", "06:30", ""),
        ("2026-10-14", "America/New_York", "12:30", "06:30", ""),
    ] {
        let routine =
            format!("lunch = {lunch}\ndinner = 17:00\nbedtime = 20:30\nwake = {wake}");
        let plan = planned(&with_routine(start, zone, &routine));
        let found = about(&plan, &["clock-change"]).join("; ");
        assert_eq!(found, expected, "{zone} {start}");
        let later = about(&plan, &["clock-change-later"]);
        assert_eq!(
            !later.is_empty(),
            (start, wake) == ("2026-10-31", "23:59"),
            "{start}"
        );
    }
}

/// Where cards are on one side of the night only, but drinks are limited in it.
#[test]
fn of_a_day_that_the_cards_do_not_span_the_night_alone_is_told() {
    let routine = "lunch = 02:00\ndinner = 12:00\nbedtime = 23:30\nwake = 00:15";
    let text = with_routine("2026-10-14", "America/Denver", routine);
    assert_eq!(about(&planned(&text), &LENGTHS).len(), 2);
    let morning = planned(&text.replace("four-card", "first-morning"));
    assert_eq!(about(&morning, &LENGTHS), ["the night is 45 min long, less than 3 h"]);
}
