//! The calendar of a plan (RFC 5545): its zone with each change, and an event with an
//! alarm for each moment. `tests/outside/calendars.py` has others read it.

use kitwright::calendar::calendar;
use kitwright::words::Words;

use chrono::NaiveTime;

use super::common::{AGREED, lab, order, order_text, protocol, today};
use super::{dose, with_routine};

/// The content lines of the calendar, unfolded (RFC 5545, section 3.1).
fn lines(text: &str) -> Vec<String> {
    let order = order(text);
    let plan = kitwright::plan::plan(&order, &protocol("four-card"), &lab().mail);
    let words = Words::load("en").unwrap();
    let text = calendar(&order, &plan, &words, today().and_time(NaiveTime::MIN)).unwrap();
    let text = text.strip_suffix("\r\n").unwrap().replace("\r\n ", "");
    text.split("\r\n").map(str::to_owned).collect()
}

/// Each event as its local start and what it says.
fn events(text: &str) -> Vec<String> {
    let lines = lines(text);
    let starts = lines.iter().filter_map(|line| line.strip_prefix("DTSTART;"));
    let titles = lines.iter().filter_map(|line| line.strip_prefix("SUMMARY:"));
    let time = |start: &str| start.split_once(':').unwrap().1.to_owned();
    starts.zip(titles).map(|(start, title)| format!("{} {title}", time(start))).collect()
}

#[test]
fn there_is_an_event_for_each_moment_on_which_something_is_done() {
    let gel = dose("estradiol", "gel", "07:30", "protocol");
    let held = dose("melatonin", "tablet", "21:00", "ask");
    let text = order_text(&format!("{AGREED}\n{gel}\n{held}"));
    assert_eq!(
        events(&text),
        [
            "20261014T123000 Stop caffeine now.",
            "20261014T151500 Empty your bladder in the toilet. Then drink nothing until \
             card 1 is done.",
            "20261014T171500 Card 1.",
            "20261014T203000 Empty your bladder in the toilet. Then drink nothing until \
             card 2 is done.",
            "20261014T223000 Card 2.",
            "20261015T063000 Card 3.",
            "20261015T073000 Wait with your estradiol (gel) until card 4 is done.",
            // A comma in a text is escaped (RFC 5545, section 3.3.11).
            "20261015T083000 Card 4. Do it 2 hours after you really woke up. Then take your \
             7:30 am estradiol (gel)\\, if you have not taken it yet.",
            "20261016T063000 Check that every card is dry. Then pack the cards. Post the kit \
             today.",
        ]
    );
}

/// 31 October 2026 is a Saturday, the day of packing a Monday; a day later there is none
/// before Wednesday, Veterans Day (5 U.S.C. 6103) being the day between.
#[test]
fn the_post_has_an_event_of_its_own_on_another_day_than_packing() {
    let last = |start| {
        let found = events(&with_routine(
            start,
            "America/Denver",
            "dinner = 18:00\nwake = 18:30",
        ));
        found[found.len() - 2..].to_vec()
    };
    assert_eq!(
        last("2026-11-08"),
        [
            "20261110T183000 Check that every card is dry. Then pack the cards.",
            "20261112T120000 Post the kit today.",
        ]
    );
}

#[test]
fn a_card_that_is_the_emptying_has_one_event() {
    let found = events(&with_routine(
        "2026-10-14",
        "America/Denver",
        "dinner = 20:00\nbedtime = 21:30\nwake = 06:00",
    ));
    assert_eq!(found.iter().filter(|event| event.contains("Empty")).count(), 1);
    assert_eq!(
        found[2],
        "20261014T200000 Card 1. Card 1 is also the time to empty your bladder. Drink \
         nothing until card 2 is done."
    );
    assert_eq!(found[3], "20261014T213000 Card 2.");
}

/// An event is ten minutes long, and its alarm rings five minutes before it. Common
/// practice, no source; the properties are those of RFC 5545, section 3.6.
#[test]
fn each_event_has_what_rfc_5545_asks_for_and_an_alarm_five_minutes_before() {
    let lines = lines(&order_text(""));
    let first = lines.iter().position(|line| line == "BEGIN:VEVENT").unwrap();
    assert_eq!(
        lines[first..first + 13],
        [
            "BEGIN:VEVENT",
            "UID:HB-20417-caffeine@kitwright.invalid",
            "DTSTAMP:20260901T000000Z",
            "DTSTART;TZID=America/Denver:20261014T123000",
            "DURATION:PT10M",
            "SUMMARY:Stop caffeine now.",
            "DESCRIPTION:Marisol HB-20417",
            "BEGIN:VALARM",
            "ACTION:DISPLAY",
            "DESCRIPTION:Stop caffeine now.",
            "TRIGGER:-PT5M",
            "END:VALARM",
            "END:VEVENT",
        ]
    );
    let ids: Vec<&String> =
        lines.iter().filter(|line| line.starts_with("UID:")).collect();
    // The same for the same thing, so that another time moves its event.
    let names = [
        "caffeine", "empty-1", "card-1", "empty-2", "card-2", "card-3", "card-4", "pack",
    ];
    let expected = names.map(|name| format!("UID:HB-20417-{name}@kitwright.invalid"));
    assert_eq!(ids, expected.iter().collect::<Vec<_>>());
}

