//! What a packer is told of each dose that has to be asked about, and why.
//!
//! The rules are common practice, no source.

use kitwright::plan::Level;

use super::common::{AGREED, order_text, planned};
use super::dose;

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
