//! The medicine table of the instruction sheet.

use serde::Serialize;

use super::Kit;
use crate::clock::Moment;
use crate::medicine::Class;
use crate::plan::{Action, PlannedDose, Stretch};
use crate::protocol::Allowed;
use crate::words::say;

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct MedicineTable {
    pub title: String,
    /// Who alone may change a medicine.
    pub rule: String,
    /// Headings of the table; none where there are no rows.
    pub columns: Vec<String>,
    pub rows: Vec<Row>,
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

pub(super) fn medicines(kit: &Kit) -> MedicineTable {
    let rule = match kit.provider_name() {
        Some(provider) => say!(kit.words, "med-rule", provider = provider),
        None => say!(kit.words, "med-rule-unnamed"),
    };
    let rows: Vec<Row> = kit.plan.doses.chunks(2).map(|pair| row(kit, pair)).collect();
    let mut notes = Vec::new();
    let mut columns = Vec::new();
    if rows.is_empty() {
        notes.push(say!(kit.words, "med-none"));
    } else {
        columns = vec![
            say!(kit.words, "med-medicine"),
            say!(kit.words, "med-usual"),
            say!(kit.words, "part-before"),
            say!(kit.words, "part-after"),
        ];
    }
    if let (true, Some(provider)) =
        (kit.plan.doses.iter().any(PlannedDose::is_moved), kit.provider_name())
    {
        notes.push(say!(kit.words, "med-agreed", provider = provider));
    }
    for dose in &kit.order.doses {
        let medicine = kit.medicine_name(&dose.medicine);
        if dose.class == Some(Class::Glucocorticoid) {
            notes.push(say!(kit.words, "med-steroid", medicine = &medicine));
        }
        if let Some(note) = &dose.note {
            notes.push(say!(kit.words, "med-note", medicine = &medicine, note = note));
        }
    }
    if kit.plan.doses.iter().any(|dose| is_swallowed_dry(kit, dose)) {
        notes.push(say!(kit.words, "med-sip"));
    }
    if kit.order.doses.iter().any(|dose| dose.form.is_on_skin()) {
        notes.push(say!(kit.words, "med-skin"));
    }
    MedicineTable { title: say!(kit.words, "med-heading"), rule, columns, rows, notes }
}

/// Whether a dose is to be swallowed while nothing is drunk: it is not to wait for that.
fn is_swallowed_dry(kit: &Kit, dose: &PlannedDose) -> bool {
    let is_in = |stretch: &Stretch, at: Moment| {
        stretch.allowed == Allowed::Nothing
            && stretch.from <= at
            && stretch.until.is_none_or(|until| at < until)
    };
    let is_oral = kit.order.doses[dose.index].form.is_swallowed();
    is_oral
        && dose
            .take_at()
            .is_some_and(|at| kit.plan.drinks.iter().any(|stretch| is_in(stretch, at)))
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
    // On a day when the clocks change the two days can differ.
    let times = [0, 1].map(|day| pair.get(day).unwrap_or(first).usual_at);
    let [one, two] = times.map(|at| kit.time(at));
    let usual = if one == two {
        one
    } else {
        say!(kit.words, "list-and", first = one, last = two)
    };
    Row { medicine: kit.medicine_with_form(first), usual, before, after }
}

fn action(kit: &Kit, dose: &PlannedDose) -> String {
    match &dose.action {
        Action::AsUsual => {
            say!(kit.words, "med-as-usual")
        }
        Action::AsPrescribed => {
            say!(kit.words, "med-prescribed")
        }
        Action::AfterCard { slot, at } => {
            let card = kit.plan.slot(slot).and_then(|slot| slot.card).unwrap_or_default();
            say!(
                kit.words,
                "med-after-card",
                card = card.to_string(),
                time = kit.time(*at)
            )
        }
        Action::Ask => say!(kit.words, "med-ask"),
    }
}
