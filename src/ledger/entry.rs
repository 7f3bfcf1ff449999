//! One entry of the ledger, as it is kept, and how a row becomes one.

use rusqlite::Row;

use super::chain::digest;
use crate::fault::visible;

/// A SHA-256 sum.
pub(super) type Sum = [u8; 32];

/// What an entry is about.
///
/// The counter of an entry is 0 for `Made`, `Printed`, `RunFinished` and
/// `Forgotten`. For the others it is the next one of the order: how often it was
/// made again, its revision, how often its sheet was reprinted. The counter of
/// `Relabelled` is one more than the highest of any slot the entry concerns, so
/// that no two labels of one slot bear the same mark. Counters go on after a
/// revision.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    Made,
    /// The same order text once more.
    MadeAgain,
    /// Labels of one card or of all.
    Relabelled,
    /// The sheet.
    Reprinted,
    /// The same order number with a new text, or with other times.
    Revised,
    /// Sent to a printer.
    Printed,
    RunFinished,
    /// Sealed parts taken out by retention.
    Forgotten,
}

impl Kind {
    pub const ALL: [(&'static str, Self); 8] = [
        ("made", Self::Made),
        ("made-again", Self::MadeAgain),
        ("relabelled", Self::Relabelled),
        ("reprinted", Self::Reprinted),
        ("revised", Self::Revised),
        ("printed", Self::Printed),
        ("run-finished", Self::RunFinished),
        ("forgotten", Self::Forgotten),
    ];

    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(_, kind)| *kind == self).map_or("made", |pair| pair.0)
    }

    fn from_word(word: &str) -> Option<Self> {
        Self::ALL.iter().find(|(name, _)| *name == word).map(|pair| pair.1)
    }
}

/// The name under which a kit's plan is among its documents: only its digest is
/// kept, to tell whether the same order still comes to the same plan.
pub const PLAN: &str = "plan.json";

/// The name under which a laboratory's name is among a kit's documents.
pub const LABORATORY: &str = "laboratory.txt";

/// One finished document, or what a kit was planned by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Document {
    /// File name, such as `paper.pdf`.
    pub name: String,
    /// SHA-256 in lower-case hex.
    pub sha256: String,
    /// The page it starts on, from 1; more in the file of a run.
    pub first_page: u32,
    pub pages: u32,
}

impl Document {
    /// The document in a file of its own.
    pub fn whole(name: &str, bytes: &[u8], pages: u32) -> Self {
        Self { name: name.to_owned(), sha256: digest(bytes), first_page: 1, pages }
    }

    /// Whether it is a file that was written, and not what a kit was planned by.
    pub fn is_file(&self) -> bool {
        ![PLAN, LABORATORY].contains(&self.name.as_str())
    }
}

/// One entry. The fields are those of the columns that
/// [`Ledger`](super::Ledger) describes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    pub seq: i64,
    pub kind: Kind,
    /// Order number; empty for entries about a run or about retention.
    pub order: String,
    pub at: String,
    pub who: String,
    pub run: String,
    pub part: u32,
    pub counter: u32,
    pub slots: String,
    pub program: String,
    pub protocol: String,
    pub zone_data: String,
    pub stock: String,
    pub lab_digest: String,
    pub codes: String,
    pub detail: String,
    /// 32 bytes, or none.
    pub commitment: Vec<u8>,
    /// 32 bytes.
    pub hash: Vec<u8>,
    /// Absent where there is none and where it was forgotten.
    pub sealed: Option<Sealed>,
    /// The salt of the sealed part.
    pub(super) salt: Vec<u8>,
}

impl Entry {
    /// Whether retention took its sealed part.
    pub fn is_forgotten(&self) -> bool {
        self.sealed.is_none() && !self.commitment.is_empty()
    }

    /// The first eight hex digits of its hash, for people.
    pub fn short_hash(&self) -> String {
        super::chain::hex(self.hash.get(..4).unwrap_or_default())
    }
}

/// The part of an entry that retention takes out.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Sealed {
    pub order_text: String,
    pub input_digest: String,
    pub family: String,
    pub given: String,
    /// ISO date; empty where the entry brings no order text.
    pub born: String,
    pub revised_from: String,
    pub reason: String,
    /// As stored; [`Sealed::documents`] takes it apart.
    pub(super) documents: String,
}

impl Sealed {
    /// The documents of the entry.
    pub fn documents(&self) -> Vec<Document> {
        self.documents.lines().filter_map(document).collect()
    }
}

/// One document's line.
pub(super) fn document_line(document: &Document) -> String {
    let Document { name, sha256, first_page, pages } = document;
    format!("{sha256} {first_page} {pages} {name}\n")
}

fn document(line: &str) -> Option<Document> {
    let mut parts = line.splitn(4, ' ');
    Some(Document {
        sha256: parts.next()?.to_owned(),
        first_page: parts.next()?.parse().ok()?,
        pages: parts.next()?.parse().ok()?,
        name: parts.next()?.to_owned(),
    })
}

/// All entries with their sealed parts; a condition and an order can follow.
pub(super) const SELECT: &str = "\
SELECT e.seq, e.kind, e.order_number, e.at, e.who, e.run, e.part, e.counter, e.slots,
       e.program, e.protocol, e.zone_data, e.stock, e.lab_digest, e.codes, e.detail,
       e.commitment, e.hash,
       s.seq, s.salt, s.order_text, s.input_digest, s.family, s.given, s.born,
       s.revised_from, s.reason, s.documents
FROM entry e LEFT JOIN sealed s ON s.seq = e.seq ";

/// The entry of one row of [`SELECT`].
pub(super) fn read(row: &Row) -> rusqlite::Result<Entry> {
    let word: String = row.get(1)?;
    let kind = Kind::from_word(&word).ok_or_else(|| {
        let error = format!("`{}` is no kind of entry", visible(&word));
        rusqlite::Error::FromSqlConversionFailure(
            1,
            rusqlite::types::Type::Text,
            error.into(),
        )
    })?;
    let sealed = match row.get::<_, Option<i64>>(18)? {
        None => None,
        Some(_) => Some(Sealed {
            order_text: row.get(20)?,
            input_digest: row.get(21)?,
            family: row.get(22)?,
            given: row.get(23)?,
            born: row.get(24)?,
            revised_from: row.get(25)?,
            reason: row.get(26)?,
            documents: row.get(27)?,
        }),
    };
    Ok(Entry {
        seq: row.get(0)?,
        kind,
        order: row.get(2)?,
        at: row.get(3)?,
        who: row.get(4)?,
        run: row.get(5)?,
        part: row.get(6)?,
        counter: row.get(7)?,
        slots: row.get(8)?,
        program: row.get(9)?,
        protocol: row.get(10)?,
        zone_data: row.get(11)?,
        stock: row.get(12)?,
        lab_digest: row.get(13)?,
        codes: row.get(14)?,
        detail: row.get(15)?,
        commitment: row.get(16)?,
        hash: row.get(17)?,
        salt: row.get::<_, Option<Vec<u8>>>(19)?.unwrap_or_default(),
        sealed,
    })
}
