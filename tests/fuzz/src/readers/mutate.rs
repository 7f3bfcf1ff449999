//! Changes an input as people and bad luck do: by lines, words, figures and single
//! characters.
//!
//! Plain bytes seldom get past the first line of a file with a grammar; a line moved
//! or a word exchanged does.

/// A small generator of numbers: SplitMix64, so that the same seed gives the same
/// changes on every machine.
///
/// # Source
///
/// Steele, Lea and Flood, "Fast splittable pseudorandom number generators", 2014;
/// the constants from memory.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// A number from 0 to `end`, without it; 0 if `end` is 0.
    pub fn below(&mut self, end: usize) -> usize {
        (self.next() % (end.max(1) as u64)) as usize
    }

    /// One of `items`; empty if there is none.
    fn one<'a, T: ?Sized>(&mut self, items: &[&'a T]) -> Option<&'a T> {
        items.get(self.below(items.len())).copied()
    }
}

/// The longest input that a change makes, in bytes.
const LONGEST: usize = 300 * 1024;

/// Numbers beside which something goes wrong.
const NUMBERS: &[&str] = &[
    "0",
    "1",
    "-1",
    "00",
    "007",
    "9",
    "10",
    "40",
    "60",
    "61",
    "99",
    "100",
    "127",
    "128",
    "255",
    "256",
    "720",
    "721",
    "1440",
    "1441",
    "1970",
    "2000",
    "2038",
    "2199",
    "2200",
    "9999",
    "10000",
    "32767",
    "65535",
    "65536",
    "99999",
    "2147483647",
    "4294967295",
    "4294967296",
    "9223372036854775807",
    "9223372036854775808",
    "18446744073709551616",
    "0.5",
    "1e9",
    "1e999",
    "-0",
    "nan",
    "inf",
    "0x7f",
    "1_000",
    "99999999999999999999999999999999",
];

/// Characters that hide, turn round, combine or mean something.
const CHARACTERS: &[&str] = &[
    "\0",
    "\u{7}",
    "\u{1b}[31m",
    "\t",
    "\r",
    "\r\n",
    "\n",
    "\u{85}",
    "\u{a0}",
    "\u{ad}",
    "\u{301}",
    "\u{61c}",
    "\u{200b}",
    "\u{200d}",
    "\u{200f}",
    "\u{2028}",
    "\u{202e}",
    "\u{2066}",
    "\u{feff}",
    "\u{fffd}",
    "\u{e000}",
    "\u{10ffff}",
    "é",
    "ß",
    "İ",
    "ﬁ",
    "王",
    "م",
    "🧪",
    "\"",
    "'",
    "\\",
    "`",
    "$",
    "#",
    "*",
    "@",
    "[",
    "]",
    "{",
    "}",
    "(",
    ")",
    "<",
    ">",
    ",",
    ";",
    ":",
    ".",
    "=",
    "-",
    "/",
    "%",
    "&",
    "|",
    "~",
    "\"\"\"",
    "\\u0000",
    "\\",
];

/// Changes `data` up to seven times, with `words` of its grammar.
pub fn mutate(data: &mut Vec<u8>, words: &str, seed: u64) {
    let words: Vec<&str> = words.lines().collect();
    let mut dice = Dice::new(seed);
    let changes = 1 + dice.below(3) * dice.below(4);
    for _ in 0..changes {
        change(data, &words, &mut dice);
        data.truncate(LONGEST);
    }
}

/// Puts the head of one input before the tail of another.
pub fn splice(data: &mut Vec<u8>, other: &[u8], seed: u64) {
    let mut dice = Dice::new(seed);
    let (first, second) = (lines(data), lines(other));
    let cut = first[dice.below(first.len())].0;
    data.truncate(cut);
    data.extend_from_slice(&other[second[dice.below(second.len())].0..]);
    data.truncate(LONGEST);
}

