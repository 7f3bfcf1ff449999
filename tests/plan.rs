//! The plan of the four-card protocol: tables of cases, each with its reason.
//!
//! The rules are common practice, no source, unless a case names one. The
//! oracle in `tests/outside/` recomputes plans by the thousand.

mod common;

#[path = "plan/asks.rs"]
mod asks;
#[path = "plan/calendar.rs"]
mod calendar;
#[path = "plan/changed_day.rs"]
mod changed_day;
#[path = "plan/drinks.rs"]
mod drinks;
#[path = "plan/holds.rs"]
mod holds;
#[path = "plan/json.rs"]
mod json;
#[path = "plan/lengths.rs"]
mod lengths;
#[path = "plan/make_ups.rs"]
mod make_ups;
#[path = "plan/protocols.rs"]
mod protocols;

use common::{AGREED, codes, order_text, planned};
use kitwright::clock::Moment;
use kitwright::lab::read_lab;
use kitwright::plan::{Action, Plan, plan};
use kitwright::words::languages;

fn local(moment: Moment) -> String {
    moment.format("%m-%d %H:%M").to_string()
}

/// Collection times of cards 1 to 4.
fn cards(plan: &Plan) -> Vec<String> {
    plan.slots.iter().filter_map(|slot| slot.collect_at).map(local).collect()
}

fn with_routine(start: &str, zone: &str, routine: &str) -> String {
    format!(
        "order = \"HB-20417\"\nprotocol = \"four-card\"\nstart = {start}\n\
         zone = \"{zone}\"\n[patient]\nfamily = \"A\"\ngiven = \"B\"\n\
         born = 1980-01-01\n[routine]\n{routine}\n"
    )
}

#[track_caller]
fn check_cards(why: &str, start: &str, zone: &str, routine: &str, expected: [&str; 4]) {
    let plan = planned(&with_routine(start, zone, routine));
    assert_eq!(cards(&plan), expected, "{why}");
}

#[test]
fn anchors_follow_one_another_through_the_day_and_the_night() {
    check_cards(
        "an ordinary day",
        "2026-10-14",
        "America/Denver",
        "dinner = 17:15\nbedtime = 22:30\nwake = 06:30",
        ["10-14 17:15", "10-14 22:30", "10-15 06:30", "10-15 08:30"],
    );
    check_cards(
        "a night worker sleeps by day",
        "2026-10-14",
        "America/Denver",
        "dinner = 05:00\nbedtime = 09:00\nwake = 16:00",
        ["10-14 05:00", "10-14 09:00", "10-14 16:00", "10-14 18:00"],
    );
    check_cards(
        "bedtime after midnight is on the next date",
        "2026-12-31",
        "America/Denver",
        "dinner = 20:00\nbedtime = 00:30\nwake = 07:00",
        ["12-31 20:00", "01-01 00:30", "01-01 07:00", "01-01 09:00"],
    );
}

/// Wake plus two hours of elapsed time, as computed with Python `zoneinfo` and
/// PyPI `tzdata` 2026.6.
#[test]
fn card_4_is_two_elapsed_hours_after_waking_when_the_clocks_change() {
    let fourth = |start: &str, zone: &str, wake: &str| {
        let routine = format!("dinner = 17:00\nbedtime = 21:00\nwake = {wake}");
        cards(&planned(&with_routine(start, zone, &routine))).remove(3)
    };
    for (start, zone, wake, expected) in [
        ("2026-10-31", "America/New_York", "00:30", "11-01 01:30"),
        ("2027-03-13", "America/New_York", "01:30", "03-14 04:30"),
        ("2026-10-03", "Australia/Lord_Howe", "01:00", "10-04 03:30"),
        ("2027-03-27", "Europe/London", "00:15", "03-28 03:15"),
        ("2026-10-31", "America/Vancouver", "00:30", "11-01 02:30"),
    ] {
        assert_eq!(fourth(start, zone, wake), expected, "{zone} {start}");
    }
}

