//! Everything that reads what others wrote keeps its laws: over inputs that a fuzzer
//! found worth keeping, over those that once broke a law, and over changes of both.
//!
//! The laws are those of the fuzz targets in `tests/fuzz/`, which needs no other
//! toolchain than the program for this.

#[path = "fuzz/src/readers/mod.rs"]
mod readers;

use std::path::{Path, PathBuf};

use proptest::prelude::*;
use proptest::test_runner::{RngSeed, TestRunner};
use readers::{READERS, Reader, mutate};

/// The inputs of one reader, with their files: those kept for what they reach, or
/// those that broke a law, in `found`.
fn inputs(folder: &str, reader: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz").join(folder);
    let Ok(files) = std::fs::read_dir(folder.join(reader)) else { return Vec::new() };
    let mut paths: Vec<PathBuf> = files.map(|file| file.unwrap().path()).collect();
    paths.sort();
    let read = |path: PathBuf| {
        let bytes = std::fs::read(&path).unwrap();
        (path, bytes)
    };
    paths.into_iter().map(read).collect()
}

fn reader(name: &str) -> Reader {
    *READERS.iter().find(|reader| reader.0 == name).expect("a reader of that name")
}

fn kept(name: &str) {
    let (_, read, _) = reader(name);
    let kept = inputs("corpus", name);
    assert!(!kept.is_empty(), "no input of `{name}` is kept");
    for (path, bytes) in kept.into_iter().chain(inputs("found", name)) {
        // Shown only where a law is broken.
        println!("{}", path.display());
        read(&bytes);
    }
}

fn changed(name: &str, cases: u32) {
    let (_, read, words) = reader(name);
    let mut seeds = inputs("corpus", name);
    seeds.extend(inputs("found", name));
    // A long input is changed in the fuzzer's hours, not here.
    seeds.retain(|(_, bytes)| bytes.len() < 20_000);
    // PROPTEST_CASES and PROPTEST_RNG_SEED ask for more, or for others.
    let asked = ProptestConfig::default();
    let usual = |name| std::env::var_os(name).is_none();
    let mut runner = TestRunner::new(ProptestConfig {
        cases: if usual("PROPTEST_CASES") { cases } else { asked.cases },
        rng_seed: match usual("PROPTEST_RNG_SEED") {
            true => RngSeed::Fixed(20_417),
            false => asked.rng_seed,
        },
        failure_persistence: None,
        ..asked
    });
    let pick = (0..seeds.len(), 0..seeds.len(), any::<u64>());
    let input = pick.prop_map(|(one, other, dice)| {
        let mut bytes = seeds[one].1.clone();
        if dice % 8 == 0 {
            mutate::splice(&mut bytes, &seeds[other].1, dice);
        }
        mutate::mutate(&mut bytes, words, dice);
        Input(bytes)
    });
    let outcome = runner.run(&input, |Input(bytes)| {
        read(&bytes);
        Ok(())
    });
    outcome.unwrap_or_else(|why| panic!("{why}"));
}

/// An input, shown as it is written in Rust.
struct Input(Vec<u8>);

impl std::fmt::Debug for Input {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        write!(f, "b\"{}\"", self.0.escape_ascii())
    }
}

/// Two tests for each reader, and how many changed inputs it is given.
macro_rules! readers {
    ($($name:ident: $cases:literal),* $(,)?) => {
        $(mod $name {
            #[test]
            fn inputs_that_are_kept_keep_the_laws() {
                super::kept(stringify!($name));
            }

            #[test]
            fn changed_inputs_keep_the_laws() {
                super::changed(stringify!($name), $cases);
            }
        })*

        #[test]
        fn every_reader_is_tried() {
            let mut tried = vec![$(stringify!($name)),*];
            tried.sort_unstable();
            let all: Vec<&str> = READERS.iter().map(|reader| reader.0).collect();
            assert_eq!(tried, all);
        }
    };
}

readers! {
    bundle: 300,
    catalog: 100,
    code: 60,
    lab: 300,
    ledger: 100,
    order: 300,
    page: 300,
    pdf: 300,
    protocol: 300,
    stock: 300,
    table: 100,
    workbook: 300,
}
