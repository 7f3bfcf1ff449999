//! Tables built into the program against published ones.

mod common;

use chrono::NaiveDate;
use common::date;
use kitwright::medicine::{Class, Medicines};
use kitwright::order::{Form, Paper};
use kitwright::plan::us_federal_holidays;
use kitwright::stock::{self, Medium};

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
    let entries = Medicines::builtin().entries();
    assert!(entries.len() > 100, "{} medicines are checked", entries.len());
    for medicine in entries {
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
        (Class::Antidiabetic, &["metformin", "empagliflozin"]),
        (Class::Other, &["lisinopril", "ketoconazole"]),
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
    for run_together in [
        "prednisone10mg",
        "hydrocortisone20mg",
        "predni sone",
        "dexa-methasone 4",
        "beta\u{ad}methasone",
        "ｐｒｅｄｎｉｓｏｎｅ",
    ] {
        assert_eq!(class(run_together), Some(Class::Glucocorticoid), "{run_together}");
    }
    assert_eq!(class("lithium300"), class("lithium"));
    assert!(class("lithium").is_some());
    // Two slips in a name of seven letters or more.
    for slips in ["litihum", "litum", "prednizon", "hidrocortizone"] {
        assert!(class(slips).is_some(), "{slips}");
    }
    assert_eq!(class("estradiol 1 mg"), None);
    assert_eq!(class("estra diol"), None);
}

/// Spanish names are those of the INN in Spanish, from memory.
#[test]
fn a_medicine_has_its_name_in_the_sheets_language() {
    let translate = |name, language| Medicines::builtin().translate(name, language);
    for (name, language, expected) in [
        ("prednisone", "es", "prednisona"),
        ("Prednisone", "es", "prednisona"),
        ("prednisone", "en", "prednisone"),
        ("zzunknown", "es", "zzunknown"),
        // Another name of it may say more.
        ("nph insulin", "es", "nph insulin"),
        ("micronized progesterone", "es", "micronized progesterone"),
        ("progesterone", "es", "progesterona"),
    ] {
        assert_eq!(translate(name, language), expected, "{name} in {language}");
    }
}

/// A4 is 210 by 297 mm (ISO 216); Letter 8.5 by 11 inches of 25.4 mm (ANSI/ASME Y14.1,
/// from memory). The labels are those of Debian's `glabels-data` 3.4.1.
#[test]
fn cells_lie_row_by_row_from_the_top_left_of_each_sheet() {
    let place = |name: &str, index| {
        let cell = stock::builtin(name).unwrap().cell(index);
        (cell.page, cell.x.um(), cell.y.um())
    };
    for (name, index, expected) in [
        ("letter-2x5", 0, (0, 4_130, 12_700)),
        ("letter-2x5", 1, (0, 110_490, 12_700)),
        ("letter-2x5", 2, (0, 4_130, 63_500)),
        ("letter-2x5", 9, (0, 110_490, 215_900)),
        ("letter-2x5", 10, (1, 4_130, 12_700)),
        ("letter-2x5", 29, (2, 110_490, 215_900)),
        ("a4-2x7", 13, (0, 105_000, 251_000)),
        ("a4-2x7", 14, (1, 0, 5_000)),
        ("roll-102x51", 3, (3, 0, 0)),
    ] {
        assert_eq!(place(name, index), expected, "{name} {index}");
    }
    for (name, paper, words, size) in [
        (
            stock::default_for(Paper::Letter),
            Paper::Letter,
            "Letter sheet, 2 x 5 labels of 101.6 x 50.8 mm",
            (215_900, 279_400),
        ),
        (
            stock::default_for(Paper::A4),
            Paper::A4,
            "A4 sheet, 2 x 7 labels of 105 x 41 mm",
            (210_000, 297_000),
        ),
    ] {
        let stock = stock::builtin(name).unwrap();
        assert_eq!(stock.medium, Medium::Sheet(paper), "{name} is of its paper");
        assert_eq!(stock.describe(), words);
        let (width, height) = stock.page_size();
        assert_eq!((width.um(), height.um()), size, "{name}");
        assert_eq!(paper.size_mm(), (width.to_mm(), height.to_mm()), "{name}");
    }
}

/// What is on the skin gets on hands, and from there on cards. Common practice, no
/// source.
#[test]
fn forms_that_are_on_the_skin_are_known() {
    let on_skin: Vec<&str> = Form::CHOICES
        .iter()
        .filter(|(_, form)| form.is_on_skin())
        .map(|(word, _)| *word)
        .collect();
    assert_eq!(on_skin, ["gel", "cream", "spray"]);
}

/// Of these the sheet says that one may be taken with a sip of water while nothing is
/// drunk: common practice, no source.
#[test]
fn forms_that_are_swallowed_are_known() {
    let swallowed: Vec<&str> = Form::CHOICES
        .iter()
        .filter(|(_, form)| form.is_swallowed())
        .map(|(word, _)| *word)
        .collect();
    assert_eq!(swallowed, ["tablet", "capsule", "liquid"]);
}
