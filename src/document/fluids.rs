//! The drinks table: this person's rule for each stretch of the day, the
//! look-up by weight, and the tables for a day that goes another way.

use serde::Serialize;

use super::repeats::{Changes, changes};
use super::{Entry, Kit};
use crate::order::{Paper, TextSize};
use crate::plan::{Amount, LookUpRow, Stretch, look_up};
use crate::protocol::Allowed;
use crate::units::WeightUnit;
use crate::words::say;

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Fluids {
    pub title: String,
    pub who: Vec<Entry>,
    pub intro: String,
    pub columns: [String; 2],
    pub rows: Vec<Entry>,
    pub notes: Vec<String>,
    pub table_title: Option<String>,
    /// This person's own weight and amount.
    pub own: Option<String>,
    /// The look-up table, in as many columns as stand side by side; none where
    /// an amount is the provider's to say.
    pub tables: Vec<Table>,
    /// Said in place of the table.
    pub no_table: Option<String>,
    pub cup: Option<String>,
    /// For a day that goes another way.
    pub changes: Changes,
}

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Table {
    pub columns: [String; 2],
    pub rows: Vec<Row>,
}

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Row {
    pub weight: String,
    pub amount: String,
    /// Whether this is the patient's own row.
    pub own: bool,
}

pub(super) fn fluids(kit: &Kit) -> Fluids {
    let words = kit.words;
    let has_allowance =
        kit.plan.drinks.iter().any(|stretch| stretch.allowed == Allowed::Allowance);
    let tables = if has_allowance && kit.plan.allowance.is_ours() {
        tables(kit)
    } else {
        Vec::new()
    };
    let own = match (kit.order.patient.weight, kit.plan.allowance) {
        (Some(weight), Amount::Figure(drink)) if has_allowance => Some(say!(
            words,
            "fluids-table-own",
            weight = say!(
                words,
                "weight",
                figure = weight.figure(),
                unit = unit_word(weight.unit())
            ),
            amount = words.drink(drink)
        )),
        _ => None,
    };
    let mut notes = Vec::new();
    if let Some((from, until)) = kit.plan.caffeine {
        notes.push(say!(
            words,
            "fluids-caffeine",
            from = kit.day_and_time(from),
            until = kit.day_and_time(until)
        ));
    }
    notes.push(say!(words, "fluids-limit"));
    notes.push(super::sheet::care_drink(words, kit.plan));
    notes.push(say!(words, "care-later"));
    let no_table =
        (has_allowance && tables.is_empty()).then(|| say!(words, "fluids-no-table"));
    Fluids {
        title: say!(words, "fluids-title"),
        who: kit.who(),
        intro: say!(words, "fluids-intro"),
        columns: [say!(words, "fluids-when"), say!(words, "fluids-what")],
        rows: kit.plan.drinks.iter().map(|stretch| row(kit, stretch)).collect(),
        notes,
        table_title: (!tables.is_empty()).then(|| say!(words, "fluids-table")),
        own,
        cup: (!tables.is_empty()).then(|| say!(words, "cup-defined")),
        tables,
        no_table,
        changes: changes(kit),
    }
}

fn row(kit: &Kit, stretch: &Stretch) -> Entry {
    let from = kit.day_and_time(stretch.from);
    let label = match stretch.until {
        Some(until) => say!(
            kit.words,
            "range",
            from = from,
            to = kit.time_beside(until, stretch.from)
        ),
        None => say!(kit.words, "fluids-from", from = from),
    };
    let amount = stretch.amount.map(|drink| kit.words.drink(drink)).unwrap_or_default();
    let prescribed = !kit.plan.allowance.is_ours();
    let value = match stretch.allowed {
        Allowed::Nothing if prescribed => say!(kit.words, "fluids-nothing-prescribed"),
        Allowed::WaterUpTo | Allowed::WithDinner | Allowed::IfThirsty if prescribed => {
            say!(kit.words, "fluids-allowance-prescribed")
        }
        Allowed::WaterUpTo => say!(kit.words, "fluids-water-up-to", amount = amount),
        Allowed::Nothing => say!(kit.words, "fluids-nothing"),
        Allowed::WithDinner => say!(kit.words, "fluids-with-dinner"),
        Allowed::IfThirsty => say!(kit.words, "fluids-if-thirsty"),
        Allowed::Normal if !kit.plan.allowance.is_ours() => {
            say!(kit.words, "fluids-normal-prescribed")
        }
        Allowed::Normal => say!(kit.words, "fluids-normal"),
        Allowed::Allowance => match kit.plan.allowance {
            Amount::Figure(_) => say!(kit.words, "fluids-allowance", amount = amount),
            Amount::LookUp => say!(kit.words, "fluids-allowance-lookup"),
            Amount::Prescribed => say!(kit.words, "fluids-allowance-prescribed"),
            Amount::Ask => say!(kit.words, "fluids-allowance-ask"),
        },
    };
    Entry { label, value }
}

fn unit_word(unit: WeightUnit) -> &'static str {
    match unit {
        WeightUnit::Pound => "lb",
        WeightUnit::Kilogram => "kg",
    }
}

fn tables(kit: &Kit) -> Vec<Table> {
    let weight = kit.order.patient.weight;
    let unit = weight.map_or(
        match kit.order.paper {
            Paper::Letter => WeightUnit::Pound,
            Paper::A4 => WeightUnit::Kilogram,
        },
        |weight| weight.unit(),
    );
    let own = kit.plan.allowance.figure();
    let rows: Vec<Row> = look_up(&kit.protocol.allowance, unit)
        .iter()
        .map(|row| Row {
            weight: between(kit, row, unit),
            amount: kit.words.drink(row.amount),
            own: own == Some(row.amount),
        })
        .collect();
    let side_by_side = if kit.order.text == TextSize::Large { 1 } else { 2 };
    rows.chunks(rows.len().div_ceil(side_by_side).max(1))
        .map(|rows| Table {
            columns: [say!(kit.words, "fluids-weight"), say!(kit.words, "fluids-amount")],
            rows: rows.to_vec(),
        })
        .collect()
}

fn between(kit: &Kit, row: &LookUpRow, unit: WeightUnit) -> String {
    let unit = unit_word(unit);
    if row.from == row.until {
        return say!(kit.words, "weight", figure = row.from.to_string(), unit = unit);
    }
    say!(
        kit.words,
        "fluids-between",
        from = row.from.to_string(),
        to = row.until.to_string(),
        unit = unit
    )
}
