//! The choice of a day: which dates suit, which do not, and the date that is
//! written into an order that asks for the first.

mod common;

use std::path::Path;

use chrono::{Days, NaiveDate, TimeDelta};
use common::{LAB, date, order_text, source};
use kitwright::days::{Day, HORIZON_DAYS, Search, findings, with_start};
use kitwright::fault::{Fault, Source};
use kitwright::lab::{Lab, read_lab};
use kitwright::medicine::Medicines;
use kitwright::order::{Names, Order, read_order};
use kitwright::plan::plan;
use kitwright::proof::attached_order;
use kitwright::words::languages;
use proptest::prelude::*;

const WISH: &str = "start = \"first suitable\"";

/// An order that asks for a day, with `extra` after its routine.
fn asking(zone: &str, extra: &str) -> String {
    order_text(extra).replace("start = 2026-10-14", WISH).replace("America/Denver", zone)
}

fn lab_with(days: &str) -> Lab {
    let text = format!("{LAB}\n[days]\n{days}\n");
    read_lab(&Source::new("lab.toml", text), &languages()).unwrap()
}

fn read_on(text: &str, lab: &Lab, today: &str) -> Result<Order, Vec<Fault>> {
    read_order(&source(text), lab, Medicines::builtin(), &Names::builtin(), date(today))
}

#[track_caller]
fn order_on(text: &str, lab: &Lab, today: &str) -> Order {
    read_on(text, lab, today).unwrap_or_else(|faults| panic!("{}", plain(&faults)))
}

fn plain(faults: &[Fault]) -> String {
    faults.iter().map(|fault| format!("{}\n", fault.plain())).collect()
}

/// What the rules say of `on`, looking from `today`.
#[track_caller]
fn day(text: &str, lab: &Lab, today: &str, on: &str) -> Day {
    let order = order_on(text, lab, today);
    let protocol = common::protocol(&order.protocol.value);
    let search = Search::new(&order, &protocol, lab, date(today))
        .unwrap_or_else(|faults| panic!("{}", plain(&faults)));
    search.day(date(on))
}

fn first(text: &str, lab: &Lab, today: &str) -> Result<NaiveDate, Vec<Fault>> {
    let order = read_on(text, lab, today)?;
    let protocol = common::protocol(&order.protocol.value);
    let search = Search::new(&order, &protocol, lab, date(today))?;
    let asked = order.first_suitable.as_ref().expect("the order asks for a day");
    search.first(asked).map_err(|fault| vec![fault])
}

fn codes(day: &Day) -> Vec<&'static str> {
    day.against.iter().map(|remark| remark.code).collect()
}

fn noted(day: &Day) -> Vec<&'static str> {
    day.notes.iter().map(|remark| remark.code).collect()
}

fn cycle(first_day: &str, rest: &str) -> String {
    format!("[cycle]\nfirst_day = {first_day}\n{rest}\n")
}

#[test]
fn the_day_of_card_1_is_the_cycle_length_less_seven_counted_from_the_first_day() {
    // Mid-luteal: day 21 of 28 and day 28 of 35, summaries of UK practice that
    // name NICE CG156; the first day of bleeding is day 1. The dates are counted
    // by hand from those two statements. The zone has no clock change.
    for (why, first_day, length, expected) in [
        ("day 21 of 28, not the day after it", "2026-12-01", 28, "2026-12-21"),
        ("day 28 of 35", "2026-12-01", 35, "2026-12-28"),
        ("day 14 of 21", "2026-12-01", 21, "2026-12-14"),
        ("over the end of a February", "2027-02-10", 30, "2027-03-04"),
        ("over a leap day", "2028-02-10", 30, "2028-03-03"),
        ("over the new year", "2027-12-20", 28, "2028-01-09"),
        ("the shortest cycle that is taken", "2026-12-01", 15, "2026-12-08"),
        ("the longest", "2026-12-01", 60, "2027-01-22"),
    ] {
        let text =
            asking("America/Phoenix", &cycle(first_day, &format!("length = {length}")));
        let found = first(&text, &lab_with(""), first_day);
        assert_eq!(found, Ok(date(expected)), "{why}");
        let on = date(expected);
        for beside in [on - Days::new(1), on + Days::new(1)] {
            let day = day(&text, &lab_with(""), first_day, &beside.to_string());
            assert_eq!(codes(&day), ["cycle"], "{why}: {beside}");
        }
    }
}

#[test]
fn later_cycles_follow_by_the_length_and_say_so() {
    let text = asking("America/Phoenix", &cycle("2026-12-01", "length = 28"));
    let lab = lab_with("");
    // From the evening of the first day on, the next is 28 days later.
    assert_eq!(first(&text, &lab, "2026-12-20"), Ok(date("2026-12-21")));
    assert_eq!(first(&text, &lab, "2026-12-21"), Ok(date("2027-01-18")));
    let soon = day(&text, &lab, "2026-12-02", "2026-12-21");
    assert!(soon.suits() && noted(&soon).is_empty(), "{soon:?}");
    let later = day(&text, &lab, "2026-12-02", "2027-02-15");
    assert!(later.suits(), "{later:?}");
    assert_eq!(noted(&later), ["cycle-ahead"]);
    assert!(later.notes[0].text.contains("2 periods"), "{later:?}");
    // 300 days after the first: counted no further.
    let far = day(&text, &lab, "2026-12-02", "2027-12-01");
    assert_eq!(codes(&far), ["cycle"]);
}

