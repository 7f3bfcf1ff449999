//! Every value that the text of an order has, each under its own name.

use std::collections::BTreeMap;

use toml::de::{DeTable, DeValue};

/// The values of an order's text as it writes them, by names such as `patient.weight`.
/// Those of a dose or a clearance are under what it is of, wherever it stands.
pub fn values_in(text: &str) -> BTreeMap<String, String> {
    let (top, _) = DeTable::parse_recoverable(text);
    let mut out = BTreeMap::new();
    add(text, "", top.get_ref(), &mut out);
    out
}

fn add(text: &str, under: &str, table: &DeTable, out: &mut BTreeMap<String, String>) {
    for (key, value) in table {
        let name = match under {
            "" => key.get_ref().to_string(),
            under => format!("{under}.{}", key.get_ref()),
        };
        match value.get_ref() {
            DeValue::Table(table) => add(text, &name, table, out),
            DeValue::Array(items)
                if items.iter().any(|item| item.get_ref().is_table()) =>
            {
                for (index, item) in items.iter().enumerate() {
                    let DeValue::Table(table) = item.get_ref() else { continue };
                    let of = of_what(table).unwrap_or_else(|| (index + 1).to_string());
                    add(text, &format!("{name} {of}"), table, out);
                }
            }
            _ => {
                let written = text.get(value.span()).unwrap_or_default();
                out.insert(name, written.to_owned());
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_named_by_what_they_are_of_and_not_by_where_they_stand() {
        let one = "a = 1 # so\n[patient]\nweight = '80 kg'\n[[dose]]\nmedicine = \"x\"\n\
                   form = \"gel\"\ntimes = [08:00]\n[[cleared]]\nhold = \"weight\"\n";
        let other = "a = 1\npatient = { weight = '80 kg' }\n[[cleared]]\nhold = \"weight\"\n\
                     [[dose]]\nform = \"gel\"\nmedicine = \"x\"\ntimes = [08:00]\n";
        assert_eq!(values_in(one), values_in(other));
        let values = values_in(one);
        assert_eq!(values["dose x gel.times"], "[08:00]");
        assert_eq!(values["patient.weight"], "'80 kg'");
        assert_eq!(values["cleared weight.hold"], "\"weight\"");
    }
}
