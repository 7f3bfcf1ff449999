//! What a packer is told of each dose that has to be asked about, and why.
//!
//! The rules are common practice, no source.

use kitwright::plan::Level;

use super::common::{AGREED, order_text, planned};
use super::{dose, local, with_routine};

fn asked(extra: &str) -> Vec<String> {
    planned(&order_text(extra))
        .findings
        .iter()
        .filter(|finding| finding.code == "ask-provider")
        .inspect(|finding| assert_eq!(finding.level, Level::Warning))
        .map(|finding| finding.text.clone())
        .collect()
}

#[test]
fn each_question_about_a_dose_is_told_with_its_reason() {
    let by_rule = |medicine, form, times| dose(medicine, form, times, "protocol");
    for (extra, expected) in [
        (
            by_rule("estradiol", "gel", "12:45"),
            &["ask about estradiol (gel): no rule moves its 12:45 dose of day 1"][..],
        ),
        (
            by_rule("estradiol", "gel", "07:30, 03:00, 18:25"),
            &[
                "ask about estradiol (gel): no rule moves its 03:00 dose of day 1",
                "ask about estradiol (gel): no rule moves its 18:25 dose of day 1",
            ],
        ),
        (
            by_rule("zzunknown", "tablet", "20:00"),
            &["ask about zzunknown (tablet): it is not in the medicine table"],
        ),
        (
            dose("melatonin", "tablet", "21:00, 22:00", "ask"),
            &["ask about melatonin (tablet): the order says to ask"],
        ),
        (
            by_rule("levonorgestrel", "tablet", "20:00"),
            &["ask about levonorgestrel (tablet): hours matter for a contraceptive"],
        ),
        (
            by_rule("estradiol", "pellet", "09:00"),
            &["ask about estradiol (pellet): it is a long-acting or unusual form"],
        ),
        (
            by_rule("estradiol", "patch", "09:00"),
            &["ask about estradiol (patch): the day of the patch's change is not known"],
        ),
        (
            format!("{}change_on = 2026-10-14\n", by_rule("estradiol", "patch", "09:00")),
            &["ask about estradiol (patch): the patch is due to be changed during the \
               collection"],
        ),
        (
            format!("{}change_on = 2026-10-15\n", by_rule("estradiol", "patch", "09:00")),
            &["ask about estradiol (patch): the patch is due to be changed during the \
               collection"],
        ),
        (
            format!("{}change_on = 2026-10-16\n", by_rule("estradiol", "patch", "09:00")),
            &["ask about estradiol (patch): the patch is due to be changed during the \
               collection"],
        ),
        // A change before the collection says nothing of the next one.
        (
            format!("{}change_on = 2026-10-11\n", by_rule("estradiol", "patch", "09:00")),
            &[
                "ask about estradiol (patch): the day of the patch's next change is not known",
            ],
        ),
        (
            format!("{}change_on = 2026-10-17\n", by_rule("estradiol", "patch", "09:00")),
            &[],
        ),
        // Moving would bring two doses together, or close to each other.
        (
            by_rule("estradiol", "tablet", "06:30, 08:00"),
            &[
                "ask about estradiol (tablet): moving brings its 06:30 dose close to that of \
               08:00",
            ],
        ),
        (
            by_rule("estradiol", "tablet", "07:00, 08:45"),
            &[
                "ask about estradiol (tablet): moving brings its 07:00 dose close to that of \
               08:45",
            ],
        ),
        (
            format!(
                "{}{}",
                by_rule("estradiol", "tablet", "19:00"),
                by_rule("Estradiol", "gel", "21:00")
            ),
            &[
                "ask about estradiol (tablet): moving brings its 19:00 dose close to that of \
               21:00",
            ],
        ),
        // That the other is asked about itself does not move it out of the way.
        (
            format!(
                "{}{}",
                by_rule("progesterone", "capsule", "20:30"),
                dose("progesterone", "capsule", "22:00", "ask")
            ),
            &[
                "ask about progesterone (capsule): the order says to ask",
                "ask about progesterone (capsule): moving brings its 20:30 dose close to \
                 that of 22:00",
            ],
        ),
        // Two at one time stay two at one time, and two medicines have nothing to do
        // with each other.
        (
            format!(
                "{}{}{}",
                by_rule("estradiol", "tablet", "20:00"),
                by_rule("estradiol", "gel", "20:00"),
                by_rule("progesterone", "capsule", "21:00")
            ),
            &[],
        ),
        // Nothing is asked of a dose that is moved, taken as usual or as prescribed.
        (by_rule("estradiol", "gel", "07:30, 20:00"), &[]),
        (dose("estradiol", "gel", "12:45", "unchanged"), &[]),
        (by_rule("warfarin", "tablet", "12:45"), &[]),
    ] {
        assert_eq!(asked(&format!("{AGREED}\n{extra}")), expected, "{extra}");
    }
    assert_eq!(
        asked(&by_rule("estradiol", "gel", "07:30")),
        ["ask about estradiol (gel): the provider has not agreed to the dose rules"]
    );
}

#[test]
fn doses_of_one_medicine_under_two_names_are_compared() {
    for (one, other) in
        [("estradiol valerate", "estradiol"), ("Progesterone", "micronized progesterone")]
    {
        let doses = [
            dose(one, "tablet", "20:30", "protocol"),
            dose(other, "tablet", "22:00", "protocol"),
        ];
        assert_eq!(
            asked(&format!("{AGREED}\n{}", doses.concat())),
            [format!(
                "ask about {one} (tablet): moving brings its 20:30 dose close to that of \
                 22:00"
            )]
        );
    }
}

/// On the night the clocks go forward waking at 2:30 is at 3:30, after the dose of 3:00.
#[test]
fn no_dose_is_lost_where_the_clocks_move_a_waking_past_it() {
    let routine = "lunch = 07:00\ndinner = 12:00\nbedtime = 18:30\nwake = 02:30";
    let text = with_routine("2027-03-13", "America/New_York", routine);
    let dose = dose("levothyroxine", "tablet", "03:00", "protocol");
    let plan = planned(&format!("{text}\n{AGREED}\n{dose}"));
    let told = plan.doses.iter().map(|dose| {
        format!("day {}: {} {}", dose.day, local(dose.usual_at), dose.action.word())
    });
    assert_eq!(
        told.collect::<Vec<_>>(),
        ["day 1: 03-14 03:00 ask", "day 2: 03-15 03:00 as-usual"]
    );
}