#[test]
fn an_irregular_cycle_gives_no_day_and_sends_the_reader_to_the_provider() {
    let lab = lab_with("");
    for (why, rest) in [
        ("the provider says so", "length = 28\nregular = false"),
        ("without a length", "regular = false"),
        // 26 to 34 days: window of days 19 to 27.
        ("eight days apart", "shortest = 26\nlongest = 34"),
        ("a usual length does not help", "length = 28\nshortest = 26\nlongest = 34"),
        ("not sure to the day", "shortest = 28\nlongest = 29"),
    ] {
        let text = asking("America/Phoenix", &cycle("2026-12-01", rest));
        let faults = first(&text, &lab, "2026-12-02").unwrap_err();
        assert_eq!(faults.len(), 1, "{why}: {}", plain(&faults));
        assert!(faults[0].what.starts_with("no day can be counted"), "{why}");
        assert!(faults[0].help.contains("ask the provider"), "{why}");
    }
    for rest in
        ["length = 28\nshortest = 26\nlongest = 33", "shortest = 28\nlongest = 28"]
    {
        let text = asking("America/Phoenix", &cycle("2026-12-01", rest));
        assert_eq!(first(&text, &lab, "2026-12-02"), Ok(date("2026-12-21")), "{rest}");
    }
}

#[test]
fn a_tolerance_takes_in_only_days_that_suit_every_length() {
    let rest = "shortest = 28\nlongest = 30";
    let text = asking("America/Phoenix", &cycle("2026-12-01", rest));
    // 28 days give the 21st, 30 days the 23rd; one day either way of both is
    // the 22nd.
    let lab = lab_with("cycle_tolerance_days = 1");
    for (on, suits) in
        [("2026-12-21", false), ("2026-12-22", true), ("2026-12-23", false)]
    {
        assert_eq!(day(&text, &lab, "2026-12-02", on).suits(), suits, "{on}");
    }
    // A period on, the lengths are four days apart: no day is sure.
    assert!(first(&text, &lab, "2026-12-22").is_err());
    let text = asking("America/Phoenix", &cycle("2026-12-01", "length = 28"));
    for (on, suits) in [
        ("2026-12-19", false),
        ("2026-12-20", true),
        ("2026-12-22", true),
        ("2026-12-23", false),
    ] {
        assert_eq!(day(&text, &lab, "2026-12-02", on).suits(), suits, "{on}");
    }
}

#[test]
fn a_laboratory_sets_the_days_before_the_period() {
    let text = asking("America/Phoenix", &cycle("2026-12-01", "length = 28"));
    let lab = lab_with("days_before_period = 9");
    assert_eq!(first(&text, &lab, "2026-12-02"), Ok(date("2026-12-19")));
}

#[test]
fn a_period_of_more_than_120_days_ago_is_no_ground_to_count_on() {
    let text = asking("America/Phoenix", &cycle("2026-12-01", "length = 28"));
    // 120 and 121 days after 1 December 2026.
    assert!(first(&text, &lab_with(""), "2027-03-31").is_ok());
    let faults = first(&text, &lab_with(""), "2027-04-01").unwrap_err();
    assert!(faults[0].what.contains("121 days ago, more than 120"), "{}", plain(&faults));
}

#[test]
fn a_change_of_the_clocks_before_packing_does_not_suit() {
    // The changes of IANA tzdata 2026f, whose instants tests/outside/zone_vectors.py
    // checks against Python's zoneinfo. With lunch at 12:30 and waking at 06:30
    // a change at night falls to the two days before it.
    for (zone, window, against) in [
        ("America/New_York", "2026-10-28", vec!["2026-10-30", "2026-10-31"]),
        ("America/New_York", "2027-03-10", vec!["2027-03-12", "2027-03-13"]),
        ("America/Denver", "2026-10-28", vec!["2026-10-30", "2026-10-31"]),
        ("America/Denver", "2027-03-10", vec!["2027-03-12", "2027-03-13"]),
        ("Australia/Lord_Howe", "2026-09-30", vec!["2026-10-02", "2026-10-03"]),
        ("Africa/Cairo", "2027-04-26", vec!["2027-04-28", "2027-04-29"]),
        ("Africa/Casablanca", "2026-09-16", vec!["2026-09-18", "2026-09-19"]),
        // No change in autumn 2026: the rules of the year before had one.
        ("America/Vancouver", "2026-10-28", vec![]),
        ("America/Edmonton", "2026-10-28", vec![]),
        ("America/Winnipeg", "2026-10-28", vec![]),
        ("America/Havana", "2026-10-28", vec![]),
        ("America/Phoenix", "2026-10-28", vec![]),
    ] {
        let text = asking(zone, "");
        let lab = lab_with("");
        let order = order_on(&text, &lab, "2026-09-01");
        let protocol = common::protocol("four-card");
        let search = Search::new(&order, &protocol, &lab, date("2026-09-01")).unwrap();
        let found: Vec<String> = search
            .days(date(window), 6)
            .iter()
            .filter(|day| !day.suits())
            .inspect(|day| assert_eq!(codes(day), ["clock-change"], "{zone}"))
            .map(|day| day.date.to_string())
            .collect();
        assert_eq!(found, against, "{zone} from {window}");
    }
}