/// RFC 5545, section 3.3.5: of a repeated time the first, in a gap the offset
/// before the gap. Vectors computed with Python `zoneinfo` 2026f.
#[test]
fn wall_times_in_a_gap_or_repeated_follow_rfc_5545_and_are_reported() {
    for (start, zone, wake, expected, code) in [
        ("2026-10-31", "America/New_York", "01:30", "05:30", Some("zone-fold")),
        ("2027-03-13", "America/New_York", "02:30", "07:30", Some("zone-gap")),
        ("2026-10-03", "Australia/Lord_Howe", "02:15", "15:45", Some("zone-gap")),
        ("2027-04-03", "Australia/Lord_Howe", "01:45", "14:45", Some("zone-fold")),
        ("2026-09-05", "America/Santiago", "00:30", "04:30", Some("zone-gap")),
        // Unique since the rules of 2026; repeated under older data.
        ("2026-10-31", "America/Vancouver", "01:30", "08:30", None),
        ("2026-10-31", "America/Havana", "00:30", "04:30", None),
    ] {
        let routine = format!("dinner = 17:00\nbedtime = 21:00\nwake = {wake}");
        let plan = planned(&with_routine(start, zone, &routine));
        let utc = plan.anchors.waking.to_utc().format("%H:%M").to_string();
        assert_eq!(utc, expected, "{zone}");
        let found = codes(&plan).into_iter().find(|code| code.starts_with("zone-"));
        assert_eq!(found, code, "{zone}");
    }
}

/// Which of the two moments it is: Python `zoneinfo` 2026f gives these a `fold` (PEP 495)
/// of 1, the last one of 0.
#[test]
fn times_that_the_clocks_show_twice_are_told_apart_and_reported() {
    let late = "dinner = 18:00\nbedtime = 03:00\nwake = 11:00";
    let early = "dinner = 14:00\nbedtime = 17:00\nwake = 00:15";
    for (start, zone, routine, told) in [
        (
            "2026-10-31",
            "America/New_York",
            late,
            "the clocks show 01:00 twice on 2026-11-01: the emptying before card 2 is \
             planned at the second",
        ),
        (
            "2026-10-31",
            "America/New_York",
            early,
            "the clocks show 01:15 twice on 2026-11-01: card 4 is planned at the second",
        ),
        (
            "2027-04-03",
            "Australia/Lord_Howe",
            "dinner = 14:00\nbedtime = 16:00\nwake = 23:40",
            "the clocks show 01:40 twice on 2027-04-04: card 4 is planned at the first",
        ),
    ] {
        let plan = planned(&with_routine(start, zone, routine));
        let folds = plan.findings.iter().filter(|finding| finding.code == "zone-fold");
        let folds: Vec<&str> = folds.map(|finding| finding.text.as_str()).collect();
        assert_eq!(folds, [told], "{zone}");
    }
    // Unique since the rules of 2026.
    let plan = planned(&with_routine("2026-10-31", "America/Vancouver", early));
    assert!(!codes(&plan).contains(&"zone-fold"));
}

/// Real hours from 22:30 to 06:30, computed with Python `zoneinfo` 2026f.
#[test]
fn a_night_lasts_as_long_as_its_zone_says() {
    for (start, zone, minutes) in [
        ("2026-10-31", "America/New_York", 540),
        ("2027-03-13", "America/New_York", 420),
        ("2026-10-03", "Australia/Lord_Howe", 450),
        ("2026-10-24", "Europe/Berlin", 540),
        ("2026-10-31", "America/Vancouver", 480),
        ("2026-10-31", "America/Winnipeg", 480),
        ("2026-10-31", "America/Phoenix", 480),
    ] {
        let routine = "dinner = 17:00\nbedtime = 22:30\nwake = 06:30";
        let plan = planned(&with_routine(start, zone, routine));
        let night = plan.anchors.waking - plan.anchors.bedtime;
        assert_eq!(night.num_minutes(), minutes, "{zone}");
    }
}

/// CDC's floor for blood spots is 3 h and a state programme's 4 h; a card at
/// 22:45 on the night the clocks go back is dry by 01:45, not 02:45.
#[test]
fn drying_counts_elapsed_hours() {
    let plan = planned(&with_routine(
        "2026-10-31",
        "America/New_York",
        "dinner = 18:00\nbedtime = 22:45\nwake = 07:00",
    ));
    assert_eq!(plan.slots[1].dry_at.map(local).unwrap(), "11-01 01:45");
}

