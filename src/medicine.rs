//! What kind of medicine a generic name stands for.
//!
//! Takes the table in `templates/medicines.toml`, gives each name its
//! [`Class`]. The class follows from the level codes of the WHO Anatomical
//! Therapeutic Chemical classification, so a new entry needs codes and no code.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock};

use unicode_normalization::UnicodeNormalization;

use crate::fault::{Fault, Source};
use crate::fields::{Fields, read_file};

/// What the program does with a medicine's doses follows from this. The classes
/// stand from the most careful to the least.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Class {
    /// Never moved, and a kit is held until the provider's instruction is in
    /// the order.
    Glucocorticoid,
    /// Desmopressin and what acts on the same receptor. Never moved; drinking is
    /// no matter for a protocol either.
    Desmopressin,
    /// Never moved; drinking is no matter for a protocol either.
    Lithium,
    Insulin,
    Antiepileptic,
    Anticoagulant,
    Diuretic,
    /// What lowers blood sugar beside insulin.
    Antidiabetic,
    /// Hormones that prevent pregnancy: hours matter, so never moved by rule.
    Contraceptive,
    /// Sex hormones, thyroid hormones and melatonin: the only doses that a
    /// protocol may move.
    Hormone,
    Other,
}

impl Class {
    pub fn is_hormone(self) -> bool {
        matches!(self, Self::Hormone | Self::Contraceptive)
    }

    /// Whether a person who takes it is on fluids that only the prescriber may
    /// limit (facts: lithium toxicity when dehydrated; the desmopressin label
    /// sets limits of its own).
    pub fn governs_fluids(self) -> bool {
        matches!(self, Self::Desmopressin | Self::Lithium)
    }

    /// The class in a sentence, with its article.
    pub fn describe(self) -> &'static str {
        match self {
            Self::Hormone => "a hormone",
            Self::Contraceptive => "a contraceptive hormone",
            Self::Glucocorticoid => "a glucocorticoid",
            Self::Desmopressin => "a medicine that rules fluids",
            Self::Lithium => "lithium",
            Self::Insulin => "an insulin",
            Self::Antiepileptic => "an antiepileptic",
            Self::Anticoagulant => "an anticoagulant",
            Self::Diuretic => "a diuretic",
            Self::Antidiabetic => "a medicine for diabetes",
            Self::Other => "not a hormone",
        }
    }
}