/// Offsets and changes of IANA 2026f: New York by the rules of the United States (second
/// Sunday of March, first of November, 02:00), Newfoundland the same three and a half
/// hours from UTC, Lord Howe by half an hour (first Sundays of April and October, 02:00),
/// Nepal without any.
#[test]
fn the_zone_is_there_from_a_year_before_to_a_year_after() {
    let zone = |zone: &str| -> Vec<String> {
        let lines = lines(&with_routine(
            "2026-10-31",
            zone,
            "lunch = 12:30\ndinner = 17:00\nbedtime = 22:30\nwake = 06:30",
        ));
        let names = ["TZID", "DTSTART", "TZOFFSETFROM", "TZOFFSETTO", "TZNAME"];
        let first = lines.iter().position(|line| line == "BEGIN:VTIMEZONE").unwrap();
        let last = lines.iter().position(|line| line == "END:VTIMEZONE").unwrap();
        let mut rows = Vec::new();
        for line in &lines[first + 1..last] {
            let (name, value) = line.split_once(':').unwrap();
            match name {
                "BEGIN" => rows.push(value.to_owned()),
                "END" => assert!(rows.last().unwrap().starts_with(value), "{lines:?}"),
                "TZID" => assert_eq!(value, zone),
                _ => {
                    assert!(names.contains(&name), "{line}");
                    rows.last_mut().unwrap().push_str(&format!(" {value}"));
                }
            }
        }
        rows
    };
    assert_eq!(
        zone("America/New_York"),
        [
            "DAYLIGHT 20251030T123000 -0400 -0400 EDT",
            "STANDARD 20251102T020000 -0400 -0500 EST",
            "DAYLIGHT 20260308T020000 -0500 -0400 EDT",
            "STANDARD 20261101T020000 -0400 -0500 EST",
            "DAYLIGHT 20270314T020000 -0500 -0400 EDT",
        ]
    );
    assert_eq!(
        zone("America/St_Johns"),
        [
            "DAYLIGHT 20251030T123000 -0230 -0230 NDT",
            "STANDARD 20251102T020000 -0230 -0330 NST",
            "DAYLIGHT 20260308T020000 -0330 -0230 NDT",
            "STANDARD 20261101T020000 -0230 -0330 NST",
            "DAYLIGHT 20270314T020000 -0330 -0230 NDT",
        ]
    );
    assert_eq!(
        zone("Australia/Lord_Howe"),
        [
            "DAYLIGHT 20251030T123000 +1100 +1100 +11",
            "STANDARD 20260405T020000 +1100 +1030 +1030",
            "DAYLIGHT 20261004T020000 +1030 +1100 +11",
            "STANDARD 20270404T020000 +1100 +1030 +1030",
            "DAYLIGHT 20271003T020000 +1030 +1100 +11",
        ]
    );
    // The offset of Greenwich is +0000, and -0000 is wrong (RFC 5545, section 3.3.14).
    assert_eq!(
        zone("Europe/London"),
        [
            "STANDARD 20251030T123000 +0000 +0000 GMT",
            "DAYLIGHT 20260329T010000 +0000 +0100 BST",
            "STANDARD 20261025T020000 +0100 +0000 GMT",
            "DAYLIGHT 20270328T010000 +0000 +0100 BST",
            "STANDARD 20271031T020000 +0100 +0000 GMT",
        ]
    );
    assert_eq!(zone("Asia/Kathmandu"), ["STANDARD 20251030T123000 +0545 +0545 +0545"]);
}

/// Of a time that the zone has twice, its name stands for the first (RFC 5545, section
/// 3.3.5): the second is written in UTC.
#[test]
fn the_second_of_two_times_is_no_hour_early() {
    let wake = |wake: &str| {
        let routine = format!("dinner = 18:00\nbedtime = 21:00\nwake = {wake}");
        let lines = lines(&with_routine("2026-10-31", "America/New_York", &routine));
        let card =
            lines.iter().position(|line| line.starts_with("SUMMARY:Card 4.")).unwrap();
        lines[card - 2].clone()
    };
    assert_eq!(wake("00:30"), "DTSTART:20261101T063000Z");
    assert_eq!(wake("23:30"), "DTSTART;TZID=America/New_York:20261101T013000");
}