#[test]
fn the_bladder_is_emptied_two_hours_before_or_by_the_card_before() {
    let plan = planned(&order_text(""));
    assert_eq!(plan.slots[0].empty_at.map(local).unwrap(), "10-14 15:15");
    assert_eq!(plan.slots[1].empty_at.map(local).unwrap(), "10-14 20:30");
    assert_eq!(local(plan.last_card()), "10-15 08:30");
    let short = planned(&with_routine(
        "2026-10-14",
        "America/Denver",
        "dinner = 20:00\nbedtime = 21:30\nwake = 06:00",
    ));
    assert_eq!(short.slots[1].empty_at.map(local).unwrap(), "10-14 20:00");
    assert_eq!(short.slots[1].emptied_by_card, Some(1));
    assert!(codes(&short).contains(&"short-interval"));
    // With two hours to the minute card 1 is the emptying, and a dry dinner is said.
    for (bedtime, is_short) in [("22:00", true), ("22:01", false)] {
        let routine = format!("dinner = 20:00\nbedtime = {bedtime}\nwake = 06:00");
        let plan = planned(&with_routine("2026-10-14", "America/Denver", &routine));
        assert_eq!(codes(&plan).contains(&"short-interval"), is_short, "{bedtime}");
        assert_eq!(plan.slots[1].emptied_by_card.is_some(), is_short, "{bedtime}");
        assert_eq!(codes(&plan).contains(&"short-dinner"), !is_short, "{bedtime}");
    }
}

/// The day of a weighing; that a year is too long is common practice, no source.
#[test]
fn a_weight_of_more_than_a_year_ago_is_a_finding_where_a_figure_rests_on_it() {
    let weighed = |day: &str, more: &str| {
        let line = format!("weight = \"150 lb\"\nweighed = {day}");
        let text = order_text(more).replace("weight = \"150 lb\"", &line);
        codes(&planned(&text)).contains(&"old-weight")
    };
    assert!(!weighed("2025-10-13", ""), "366 days");
    assert!(weighed("2025-10-12", ""), "367 days");
    assert!(!weighed("2016-03-28", "[health]\nfluid_limit = true\n"), "no figure");
}

#[test]
fn unusual_lengths_of_evening_and_night_are_findings() {
    for (routine, code) in [
        ("dinner = 12:00\nbedtime = 22:30\nwake = 06:30", "long-interval"),
        ("dinner = 18:00\nbedtime = 23:00\nwake = 01:30", "short-sleep"),
        ("dinner = 17:00\nbedtime = 20:00\nwake = 10:30", "long-sleep"),
    ] {
        let plan = planned(&with_routine("2026-10-14", "America/Denver", routine));
        assert!(codes(&plan).contains(&code), "{code}: {:?}", codes(&plan));
    }
}

fn dose(medicine: &str, form: &str, times: &str, timing: &str) -> String {
    format!(
        "[[dose]]\nmedicine = \"{medicine}\"\nform = \"{form}\"\ntimes = [{times}]\n\
         timing = \"{timing}\"\n"
    )
}

/// What becomes of one dose: on day 1 and on day 2.
fn actions(extra: &str) -> Vec<String> {
    planned(&order_text(extra))
        .doses
        .iter()
        .map(|dose| match &dose.action {
            Action::AfterCard { slot, at } => format!("after {slot} {}", local(*at)),
            action => action.word().to_owned(),
        })
        .collect()
}

#[track_caller]
fn check_dose(why: &str, dose: &str, expected: [&str; 2]) {
    assert_eq!(actions(&format!("{AGREED}\n{dose}")), expected, "{why}");
}

#[test]
fn hormone_doses_move_by_the_windows_of_the_protocol() {
    let late = "after later 10-15 08:30";
    let bed = "after bedtime 10-14 22:30";
    let hormone = |times| dose("estradiol", "gel", times, "protocol");
    check_dose("before card 4 on day 2", &hormone("07:30"), ["as-usual", late]);
    check_dose("just at card 4", &hormone("08:30"), ["as-usual", late]);
    check_dose(
        "just at waking, when the night's rule ends",
        &hormone("06:30"),
        ["as-usual", late],
    );
    check_dose("after card 4", &hormone("08:35"), ["as-usual", "as-usual"]);
    check_dose("in the evening", &hormone("20:00"), [bed, "as-usual"]);
    check_dose("at bedtime", &hormone("22:30"), [bed, "as-usual"]);
    check_dose("moved by just four hours", &hormone("18:30"), [bed, "as-usual"]);
    check_dose("moved by more", &hormone("18:25"), ["ask", "as-usual"]);
    check_dose("midday", &hormone("12:30"), ["ask", "as-usual"]);
    check_dose("in the night", &hormone("03:00"), ["ask", "as-usual"]);
}

