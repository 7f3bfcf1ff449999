//! Which column of an export holds what: `[columns]` of `lab.toml`.
//!
//! Takes that table, gives [`Columns`]; knows the fields that a column can fill
//! and what kind of value each holds. Opens no export.

use encoding_rs::Encoding;
use unicode_normalization::UnicodeNormalization;

use crate::fault::{Fault, visible};
use crate::fields::Fields;
use crate::order::HealthFlag;
use crate::units::WeightUnit;

/// The most columns of doses, which is the most doses of an order.
const MOST_DOSES: usize = 12;

/// What a column's cells hold, and so how they are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Figures and letters that name something; a zero in front counts.
    Code,
    Text,
    /// One of an order's fixed words, in small or capital letters.
    Word,
    Date,
    Time,
    /// Times of day with commas or semicolons between them.
    Times,
    Weight,
    YesNo,
}

/// A field of an order that a column can fill.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Field {
    /// Its key in `[columns]`.
    pub key: &'static str,
    /// The table it stands in; empty for the top of the order.
    pub table: &'static str,
    /// Its key in that table.
    pub name: &'static str,
    pub kind: Kind,
    /// Whether an order cannot be without it.
    pub required: bool,
}

impl Field {
    const fn new(
        key: &'static str,
        table: &'static str,
        name: &'static str,
        kind: Kind,
    ) -> Self {
        Self { key, table, name, kind, required: false }
    }

    const fn required(mut self) -> Self {
        self.required = true;
        self
    }
}

/// The fields of an order but those of its doses, as an order lists them. Health
/// flags are added by [`fields`].
const FIELDS: &[Field] = &[
    Field::new("order", "", "order", Kind::Code).required(),
    Field::new("protocol", "", "protocol", Kind::Word),
    Field::new("start", "", "start", Kind::Date),
    Field::new("zone", "", "zone", Kind::Text),
    Field::new("language", "", "language", Kind::Word),
    Field::new("paper", "", "paper", Kind::Word),
    Field::new("clock", "", "clock", Kind::Word),
    Field::new("text", "", "text", Kind::Word),
    Field::new("stock", "", "stock", Kind::Word),
    Field::new("family", "patient", "family", Kind::Text).required(),
    Field::new("given", "patient", "given", Kind::Text).required(),
    Field::new("born", "patient", "born", Kind::Date).required(),
    Field::new("weight", "patient", "weight", Kind::Weight),
    Field::new("weighed", "patient", "weighed", Kind::Date),
    Field::new("lunch", "routine", "lunch", Kind::Time),
    Field::new("dinner", "routine", "dinner", Kind::Time),
    Field::new("bedtime", "routine", "bedtime", Kind::Time),
    Field::new("wake", "routine", "wake", Kind::Time),
    Field::new("provider_name", "provider", "name", Kind::Text),
    Field::new("provider_phone", "provider", "phone", Kind::Code),
    Field::new("dose_rules", "provider", "dose_rules", Kind::Word),
];

/// The fields of one dose.
const DOSE: &[Field] = &[
    Field::new("medicine", "dose", "medicine", Kind::Text).required(),
    Field::new("form", "dose", "form", Kind::Word).required(),
    Field::new("times", "dose", "times", Kind::Times).required(),
    Field::new("timing", "dose", "timing", Kind::Word),
    Field::new("change_on", "dose", "change_on", Kind::Date),
    Field::new("note", "dose", "note", Kind::Text),
];

/// The fields of an order but those of its doses.
fn fields() -> impl Iterator<Item = Field> {
    let flags = HealthFlag::CHOICES.iter();
    FIELDS
        .iter()
        .copied()
        .chain(flags.map(|(flag, _)| Field::new(flag, "health", flag, Kind::YesNo)))
}

/// The order in which a date without a written month has its figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DateFormat {
    DayFirst,
    MonthFirst,
    YearFirst,
}

impl DateFormat {
    pub(super) const CHOICES: &'static [(&'static str, Self)] = &[
        ("day first", Self::DayFirst),
        ("month first", Self::MonthFirst),
        ("year first", Self::YearFirst),
    ];

    pub(super) fn words(self) -> &'static str {
        let known = Self::CHOICES.iter().find(|(_, format)| *format == self);
        known.map_or("", |(words, _)| words)
    }
}

/// One column that is read: the field it fills and the header it has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Column {
    pub field: Field,
    /// The number of its dose, from 1; `None` for what is no dose's.
    pub dose: Option<usize>,
    pub header: String,
}