#[test]
fn a_long_wait_for_the_post_counts_only_where_the_laboratory_limits_it() {
    // Holidays on their own dates: 5 U.S.C. 6103(a). No post on Sundays and on
    // the Monday after a Sunday holiday: our reading, no source.
    for (why, on, wait) in [
        ("an ordinary day", "2026-10-14", 0),
        ("packed on a Sunday", "2026-10-16", 1),
        ("packed on Independence Day, a Saturday", "2026-07-02", 2),
        ("packed on Saturday, holiday on Sunday", "2027-07-01", 0),
        ("packed on a Sunday holiday", "2027-07-02", 2),
        ("packed on Thanksgiving", "2026-11-24", 1),
    ] {
        let text = asking("America/Phoenix", "");
        for most in 0..4 {
            let lab = lab_with(&format!("longest_wait_days = {most}"));
            let day = day(&text, &lab, "2026-06-01", on);
            let expected: &[&str] = if wait > most { &["post"] } else { &[] };
            assert_eq!(codes(&day), expected, "{why}, at most {most}");
        }
        assert!(day(&text, &lab_with(""), "2026-06-01", on).suits(), "{why}");
    }
}

#[test]
fn a_friday_before_a_saturday_holiday_is_only_to_be_looked_at() {
    // Packed and posted on Friday 3 July 2026.
    let text = asking("America/Phoenix", "");
    let day = day(&text, &lab_with(""), "2026-06-01", "2026-07-01");
    assert!(day.suits());
    assert_eq!(noted(&day), ["post-check"]);
}

#[test]
fn a_card_on_a_public_holiday_counts_only_where_the_laboratory_says_so() {
    let text = asking("America/Phoenix", "");
    let strict = lab_with("holidays = \"us-federal\"");
    for (on, suits) in [
        ("2026-11-24", true),
        ("2026-11-25", false), // cards 3 and 4 on Thanksgiving
        ("2026-11-26", false),
        ("2026-11-27", true),
        ("2026-07-02", true), // the day observed is no holiday here
        ("2026-07-03", false),
    ] {
        assert_eq!(day(&text, &strict, "2026-06-01", on).suits(), suits, "{on}");
        assert!(day(&text, &lab_with(""), "2026-06-01", on).suits(), "{on}");
    }
}

#[test]
fn the_cards_are_posted_on_or_before_the_day_they_expire() {
    let lab = lab_with("cards_expire = 2026-10-16");
    let text = asking("America/Phoenix", "");
    // Card 1 on the 14th is posted on the 16th.
    assert!(day(&text, &lab, "2026-09-01", "2026-10-14").suits());
    assert_eq!(codes(&day(&text, &lab, "2026-09-01", "2026-10-15")), ["expiry"]);
    // The order's own date goes before the laboratory's.
    let own = asking("America/Phoenix", "[day]\ncards_expire = 2026-10-17\n");
    assert!(day(&own, &lab, "2026-09-01", "2026-10-15").suits());
    assert_eq!(codes(&day(&own, &lab, "2026-09-01", "2026-10-16")), ["expiry"]);
}

#[test]
fn the_day_lies_after_today_and_arrival_and_within_the_providers_dates() {
    let limits = "[day]\nkit_arrives = 2026-10-10\nearliest = 2026-10-12\n\
                  latest = 2026-10-20\n";
    let text = asking("America/Phoenix", limits);
    for (on, against) in [
        ("2026-09-30", vec!["past", "kit", "earliest"]),
        ("2026-10-01", vec!["past", "kit", "earliest"]),
        ("2026-10-10", vec!["kit", "earliest"]),
        ("2026-10-11", vec!["earliest"]),
        ("2026-10-12", vec![]),
        ("2026-10-20", vec![]),
        ("2026-10-21", vec!["latest"]),
    ] {
        assert_eq!(codes(&day(&text, &lab_with(""), "2026-10-01", on)), against, "{on}");
    }
    let bare = asking("America/Phoenix", "");
    assert_eq!(first(&bare, &lab_with(""), "2026-10-01"), Ok(date("2026-10-02")));
    let arrives = asking("America/Phoenix", "[day]\nkit_arrives = 2026-10-10\n");
    assert_eq!(first(&arrives, &lab_with(""), "2026-10-01"), Ok(date("2026-10-11")));
}