fn change(data: &mut Vec<u8>, words: &[&str], dice: &mut Dice) {
    let all = lines(data);
    let line = |dice: &mut Dice| all[dice.below(all.len())];
    match dice.below(14) {
        // A line is lost.
        0 => {
            let (start, end) = line(dice);
            data.drain(start..end);
        }
        // A line, or several, stand twice, or elsewhere.
        1 | 2 => {
            let (start, end) = line(dice);
            let end = all[dice.below(all.len())].1.max(end).min(start + 2_000).max(start);
            let piece = data[start..end.min(data.len())].to_vec();
            let (at, _) = line(dice);
            put(data, at..at, &piece);
        }
        // Two lines change places.
        3 => {
            let (one, other) = (line(dice), line(dice));
            if one.1 <= other.0 {
                let (a, b) =
                    (data[one.0..one.1].to_vec(), data[other.0..other.1].to_vec());
                put(data, other.0..other.1, &a);
                put(data, one.0..one.1, &b);
            }
        }
        // A line of the grammar.
        4 => {
            let (at, _) = line(dice);
            let mut piece = dice.one(words).unwrap_or_default().as_bytes().to_vec();
            piece.push(b'\n');
            put(data, at..at, &piece);
        }
        // What stands after a sign is another word.
        5 | 6 => {
            let (start, end) = line(dice);
            let sign = |c: &u8| b"=:,;(>".contains(c);
            let signs: Vec<usize> = (start..end).filter(|at| sign(&data[*at])).collect();
            if let Some(at) = signs.get(dice.below(signs.len())) {
                let from = at + 1;
                let rest = data[from..end].iter().position(|c| b",;)<\r\n".contains(c));
                let to = from + rest.unwrap_or(end - from);
                put(data, from..to, dice.one(words).unwrap_or_default().as_bytes());
            }
        }
        // A word is another.
        7 | 8 => {
            let found = run(data, dice, |c| c.is_ascii_alphanumeric() || c >= 0x80);
            put(data, found, dice.one(words).unwrap_or_default().as_bytes());
        }
        // A number is another, or off by one figure.
        9 => {
            let found = run(data, dice, |c| c.is_ascii_digit());
            put(data, found, dice.one(NUMBERS).unwrap_or_default().as_bytes());
        }
        10 => {
            let found = run(data, dice, |c| c.is_ascii_digit());
            if let Some(figure) = data.get_mut(found.start).filter(|c| c.is_ascii_digit())
            {
                *figure = b'0' + dice.below(10) as u8;
            }
        }
        // A character is put in, or out.
        11 => {
            let at = boundary(data, dice.below(data.len() + 1));
            put(data, at..at, dice.one(CHARACTERS).unwrap_or_default().as_bytes());
        }
        12 => {
            let at = dice.below(data.len());
            let end = (at + 1 + dice.below(8)).min(data.len());
            data.drain(at.min(end)..end);
        }
        // A piece stands there many times.
        _ => {
            let at = dice.below(data.len());
            let end = (at + 1 + dice.below(24)).min(data.len());
            let times = 1 << dice.below(12);
            let piece = data[at.min(end)..end].repeat(times);
            put(data, end..end, &piece);
        }
    }
}

fn put(data: &mut Vec<u8>, range: std::ops::Range<usize>, piece: &[u8]) {
    let end = range.end.min(data.len());
    data.splice(range.start.min(end)..end, piece.iter().copied());
}

/// Start and end of each line with its break; there is always one.
fn lines(data: &[u8]) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let mut start = 0;
    for (at, _) in data.iter().enumerate().filter(|(_, byte)| **byte == b'\n') {
        found.push((start, at + 1));
        start = at + 1;
    }
    found.push((start, data.len()));
    found
}

/// The next run of characters of a kind.
fn run(
    data: &[u8],
    dice: &mut Dice,
    kind: impl Fn(u8) -> bool,
) -> std::ops::Range<usize> {
    let from = dice.below(data.len());
    let rest = data.get(from..).unwrap_or_default();
    let start = from + rest.iter().position(|c| kind(*c)).unwrap_or(0);
    let rest = data.get(start..).unwrap_or_default();
    start..start + rest.iter().position(|c| !kind(*c)).unwrap_or(rest.len())
}

/// The start of the character of UTF-8 that stands at `at`.
fn boundary(data: &[u8], at: usize) -> usize {
    (0..=at).rev().find(|at| data.get(*at).is_none_or(|c| c & 0xC0 != 0x80)).unwrap_or(0)
}
