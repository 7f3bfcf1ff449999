//! Every value that the text of an order has, each under its own name.

use std::collections::{BTreeMap, BTreeSet};

use toml::de::{DeTable, DeValue};
use unicode_normalization::UnicodeNormalization;

use crate::units::Weight;

/// Values by names such as `patient.weight`, as they are read and not as they are
/// written. A name has several where an order has several tables for one thing.
pub type Values = BTreeMap<String, BTreeSet<String>>;

/// The values of an order's text. Those of a dose or a clearance are under what it is
/// of, wherever it stands.
pub fn values_in(text: &str) -> Values {
    let (top, _) = DeTable::parse_recoverable(text);
    let mut out = Values::new();
    add("", top.get_ref(), &mut out);
    out
}

fn add(under: &str, table: &DeTable, out: &mut Values) {
    for (key, value) in table {
        let name = match under {
            "" => key.get_ref().to_string(),
            under => format!("{under}.{}", key.get_ref()),
        };
        match value.get_ref() {
            DeValue::Table(table) => add(&name, table, out),
            DeValue::Array(items)
                if items.iter().any(|item| item.get_ref().is_table()) =>
            {
                for (index, item) in items.iter().enumerate() {
                    let DeValue::Table(table) = item.get_ref() else { continue };
                    let of = of_what(table).unwrap_or_else(|| (index + 1).to_string());
                    add(&format!("{name} {of}"), table, out);
                }
            }
            value => {
                out.entry(name).or_default().insert(read(value));
            }
        }
    }
}

/// What tells one of several tables from the others.
fn of_what(table: &DeTable) -> Option<String> {
    let word = |key: &str| match table.get(key)?.get_ref() {
        DeValue::String(word) => Some(word.to_string()),
        _ => None,
    };
    let medicine = || Some(format!("{} {}", word("medicine")?, word("form")?));
    medicine().or_else(|| word("hold"))
}

/// A value as an order would usually write it.
fn read(value: &DeValue) -> String {
    match value {
        DeValue::String(text) => match Weight::parse(text) {
            Some(weight) => format!("\"{weight}\""),
            None => format!("\"{}\"", text.trim().nfc().collect::<String>()),
        },
        DeValue::Integer(number) => number.to_string(),
        DeValue::Float(number) => number.to_string(),
        DeValue::Boolean(flag) => flag.to_string(),
        DeValue::Datetime(moment) => {
            let mut moment = *moment;
            // Seconds that say nothing.
            if let Some(time) = &mut moment.time
                && time.second.unwrap_or(0) == 0
                && time.nanosecond.unwrap_or(0) == 0
            {
                (time.second, time.nanosecond) = (None, None);
            }
            moment.to_string()
        }
        DeValue::Array(items) => {
            let items: Vec<String> =
                items.iter().map(|item| read(item.get_ref())).collect();
            format!("[{}]", items.join(", "))
        }
        DeValue::Table(_) => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_named_by_what_they_are_of_and_not_by_where_they_stand() {
        let one = "a = 1 # so\n[patient]\nweight = '80kg'\n[[dose]]\nmedicine = \"x\"\n\
                   form = \"gel\"\ntimes = [ 08:00:00,20:00:00.0 ]\n[[cleared]]\nhold = \"weight\"\n";
        let other = "a = 1\npatient = { weight = \"80 kg\" }\n[[cleared]]\nhold = \"weight\"\n\
                     [[dose]]\nform = \"gel\"\nmedicine = \"x\"\ntimes = [08:00, 20:00]\n";
        assert_eq!(values_in(one), values_in(other));
        let values = values_in(one);
        let all = |name: &str| values[name].iter().cloned().collect::<Vec<_>>().join(" ");
        assert_eq!(all("dose x gel.times"), "[08:00, 20:00]");
        assert_eq!(all("patient.weight"), "\"80 kg\"");
        assert_eq!(all("cleared weight.hold"), "\"weight\"");
    }

    #[test]
    fn two_tables_of_one_medicine_have_both_their_values() {
        let dose = |time: &str| {
            format!("[[dose]]\nmedicine = \"x\"\nform = \"gel\"\ntimes = [{time}]\n")
        };
        let values = values_in(&(dose("07:30") + &dose("20:00")));
        assert_eq!(values["dose x gel.times"].len(), 2);
    }
}
