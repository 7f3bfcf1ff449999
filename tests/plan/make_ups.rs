//! Make-up times: a missed card one day later by the clock, with its own emptying,
//! stop and doses.
//!
//! The rules are common practice, no source.

use kitwright::plan::{Action, Repeat};

use super::common::{AGREED, order_text, planned};
use super::{dose, local, with_routine};

fn make_up(text: &str, slot: &str) -> Repeat {
    let plan = planned(text);
    plan.slot(slot).unwrap().repeat.clone().unwrap_or_else(|| panic!("{slot}"))
}

/// Doses of a make-up: day, usual time, what becomes of it.
fn doses(repeat: &Repeat) -> Vec<String> {
    repeat
        .doses
        .iter()
        .map(|dose| {
            let action = match &dose.action {
                Action::AfterCard { slot, at } => format!("after {slot} {}", local(*at)),
                action => action.word().to_owned(),
            };
            format!("day {}: {} {action}", dose.day, local(dose.usual_at))
        })
        .collect()
}

#[test]
fn each_make_up_moves_the_doses_of_its_own_window() {
    let gel = |times| order_text(&format!("{AGREED}\n{}", gel(times)));
    for (why, times, slot, expected) in [
        (
            "a dose in the stop before card 1, too far from card 2 to be moved there",
            "16:00",
            "evening",
            &["day 2: 10-15 16:00 ask"][..],
        ),
        ("a dose after card 1 is none of its make-up's", "20:00", "evening", &[]),
        (
            "a dose before bedtime waits for card 2",
            "20:00",
            "bedtime",
            &["day 2: 10-15 20:00 after bedtime 10-15 22:30"],
        ),
        (
            "a dose just at the make-up waits, too",
            "22:30",
            "bedtime",
            &["day 2: 10-15 22:30 after bedtime 10-15 22:30"],
        ),
        (
            "the window starts when drinking stops for card 1, which is too far",
            "15:15",
            "bedtime",
            &["day 2: 10-15 15:15 ask"],
        ),
        ("a minute before the window", "15:14", "bedtime", &[]),
        (
            "a morning's dose waits for card 4",
            "06:30",
            "waking",
            &["day 3: 10-16 06:30 after later 10-16 08:30"],
        ),
        (
            "and so it does where card 4 alone is made up",
            "07:30",
            "later",
            &["day 3: 10-16 07:30 after later 10-16 08:30"],
        ),
        ("a dose after card 4", "08:31", "later", &[]),
        ("an evening's dose is none of the morning's make-up", "20:00", "waking", &[]),
        ("nor of card 4's alone", "22:00", "later", &[]),
        (
            "two doses that would come together",
            "06:30, 08:00",
            "later",
            &["day 3: 10-16 06:30 ask", "day 3: 10-16 08:00 ask"],
        ),
        (
            "two doses, one in the window and the other soon after it",
            "07:00, 08:45",
            "waking",
            &["day 3: 10-16 07:00 ask", "day 3: 10-16 08:45 ask"],
        ),
        (
            "two doses, one in the window",
            "07:30, 12:00",
            "later",
            &["day 3: 10-16 07:30 after later 10-16 08:30"],
        ),
    ] {
        assert_eq!(doses(&make_up(&gel(times), slot)), expected, "{why}");
    }
}

/// Who has to ask about a dose on the planned days is not told when to take it on the
/// day of a make-up.
#[test]
fn what_is_asked_about_is_asked_about_on_the_day_of_a_make_up_too() {
    for (bedtime, expected) in [
        // From 16:15 to 20:00 a dose is moved; to 22:30 is too far.
        ("20:00", "day 2: 10-15 16:15 after evening 10-15 17:15"),
        ("22:30", "day 2: 10-15 16:15 ask"),
    ] {
        let routine = format!("dinner = 17:15\nbedtime = {bedtime}\nwake = 06:30");
        let text = with_routine("2026-10-14", "America/Denver", &routine);
        let text = format!("{text}\n{AGREED}\n{}", gel("16:15"));
        assert_eq!(doses(&make_up(&text, "evening")), [expected], "{bedtime}");
    }
}

fn gel(times: &str) -> String {
    dose("estradiol", "gel", times, "protocol")
}