#[test]
fn east_of_utc_a_day_that_has_begun_there_is_no_day_ahead() {
    // 12:30 on the 2nd is 23:30 of the 1st in UTC at +13, and 00:30 of the 2nd
    // at +12: Auckland in and out of daylight saving.
    let text = asking("Pacific/Auckland", "");
    let lab = lab_with("");
    assert_eq!(codes(&day(&text, &lab, "2026-12-01", "2026-12-02")), ["past"]);
    assert_eq!(first(&text, &lab, "2026-12-01"), Ok(date("2026-12-03")));
    assert_eq!(first(&text, &lab, "2026-08-01"), Ok(date("2026-08-02")));
}

#[test]
fn a_day_on_which_a_hormone_patch_is_changed_does_not_suit() {
    let patch = |medicine: &str, timing: &str| {
        asking(
            "America/Phoenix",
            &format!(
                "{}[[dose]]\nmedicine = \"{medicine}\"\nform = \"patch\"\n\
                 times = [08:00]\ntiming = \"{timing}\"\nchange_on = 2026-10-15\n",
                common::AGREED
            ),
        )
    };
    for timing in ["protocol", "unchanged", "ask"] {
        for (on, against) in [
            ("2026-10-12", vec![]),
            // The day after is that of the make-ups.
            ("2026-10-13", vec!["patch"]),
            ("2026-10-14", vec!["patch"]),
            ("2026-10-15", vec!["patch"]),
        ] {
            let text = patch("estradiol", timing);
            let day = day(&text, &lab_with(""), "2026-10-01", on);
            assert_eq!(codes(&day), against, "{timing} {on}");
        }
    }
    let after =
        day(&patch("estradiol", "protocol"), &lab_with(""), "2026-10-01", "2026-10-16");
    assert!(after.suits());
    assert_eq!(noted(&after), ["patch-unknown"]);
    for (medicine, against) in [("warfarin", vec![]), ("zzunknown", vec!["patch"])] {
        let text = patch(medicine, "protocol");
        let day = day(&text, &lab_with(""), "2026-10-01", "2026-10-15");
        assert_eq!(codes(&day), against, "{medicine}");
    }
}

#[test]
fn a_day_before_the_patient_turns_18_is_marked() {
    let text = asking("America/Phoenix", "").replace("1984-03-09", "2008-10-14");
    let lab = lab_with("");
    assert_eq!(noted(&day(&text, &lab, "2026-10-01", "2026-10-13")), ["under-18"]);
    assert!(noted(&day(&text, &lab, "2026-10-01", "2026-10-14")).is_empty());
}

#[test]
fn years_that_cannot_be_planned_do_not_suit_and_do_not_panic() {
    let text = asking("America/Phoenix", "");
    let lab = lab_with("");
    let order = order_on(&text, &lab, "2026-10-01");
    let protocol = common::protocol("four-card");
    let search = Search::new(&order, &protocol, &lab, date("2026-10-01")).unwrap();
    let last = search.days(date("2199-12-31"), 2);
    assert!(last[0].suits());
    assert_eq!(codes(&last[1]), ["year"]);
    for on in [NaiveDate::MIN, NaiveDate::MAX, date("9999-12-31")] {
        assert!(!search.day(on).suits());
        search.days(on, 3);
    }
    let asked = order.first_suitable.as_ref().unwrap();
    for today in [NaiveDate::MIN, NaiveDate::MAX] {
        let search = Search::new(&order, &protocol, &lab, today).unwrap();
        assert!(search.first(asked).is_err());
    }
}

