//! What does not fit: a name too long for its label, a letter that no font has.

use std::sync::Arc;

use crate::document::{Kit, label_sheets, modules};
use crate::fault::{Fault, Source};
use crate::fields::span_of;
use crate::imposition::Placing;
use crate::stock::{self, Stock};
use crate::typeset::{Press, Template, lay_out};
use crate::words::Words;
use crate::workshop::Planned;

/// Adds to `faults`, which say that a label's content does not fit, the
/// smallest stock built in on which it does.
pub(super) fn name_a_stock(
    press: &Press,
    kit: &Kit,
    packers: &Words,
    mut faults: Vec<Fault>,
) -> Vec<Fault> {
    // The labels of a kit fail alike, so the first speaks for all.
    faults.truncate(1);
    let mut stocks: Vec<Stock> =
        stock::builtin_names().into_iter().filter_map(stock::builtin).collect();
    stocks.retain(|stock| stock.medium == kit.stock.medium);
    stocks.sort_by_key(|stock| stock.label_width.um() * stock.label_height.um());
    let fits = |stock: &&Stock| {
        let cells = [(0..kit.plan.slots.len()).collect()];
        let kit = [Kit { stock, ..*kit }];
        label_sheets(&kit, stock, &Placing::default(), &cells, packers)
            .and_then(|data| {
                lay_out(press, Template::Labels, &data, Some(&modules(&data)))
            })
            .is_ok()
    };
    if let (Some(fault), Some(stock)) = (faults.first_mut(), stocks.iter().find(fits)) {
        fault.help = format!(
            "the smallest stock that fits is {}: use --stock {0}, or stock = \"{0}\" in \
             the order",
            stock.name
        );
    }
    faults
}

/// A fault for each text of the order or the laboratory that holds a character
/// no font has.
pub(super) fn missing_glyphs(press: &Press, planned: &Planned) -> Vec<Fault> {
    let mut faults = Vec::new();
    let (order, lab) = (&planned.order, &planned.lab.lab);
    let mut check = |source: &Arc<Source>, field: &str, text: &str| {
        // Names are printed in capitals, too, which may be other characters.
        let both = format!("{text}{}", text.to_uppercase());
        let Some(missing) = press.missing_glyph(&both) else { return };
        faults.push(
            Fault::new(
                format!(
                    "no font has the character `{missing}` (U+{:04X}) of {field}",
                    u32::from(missing)
                ),
                "name a folder of fonts that have it with --fonts, or write the text in \
                 Latin letters",
            )
            .at(source, span_of(&source.text, field), field),
        );
    };
    let patient = &order.patient;
    check(&order.source, "patient.family", &patient.family);
    check(&order.source, "patient.given", &patient.given);
    if let Some(provider) = &order.provider {
        check(&order.source, "provider.name", &provider.name);
        check(&order.source, "provider.phone", &provider.phone);
    }
    for (number, dose) in (1..).zip(&order.doses) {
        let note = dose.note.as_deref().unwrap_or_default();
        check(&order.source, &format!("dose[{number}].medicine"), &dose.medicine);
        check(&order.source, &format!("dose[{number}].note"), note);
    }
    for (number, clearance) in (1..).zip(&order.cleared) {
        check(&order.source, &format!("cleared[{number}].by"), &clearance.by);
    }
    for (field, text) in
        [("name", &lab.name), ("phone", &lab.phone), ("hours", &lab.hours)]
    {
        check(&lab.source, field, text);
    }
    for (number, line) in (1..).zip(&lab.address) {
        check(&lab.source, &format!("address[{number}]"), line);
    }
    for (language, texts) in &lab.words {
        for (key, text) in
            [("hours", &texts.hours), ("mailing", &texts.mailing), ("bags", &texts.bags)]
        {
            let text = text.as_deref().unwrap_or_default();
            check(&lab.source, &format!("words.{language}.{key}"), text);
        }
    }
    if let Some(approval) = &lab.approval {
        check(&lab.source, "approved.by", &approval.by);
    }
    faults
}
