//! The catalogs: every language says everything, with the same arguments, and
//! the program asks for nothing else.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use fluent_syntax::ast::{Entry, Expression, InlineExpression, Pattern, PatternElement};
use kitwright::words::CATALOGS;

/// The arguments of each message of a catalog.
fn messages(text: &str) -> BTreeMap<String, BTreeSet<String>> {
    let resource = fluent_syntax::parser::parse(text)
        .unwrap_or_else(|(_, errors)| panic!("{errors:?}"));
    let mut out = BTreeMap::new();
    for entry in resource.body {
        if let Entry::Message(message) = entry {
            let mut arguments = BTreeSet::new();
            collect(message.value.as_ref().expect("a value"), &mut arguments);
            assert!(
                out.insert(message.id.name.to_owned(), arguments).is_none(),
                "{} stands twice",
                message.id.name
            );
        }
    }
    out
}

fn collect(pattern: &Pattern<&str>, out: &mut BTreeSet<String>) {
    for element in &pattern.elements {
        if let PatternElement::Placeable { expression } = element {
            match expression {
                Expression::Inline(inline) => argument(inline, out),
                Expression::Select { selector, variants } => {
                    argument(selector, out);
                    for variant in variants {
                        collect(&variant.value, out);
                    }
                }
            }
        }
    }
}

fn argument(inline: &InlineExpression<&str>, out: &mut BTreeSet<String>) {
    if let InlineExpression::VariableReference { id } = inline {
        out.insert(id.name.to_owned());
    }
}

#[test]
fn every_language_has_the_same_messages_with_the_same_arguments() {
    let (_, english) = CATALOGS[0];
    let english = messages(english);
    for (language, text) in &CATALOGS[1..] {
        let other = messages(text);
        for (id, arguments) in &english {
            assert_eq!(other.get(id), Some(arguments), "{language}: {id}");
        }
        assert_eq!(other.len(), english.len(), "{language} has messages of its own");
    }
}

/// Prefixes whose messages are named by data: forms of medicines.
const NAMED_BY_DATA: &[&str] = &["form-"];

#[test]
fn the_program_says_every_message_and_no_other() {
    let mut asked = BTreeSet::new();
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    sources(&source, &mut |text| {
        // `say!(words, "id", ...)`: the id is the first text after it.
        for (at, _) in text.match_indices("say!(") {
            let rest = &text[at..];
            let Some(start) = rest.find('"') else { continue };
            let id: String =
                rest[start + 1..].chars().take_while(|c| *c != '"').collect();
            asked.insert(id);
        }
    });
    let english = messages(CATALOGS[0].1);
    for id in &asked {
        assert!(english.contains_key(id), "the program asks for `{id}`");
    }
    for id in english.keys() {
        let by_data = NAMED_BY_DATA.iter().any(|prefix| id.starts_with(prefix));
        assert!(by_data || asked.contains(id), "nobody says `{id}`");
    }
}

fn sources(folder: &Path, each: &mut impl FnMut(&str)) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, each);
        } else {
            each(&std::fs::read_to_string(path).unwrap());
        }
    }
}

/// Error-prone abbreviations that must not be printed: ISMP list, 2021, and the
/// Joint Commission's do-not-use list.
#[test]
fn no_catalog_uses_an_error_prone_abbreviation() {
    for (language, text) in CATALOGS {
        let lines = text.lines().filter(|line| !line.starts_with('#'));
        let words: BTreeSet<&str> = lines
            .flat_map(|line| {
                line.split(|c: char| !c.is_alphanumeric() && c != 'µ' && c != '@')
            })
            .collect();
        for bad in ["U", "IU", "QD", "QOD", "HS", "hs", "µg", "cc", "BT", "DC"] {
            assert!(!words.contains(bad), "{language}: {bad}");
        }
        assert!(!text.contains(".0 m") && !text.contains(" .5"), "{language}");
    }
}