#[test]
fn what_cannot_be_is_refused_with_what_would_be_right() {
    for (extra, what) in [
        ("[day]\nearliest = 2026-10-20\nlatest = 2026-10-12\n", "no day is left"),
        ("[day]\nkit_arrives = 2026-10-12\nlatest = 2026-10-12\n", "no day is left"),
        (
            "[day]\nkit_arrives = 2026-10-12\ncards_expire = 2026-10-12\n",
            "no day is left",
        ),
        ("[day]\nearliest = 2026-10-12\ncards_expire = 2026-10-12\n", "no day is left"),
        ("[day]\nearlest = 2026-10-12\n", "unknown key `earlest`"),
        ("[cycle]\nlength = 28\n", "`[cycle]` has no `first_day`"),
        (&cycle("2026-08-20", ""), "`[cycle]` has no `length`"),
        (&cycle("2026-08-20", "length = 14"), "`length` is 14"),
        (&cycle("2026-08-20", "length = 61"), "`length` is 61"),
        (&cycle("2026-08-20", "shortest = 28"), "`[cycle]` has no `longest`"),
        (&cycle("2026-08-20", "shortest = 30\nlongest = 28"), "more than the longest"),
        (
            &cycle("2026-08-20", "length = 31\nshortest = 28\nlongest = 30"),
            "outside the 28 to 30",
        ),
        (&cycle("2026-09-02", "length = 28"), "in the future"),
    ] {
        let faults =
            read_on(&asking("America/Denver", extra), &lab_with(""), "2026-09-01")
                .unwrap_err();
        assert_eq!(faults.len(), 1, "{extra}: {}", plain(&faults));
        assert!(faults[0].what.contains(what), "{extra}: {}", plain(&faults));
        assert!(!faults[0].help.is_empty() && faults[0].place.is_some());
    }
    for (from, to, what) in [
        (WISH, "start = \"first suitible\"", "`start` must be a date without quotes or"),
        (
            WISH,
            "start = 2026-10-14\nfirst_suitable_from = 2026-10-14",
            "no later `start`",
        ),
        (WISH, &format!("{WISH}\nfirst_suitable_from = 2026-10-01"), "no later `start`"),
        ("zone = \"America/Denver\"", "zone = \"America/Denvr\"", "no place of the IANA"),
    ] {
        let text = asking("America/Denver", "").replace(from, to);
        let faults = read_on(&text, &lab_with(""), "2026-09-01").unwrap_err();
        assert_eq!(faults.len(), 1, "{}", plain(&faults));
        assert!(faults[0].what.contains(what), "{}", plain(&faults));
    }
    // One day is left, and so is the last on which cycles are counted.
    let one = "[day]\nearliest = 2026-10-12\nlatest = 2026-10-12\n";
    order_on(&asking("America/Denver", one), &lab_with(""), "2026-09-01");
    for first_day in ["2026-10-14", "2025-12-18"] {
        order_on(
            &order_text(&cycle(first_day, "length = 28")),
            &lab_with(""),
            "2026-11-01",
        );
    }
    // A dated order whose cycle cannot have led to it.
    for (first_day, what) in
        [("2026-10-15", "after the start"), ("2025-12-17", "more than 300 days before")]
    {
        let text = order_text(&cycle(first_day, "length = 28"));
        let faults = read_on(&text, &lab_with(""), "2026-11-01").unwrap_err();
        assert!(faults[0].what.contains(what), "{}", plain(&faults));
    }
}

#[test]
fn an_order_that_asks_for_a_day_needs_a_zone() {
    let lab_text = LAB.replace("zone = \"America/Denver\"\n", "");
    let lab = read_lab(&Source::new("lab.toml", lab_text), &languages()).unwrap();
    let text = asking("America/Denver", "").replace("zone = \"America/Denver\"\n", "");
    let faults = read_on(&text, &lab, "2026-09-01").unwrap_err();
    assert_eq!(faults[0].what, "a dated order needs a `zone`");
    // An undated one needs it only where a day is looked for.
    let undated = text.replace(WISH, "");
    let order = order_on(&undated, &lab, "2026-09-01");
    let protocol = common::protocol("four-card");
    let faults = Search::new(&order, &protocol, &lab, date("2026-09-01"));
    assert!(faults.is_err_and(|faults| faults[0].what.contains("`zone`")));
}

#[test]
fn where_no_day_suits_the_fault_names_the_most_common_reasons() {
    let text = asking("America/Denver", "[day]\nlatest = 2026-09-20\n");
    let lab = lab_with("cards_expire = 2026-08-30");
    let faults = first(&text, &lab, "2026-09-01").unwrap_err();
    assert_eq!(
        faults[0].plain(),
        "error: no day of the 180 after 2026-09-01 suits\n \
         --> order.toml:3:9\n  \
         |\n\
         3 | start = \"first suitable\"\n  \
         |         ^^^^^^^^^^^^^^^^ start\n  \
         |\n  \
         = help: most often against it: the cards expire before they are posted (180 \
         days), the latest day is 2026-09-20 (161 days), a change of the clocks (2 \
         days); `kitwright days` says it of each day"
    );
}

#[test]
fn the_text_with_the_date_is_otherwise_the_same_to_the_byte() {
    let (on, from) = (date("2026-12-21"), date("2026-12-02"));
    for head in [
        "start = \"first suitable\"",
        "start = \"first suitable\"   # as the provider wishes",
        "  \"start\"='first suitable'",
        "day.kit_arrives = 2026-12-05\nstart = \"first suitable\"\nday.latest = 2026-12-30",
        "start = \"\"\"\nfirst suitable\"\"\" # odd",
    ] {
        for end in ["\n", "\r\n"] {
            let text = asking("America/Phoenix", &cycle("2026-12-01", "length = 28"))
                .replace(WISH, head)
                .replace('\n', end);
            let lab = lab_with("");
            let order = order_on(&text, &lab, "2026-12-02");
            let asked = order.first_suitable.as_ref().unwrap();
            let written = with_start(&order.source, asked, on, from);
            let again = order_on(&written.text, &lab, "2026-12-02");
            assert_eq!(again.start.as_ref().map(|start| start.date), Some(on));
            assert_eq!(again.first_suitable_from, Some(from));
            assert_eq!(written.name, order.source.name);
            let line = format!("first_suitable_from = 2026-12-02{end}");
            assert_eq!(written.text.matches(&line).count(), 1, "{:?}", written.text);
            let back = written
                .text
                .replace(&line, "")
                .replace(&on.to_string(), &text[asked.span.clone()]);
            assert_eq!(back, text);
        }
    }
}

