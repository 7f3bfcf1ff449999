//! Tables built into the program against published ones.

mod common;

use chrono::NaiveDate;
use common::date;
use kitwright::medicine::{Class, Medicines};
use kitwright::plan::us_federal_holidays;

/// The days of the OPM holiday schedule for 2026 to 2028 (5 U.S.C. 6103(a)),
/// the holidays' own dates where OPM lists an observed one; they agree with
/// PyPI `holidays` 0.109.
#[test]
fn holidays_are_those_of_the_opm_schedule() {
    let table: [(i32, [&str; 11]); 3] = [
        (
            2026,
            [
                "01-01", "01-19", "02-16", "05-25", "06-19", "07-04", "09-07", "10-12",
                "11-11", "11-26", "12-25",
            ],
        ),
        (
            2027,
            [
                "01-01", "01-18", "02-15", "05-31", "06-19", "07-04", "09-06", "10-11",
                "11-11", "11-25", "12-25",
            ],
        ),
        (
            2028,
            [
                "01-01", "01-17", "02-21", "05-29", "06-19", "07-04", "09-04", "10-09",
                "11-11", "11-23", "12-25",
            ],
        ),
    ];
    for (year, days) in table {
        let expected: Vec<NaiveDate> =
            days.iter().map(|day| date(&format!("{year}-{day}"))).collect();
        assert_eq!(us_federal_holidays(year), expected, "{year}");
    }
}

/// Level-5 codes of the WHO ATC/DDD index have seven characters.
#[test]
fn every_medicine_has_sound_atc_codes() {
    for medicine in Medicines::builtin().entries() {
        for code in &medicine.codes {
            let shape: String = code
                .chars()
                .map(|c| if c.is_ascii_digit() { '9' } else { 'A' })
                .collect();
            assert_eq!(shape, "A99AA99", "{}: {code}", medicine.name);
        }
    }
}

/// Classes by WHO ATC level: H02AB glucocorticoids and the other routes (R03BA,
/// R01AD, D07, A07EA), G03 sex hormones, H03AA thyroid hormones, N05CH01
/// melatonin, H01BA02 desmopressin, N05AN lithium, A10A insulins, N03A
/// antiepileptics, B01A antithrombotics, C03 diuretics.
#[test]
fn medicines_have_the_class_of_their_atc_code() {
    let class = |name: &str| Medicines::builtin().class(name);
    for (class_wanted, names) in [
        (
            Class::Glucocorticoid,
            &[
                "prednisone",
                "prednisolone",
                "methylprednisolone",
                "dexamethasone",
                "hydrocortisone",
                "budesonide",
                "fluticasone propionate",
                "beclometasone",
                "mometasone",
                "triamcinolone",
                "clobetasol",
                "fludrocortisone",
            ][..],
        ),
        (Class::Hormone, &["estradiol", "progesterone", "testosterone", "prasterone"]),
        (Class::Hormone, &["levothyroxine", "liothyronine", "melatonin"]),
        (Class::Desmopressin, &["desmopressin"]),
        (Class::Lithium, &["lithium carbonate"]),
        (Class::Insulin, &["insulin glargine", "insulin lispro"]),
        (Class::Antiepileptic, &["lamotrigine", "valproic acid", "gabapentin"]),
        (Class::Anticoagulant, &["warfarin", "apixaban"]),
        (Class::Diuretic, &["furosemide", "hydrochlorothiazide", "spironolactone"]),
        (Class::Contraceptive, &["levonorgestrel", "desogestrel"]),
        (Class::Other, &["metformin", "lisinopril", "ketoconazole"]),
    ] {
        for name in names {
            assert_eq!(class(name), Some(class_wanted), "{name}");
        }
    }
    assert_eq!(class("zzunknown"), None);
}

#[test]
fn a_steroid_is_known_by_any_name_and_a_hormone_only_by_its_own() {
    let class = |name: &str| Medicines::builtin().class(name);
    assert_eq!(class("Prednisone"), Some(Class::Glucocorticoid));
    assert_eq!(class("prednisona"), Some(Class::Glucocorticoid));
    assert_eq!(class("prednisone 5 mg"), Some(Class::Glucocorticoid));
    assert_eq!(class("neomycin/hydrocortisone drops"), Some(Class::Glucocorticoid));
    assert_eq!(class("predisone"), Some(Class::Glucocorticoid));
    assert_eq!(class("prednisone; 5 mg"), Some(Class::Glucocorticoid));
    assert_eq!(class("estradiol 1 mg"), None);
}
