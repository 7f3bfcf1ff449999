//! Proof that the proof works: finished PDFs are changed in more than a hundred
//! ways, and each change must be found, with the page and the thing named.
//!
//! Each case is a change to the bytes of a finished file, the page that must be
//! named, and what must be said of it. A file that is taken apart and put
//! together again without a change must still pass, so that no case is found for
//! the wrong reason. What the proof lets through stands in [`NOT_YET_CAUGHT`],
//! and a case that stands there and is found after all fails, too.

mod common;

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

/// Changes that the proof lets through, or does not lay at the right page's
/// door: what would have to be looked at, and the cases.
const NOT_YET_CAUGHT: &[(&str, &[&str])] = &[
    (
        "the order of the content stream is compared, and not where on paper it stands: \
         a text would have to stand right of the one before it, or on a line below",
        &[
            "two sentences exchanged on a page",
            "the names of two medicines exchanged in their table",
            "\"ask before\" and \"as prescribed\" exchanged between two medicines",
            "two rows of the table by weight exchanged",
            "two lines of how to do a card exchanged",
            "the numbers of two lines of how to do a card exchanged",
            "the headings of two parts of the day exchanged",
            "the times of two steps exchanged in place",
            "two codes exchanged on the list to tick",
            "two names exchanged on the run sheet",
            "a note of the run sheet beside another kit",
            "a time pushed to the line of another step",
            "a text of a label moved 6 mm",
            "two figures of one time exchanged on paper, in the text as before",
            "letters spread over the page",
            "letters squeezed to a tenth",
            "a space between two words left out",
        ],
    ),
    (
        "a part's texts are counted and not put in order: they would have to stand in \
         the order of the document data",
        &[
            "two times of the timeline exchanged",
            "two cards of the timeline exchanged",
            "two amounts of the table by weight exchanged",
            "two lines of how to do a card exchanged in the text as well",
            "a caution moved from its page to the one before",
            "two pages within a part exchanged",
            "the page numbers of two pages of a part exchanged",
        ],
    ),
    (
        "ToUnicode is believed: outlines would have to be those that the program's own \
         fonts have for the character",
        &[
            "two figures exchanged that read as they did",
            "two outlines exchanged in a font",
            "two outlines exchanged in the font of labels",
            "an outline that is empty",
            "a font program that is another font's",
            "text of a font that is drawn by operators",
        ],
    ),
    (
        "neither the size of type nor which way up it stands is looked at",
        &[
            "text of 1 pt",
            "text of 1 pt on a label",
            "text mirrored in its place",
            "text upside down in its place",
            "a page scaled to half",
            "a page moved by 4 mm into the printer's margin",
        ],
    ),
    (
        "blending, soft masks, groups, outlines and clips with holes are not followed",
        &[
            "text that is blended away",
            "text behind a soft mask",
            "text in a group that is all transparent",
            "text drawn as an outline so thin that it does not print",
            "text drawn as an outline so thick that it is a blot",
            "text that a clip with a hole leaves out",
        ],
    ),
    (
        "only fills cover text: pictures and strokes are not compared",
        &["text struck through", "a picture that nobody planned on a page of paper"],
    ),
    (
        "what is drawn on paper and on a label is not compared",
        &[
            "a box to tick left out of the checklist",
            "a box to tick left out of the packing slip",
            "a line to write on left out of the information card",
            "the grid of the information card left out",
            "the lines to write on left out of a label",
            "the thick lines of the timeline left out",
            "the frame around the first warning left out",
        ],
    ),
    (
        "a QR code need only be read and stand in its corner: its modules and its side \
         would have to be compared",
        &["a label scaled by 2 %, the corner of its QR code kept"],
    ),
    (
        "pages that belong to no kit, or come twice in the page tree, are not looked at",
        &[
            "a page that stands in the file's list twice",
            "a page in front that belongs to no part",
        ],
    ),
    (
        "keys of a page that change how it prints are not looked at",
        &[
            "a page turned by half",
            "a note of a reader's with text",
            "a note of a reader's that is shown on screen alone",
            "a field to fill in",
        ],
    ),
    (
        "keys of the catalog and of its preferences are not looked at",
        &[
            "two copies asked for",
            "a range of pages asked for",
            "a caution in a layer that is hidden in print",
            "the mark that says it is tagged",
        ],
    ),
    (
        "what a file says of itself and to those who hear it is not compared",
        &[
            "the file's language",
            "the file's title",
            "the file's title in its metadata",
            "a bookmark's words",
            "a time in the words for those who hear the timeline",
            "the words for those who hear a QR code",
            "a word that is read out for what is printed",
        ],
    ),
];

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

fn not_yet_caught() -> impl Iterator<Item = &'static str> {
    NOT_YET_CAUGHT.iter().flat_map(|(_, cases)| cases.iter().copied())
}

/// Tries every case of one table.
#[track_caller]
fn try_all(cases: &[Case]) {
    let mut shop = shop();
    let mut wrong = String::new();
    for case in cases {
        let is_listed = not_yet_caught().any(|what| what == case.what);
        let (named, said) = case.verdict(&mut shop);
        if named {
            continue;
        }
        let (page, says) = (case.page, case.says);
        let why = if is_listed { "is found now" } else { "is not found" };
        wrong += &format!(
            "\n{} ({:?} {}) {why}: wanted page {page} \"{says}\"\n",
            case.what,
            case.of,
            case.file.name()
        );
        wrong.extend(said.iter().take(12).map(|line| format!("    {line}\n")));
    }
    assert!(wrong.is_empty(), "{wrong}");
}

fn tables() -> [&'static [Case]; 9] {
    [
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
    let mut listed = BTreeSet::new();
    for what in not_yet_caught() {
        assert!(names.contains(what), "no case is called \"{what}\"");
        assert!(listed.insert(what), "\"{what}\" is listed twice");
    }
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