#[test]
fn what_is_not_known_for_sure_is_asked_about() {
    let ask = ["ask", "ask"];
    check_dose(
        "an injection",
        &dose("testosterone", "injection", "09:00", "protocol"),
        ask,
    );
    check_dose("a pellet", &dose("estradiol", "pellet", "09:00", "protocol"), ask);
    check_dose(
        "a patch with no date",
        &dose("estradiol", "patch", "09:00", "protocol"),
        ask,
    );
    check_dose("unknown", &dose("zzunknown", "tablet", "20:00", "protocol"), ask);
    check_dose(
        "a contraceptive",
        &dose("levonorgestrel", "tablet", "20:00", "protocol"),
        ask,
    );
    check_dose("the order says so", &dose("estradiol", "gel", "07:30", "ask"), ask);
    let called = |kind: &str| {
        format!("{}kind = \"{kind}\"\n", dose("estradiol", "gel", "07:30", "protocol"))
    };
    check_dose("the order calls a hormone something else", &called("other"), ask);
    let late = "after later 10-15 08:30";
    check_dose("the order calls a hormone one", &called("hormone"), ["as-usual", late]);
    let warfarin = dose("warfarin", "tablet", "07:30", "protocol");
    let as_prescribed = ["as-prescribed", "as-prescribed"];
    check_dose("no hormone", &format!("{warfarin}kind = \"other\"\n"), as_prescribed);
    let nobody = actions(&dose("estradiol", "gel", "07:30", "protocol"));
    assert_eq!(nobody, ask, "nobody agreed");
}

#[test]
fn a_patch_stays_on_unless_its_change_falls_due() {
    let patch = |change: &str| {
        format!(
            "{}change_on = {change}\n",
            dose("estradiol", "patch", "09:00", "protocol")
        )
    };
    check_dose("not due", &patch("2026-10-17"), ["as-usual", "as-usual"]);
    check_dose("due on day 1", &patch("2026-10-14"), ["ask", "ask"]);
    check_dose("due on day 2", &patch("2026-10-15"), ["ask", "ask"]);
}

/// Never shifted: glucocorticoids (WHO ATC H02AB and the other routes),
/// desmopressin, lithium, insulin, antiepileptics, anticoagulants.
#[test]
fn other_medicines_are_taken_as_prescribed_whatever_the_order_says() {
    for (medicine, form) in [
        ("prednisone", "tablet"),
        ("hydrocortisone", "cream"),
        ("fluticasone", "inhaler"),
        ("budesonide", "spray"),
        ("desmopressin", "tablet"),
        ("lithium carbonate", "tablet"),
        ("insulin glargine", "injection"),
        ("lamotrigine", "tablet"),
        ("warfarin", "tablet"),
        ("metformin", "tablet"),
        ("prednisone 5 mg", "tablet"),
    ] {
        let order = dose(medicine, form, "07:30", "protocol");
        check_dose(medicine, &order, ["as-prescribed", "as-prescribed"]);
    }
}

#[test]
fn a_morning_make_up_moves_that_mornings_dose() {
    let gel = dose("estradiol", "gel", "07:30", "protocol");
    let plan = planned(&order_text(&format!("{AGREED}\n{gel}")));
    for slot in ["waking", "later"] {
        let repeat = plan.slot(slot).unwrap().repeat.as_ref().unwrap();
        let [dose] = &repeat.doses[..] else { panic!("{:?}", repeat.doses) };
        assert_eq!(local(dose.take_at().unwrap()), "10-16 08:30", "{slot}");
    }
}

#[test]
fn make_ups_are_one_day_later_by_the_clock() {
    let plan = planned(&with_routine(
        "2026-10-30",
        "America/New_York",
        "dinner = 17:15\nbedtime = 22:30\nwake = 06:30",
    ));
    let repeats: Vec<_> = plan
        .slots
        .iter()
        .filter_map(|slot| slot.repeat.as_ref())
        .map(|repeat| (local(repeat.collect_at), repeat.empty_at.map(local)))
        .collect();
    let some = |text: &str| Some(text.to_owned());
    assert_eq!(
        repeats,
        [
            ("10-31 17:15".into(), some("10-31 15:15")),
            ("10-31 22:30".into(), some("10-31 20:30")),
            ("11-01 06:30".into(), None),
            ("11-01 08:30".into(), some("11-01 06:30")),
        ]
    );
}

