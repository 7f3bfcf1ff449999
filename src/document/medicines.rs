//! The medicine table of the instruction sheet.

use serde::Serialize;

use super::{Entry, Kit, each_once};
use crate::medicine::Class;
use crate::order::TextSize;
use crate::plan::{Action, PlannedDose};
use crate::words::say;

/// The longest word that a column of the table holds, in characters.
const LONGEST_IN_COLUMN: usize = 20;

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Medicines {
    pub title: String,
    /// Who alone may change a medicine.
    pub rule: String,
    /// Headings of the table; none where there are no rows.
    pub columns: Vec<String>,
    pub rows: Vec<Row>,
    /// Instead of rows, in large print and where a name is too long for its column.
    pub apart: Vec<Apart>,
    /// Notes of the provider and warnings, below the table.
    pub notes: Vec<String>,
}

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Row {
    pub medicine: String,
    pub usual: String,
    pub before: String,
    pub after: String,
}

/// A medicine over its own lines.
#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Apart {
    pub medicine: String,
    pub lines: Vec<Entry>,
}

impl Apart {
    fn new(row: Row, [_, usual, before, after]: &[String; 4]) -> Self {
        let lines = [(usual, row.usual), (before, row.before), (after, row.after)];
        let entry = |(label, value): (&String, _)| Entry { label: label.clone(), value };
        Self { medicine: row.medicine, lines: lines.map(entry).into() }
    }
}

pub(super) fn medicines(kit: &Kit) -> Medicines {
    let rule = match kit.provider_name() {
        Some(provider) => say!(kit.words, "med-rule", provider = provider),
        None => say!(kit.words, "med-rule-unnamed"),
    };
    let mut rows: Vec<Row> =
        kit.plan.doses.chunks(2).map(|pair| row(kit, pair)).collect();
    let headings = [
        say!(kit.words, "med-medicine"),
        say!(kit.words, "med-usual"),
        say!(kit.words, "part-before"),
        say!(kit.words, "part-after"),
    ];
    let mut notes = Vec::new();
    let mut columns = Vec::new();
    let mut apart = Vec::new();
    let is_long = |row: &Row| {
        row.medicine.split(' ').any(|word| word.chars().count() > LONGEST_IN_COLUMN)
    };
    if rows.is_empty() {
        notes.push(say!(kit.words, "med-none"));
    } else if kit.order.text == TextSize::Large || rows.iter().any(is_long) {
        apart = rows.drain(..).map(|row| Apart::new(row, &headings)).collect();
    } else {
        columns = headings.into();
    }
    if let (true, Some(provider)) =
        (kit.plan.doses.iter().any(PlannedDose::is_moved), kit.provider_name())
    {
        notes.push(say!(kit.words, "med-agreed", provider = provider));
    }
    for (index, dose) in kit.order.doses.iter().enumerate() {
        if dose.class == Some(Class::Glucocorticoid) {
            let medicine = kit.medicine_name(&dose.medicine);
            notes.push(say!(kit.words, "med-steroid", medicine = medicine));
        }
        if let Some(note) = &dose.note {
            let medicine = kit.medicine_told(index);
            notes.push(match twin_times(kit, index) {
                Some(times) => say!(
                    kit.words,
                    "med-note-at",
                    medicine = medicine,
                    times = times,
                    note = note
                ),
                None => say!(kit.words, "med-note", medicine = medicine, note = note),
            });
        }
    }
    let (doses, drinks) = (&kit.order.doses, &kit.plan.drinks);
    let is_dry = |dose: &&PlannedDose| dose.is_dry(doses[dose.index].form, drinks);
    let dry: Vec<&PlannedDose> = kit.plan.doses.iter().filter(is_dry).collect();
    let names = each_once(dry.iter().map(|dose| kit.medicine_told(dose.index)));
    if let Some(medicines) = kit.in_words(names) {
        let has_note = dry.iter().any(|dose| doses[dose.index].note.is_some());
        notes.push(if has_note {
            say!(kit.words, "med-sip-noted", medicines = medicines)
        } else {
            say!(kit.words, "med-sip", medicines = medicines)
        });
    }
    if kit.order.doses.iter().any(|dose| dose.form.is_on_skin()) {
        notes.push(say!(kit.words, "med-skin"));
    }
    Medicines { title: say!(kit.words, "med-heading"), rule, columns, rows, apart, notes }
}

/// The times of one of the order's doses, where another is told by the same words.
fn twin_times(kit: &Kit, index: usize) -> Option<String> {
    let name = kit.medicine_told(index);
    let is_twin = |other| other != index && kit.medicine_told(other) == name;
    if !(0..kit.order.doses.len()).any(is_twin) {
        return None;
    }
    let times = kit.order.doses[index].times.iter();
    kit.in_words(times.map(|time| kit.words.time(*time, kit.style())).collect())
}

/// One line of the table: the plan has each time as two doses, one before the
/// night's sleep and one after it.
fn row(kit: &Kit, pair: &[PlannedDose]) -> Row {
    let first = &pair[0];
    let [before, mut after] = [0, 1]
        .map(|day| pair.get(day).map_or_else(String::new, |dose| action(kit, dose)));
    // A dose between bedtime and waking is of neither column: it is asked about
    // wherever its reader looks.
    if first.action == Action::Ask && first.usual_at > kit.plan.anchors.bedtime {
        after = before.clone();
    }
    let usual = kit.usual_time(first);
    Row { medicine: kit.medicine_with_form(first), usual, before, after }
}

fn action(kit: &Kit, dose: &PlannedDose) -> String {
    match &dose.action {
        Action::AsUsual if kit.order.doses[dose.index].stays_on() => {
            say!(kit.words, "med-patch")
        }
        Action::AsUsual => say!(kit.words, "med-as-usual"),
        Action::AsPrescribed => say!(kit.words, "med-prescribed"),
        Action::AfterCard { slot, at } => {
            let card = kit.plan.slot(slot).and_then(|slot| slot.card).unwrap_or_default();
            say!(
                kit.words,
                "med-after-card",
                card = card.to_string(),
                time = kit.exact_time(*at)
            )
        }
        Action::Ask => say!(kit.words, "med-ask"),
    }
}