/// Level codes and the class they stand for. Level names are those of the WHO ATC/DDD index,
/// from memory.
const LEVELS: &[(&str, Class)] = &[
    ("H02A", Class::Glucocorticoid), // corticosteroids for systemic use, plain
    ("H02B", Class::Glucocorticoid), // corticosteroids for systemic use, combined
    ("A01AC", Class::Glucocorticoid), // corticosteroids for local oral treatment
    ("A07EA", Class::Glucocorticoid), // corticosteroids acting locally, intestinal
    ("C05AA", Class::Glucocorticoid), // corticosteroids for haemorrhoids
    ("D07", Class::Glucocorticoid),  // corticosteroids, dermatological
    ("R01AD", Class::Glucocorticoid), // corticosteroids, nasal
    ("R03AK", Class::Glucocorticoid), // adrenergics with corticosteroids, inhaled
    ("R03AL08", Class::Glucocorticoid), // three-part inhalers with a corticosteroid
    ("R03AL09", Class::Glucocorticoid),
    ("R03AL11", Class::Glucocorticoid),
    ("R03AL12", Class::Glucocorticoid),
    ("R03BA", Class::Glucocorticoid), // glucocorticoids, inhaled
    ("S01BA", Class::Glucocorticoid), // corticosteroids, eye
    ("S01CA", Class::Glucocorticoid), // corticosteroids with antiinfectives, eye
    ("S02BA", Class::Glucocorticoid), // corticosteroids, ear
    ("S02CA", Class::Glucocorticoid), // corticosteroids with antiinfectives, ear
    ("S03BA", Class::Glucocorticoid), // corticosteroids, eye and ear
    ("S03CA", Class::Glucocorticoid), // the same with antiinfectives
    ("D10AA", Class::Glucocorticoid), // corticosteroids, combined, for acne
    ("G01B", Class::Glucocorticoid), // antiinfectives with corticosteroids, gynaecological
    ("M01BA", Class::Glucocorticoid), // antirheumatic agents with corticosteroids
    ("S01BB", Class::Glucocorticoid), // corticosteroids with mydriatics, eye
    ("S01CB", Class::Glucocorticoid), // the same with antiinfectives
    ("H01BA", Class::Desmopressin),  // vasopressin and analogues
    ("C03XA", Class::Desmopressin),  // vasopressin antagonists
    ("N05AN", Class::Lithium),       // lithium
    ("A10A", Class::Insulin),        // insulins and analogues
    ("A10", Class::Antidiabetic),    // drugs used in diabetes
    ("N03", Class::Antiepileptic),   // antiepileptics
    ("N02BF", Class::Antiepileptic), // gabapentinoids, N03AX before 2023
    ("B01", Class::Anticoagulant),   // antithrombotic agents
    ("C03", Class::Diuretic),        // diuretics
    ("G03A", Class::Contraceptive),  // hormonal contraceptives, systemic
    ("G02BB", Class::Contraceptive), // intravaginal contraceptives
    ("G03B", Class::Hormone),        // androgens
    ("G03C", Class::Hormone),        // estrogens
    ("G03D", Class::Hormone),        // progestogens
    ("G03E", Class::Hormone),        // androgens and female sex hormones
    ("G03F", Class::Hormone),        // progestogens and estrogens
    ("A14AA07", Class::Hormone),     // prasterone
    ("H03AA", Class::Hormone),       // thyroid hormones
    ("N05CH01", Class::Hormone),     // melatonin
];

/// The most careful class that any of a medicine's codes stands for.
fn class_of_codes(codes: &[String]) -> Class {
    let class = |code: &String| {
        LEVELS
            .iter()
            .find(|(level, _)| code.starts_with(level))
            .map_or(Class::Other, |(_, class)| *class)
    };
    codes.iter().map(class).min().unwrap_or(Class::Other)
}

/// The medicine table, by every name of every medicine.
#[derive(Debug)]
pub struct Medicines {
    by_name: HashMap<String, usize>,
    entries: Vec<Medicine>,
}

/// One medicine of the table.
#[derive(Debug, Clone)]
pub struct Medicine {
    pub name: String,
    pub codes: Vec<String>,
    pub class: Class,
    names: Vec<String>,
    translations: Vec<(String, String)>,
}

