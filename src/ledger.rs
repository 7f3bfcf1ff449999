//! The ledger: one SQLite file that remembers each kit that was made.
//!
//! Takes what was made, by whom and when; gives back what is known of an order,
//! its trail, and whether the trail is whole. Entries are only ever added. It
//! reads no clock: every moment is the caller's. It must lie on a disk of the
//! machine that writes it: its journal (WAL) is shared memory, which a network
//! share does not give to two machines.

mod chain;
mod check;
mod counters;
mod entry;
mod file;
mod forget;
mod given;
mod kit;
mod place;
mod record;
mod refuse;
mod reprint;
mod search;
mod write;

pub use chain::{Head, ShortHead, digest};
pub use check::Checked;
pub use entry::{Document, Entry, Kind, LABORATORY, PLAN, Sealed};
pub use forget::{Forgotten, Which};
pub use given::{Again, Basis, NewKit, Recorded, Reprint, RunCounts, Stamp, What};
pub use kit::{Person, StoredKit};
pub use place::{by_whom, ledger_beside, ledger_file, ledger_named, parse_moment};
pub(crate) use refuse::difference;
pub use search::{Found, fold};

use std::path::{Path, PathBuf};

use rusqlite::Connection;

/// An open ledger.
///
/// # What it promises
///
/// - **All or nothing.** Each call that records is one transaction; a call that
///   gives faults has changed nothing.
/// - **Recorded first, printed after.** A mark ("reprint 2", "revision 1") is
///   given out inside the transaction that records it, while no other process
///   can write; documents are set with it, and files are written once it is
///   committed. A program that dies in between leaves a mark that is on no
///   paper, which does no harm; two papers with the same mark would.
/// - **From the newest content.** Papers are planned before the ledger is held. If
///   the order was revised meanwhile, what was planned is refused, so that no stale
///   sheet bears a newer mark and no revision is lost under another.
/// - **What is gone is gone.** Retention takes out all that could lead back to
///   the person and leaves the chain whole.
///
/// # The file
///
/// SQLite 3, `application_id` 0x4B495457, `user_version` 1, journal mode WAL.
///
/// Table `entry`, one row for each entry, in the order of `seq` (1, 2, 3, ...):
///
/// | column | type | holds |
/// |---|---|---|
/// | `seq` | integer | number of the entry |
/// | `kind` | text | `made`, `made-again`, `relabelled`, `reprinted`, `revised`, `printed`, `run-finished` or `forgotten` |
/// | `order_number` | text | empty for entries about a run or about retention |
/// | `at` | text | UTC, `2026-11-25T14:42:25Z` |
/// | `who` | text | who gave the command |
/// | `run` | text | run the entry belongs to; may be empty |
/// | `part` | integer | part of that run, from 1; 0 outside one |
/// | `counter` | integer | the how-manieth of its kind for this order; see [`Kind`] |
/// | `slots` | text | slot digits whose labels an entry `relabelled` concerns, such as `1234` |
/// | `program` | text | version of the program |
/// | `protocol` | text | name and version, `four-card 1` |
/// | `zone_data` | text | version of the zone data |
/// | `stock` | text | name of the label stock |
/// | `lab_digest` | text | SHA-256 of the laboratory's file, lower-case hex; may be empty |
/// | `codes` | text | specimen codes, one space between two |
/// | `detail` | text | printer; counts of a run, `made 40 held 2 wrong 1`; entries forgotten, `1-40 42` |
/// | `commitment` | blob | 32 bytes, or none if the entry has no sealed part |
/// | `hash` | blob | 32 bytes |
///
/// Table `sealed`, what retention takes out, at most one row for each entry:
///
/// | column | type | holds |
/// |---|---|---|
/// | `seq` | integer | the entry it belongs to |
/// | `family`, `given`, `born` | text | the patient; `born` as `1984-03-09`; empty where the entry brings no order text |
/// | `salt` | blob | 16 random bytes |
/// | `input_digest` | text | SHA-256 of the order text it was made from, lower-case hex; may be empty |
/// | `revised_from` | text | `input_digest` of the text that a revision replaces |
/// | `reason` | text | why, in somebody's own words |
/// | `documents` | text | a line for each, ending in a line feed: SHA-256 in lower-case hex, first page, pages, file name, one space between two; of `plan.json` and `laboratory.txt`, which no file holds, there is the digest alone |
/// | `order_text` | text | the exact order, for `made` and `revised` |
///
/// The digest of the order text and those of the documents are sealed, too: the
/// same order gives the same bytes, so whoever guessed an order right could
/// find its digest again.
///
/// # The chain
///
/// `field(x)` is the length of `x` in bytes as 8 bytes, big-endian, and then
/// `x`. Text is UTF-8 as stored; an integer is its decimal digits as text; a
/// blob is its bytes. `‖` joins bytes.
///
/// ```text
/// commitment = SHA-256( salt ‖ field(order_text) ‖ field(input_digest)
///                ‖ field(family) ‖ field(given) ‖ field(born)
///                ‖ field(revised_from) ‖ field(reason) ‖ field(documents) )
///
/// hash = SHA-256( field("kitwright ledger 1") ‖ field(hash of the entry before)
///          ‖ field(seq) ‖ field(kind) ‖ field(order_number) ‖ field(at)
///          ‖ field(who) ‖ field(run) ‖ field(part) ‖ field(counter)
///          ‖ field(slots) ‖ field(program) ‖ field(protocol)
///          ‖ field(zone_data) ‖ field(stock) ‖ field(lab_digest)
///          ‖ field(codes) ‖ field(detail) ‖ field(commitment) )
/// ```
///
/// The salt is 16 bytes and stands without its length. Before the first entry
/// the hash is 32 zero bytes. An entry without a sealed row is sound if its
/// commitment is empty, or if a later `forgotten` entry names it in `detail`.
///
/// A head is the last `seq` and `hash`. Whoever holds one on paper can tell
/// whether the file was cut off or made up afterwards; the chain alone shows a
/// change within it, not a whole chain written anew.
#[derive(Debug)]
pub struct Ledger {
    connection: Connection,
    path: PathBuf,
    /// Which file it was when it was opened.
    identity: Option<(u64, u64)>,
    begun: bool,
}

impl Ledger {
    /// The file it is in.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether it was made when it was opened.
    pub fn was_begun(&self) -> bool {
        self.begun
    }
}
