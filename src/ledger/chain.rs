//! The hash chain: how entries and sealed parts become bytes, and the head.
//!
//! Pure functions over an entry; the encoding is described at
//! [`Ledger`](super::Ledger), from which an outside check was written.

use std::fmt;
use std::str::FromStr;

use sha2::{Digest, Sha256};

use super::entry::{Entry, Sealed, Sum};
use crate::fault::Fault;

/// What the hash of every entry starts with.
const DOMAIN: &str = "kitwright ledger 1";

/// The hash before the first entry.
pub(super) const START: Sum = [0; 32];

/// SHA-256 of `bytes`, in lower-case hex.
pub fn digest(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

pub(super) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn field(sum: &mut Sha256, bytes: &[u8]) {
    sum.update((bytes.len() as u64).to_be_bytes());
    sum.update(bytes);
}

/// What an entry keeps of its sealed part once that is gone.
pub(super) fn commitment(salt: &[u8], sealed: &Sealed) -> Sum {
    let mut sum = Sha256::new();
    sum.update(salt);
    for text in [
        &sealed.order_text,
        &sealed.input_digest,
        &sealed.family,
        &sealed.given,
        &sealed.born,
        &sealed.revised_from,
        &sealed.reason,
        &sealed.documents,
    ] {
        field(&mut sum, text.as_bytes());
    }
    sum.finalize().into()
}

/// The hash of `entry` after an entry with the hash `before`.
pub(super) fn hash(before: &Sum, entry: &Entry) -> Sum {
    let mut sum = Sha256::new();
    field(&mut sum, DOMAIN.as_bytes());
    field(&mut sum, before);
    for text in [
        &entry.seq.to_string(),
        entry.kind.word(),
        &entry.order,
        &entry.at,
        &entry.who,
        &entry.run,
        &entry.part.to_string(),
        &entry.counter.to_string(),
        &entry.slots,
        &entry.program,
        &entry.protocol,
        &entry.zone_data,
        &entry.stock,
        &entry.lab_digest,
        &entry.codes,
        &entry.detail,
    ] {
        field(&mut sum, text.as_bytes());
    }
    field(&mut sum, &entry.commitment);
    sum.finalize().into()
}

/// The end of the chain: number and hash of the last entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Head {
    pub seq: i64,
    pub hash: Sum,
}

impl Head {
    /// The form that goes on paper.
    pub fn short(&self) -> ShortHead {
        let mut first = [0; 8];
        first.copy_from_slice(&self.hash[..8]);
        ShortHead { seq: self.seq, first }
    }
}

/// A head as it is printed: the number and the first 16 hex digits of the hash,
/// in groups of four, such as `42 3f2a 9c1d 0b11 77e0`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ShortHead {
    pub seq: i64,
    pub first: [u8; 8],
}

impl ShortHead {
    /// Whether `head` is the one this was printed from.
    pub fn fits(&self, head: &Head) -> bool {
        head.short() == *self
    }
}

impl fmt::Display for ShortHead {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        write!(f, "{}", self.seq)?;
        for pair in self.first.chunks(2) {
            write!(f, " {}", hex(pair))?;
        }
        Ok(())
    }
}

impl FromStr for ShortHead {
    type Err = Fault;

    /// Reads a head as somebody types it from paper: groups may be joined or
    /// parted by spaces or hyphens, and capitals count as small letters. The
    /// number stands alone in front.
    fn from_str(text: &str) -> Result<Self, Fault> {
        let wrong = || {
            Fault::new(
                format!("`{}` is not a head of a ledger", shown(text)),
                "type it as it is printed: the number, then 16 figures and letters a to f, \
                 such as \"42 3f2a 9c1d 0b11 77e0\"",
            )
        };
        if !text.trim_start().starts_with(|c: char| c.is_ascii_digit()) {
            return Err(wrong());
        }
        let mut parts = text.split([' ', '-', '\t']).filter(|part| !part.is_empty());
        let number = parts.next().ok_or_else(wrong)?;
        if !number.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(wrong());
        }
        let seq = number.parse().ok().filter(|seq| *seq > 0).ok_or_else(wrong)?;
        let digits: String = parts.collect();
        if digits.len() != 16 || !digits.bytes().all(|byte| byte.is_ascii_hexdigit()) {
            return Err(wrong());
        }
        let value = u64::from_str_radix(&digits, 16).map_err(|_| wrong())?;
        Ok(Self { seq, first: value.to_be_bytes() })
    }
}

/// A text from outside as a message shows it: on one line, not too long, with
/// escapes for what cannot be seen.
pub(super) fn shown(text: &str) -> String {
    let mut shown = String::new();
    for c in text.chars().take(60) {
        match c {
            '\'' | '"' | '\\' => shown.push(c),
            c => shown.extend(c.escape_debug()),
        }
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-2, appendix B.1.
    #[test]
    fn the_digest_is_sha_256() {
        assert_eq!(
            digest(b"abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }

    #[test]
    fn a_printed_head_reads_back() {
        let head = Head { seq: 42, hash: [0xab; 32] };
        let printed = head.short().to_string();
        assert_eq!(printed, "42 abab abab abab abab");
        for typed in [&printed, "42 ABABABABABABABAB", " 42 abab-abab-abab-abab "] {
            assert!(typed.parse::<ShortHead>().unwrap().fits(&head), "{typed}");
        }
        assert!(!"43 abab abab abab abab".parse::<ShortHead>().unwrap().fits(&head));
    }

    #[test]
    fn what_is_no_head_is_refused() {
        for typed in ["", "42", "abab abab abab abab", "-1 abab abab abab abab"] {
            assert!(typed.parse::<ShortHead>().is_err(), "{typed}");
        }
        for typed in ["0 abab abab abab abab", "42 abab abab abab aba", "42 éééééééé"]
        {
            assert!(typed.parse::<ShortHead>().is_err(), "{typed}");
        }
    }
}
