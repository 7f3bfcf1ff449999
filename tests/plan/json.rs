//! `plan --json`: every field of a plan, as other programs read it.
//! `tests/outside/oracle.py` recomputes thousands of them.

use kitwright::plan::Plan;
use kitwright::report;
use serde_json::{Value, json};

use super::common::{AGREED, order, order_text, planned};
use super::dose;

/// Moments are ISO 8601 with the offset of Denver, which is six hours in October.
/// Codes are ISO/IEC 7064, MOD 37-2, as PyPI `python-stdnum` 2.2 gives them.
#[test]
fn a_plan_for_machines_has_every_moment_and_amount() {
    let extra = format!(
        "{AGREED}\n{}{}{}",
        dose("estradiol", "gel", "07:30", "protocol"),
        dose("zzunknown", "tablet", "20:00", "protocol"),
        dose("warfarin", "tablet", "12:00", "unchanged"),
    );
    let plan = report::json(&planned(&order_text(&extra)));
    assert_eq!(plan["order"], "HB-20417");
    assert_eq!(plan["zone"], "America/Denver");
    // The version of the IANA data that the outside readers are pinned to, as well.
    assert_eq!(plan["zone_data"], "2026f");
    assert_eq!(plan["pack_at"], "2026-10-16T06:30:00-06:00");
    assert_eq!(plan["post_on"], "2026-10-16");
    assert_eq!(
        plan["caffeine"],
        json!({"from": "2026-10-14T12:30:00-06:00", "until": "2026-10-15T08:30:00-06:00"})
    );
    assert_eq!(
        plan["slots"][2],
        json!({
            "slot": "waking",
            "card": 3,
            "code": "HB-20417-31",
            "empty_at": null,
            "stop_drinking_at": null,
            "collect_at": "2026-10-15T06:30:00-06:00",
            "collect_by": "2026-10-15T06:40:00-06:00",
            "dry_at": "2026-10-15T10:30:00-06:00",
            "repeat": {
                "empty_at": null,
                "stop_drinking_at": null,
                "collect_at": "2026-10-16T06:30:00-06:00",
                "doses": [{
                    "medicine": "estradiol",
                    "day": 3,
                    "usual_at": "2026-10-16T07:30:00-06:00",
                    "take_at": "2026-10-16T08:30:00-06:00",
                    "action": "after-card",
                    "after_slot": "later",
                }],
            },
        })
    );
    assert_eq!(plan["slots"][4]["slot"], "night");
    assert_eq!(plan["slots"][4]["card"], Value::Null);
    assert_eq!(plan["slots"][4]["collect_at"], Value::Null);
    let at = |dose: &Value| {
        let text = |key: &str| dose[key].as_str().unwrap_or("none").to_owned();
        format!(
            "{} {} {} {} {}",
            text("medicine"),
            dose["day"],
            text("usual_at"),
            text("take_at"),
            text("action")
        )
    };
    let doses: Vec<String> = plan["doses"].as_array().unwrap().iter().map(at).collect();
    assert_eq!(
        doses,
        [
            "estradiol 1 2026-10-14T07:30:00-06:00 2026-10-14T07:30:00-06:00 as-usual",
            "estradiol 2 2026-10-15T07:30:00-06:00 2026-10-15T08:30:00-06:00 after-card",
            "zzunknown 1 2026-10-14T20:00:00-06:00 none ask",
            "zzunknown 2 2026-10-15T20:00:00-06:00 none ask",
            "warfarin 1 2026-10-14T12:00:00-06:00 2026-10-14T12:00:00-06:00 as-prescribed",
            "warfarin 2 2026-10-15T12:00:00-06:00 2026-10-15T12:00:00-06:00 as-prescribed",
        ]
    );
    assert_eq!(
        plan["drinks"][5],
        json!({
            "from": "2026-10-15T06:30:00-06:00",
            "until": "2026-10-15T08:30:00-06:00",
            "rule": "allowance",
            "ml": 350,
            "quarter_cups": 6,
        })
    );
    assert_eq!(plan["drinks"][6]["until"], Value::Null);
    assert_eq!(
        plan["findings"],
        json!([{
            "level": "warning",
            "code": "ask-provider",
            "text": "ask about zzunknown (tablet): it is not in the medicine table",
        }])
    );
}

#[test]
fn an_undated_plan_for_machines_counts_days() {
    let text = order_text("").replace("start = 2026-10-14\n", "");
    let plan = report::json(&planned(&text));
    assert_eq!(plan["zone"], Value::Null);
    assert_eq!(plan["post_on"], Value::Null);
    assert_eq!(plan["slots"][0]["collect_at"], "D1T17:15:00");
    assert_eq!(plan["slots"][3]["collect_at"], "D2T08:30:00");
    assert_eq!(plan["slots"][3]["repeat"]["collect_at"], "D3T08:30:00");
    assert_eq!(plan["pack_at"], "D3T06:30:00");
}

#[test]
fn a_hold_comes_first_and_is_told_by_its_level() {
    let plan = planned(
        &order_text("[health]\npregnant = true\n")
            .replace("wake = 06:30", "wake = 01:00"),
    );
    let told = |plan: &Plan| -> Vec<String> {
        let findings = report::json(plan)["findings"].as_array().unwrap().clone();
        findings.iter().map(|f| format!("{} {}", f["level"], f["code"])).collect()
    };
    assert_eq!(told(&plan), ["\"hold\" \"pregnant\"", "\"warning\" \"short-sleep\""]);
    let faults: Vec<String> = plan.hold_faults().iter().map(|f| f.what.clone()).collect();
    assert_eq!(
        faults,
        [
            "the order HB-20417 is on hold: the patient is pregnant; cleared by [[cleared]] \
          with hold = \"pregnant\", by and on"
        ]
    );
    let cleared = "[health]\npregnant = true\n[[cleared]]\nhold = \"pregnant\"\n\
                   by = \"R. Adeyemi, RN\"\non = 2026-08-30\n";
    let plan = planned(&order_text(cleared));
    assert_eq!(told(&plan), ["\"info\" \"hold-cleared\""]);
    assert_eq!(
        plan.findings[0].text,
        "pregnant (the patient is pregnant) was cleared by R. Adeyemi, RN on 2026-08-30"
    );
    assert!(plan.hold_faults().is_empty());
}

#[test]
fn a_dose_that_is_moved_or_asked_about_is_a_row_of_the_table() {
    let extra = format!(
        "{AGREED}\n{}{}",
        dose("estradiol", "gel", "07:30", "protocol"),
        dose("melatonin", "tablet", "21:00", "ask"),
    );
    let order = order(&order_text(&extra));
    let table = report::table(&order, &planned(&order_text(&extra)));
    let rows: Vec<&str> = table.lines().filter(|line| line.contains("usual")).collect();
    assert_eq!(
        rows,
        [
            "  Wed 10-14 21:00   ask about melatonin (usual Wed 10-14 21:00)",
            "  Thu 10-15 08:30   take estradiol (usual Thu 10-15 07:30)",
            "  Thu 10-15 21:00   ask about melatonin (usual Thu 10-15 21:00)",
        ]
    );
}
