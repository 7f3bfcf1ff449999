//! Fuzz targets for everything that reads what others wrote.
//!
//! Each reader's laws are in [`readers`], which `tests/fuzzed.rs` of the program
//! runs, too. Here they become targets of libFuzzer: with a mutator that knows
//! lines and words, and with an allocator that ends a run that takes too much.

pub mod readers;
pub mod weigh;

pub use libfuzzer_sys;

/// Makes the target of one reader, by its name in [`readers`].
#[macro_export]
macro_rules! target {
    ($name:ident) => {
        #[global_allocator]
        static WEIGHED: $crate::weigh::Weighed = $crate::weigh::Weighed;

        $crate::libfuzzer_sys::fuzz_target!(|data: &[u8]| {
            $crate::readers::$name::read(data);
        });

        $crate::libfuzzer_sys::fuzz_mutator!(
            |data: &mut [u8], size: usize, max_size: usize, seed: u32| {
                // Half of the changes are libFuzzer's own, which know coverage.
                if seed % 2 == 0 {
                    return $crate::libfuzzer_sys::fuzzer_mutate(data, size, max_size);
                }
                let mut changed = data[..size].to_vec();
                let words = $crate::readers::$name::WORDS;
                $crate::readers::mutate::mutate(&mut changed, words, seed.into());
                changed.truncate(max_size);
                data[..changed.len()].copy_from_slice(&changed);
                changed.len()
            }
        );
    };
}