/// Proposed reading of 5 U.S.C. 6103 for the post: Sundays, the holidays' own
/// dates and the Monday after a Sunday holiday are without post.
#[test]
fn cards_are_posted_on_the_first_day_with_post() {
    for (start, expected, why) in [
        ("2026-10-14", "2026-10-16", "a Friday"),
        ("2026-10-16", "2026-10-19", "packed on a Sunday"),
        ("2026-11-24", "2026-11-27", "packed on Thanksgiving"),
        ("2027-07-01", "2027-07-03", "a Saturday has post"),
        ("2027-07-02", "2027-07-06", "Sunday July 4, then its Monday"),
    ] {
        let plan = planned(&order_text("").replace("2026-10-14", start));
        assert_eq!(plan.post_on.unwrap().to_string(), expected, "{why}");
    }
    let friday = planned(&order_text("").replace("2026-10-14", "2026-07-01"));
    assert!(codes(&friday).contains(&"post-check"), "July 4, 2026 is a Saturday");
    let wednesday = planned(&order_text("").replace("2026-10-14", "2026-11-23"));
    assert_eq!(wednesday.post_on.unwrap().to_string(), "2026-11-25");
    assert!(!codes(&wednesday).contains(&"post-check"), "Thanksgiving is no Saturday");
}

#[test]
fn days_on_which_the_laboratory_has_no_post_are_passed_over() {
    let order = common::order(&order_text(""));
    for (closed, expected) in [
        ("", "2026-10-16"),
        ("2026-10-15", "2026-10-16"),
        ("2026-10-16", "2026-10-17"),
        ("2026-10-17, 2026-10-16", "2026-10-19"), // the 18th is a Sunday
    ] {
        let text = format!("{}closed = [{closed}]\n", common::LAB);
        let lab = read_lab(&common::source(&text), &languages()).unwrap();
        let plan = plan(&order, &common::protocol("four-card"), &lab.mail);
        assert_eq!(plan.post_on.unwrap().to_string(), expected, "closed on {closed}");
    }
}

#[test]
fn an_undated_order_counts_days_and_has_no_post_day() {
    let text = order_text("").replace("start = 2026-10-14\n", "");
    let plan = planned(&text);
    assert_eq!(plan.day_of(plan.slots[0].collect_at.unwrap()), 1);
    assert_eq!(plan.day_of(plan.slots[3].collect_at.unwrap()), 2);
    assert_eq!((plan.zone, plan.post_on), (None, None));
}

fn holds(extra: &str) -> Vec<&'static str> {
    let plan = planned(&order_text(extra));
    plan.holds().map(|finding| finding.code).collect()
}

#[test]
fn a_hold_stays_until_a_named_person_has_cleared_it() {
    let cleared = |hold: &str| {
        format!(
            "[[cleared]]\nhold = \"{hold}\"\nby = \"R. Adeyemi, RN\"\non = 2026-08-30\n"
        )
    };
    let lithium = dose("lithium carbonate", "tablet", "08:00", "unchanged");
    for (extra, hold) in [
        ("[health]\npregnant = true\n", "pregnant"),
        ("[health]\nfluid_limit = true\n", "fluid-limit"),
        ("[health]\nkidney_disease = true\n", "fluid-limit"),
        (lithium.as_str(), "fluid-limit"),
    ] {
        assert_eq!(holds(extra), [hold], "{extra}");
        assert_eq!(holds(&format!("{extra}\n{}", cleared(hold))), [""; 0], "{extra}");
        assert_eq!(holds(&format!("{extra}\n{}", cleared("weight"))), [hold], "{extra}");
    }
}

#[test]
fn the_day_before_the_eighteenth_birthday_is_a_hold() {
    let born = |date: &str| {
        let plan = planned(&order_text("").replace("1984-03-09", date));
        plan.holds().map(|finding| finding.code).collect::<Vec<_>>()
    };
    assert_eq!(born("2008-10-14"), [""; 0]);
    assert_eq!(born("2008-10-15"), ["under-18"]);
}

/// Who is eighteen on the day of card 1 is no child.
#[test]
fn an_amount_is_given_from_the_eighteenth_birthday_on() {
    use kitwright::plan::Amount;
    let amount =
        |date: &str| planned(&order_text("").replace("1984-03-09", date)).allowance;
    assert!(matches!(amount("2008-10-14"), Amount::Figure(_)));
    assert_eq!(amount("2008-10-15"), Amount::Ask);
}

