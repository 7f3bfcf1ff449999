//! A print run: many orders in, a few files for two trays out.
//!
//! `list` reads and plans the orders and cuts them into parts, `part` makes and
//! proves the files of one part, `crew` spreads the parts over threads, `journal`
//! remembers in the run's folder what is whole, so that a run that was stopped
//! goes on where it was, and `given` what was given to it. `manifest` and `printing` say what there is and how to
//! print it.

pub mod book;
pub mod crew;
pub mod given;
pub mod journal;
pub mod list;
pub mod manifest;
pub mod part;
pub mod printing;

use sha2::{Digest, Sha256};

/// One of the parts into which a larger run is split, such as 3 of 16.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shard {
    /// Counted from 1.
    pub number: u64,
    pub of: u64,
}

impl Shard {
    /// Whether an order belongs to this shard: by its number alone, so that every
    /// machine that knows the order agrees.
    pub fn holds(self, order: &str) -> bool {
        let hash = Sha256::digest(order.as_bytes());
        let first: [u8; 8] = hash[..8].try_into().expect("a hash has 32 bytes");
        u64::from_be_bytes(first) % self.of == self.number - 1
    }
}

impl std::str::FromStr for Shard {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let parsed = text
            .split_once('/')
            .and_then(|(number, of)| Some((number.parse().ok()?, of.parse().ok()?)))
            .filter(|(number, of)| (1..=*of).contains(number) && *of <= 10_000);
        match parsed {
            Some((number, of)) => Ok(Self { number, of }),
            None => Err("write the number of the shard and how many there are, from 1 \
                         on: 3/16"
                .into()),
        }
    }
}

impl std::fmt::Display for Shard {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        write!(f, "{}/{}", self.number, self.of)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `printf HB-20417 | sha256sum` (GNU coreutils) begins with f645b856bc029432:
    /// 2 modulo 16, and so the third shard.
    #[test]
    fn the_shard_follows_from_sha_256() {
        assert!(Shard { number: 3, of: 16 }.holds("HB-20417"));
    }

    #[test]
    fn every_order_belongs_to_just_one_shard() {
        for order in ["HB-20417", "HB-20418", "A-100"] {
            let of = 16;
            let holders: Vec<u64> = (1..=of)
                .filter(|number| Shard { number: *number, of }.holds(order))
                .collect();
            assert_eq!(holders.len(), 1, "{order}: {holders:?}");
        }
    }

    #[test]
    fn a_shard_is_written_as_a_fraction_and_nothing_else() {
        assert_eq!("3/16".parse(), Ok(Shard { number: 3, of: 16 }));
        for wrong in ["0/4", "5/4", "3", "3/", "a/b", "1/0", "-1/2", "1/99999"] {
            assert!(wrong.parse::<Shard>().is_err(), "{wrong}");
        }
    }
}