/// How a laboratory's exports are to be read.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Columns {
    mapped: Vec<Column>,
    /// The order of a date's figures; without it only 2026-10-14 is a date.
    pub date_format: Option<DateFormat>,
    /// The unit of a weight without one; absent, such a weight is a fault.
    pub weight_unit: Option<WeightUnit>,
    /// The encoding of a table that is not UTF-8 and has no byte order mark.
    pub encoding: Option<&'static Encoding>,
    /// The sheet of a workbook that holds the orders.
    pub sheet: Option<String>,
    /// The protocol of an order that names none.
    pub default_protocol: Option<String>,
    /// Headers of columns that are passed over.
    pub ignore: Vec<String>,
    /// What the requests of a bundle order, as their code says, where that is a kit.
    pub requests: Vec<String>,
    /// FHIR resource types, or elements such as `ServiceRequest.note`, that are
    /// passed over.
    pub ignore_resources: Vec<String>,
}

impl Columns {
    /// The columns that a table must have: those that the laboratory mapped.
    /// Empty where it mapped none and headers are the names of fields.
    pub(super) fn mapped(&self) -> &[Column] {
        &self.mapped
    }

    /// Every column a table can have where the laboratory mapped none.
    pub(super) fn by_name() -> Vec<Column> {
        let plain =
            fields().map(|field| Column { field, dose: None, header: field.key.into() });
        let doses = (1..=MOST_DOSES).flat_map(|dose| {
            DOSE.iter().map(move |field| Column {
                field: *field,
                dose: Some(dose),
                header: format!("dose{dose}_{}", field.key),
            })
        });
        plain.chain(doses).collect()
    }
}

/// Reads `[columns]`; faults go to `fields`.
pub(crate) fn read_columns(top: &Fields) -> Columns {
    let mut mapped: Vec<Column> = Vec::new();
    for field in fields() {
        if let Some(header) = header(top, field.key, &mapped) {
            mapped.push(Column { field, dose: None, header });
        }
    }
    // Each dose knows its number by how many were read before it.
    let doses = std::cell::Cell::new(0);
    let taken = std::cell::RefCell::new(mapped);
    top.tables("dose", |fields| {
        let number = doses.get() + 1;
        doses.set(number);
        for field in DOSE {
            if field.required && !fields.has(field.key) {
                fields.missing(field.key, "\"Medicine 1\", the column's header");
            }
            let found = header(fields, field.key, &taken.borrow());
            if let Some(header) = found {
                let column = Column { field: *field, dose: Some(number), header };
                taken.borrow_mut().push(column);
            }
        }
    });
    let mapped = taken.into_inner();
    if doses.get() > MOST_DOSES {
        top.fault(
            Fault::new(
                format!(
                    "`[columns]` has {} dose tables, more than {MOST_DOSES}",
                    doses.get()
                ),
                "an order has at most that many doses",
            )
            .at(top.source, top.span(), "columns.dose"),
        );
    }
    if !mapped.is_empty() {
        for field in fields().filter(|field| field.required && !top.has(field.key)) {
            top.missing(field.key, "\"Header\", the header of its column");
        }
    }
    let ignore = top.texts("ignore");
    for name in &ignore {
        let header = clean(&name.value);
        if mapped.iter().any(|column| column.header == header) {
            top.fault(name.fault(
                top.source,
                format!("the column `{}` is both read and ignored", visible(&header)),
                "take it out of `ignore`, or take out the field it fills",
            ));
        }
    }
    let date_format = top.choice("date_format", DateFormat::CHOICES);
    let weight_unit = top.choice(
        "weight_unit",
        &[("lb", WeightUnit::Pound), ("kg", WeightUnit::Kilogram)],
    );
    let encoding = top.text("encoding").and_then(|name| {
        super::encoding::named(&name.value)
            .map_err(|(what, help)| top.fault(name.fault(top.source, what, help)))
            .ok()
    });
    Columns {
        mapped,
        encoding,
        date_format: date_format.map(|format| format.value),
        weight_unit: weight_unit.map(|unit| unit.value),
        sheet: top.text("sheet").map(|sheet| sheet.value),
        default_protocol: top.text("default_protocol").map(|name| name.value),
        ignore: ignore.iter().map(|name| clean(&name.value)).collect(),
        requests: top.texts("requests").iter().map(|name| clean(&name.value)).collect(),
        ignore_resources: top
            .texts("ignore_resources")
            .into_iter()
            .map(|name| name.value)
            .collect(),
    }
}

/// The header that `key` names; a fault where it is empty or another field's.
fn header(fields: &Fields, key: &str, taken: &[Column]) -> Option<String> {
    let text = fields.text(key)?;
    let header = clean(&text.value);
    let (what, help) = if header.is_empty() {
        (format!("`{}` is empty", text.field), "write the column's header".to_owned())
    } else if let Some(other) = taken.iter().find(|column| column.header == header) {
        (
            format!(
                "the column `{}` is given to `{}` already",
                visible(&header),
                other.field.key
            ),
            "each column fills one field".to_owned(),
        )
    } else {
        return Some(header);
    };
    fields.fault(text.fault(fields.source, what, help));
    None
}

/// A header as headers are compared: trimmed, on one line with one space between words,
/// in Unicode Normalization Form C.
pub(super) fn clean(header: &str) -> String {
    let words: Vec<&str> = header.split_whitespace().collect();
    words.join(" ").nfc().collect()
}