/// Common practice, no source: from 5 pm on the day's post has gone.
#[test]
fn a_kit_that_is_packed_late_is_posted_the_next_day() {
    for (wake, expected) in [("16:59", "2026-10-16"), ("17:00", "2026-10-17")] {
        let routine = format!("dinner = 05:00\nbedtime = 09:00\nwake = {wake}");
        let plan = planned(&with_routine("2026-10-15", "America/Denver", &routine));
        assert_eq!(plan.post_on.unwrap().to_string(), expected, "{wake}");
    }
}

#[test]
fn a_glucocorticoid_needs_the_instruction_and_a_named_person() {
    let steroid = dose("prednisone", "tablet", "08:00", "unchanged");
    let note = format!("{steroid}note = \"Take it at eight as always.\"\n");
    let cleared = "[[cleared]]\nhold = \"glucocorticoid\"\nby = \"R. Adeyemi\"\n\
                   on = 2026-08-30\n";
    let held = ["glucocorticoid"];
    assert_eq!(holds(&format!("{AGREED}\n{steroid}")), held, "no instruction");
    assert_eq!(holds(&format!("{AGREED}\n{note}")), held, "nobody cleared it");
    assert_eq!(holds(&format!("{AGREED}\n{steroid}\n{cleared}")), held, "no instruction");
    assert_eq!(holds(&format!("{note}\n{cleared}")), held, "no provider");
    assert_eq!(holds(&format!("{AGREED}\n{note}\n{cleared}")), [""; 0]);
}

#[test]
fn people_whose_drinking_is_prescribed_get_no_figure() {
    use kitwright::plan::Amount;
    let amount = |text: &str| planned(text).allowance;
    let order = order_text("");
    assert!(matches!(amount(&order), Amount::Figure(drink) if drink.ml() == 350));
    assert_eq!(amount(&order.replace("weight = \"150 lb\"", "")), Amount::LookUp);
    assert_eq!(amount(&order.replace("1984-03-09", "2012-03-09")), Amount::Ask);
    assert_eq!(amount(&order.replace("150 lb", "401 lb")), Amount::Ask);
    assert_eq!(amount(&order_text("[health]\npregnant = true\n")), Amount::Ask);
    let limited = order_text("[health]\nheart_failure = true\n");
    assert_eq!(amount(&limited), Amount::Prescribed);
}

#[test]
fn the_first_morning_protocol_runs_on_the_same_engine() {
    let text = order_text("").replace("four-card", "first-morning");
    let plan = planned(&text);
    assert_eq!(cards(&plan), ["10-14 06:30"]);
    assert_eq!(local(plan.last_card()), "10-14 06:30");
    assert_eq!(local(plan.pack_at), "10-15 06:30");
    assert!(plan.caffeine.is_none());
}

#[test]
fn the_table_of_a_changed_bedtime_never_spoils_the_card_before() {
    let plan = planned(&with_routine(
        "2026-10-14",
        "America/Denver",
        "dinner = 20:00\nbedtime = 21:30\nwake = 06:00",
    ));
    let dinner = plan.slots[0].collect_at.unwrap();
    assert!(plan.what_if.bedtime.iter().all(|row| row.then_at >= dinner));
}

/// From an assumed lunch in the patient's sleep two cups would be all until dinner.
#[test]
fn a_lunch_that_nobody_gave_is_no_hour_of_sleep() {
    let senseless = |lunch: &str| -> Vec<String> {
        let routine = format!("{lunch}dinner = 05:00\nbedtime = 09:00\nwake = 16:00");
        let plan = planned(&with_routine("2026-10-14", "America/Denver", &routine));
        plan.senseless().into_iter().map(|fault| fault.what).collect()
    };
    assert_eq!(
        senseless(""),
        ["the order HB-20417: no lunch is given, and at the protocol's, 12:30, the \
             patient sleeps: give `lunch` in [routine]"]
    );
    assert_eq!(senseless("lunch = 22:00\n"), [""; 0]);
    let late = "dinner = 20:00\nbedtime = 04:00\nwake = 13:00";
    let late = planned(&with_routine("2026-10-14", "America/Denver", late));
    assert!(late.senseless().is_empty(), "late risers dine the same afternoon");
    assert_eq!(senseless("lunch = 12:30\n"), [""; 0], "as somebody wrote");
}

#[test]
fn a_lunch_that_is_hardly_a_lunch_is_a_finding() {
    let plan = planned(&with_routine(
        "2026-10-14",
        "America/Denver",
        "lunch = 12:30\ndinner = 12:00\nbedtime = 22:00\nwake = 06:00",
    ));
    assert!(codes(&plan).contains(&"long-afternoon"), "{:?}", codes(&plan));
}
