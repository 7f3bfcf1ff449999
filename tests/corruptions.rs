//! Proof that the proof works: finished PDFs are changed in more than a hundred
//! ways, and each change must be found, with the page and the thing named.
//!
//! Each case is a change to the bytes of a finished file, the page that must be
//! named, and what must be said of it. A file that is taken apart and put
//! together again without a change must still pass, so that no case is found for
//! the wrong reason.

mod common;

#[path = "corruptions/entries.rs"]
mod entries;
#[path = "corruptions/hearing.rs"]
mod hearing;
#[path = "corruptions/identity.rs"]
mod identity;
#[path = "corruptions/kits.rs"]
mod kits;
#[path = "corruptions/labels.rs"]
mod labels;
#[path = "corruptions/looks.rs"]
mod looks;
#[path = "corruptions/packing.rs"]
mod packing;
#[path = "corruptions/pages.rs"]
mod pages;
#[path = "corruptions/pdf.rs"]
mod pdf;
#[path = "corruptions/places.rs"]
mod places;
#[path = "corruptions/random.rs"]
mod random;
#[path = "corruptions/settings.rs"]
mod settings;
#[path = "corruptions/times.rs"]
mod times;
#[path = "corruptions/words.rs"]
mod words;

use std::collections::BTreeSet;

use kits::{Of, made, shop};
use kitwright::proof::FileKind;
use kitwright::workshop::Workshop;
use pdf::Pdf;

/// One change to one finished file.
pub struct Case {
    /// What is changed, in words; each has its own.
    what: &'static str,
    of: Of,
    file: FileKind,
    change: fn(&mut Pdf),
    /// The page that must be named; 0 for the file as a whole.
    page: usize,
    /// What must be said of that page.
    says: &'static str,
}

const fn case(
    what: &'static str,
    of: Of,
    file: FileKind,
    change: fn(&mut Pdf),
    page: usize,
    says: &'static str,
) -> Case {
    Case { what, of, file, change, page, says }
}

impl Case {
    /// What the proof says of the changed file, and whether that will do.
    fn verdict(&self, shop: &mut Workshop) -> (bool, Vec<String>) {
        let made = made(self.of);
        let mut pdf = Pdf::open(made.file(self.file));
        (self.change)(&mut pdf);
        let said = made.prove(shop, self.file, &pdf.bytes());
        let said: Vec<String> =
            said.into_iter().map(|line| line.replace('\u{A0}', " ")).collect();
        let place = match self.page {
            0 => format!("{}: ", self.file.name()),
            page => format!("{}, page {page}: ", self.file.name()),
        };
        let named = said.iter().any(|line| {
            line.strip_prefix(&place).is_some_and(|line| line.contains(self.says))
        });
        (named, said)
    }
}

/// Tries every case of one table.
#[track_caller]
fn try_all(cases: &[Case]) {
    let mut shop = shop();
    let mut wrong = String::new();
    for case in cases {
        let (named, said) = case.verdict(&mut shop);
        if named {
            continue;
        }
        let (page, says) = (case.page, case.says);
        wrong += &format!(
            "\n{} ({:?} {}) is not found: wanted page {page} \"{says}\"\n",
            case.what,
            case.of,
            case.file.name()
        );
        wrong.extend(said.iter().take(12).map(|line| format!("    {line}\n")));
    }
    assert!(wrong.is_empty(), "{wrong}");
}

fn tables() -> [&'static [Case]; 10] {
    [
        hearing::CASES,
        identity::CASES,
        labels::CASES,
        looks::CASES,
        packing::CASES,
        pages::CASES,
        places::CASES,
        settings::CASES,
        times::CASES,
        words::CASES,
    ]
}

#[test]
fn a_file_put_together_again_without_a_change_passes() {
    let mut shop = shop();
    for of in Of::ALL {
        for kind in FileKind::ALL {
            let made = made(of);
            let mut pdf = Pdf::open(made.file(kind));
            for page in 1..=pdf.page_count() {
                let operations = pdf.operations(page);
                pdf.set_operations(page, operations);
            }
            let numbers: Vec<usize> = (1..=pdf.page_count()).collect();
            pdf.arrange(&numbers);
            let said = made.prove(&mut shop, kind, &pdf.bytes());
            assert_eq!(said, Vec::<String>::new(), "{of:?} {}", kind.name());
        }
    }
}

#[test]
fn every_case_has_a_name_of_its_own_and_there_are_more_than_a_hundred() {
    let cases: Vec<&Case> = tables().into_iter().flatten().collect();
    let names: BTreeSet<&str> = cases.iter().map(|case| case.what).collect();
    assert_eq!(names.len(), cases.len());
    assert!(names.len() > 100, "{}", names.len());
}

#[test]
fn changed_words_and_order_for_those_who_hear_are_found() {
    try_all(hearing::CASES);
}

#[test]
fn changed_names_dates_of_birth_and_codes_are_found() {
    try_all(identity::CASES);
}

#[test]
fn changed_labels_are_found() {
    try_all(labels::CASES);
}

#[test]
fn text_that_does_not_print_as_it_reads_is_found() {
    try_all(looks::CASES);
}

#[test]
fn changed_packing_slips_and_run_sheets_are_found() {
    try_all(packing::CASES);
}

#[test]
fn changed_pages_are_found() {
    try_all(pages::CASES);
}

#[test]
fn what_is_drawn_elsewhere_or_left_out_is_found() {
    try_all(places::CASES);
}

#[test]
fn changed_settings_and_attachments_are_found() {
    try_all(settings::CASES);
}

#[test]
fn changed_times_and_dates_are_found() {
    try_all(times::CASES);
}

#[test]
fn changed_words_are_found() {
    try_all(words::CASES);
}