#[test]
fn a_dated_order_is_told_what_speaks_against_its_day() {
    let lab = lab_with("");
    let told = |text: &str| -> Vec<(&'static str, String)> {
        let order = order_on(text, &lab, "2026-10-02");
        let protocol = common::protocol("four-card");
        let plan = plan(&order, &protocol, &lab.mail);
        let found = findings(&order, &plan, &lab);
        found.into_iter().map(|finding| (finding.code, finding.text)).collect()
    };
    assert!(told(&order_text("")).is_empty());
    let limits = "[day]\nkit_arrives = 2026-10-14\ncards_expire = 2026-10-15\n";
    let codes: Vec<_> =
        told(&order_text(limits)).into_iter().map(|(code, _)| code).collect();
    assert_eq!(codes, ["kit", "expiry"]);
    // Day 21 of 28 is 14 October where 24 September is day 1.
    assert!(told(&order_text(&cycle("2026-09-24", "length = 28"))).is_empty());
    let found = told(&order_text(&cycle("2026-09-25", "length = 28")));
    assert_eq!(
        found,
        [(
            "cycle",
            "the day of card 1, 2026-10-14, is not the cycle's day, which is Thu \
             2026-10-15"
                .to_owned()
        )]
    );
    let chosen = order_text("").replace("zone", "first_suitable_from = 2026-10-01\nzone");
    let codes: Vec<_> = told(&chosen).into_iter().map(|(code, _)| code).collect();
    assert_eq!(codes, ["arrival-unknown", "day-chosen"]);
    for known in ["kit_arrives = 2026-10-10", "earliest = 2026-10-10"] {
        let text = format!("{chosen}\n[day]\n{known}\n");
        let codes: Vec<_> = told(&text).into_iter().map(|(code, _)| code).collect();
        assert_eq!(codes, ["day-chosen"], "{known}");
    }
}

#[test]
fn what_speaks_against_a_day_is_said_in_words() {
    for (zone, today, on, expected) in [
        ("America/Phoenix", "2026-10-02", "2026-10-01", "is past: today is 2026-10-02"),
        (
            "America/Phoenix",
            "2026-10-01",
            "2026-10-01",
            "is today: card 1 is planned ahead",
        ),
        // Changes of the clocks by IANA 2026f.
        (
            "America/New_York",
            "2026-10-01",
            "2026-10-31",
            "has the clocks go back 60 minutes on 2026-11-01, before packing",
        ),
        (
            "Australia/Lord_Howe",
            "2026-09-10",
            "2026-10-03",
            "has the clocks go forward 30 minutes on 2026-10-04, before packing",
        ),
    ] {
        let day = day(&asking(zone, ""), &lab_with(""), today, on);
        let texts: Vec<&str> = day.against.iter().map(|r| r.text.as_str()).collect();
        assert_eq!(texts, [expected], "{zone} {on}");
    }
}

/// Cycles are counted on for 300 days: common practice, no source. Ten cycles of 28
/// days on, day 21 is the 300th day after the first.
#[test]
fn cycles_are_counted_to_the_three_hundredth_day() {
    let text = asking("America/Phoenix", &cycle("2026-09-24", "length = 28"));
    for (why, rules, suits) in [
        ("the day itself", "", true),
        ("a day either way would go beyond", "cycle_tolerance_days = 1", false),
    ] {
        let day = day(&text, &lab_with(rules), "2026-10-01", "2027-07-21");
        assert_eq!(day.suits(), suits, "{why}: {day:?}");
    }
}

#[test]
fn the_list_of_days_names_the_holds_that_stand_on_all_of_them() {
    let text = asking("America/Phoenix", "[health]\npregnant = true\n");
    let text = text.replace("1984-03-09", "2010-03-09");
    let (lab, today) = (lab_with(""), date("2026-10-01"));
    let order = order_on(&text, &lab, "2026-10-01");
    let protocol = common::protocol(&order.protocol.value);
    let search = Search::new(&order, &protocol, &lab, today).unwrap();
    let table = kitwright::days::table(&search, &search.days(today, 2));
    let holds: Vec<&str> =
        table.lines().filter(|line| line.contains("on hold")).collect();
    assert_eq!(
        holds,
        [
            "on hold, whatever the day: the patient is pregnant; cleared by [[cleared]] with \
          hold = \"pregnant\", by and on"
        ],
        "age is a matter of each day"
    );
}

