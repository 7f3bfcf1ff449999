//! Appends one entry inside a transaction: the one place that writes rows.

use rusqlite::{OptionalExtension, Transaction, params};

use super::chain::{Head, START, commitment, hash};
use super::entry::{Document, Entry, Kind, Sealed, document_line};
use super::given::{Recorded, Stamp};
use crate::clock::zone_data_version;

/// What an entry says beside its place in the chain.
pub(super) struct Draft {
    pub kind: Kind,
    pub order: String,
    pub counter: u32,
    pub slots: String,
    pub protocol: String,
    pub stock: String,
    pub lab_digest: String,
    pub codes: String,
    pub detail: String,
    pub sealed: Option<Sealed>,
}

impl Draft {
    pub fn new(kind: Kind, order: &str) -> Self {
        Self {
            kind,
            order: order.to_owned(),
            counter: 0,
            slots: String::new(),
            protocol: String::new(),
            stock: String::new(),
            lab_digest: String::new(),
            codes: String::new(),
            detail: String::new(),
            sealed: None,
        }
    }
}

/// The documents as a sealed part keeps them.
pub(super) fn document_lines(documents: &[Document]) -> String {
    documents.iter().map(document_line).collect()
}

/// The last entry's number and hash.
pub(super) fn head(connection: &rusqlite::Connection) -> rusqlite::Result<Option<Head>> {
    connection
        .query_row("SELECT seq, hash FROM entry ORDER BY seq DESC LIMIT 1", [], |row| {
            Ok(Head { seq: row.get(0)?, hash: row.get(1)? })
        })
        .optional()
}

/// Writes one entry after the last.
pub(super) fn append(
    transaction: &Transaction,
    stamp: &Stamp,
    draft: Draft,
) -> rusqlite::Result<Recorded> {
    let before = head(transaction)?.unwrap_or(Head { seq: 0, hash: START });
    let salt = match draft.sealed {
        Some(_) => new_salt()?.to_vec(),
        None => Vec::new(),
    };
    let commitment = match &draft.sealed {
        Some(sealed) => commitment(&salt, sealed).to_vec(),
        None => Vec::new(),
    };
    let mut entry = Entry {
        seq: before.seq.saturating_add(1),
        kind: draft.kind,
        order: draft.order,
        at: stamp.at(),
        who: stamp.who.clone(),
        run: stamp.run.clone(),
        part: stamp.part,
        counter: draft.counter,
        slots: draft.slots,
        program: env!("CARGO_PKG_VERSION").to_owned(),
        protocol: draft.protocol,
        zone_data: zone_data_version().to_owned(),
        stock: draft.stock,
        lab_digest: draft.lab_digest,
        codes: draft.codes,
        detail: draft.detail,
        commitment,
        hash: Vec::new(),
        sealed: draft.sealed,
        salt,
    };
    let sum = hash(&before.hash, &entry);
    entry.hash = sum.to_vec();
    insert(transaction, &entry)?;
    Ok(Recorded {
        kind: entry.kind,
        counter: entry.counter,
        head: Head { seq: entry.seq, hash: sum },
        fresh: true,
    })
}

fn new_salt() -> rusqlite::Result<[u8; 16]> {
    let mut salt = [0; 16];
    getrandom::fill(&mut salt).map_err(|error| {
        rusqlite::Error::ToSqlConversionFailure(
            format!("the system gives no random bytes: {error}").into(),
        )
    })?;
    Ok(salt)
}

fn insert(transaction: &Transaction, entry: &Entry) -> rusqlite::Result<()> {
    transaction.execute(
        "INSERT INTO entry (seq, kind, order_number, at, who, run, part, counter, slots,
           program, protocol, zone_data, stock, lab_digest, codes, detail, commitment,
           hash)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16,
           ?17, ?18)",
        params![
            entry.seq,
            entry.kind.word(),
            entry.order,
            entry.at,
            entry.who,
            entry.run,
            entry.part,
            entry.counter,
            entry.slots,
            entry.program,
            entry.protocol,
            entry.zone_data,
            entry.stock,
            entry.lab_digest,
            entry.codes,
            entry.detail,
            entry.commitment,
            entry.hash,
        ],
    )?;
    let Some(sealed) = &entry.sealed else { return Ok(()) };
    transaction.execute(
        "INSERT INTO sealed (seq, family, given, born, salt, input_digest, revised_from,
           reason, documents, order_text)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        params![
            entry.seq,
            sealed.family,
            sealed.given,
            sealed.born,
            entry.salt,
            sealed.input_digest,
            sealed.revised_from,
            sealed.reason,
            sealed.documents,
            sealed.order_text,
        ],
    )?;
    Ok(())
}
