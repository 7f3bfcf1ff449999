//! The packing slip: for the packer, never in the kit.

use serde::{Deserialize, Serialize};

use super::{Attachment, Cover, Entry, Kit, PageSetting};
use crate::fault::Fault;
use crate::order::{Paper, TextSize};
use crate::plan::Level;
use crate::words::{Words, say};

/// The packing slips of some kits, and the run sheet that stands before them.
#[derive(Debug, Clone, Serialize)]
pub struct Packing {
    pub cover: Option<Cover>,
    pub slips: Vec<PackingSlip>,
}

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct PackingSlip {
    pub page: PageSetting,
    pub attachment: Attachment,
    pub bookmark: String,
    pub title: String,
    pub notice: String,
    pub who: Vec<Entry>,
    pub facts: Vec<Entry>,
    pub contents_title: String,
    pub contents: Vec<String>,
    pub cards_title: String,
    pub tick: String,
    pub cards: Vec<Entry>,
    pub findings_title: String,
    pub findings: Vec<String>,
    pub sign: Vec<String>,
}

/// Printed pages of each part of a kit's paper, as it was typeset.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct PageCounts {
    pub sheet: usize,
    pub fluids: usize,
    pub card: usize,
}

/// Where a kit lies in the piles of a run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SlipPlace {
    /// Counted from 1, as on the run sheet.
    pub number: usize,
    /// Sides of the file of paper.
    pub first: usize,
    pub last: usize,
    /// Sheet and cells of the labels, in words: "sheet 2: 6 7 8 9 10".
    pub labels: String,
    /// Another order of the run whose name is like this one's.
    pub alike: Option<String>,
}

/// Makes the packing slip. It is the packer's, so its words are `packers`',
/// whatever language the patient reads.
///
/// # Errors
///
/// A fault for every message or argument that the catalog lacks.
pub fn packing_slip(
    kit: &Kit,
    packers: &Words,
    pages: PageCounts,
    place: Option<&SlipPlace>,
) -> Result<PackingSlip, Vec<Fault>> {
    // By its own name, so that a packer who reads the slip in another language can
    // tell the odd kit.
    let language = say!(kit.words, "language-name");
    let kit = Kit { words: packers, ..*kit };
    let mut slip = slip(&kit, pages, language);
    if let Some(SlipPlace { number, first, last, labels, alike }) = place {
        let value = say!(
            packers,
            "pack-place-of",
            number = number.to_string(),
            first = first.to_string(),
            last = last.to_string(),
            labels = labels
        );
        slip.facts.insert(0, Entry { label: say!(packers, "pack-place"), value });
        if let Some(other) = alike {
            slip.findings.insert(0, say!(packers, "pack-alike", order = other));
            slip.findings_title = say!(packers, "pack-findings");
        }
    }
    super::sound(packers, slip)
}

fn slip(kit: &Kit, pages: PageCounts, language: String) -> PackingSlip {
    let words = kit.words;
    let entry = |label, value| Entry { label, value };
    let count = kit.plan.slots.len() as i64;
    let contents = vec![
        say!(words, "pack-sheet", pages = pages.sheet as i64),
        say!(words, "pack-fluids", pages = pages.fluids as i64),
        say!(words, "pack-card", pages = pages.card as i64),
        say!(words, "pack-cards", count = count),
        say!(words, "pack-bags", count = count),
        say!(words, "pack-cup"),
        say!(words, "pack-envelope"),
    ];
    let first = kit.plan.slots.iter().filter_map(|slot| slot.collect_at).min();
    let start = match first {
        Some(at) if kit.plan.is_dated() => kit.day_and_time(at),
        _ => say!(words, "pack-undated"),
    };
    let approval = match &kit.lab.approval {
        Some(approval) => say!(
            words,
            "pack-approved",
            by = &approval.by,
            on = words.full_date(approval.on)
        ),
        None => say!(words, "pack-unapproved"),
    };
    let findings = findings(kit);
    PackingSlip {
        // Large print is for the patient.
        page: PageSetting {
            large: false,
            ..kit.page_setting(say!(words, "pack-title"), &[false])
        },
        attachment: kit.attachment(),
        bookmark: kit.bookmark(),
        title: say!(words, "pack-title"),
        notice: say!(words, "pack-for"),
        who: kit.who(),
        facts: vec![
            entry(say!(words, "pack-start"), start),
            entry(say!(words, "pack-language"), language),
            entry(say!(words, "pack-paper"), paper(kit)),
            entry(say!(words, "pack-stock"), kit.stock.name.clone()),
            entry(say!(words, "pack-protocol"), super::sheet_version(kit.protocol)),
            entry(say!(words, "pack-approval"), approval),
        ],
        contents_title: say!(words, "pack-contents"),
        contents,
        cards_title: say!(words, "list-cards"),
        tick: say!(words, "pack-tick"),
        cards: kit.cards(),
        findings_title: if findings.is_empty() {
            String::new()
        } else {
            say!(words, "pack-findings")
        },
        findings,
        sign: vec![say!(words, "pack-packed"), say!(words, "pack-checked")],
    }
}

/// Paper size and type size.
fn paper(kit: &Kit) -> String {
    let size = match kit.order.paper {
        Paper::Letter => "Letter",
        Paper::A4 => "A4",
    };
    match kit.order.text {
        TextSize::Standard => size.to_owned(),
        TextSize::Large => say!(kit.words, "pack-large", paper = size),
    }
}

fn findings(kit: &Kit) -> Vec<String> {
    let revised = (kit.edition.revision > 0).then(|| {
        let number = i64::from(kit.edition.revision);
        let mark = say!(kit.words, "mark-revision", number = number);
        say!(kit.words, "pack-revised", mark = mark)
    });
    let findings =
        kit.plan.findings.iter().filter(|finding| finding.level != Level::Hold).map(
            |finding| {
                let mut text = finding.text.clone();
                if let Some(first) = text.get(..1) {
                    let capital = first.to_uppercase();
                    text.replace_range(..1, &capital);
                }
                format!("{text}.")
            },
        );
    revised.into_iter().chain(findings).collect()
}