#[test]
fn no_make_up_moves_what_the_plan_does_not_move() {
    let steroid = dose("prednisone", "tablet", "07:30", "protocol");
    let unchanged = dose("estradiol", "gel", "07:30", "unchanged");
    for (why, extra) in [
        ("nobody agreed", gel("07:30")),
        ("a glucocorticoid", format!("{AGREED}\n{steroid}")),
        ("the order says unchanged", format!("{AGREED}\n{unchanged}")),
    ] {
        for slot in ["evening", "bedtime", "waking", "later"] {
            let repeat = make_up(&order_text(&extra), slot);
            assert_eq!(doses(&repeat), [""; 0], "{why}, {slot}");
        }
    }
}

/// Emptying, stop and collection of a make-up.
fn moments(repeat: &Repeat) -> String {
    let or_none = |moment: Option<_>| moment.map_or("none".to_owned(), local);
    format!(
        "empty {}, stop {}, collect {}",
        or_none(repeat.empty_at),
        or_none(repeat.stop_drinking_at),
        local(repeat.collect_at)
    )
}

#[test]
fn a_make_up_has_its_own_emptying_and_stop() {
    for (slot, expected) in [
        ("evening", "empty 10-15 15:15, stop 10-15 15:15, collect 10-15 17:15"),
        ("bedtime", "empty 10-15 20:30, stop 10-15 20:30, collect 10-15 22:30"),
        ("waking", "empty none, stop none, collect 10-16 06:30"),
        // Card 3 was made: the bladder is emptied on waking, and drinking goes on.
        ("later", "empty 10-16 06:30, stop none, collect 10-16 08:30"),
    ] {
        assert_eq!(moments(&make_up(&order_text(""), slot)), expected, "{slot}");
    }
    let plan = planned(&order_text(""));
    assert_eq!(plan.slot("night").unwrap().repeat, None, "nobody can say when");
}

/// The wall time the patient lives by, not the one a gap moved it to: the clocks of
/// New York skip 02:30 on 14 March 2027, and show it the day after (IANA 2026f).
#[test]
fn a_make_up_after_a_skipped_time_is_at_the_usual_time() {
    let text = with_routine(
        "2027-03-13",
        "America/New_York",
        "dinner = 17:00\nbedtime = 21:00\nwake = 02:30",
    );
    assert_eq!(local(planned(&text).anchors.waking), "03-14 03:30");
    assert_eq!(local(make_up(&text, "waking").collect_at), "03-15 02:30");
    let evening = with_routine(
        "2027-03-14",
        "America/New_York",
        "lunch = 01:00\ndinner = 02:30\nbedtime = 09:00\nwake = 16:00",
    );
    assert_eq!(local(planned(&evening).anchors.dinner), "03-14 03:30");
    assert_eq!(local(make_up(&evening, "evening").collect_at), "03-15 02:30");
    let night = with_routine(
        "2027-03-13",
        "America/New_York",
        "dinner = 20:00\nbedtime = 02:30\nwake = 09:00",
    );
    assert_eq!(local(planned(&night).anchors.bedtime), "03-14 03:30");
    assert_eq!(local(make_up(&night, "bedtime").collect_at), "03-15 02:30");
}

/// Who wakes late has dinner soon after card 4: its make-up on that very day would empty
/// the bladder before card 4.
#[test]
fn a_make_up_begins_when_the_last_planned_card_is_done() {
    let late = |wake: &str| {
        let routine =
            format!("lunch = 14:00\ndinner = 16:00\nbedtime = 03:30\nwake = {wake}");
        with_routine("2026-10-14", "America/Denver", &routine)
    };
    for (wake, expected) in [
        ("11:59", "10-15 16:00"),
        ("12:00", "10-15 16:00"), // card 4 at 14:00, and the emptying, too
        ("12:01", "10-16 16:00"),
        ("13:00", "10-16 16:00"),
    ] {
        assert_eq!(local(make_up(&late(wake), "evening").collect_at), expected, "{wake}");
        let bedtime = make_up(&late(wake), "bedtime");
        assert_eq!(local(bedtime.collect_at), "10-16 03:30", "{wake}");
    }
    let text = format!("{}\n{AGREED}\n{}", late("13:00"), gel("14:30"));
    assert_eq!(doses(&make_up(&text, "evening")), ["day 3: 10-16 14:30 ask"]);
}

#[test]
fn a_make_up_asks_where_a_dose_would_come_to_one_that_stays() {
    let tablet = dose("estradiol", "tablet", "20:30", "protocol");
    let gel = dose("estradiol valerate", "gel", "22:30", "unchanged");
    let text = order_text(&format!("{AGREED}\n{tablet}\n{gel}"));
    assert_eq!(
        doses(&make_up(&text, "bedtime")),
        ["day 2: 10-15 20:30 ask", "day 2: 10-15 22:30 ask"]
    );
}
