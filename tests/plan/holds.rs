//! What each hold says, and that a limit is kept to the last figure.
//!
//! The limits are common practice, no source.

use kitwright::plan::Level;

use super::common::{AGREED, order_text, planned};
use super::dose;

/// Every finding of `level` in an order with `extra`, as it is told.
fn told(extra: &str, level: Level) -> Vec<String> {
    planned(&order_text(extra))
        .findings
        .iter()
        .filter(|finding| finding.level == level)
        .map(|finding| format!("{}: {}", finding.code, finding.text))
        .collect()
}

#[test]
fn a_hold_says_what_it_is_about_and_what_clears_it() {
    let clears = |hold: &str| {
        format!("; cleared by [[cleared]] with hold = \"{hold}\", by and on")
    };
    let lithium = dose("lithium carbonate", "tablet", "08:00", "unchanged");
    let spray = dose("desmopressin", "spray", "21:00", "unchanged");
    let fluids = "fluid-limit: fluids are the prescriber's to set: ";
    for (extra, expected) in [
        (
            "[health]\npregnant = true\n".to_owned(),
            format!("pregnant: the patient is pregnant{}", clears("pregnant")),
        ),
        (
            "[health]\nbreastfeeding = true\n".to_owned(),
            format!("{fluids}breastfeeding{}", clears("fluid-limit")),
        ),
        (
            format!("{lithium}\n{spray}\n[health]\nkidney_stones = true\n"),
            format!(
                "{fluids}kidney stones, lithium carbonate, desmopressin{}",
                clears("fluid-limit")
            ),
        ),
    ] {
        assert_eq!(told(&extra, Level::Hold), [expected], "{extra}");
    }
}

#[test]
fn the_drink_rule_ends_at_70_and_at_400_pounds() {
    let text = order_text("");
    for (weight, held) in [
        ("70 lb", false),
        ("69.999 lb", true),
        ("400 lb", false),
        ("400.001 lb", true),
        // 70 lb are 31.7514659 kg and 400 lb are 181.436948 kg, by the pound of
        // 0.45359237 kg (NIST Handbook 44, Appendix C, from memory).
        ("31.752 kg", false),
        ("31.751 kg", true),
        ("181.436 kg", false),
        ("181.437 kg", true),
    ] {
        let plan = planned(&text.replace("150 lb", weight));
        let holds: Vec<String> = plan.holds().map(|hold| hold.text.clone()).collect();
        let expected = format!(
            "the weight {weight} is outside the 70 to 400 lb of the drink rule; cleared \
             by [[cleared]] with hold = \"weight\", by and on"
        );
        assert_eq!(holds, held.then_some(expected).into_iter().collect::<Vec<_>>());
        assert_eq!(plan.allowance.figure().is_none(), held, "{weight}");
    }
}

#[test]
fn a_glucocorticoids_hold_names_all_that_is_missing_and_nothing_else() {
    let steroid = dose("prednisone", "tablet", "08:00", "unchanged");
    let note = "note = \"Take it at eight as always.\"\n";
    let cleared = "[[cleared]]\nhold = \"glucocorticoid\"\nby = \"R. Adeyemi\"\n\
                   on = 2026-08-30\n";
    let provider = "[provider]";
    let instruction = "the provider's instruction as its `note`";
    let clearance = "[[cleared]] with hold = \"glucocorticoid\", by and on";
    for (extra, missing) in [
        (steroid.clone(), &[provider, instruction, clearance][..]),
        (format!("{AGREED}\n{steroid}"), &[instruction, clearance]),
        (format!("{steroid}{note}"), &[provider, clearance]),
        (format!("{steroid}{note}\n{cleared}"), &[provider]),
        (format!("{AGREED}\n{steroid}\n{cleared}"), &[instruction]),
        (format!("{AGREED}\n{steroid}{note}"), &[clearance]),
    ] {
        let expected = format!(
            "glucocorticoid: prednisone is a glucocorticoid; cleared by {}",
            missing.join(" and ")
        );
        assert_eq!(told(&extra, Level::Hold), [expected], "{extra}");
    }
    let whole = format!("{AGREED}\n{steroid}{note}\n{cleared}");
    assert_eq!(told(&whole, Level::Hold), [""; 0]);
    assert_eq!(
        told(&whole, Level::Info),
        ["hold-cleared: glucocorticoid (prednisone is a glucocorticoid) was cleared by \
          R. Adeyemi on 2026-08-30"]
    );
}

#[test]
fn medicines_with_which_drinking_matters_are_to_be_looked_at_and_no_others() {
    let water = dose("furosemide", "tablet", "08:00", "unchanged");
    let insulin = dose("insulin glargine", "injection", "22:00", "unchanged");
    let sugar = dose("metformin", "tablet", "08:00", "unchanged");
    let other = dose("amlodipine", "tablet", "08:00", "unchanged");
    assert_eq!(
        told(&format!("{water}\n{insulin}\n{sugar}\n{other}"), Level::Warning),
        [
            "diuretic: furosemide is a diuretic: check that two hours without a drink suit \
             the patient",
            "diabetes: insulin glargine is an insulin: check that two hours without a \
             drink, and the time of dinner, suit the patient",
            "diabetes: metformin is a medicine for diabetes: check that two hours without \
             a drink, and the time of dinner, suit the patient",
        ]
    );
    assert_eq!(told(&other, Level::Warning), [""; 0]);
}

#[test]
fn a_clearance_of_a_hold_that_is_not_there_clears_nothing() {
    let cleared = |hold: &str| {
        format!("[[cleared]]\nhold = \"{hold}\"\nby = \"R. A.\"\non = 2026-01-01\n")
    };
    let steroid = dose("prednisone", "tablet", "08:00", "unchanged");
    for (extra, expected) in [
        (cleared("under-18"), Some("under-18")),
        (cleared("glucocorticoid"), Some("glucocorticoid")),
        (format!("{steroid}{}", cleared("glucocorticoid")), None),
        (format!("[health]\npregnant = true\n{}", cleared("pregnant")), None),
    ] {
        let idle = told(&extra, Level::Warning);
        let idle: Vec<_> =
            idle.iter().filter(|told| told.starts_with("idle-clearance")).collect();
        let expected: Vec<String> = expected
            .map(|hold| {
                format!(
                    "idle-clearance: {hold} is cleared, and nothing in the order asks for \
                     that"
                )
            })
            .into_iter()
            .collect();
        assert_eq!(idle, expected.iter().collect::<Vec<_>>(), "{extra}");
    }
}