fn kitwright(folder: &Path, arguments: &[&str]) -> (Option<i32>, String, String) {
    let mut command = assert_cmd::Command::cargo_bin("kitwright").unwrap();
    let output = command.current_dir(folder).args(arguments).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

/// A folder with `lab.toml` and, as `order.toml`, an order whose day is 21
/// December.
fn folder_with_order() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let text = asking("America/Denver", &cycle("2026-12-01", "length = 28"));
    std::fs::write(folder.path().join("order.toml"), text).unwrap();
    std::fs::write(folder.path().join("lab.toml"), LAB).unwrap();
    folder
}

#[test]
fn the_list_has_a_line_for_each_day_and_the_exit_code_tells_whether_any_suits() {
    let folder = folder_with_order();
    let list = |more: &[&str]| {
        let base = ["days", "order.toml", "--today", "2026-12-18"];
        kitwright(folder.path(), &[&base[..], more].concat())
    };
    let (code, out, err) = list(&["--days", "5"]);
    assert_eq!(code, Some(0), "{err}");
    assert_eq!(
        out,
        "\
HB-20417  OKONKWO-REYES, Marisol  America/Denver, zone data 2026f
  Fri 2026-12-18  no     is today: card 1 is planned ahead; is not the cycle's day, which is Mon 2026-12-21
  Sat 2026-12-19  no     is not the cycle's day, which is Mon 2026-12-21
  Sun 2026-12-20  no     is not the cycle's day, which is Mon 2026-12-21
  Mon 2026-12-21  suits
  Tue 2026-12-22  no     is not the cycle's day, which is Mon 2027-01-18
the first that suits: Mon 2026-12-21
"
    );
    let (code, out, _) = list(&["--from", "2026-12-22", "--days", "3"]);
    assert_eq!(code, Some(1));
    assert!(out.ends_with("no day of these 3 suits\n"), "{out}");
    assert_eq!(list(&["--days", "0"]).0, Some(2));
    let (code, out, _) = list(&["--json", "--days", "5"]);
    assert_eq!(code, Some(0));
    let days: Vec<serde_json::Value> =
        out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(days.len(), 5);
    assert_eq!(days[3]["date"], "2026-12-21");
    assert_eq!(days[3]["suits"], true);
    assert_eq!(days[4]["against"][0]["code"], "cycle");
}

#[test]
fn a_dated_order_is_told_whether_its_own_day_suits() {
    let folder = folder_with_order();
    let order = folder.path().join("order.toml");
    let text = std::fs::read_to_string(&order).unwrap();
    std::fs::write(&order, text.replace(WISH, "start = 2026-12-22")).unwrap();
    let list = |more: &[&str]| {
        let base = ["days", "order.toml", "--today", "2026-12-02", "--days", "10"];
        kitwright(folder.path(), &[&base[..], more].concat())
    };
    let (code, out, _) = list(&[]);
    assert_eq!(code, Some(1), "{out}");
    let told = "the order's day: Tue 2026-12-22  no     is not the cycle's day";
    assert!(out.contains(told), "{out}");
    let (_, out, _) = list(&["--json"]);
    assert_eq!(out.lines().count(), 11, "its own day comes first: {out}");
    assert_eq!(out.matches("\"is_start\":true").count(), 1, "{out}");
}

#[test]
fn a_kit_of_a_chosen_day_proves_later_and_is_not_made_for_another_day() {
    let folder = folder_with_order();
    let run = |arguments: &[&str]| kitwright(folder.path(), arguments);
    let make =
        |today: &str| run(&["make", "order.toml", "--out", "kits", "--today", today]);
    let (code, out, err) = make("2026-12-02");
    assert_eq!(code, Some(0), "{out}{err}");
    let pdfs =
        ["paper", "labels", "packing"].map(|name| format!("kits/HB-20417/{name}.pdf"));
    let pdfs = pdfs.each_ref().map(String::as_str);

    // By the order that asks, by the order that travels in the PDF, long after.
    let bytes = std::fs::read(folder.path().join(pdfs[0])).unwrap();
    let attached = attached_order(&bytes).unwrap();
    assert!(
        attached.contains("\nfirst_suitable_from = 2026-12-02\nstart = 2026-12-21\n")
    );
    std::fs::write(folder.path().join("again.toml"), attached).unwrap();
    for order in ["order.toml", "again.toml"] {
        for today in ["2026-12-02", "2028-06-01"] {
            let (code, out, err) =
                run(&[&["proof", order], &pdfs[..], &["--today", today]].concat());
            assert_eq!(code, Some(0), "{order} {today}: {out}{err}");
        }
    }
    let slip =
        kitwright::proof::read(&std::fs::read(folder.path().join(pdfs[2])).unwrap());
    let text: String = slip.unwrap()[0].glyphs.iter().map(|g| g.text.as_str()).collect();
    let text: String = text.split_whitespace().collect();
    assert!(text.contains("firstsuitableafter2026-12-02"), "{text}");

    // The same day is made again, another is not put in its place.
    let (code, _, err) = make("2026-12-03");
    assert_eq!(code, Some(0), "{err}");
    let before = std::fs::read(folder.path().join(pdfs[0])).unwrap();
    let (code, _, err) = make("2026-12-21");
    assert_eq!(code, Some(1));
    assert!(
        err.contains(
            "is 2027-01-18, and kits/HB-20417/paper.pdf was made for 2026-12-21"
        )
    );
    assert_eq!(std::fs::read(folder.path().join(pdfs[0])).unwrap(), before);

    // A PDF whose day does not follow from the order is a difference.
    let text = std::fs::read_to_string(folder.path().join("order.toml")).unwrap();
    let longer = text.replace("length = 28", "length = 29");
    std::fs::write(folder.path().join("order.toml"), longer).unwrap();
    let (code, _, err) = run(&["proof", "order.toml", pdfs[0], "--today", "2026-12-02"]);
    assert_eq!(code, Some(1));
    assert!(err.contains("expected"), "{err}");

    // One of a dated order says nothing of a search.
    let dated = text.replace(WISH, "start = 2026-12-21");
    std::fs::write(folder.path().join("dated.toml"), dated).unwrap();
    let (code, ..) =
        run(&["make", "dated.toml", "--out", "other", "--today", "2026-12-02"]);
    assert_eq!(code, Some(0));
    let (code, _, err) = run(&[
        "proof",
        "order.toml",
        "other/HB-20417/paper.pdf",
        "--today",
        "2026-12-02",
    ]);
    assert_eq!(code, Some(1));
    assert!(err.contains("was made from one that did not"), "{err}");
}