impl Medicines {
    /// The table built into the program.
    pub fn builtin() -> &'static Self {
        static TABLE: LazyLock<Medicines> = LazyLock::new(|| {
            let source = Source::new(
                "templates/medicines.toml",
                include_str!("../templates/medicines.toml"),
            );
            Medicines::read(&source)
                .unwrap_or_else(|faults| panic!("{}", faults[0].plain()))
        });
        &TABLE
    }

    /// Reads a medicine table.
    ///
    /// # Errors
    ///
    /// Every fault of the file; a name that stands twice is one.
    pub fn read(source: &Arc<Source>) -> Result<Self, Vec<Fault>> {
        read_file(source, |top| {
            let entries: Option<Vec<Medicine>> =
                top.tables("medicine", medicine).into_iter().collect();
            let entries = entries?;
            let mut by_name = HashMap::new();
            for (index, entry) in entries.iter().enumerate() {
                for name in &entry.names {
                    if by_name.insert(key(name), index).is_some_and(|old| old != index) {
                        top.fault(Fault::new(
                            format!("`{name}` stands in the medicine table twice"),
                            "keep one entry for each medicine",
                        ));
                    }
                }
            }
            Some(Self { by_name, entries })
        })
    }

    /// The class of the medicine `name`; `None` for an unknown one.
    ///
    /// A name that is not in the table as it stands, such as `prednisone5mg`,
    /// `predni-sone` or `predisone`, is searched for the names of medicines that must
    /// never be moved, a slip or two allowed. It is not searched for hormones: what is
    /// not known for sure is asked about.
    pub fn class(&self, name: &str) -> Option<Class> {
        if let Some(medicine) = self.find(name) {
            return Some(medicine.class);
        }
        let pieces = pieces(name);
        let words = format!(" {} ", pieces.join(" "));
        let tries: Vec<String> = (1..=MOST_PIECES)
            .flat_map(|count| pieces.windows(count).map(<[String]>::concat))
            .collect();
        let near = |known: &str| {
            let length = known.chars().count();
            let slips = if length >= 7 { 2 } else { 0 };
            tries
                .iter()
                .filter(|word| word.chars().count().abs_diff(length) <= slips)
                .any(|word| strsim::damerau_levenshtein(word, known) <= slips)
        };
        self.by_name
            .iter()
            .filter(|(known, _)| words.contains(&format!(" {known} ")) || near(known))
            .map(|(_, index)| self.entries[*index].class)
            .filter(|class| !class.is_hormone() && *class != Class::Other)
            .min()
    }

    /// What sets a medicine apart from all others: the same for each of its names.
    pub fn substance(&self, name: &str) -> String {
        self.find(name).map_or_else(|| key(name), |medicine| medicine.name.clone())
    }

    fn find(&self, name: &str) -> Option<&Medicine> {
        self.by_name.get(&key(name)).map(|index| &self.entries[*index])
    }

    /// The name of a medicine in `language`, or as it stands where the table
    /// has none. Another name than its main one may say more, such as which salt or
    /// which insulin it is, and stays.
    pub fn translate(&self, name: &str, language: &str) -> String {
        self.find(name)
            .filter(|medicine| key(&medicine.name) == key(name))
            .and_then(|medicine| medicine.translations.iter().find(|t| t.0 == language))
            .map_or_else(|| name.to_owned(), |translation| translation.1.clone())
    }

    pub fn entries(&self) -> &[Medicine] {
        &self.entries
    }
}

fn medicine(fields: &Fields) -> Option<Medicine> {
    let name = fields.require("name", "\"estradiol\"", fields.text("name"));
    let codes: Vec<String> =
        fields.texts("atc").into_iter().map(|code| code.value).collect();
    if codes.is_empty() {
        fields.missing("atc", "[\"G03CA03\"]");
    }
    let mut names: Vec<String> =
        fields.texts("also").into_iter().map(|name| name.value).collect();
    let spanish = fields.text("es").map(|name| name.value);
    let name = name?.value;
    names.push(name.clone());
    names.extend(spanish.clone());
    let translations = spanish.map(|name| ("es".to_owned(), name)).into_iter().collect();
    Some(Medicine { class: class_of_codes(&codes), name, codes, names, translations })
}

/// A name as it is compared: in compatible characters (Unicode Normalization Form KC),
/// lower case, single spaces.
fn key(name: &str) -> String {
    let lower = if name.is_ascii() {
        name.to_ascii_lowercase()
    } else {
        name.nfkc().collect::<String>().to_lowercase()
    };
    lower.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Into how many pieces a name may have been broken by mistake.
const MOST_PIECES: usize = 3;

/// The words of a name, cut between letters and figures, too.
fn pieces(name: &str) -> Vec<String> {
    let mut pieces: Vec<String> = Vec::new();
    let mut before = ' ';
    for c in key(name).chars() {
        if c.is_alphanumeric() {
            match pieces.last_mut() {
                Some(piece)
                    if before.is_alphanumeric()
                        && before.is_numeric() == c.is_numeric() =>
                {
                    piece.push(c);
                }
                _ => pieces.push(c.into()),
            }
        }
        before = c;
    }
    pieces
}