fn any_limits() -> impl Strategy<Value = (String, String)> {
    let day = || prop::option::of(0..90i64);
    let cycle = prop::option::of((0..60i64, 15..=45i64, 0..3i64));
    (day(), day(), prop::option::of(60..200i64), day(), cycle, 0..3i64).prop_map(
        |(arrives, earliest, latest, expire, cycle, tolerance)| {
            let on = |days: i64| date("2026-10-01") + TimeDelta::days(days);
            let mut text = "[day]\n".to_owned();
            for (key, days) in [
                ("kit_arrives", arrives.map(|days| days / 2)),
                ("earliest", earliest.map(|days| days / 2)),
                ("latest", latest),
                ("cards_expire", expire.map(|days| days + 60)),
            ] {
                if let Some(days) = days {
                    text += &format!("{key} = {}\n", on(days));
                }
            }
            if let Some((ago, length, spread)) = cycle {
                text += &format!(
                    "[cycle]\nfirst_day = {}\nlength = {length}\nshortest = {}\n\
                     longest = {}\n",
                    on(-ago),
                    length.max(15 + spread) - spread,
                    length + spread
                );
            }
            let lab = format!(
                "longest_wait_days = {tolerance}\ncycle_tolerance_days = {tolerance}"
            );
            (text, lab)
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn the_first_suitable_day_is_the_earliest_that_suits(
        (extra, rules) in any_limits(),
        zone in prop::sample::select(vec!["America/New_York", "Africa/Cairo"]),
    ) {
        let (lab, today) = (lab_with(&rules), date("2026-10-01"));
        let text = asking(zone, &extra);
        let order = order_on(&text, &lab, "2026-10-01");
        let protocol = common::protocol("four-card");
        let search = Search::new(&order, &protocol, &lab, today).unwrap();
        let asked = order.first_suitable.as_ref().unwrap();
        let days = search.days(today, HORIZON_DAYS + 1);
        let earliest = days.iter().find(|day| day.suits()).map(|day| day.date);
        prop_assert_eq!(search.first(asked).ok(), earliest);

        // A later `earliest` never brings the day forward.
        let later = extra.lines()
            .filter(|line| !line.starts_with("earliest"))
            .collect::<Vec<_>>().join("\n")
            .replace("[day]", "[day]\nearliest = 2026-11-20");
        if let Ok(order) = read_on(&asking(zone, &later), &lab, "2026-10-01") {
            let search = Search::new(&order, &protocol, &lab, today).unwrap();
            let moved = search.first(order.first_suitable.as_ref().unwrap()).ok();
            match (earliest, moved) {
                (Some(first), Some(moved)) => prop_assert!(moved >= first),
                (None, moved) => prop_assert_eq!(moved, None),
                _ => {}
            }
        }

        // The text with the date in it is planned to that date, whenever it is read.
        if let Some(chosen) = earliest {
            let written = with_start(&order.source, asked, chosen, today);
            for read_on in ["2026-10-01", "2031-01-01"] {
                let again = order_on(&written.text, &lab, read_on);
                let plan = plan(&again, &protocol, &lab.mail);
                prop_assert_eq!(plan.day_one, chosen);
                let against = findings(&again, &plan, &lab);
                prop_assert!(
                    against.iter().any(|finding| finding.code == "day-chosen"),
                    "{:?}", against
                );
                prop_assert!(
                    against.iter().all(|finding| matches!(
                        finding.code,
                        "day-chosen" | "arrival-unknown" | "cycle-ahead"
                    )),
                    "{:?}", against
                );
            }
        }
    }
}
