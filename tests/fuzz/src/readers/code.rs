//! A specimen code, typed or scanned, and whatever else is looked up in the ledger.

use kitwright::order::check_number;
use kitwright::specimen;

use super::{faults, ledger, text_of};

pub const WORDS: &str = include_str!("../../words/code.txt");

/// The characters of the system and their values, 0 to 36.
const SET: &str = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";

pub fn read(data: &[u8]) {
    let Some(text) = text_of(data) else { return };
    if let Some((order, digit)) = specimen::parse(text) {
        assert_eq!(specimen::code(&order, digit), text, "law: read other than printed");
        accepted(text);
    }
    match check_number(text, "") {
        Ok(()) => (1..=9).for_each(|digit| printed(text, digit)),
        Err((what, help)) => {
            faults::line("message", &what);
            faults::line("help", &help);
        }
    }
    if text.len() < 1_000 {
        ledger::looked_up(text);
    }
}

fn printed(order: &str, digit: u8) {
    let code = specimen::code(order, digit);
    assert_eq!(specimen::parse(&code), Some((order.to_owned(), digit)), "law: {code}");
    accepted(&code);
}

/// A code that is taken has the check character of the standard, and no code one slip
/// away is taken, too.
///
/// # Source
///
/// ISO/IEC 7064, MOD 37-2: the sum of the values, each times 2 to the power of its
/// place from the right, leaves 1 when divided by 37. It finds every single
/// substitution and every transposition of two neighbours. Hyphens are no characters
/// of the system.
fn accepted(code: &str) {
    let value = |c: char| SET.find(c).expect("law: a code of other characters");
    let body = code.chars().filter(|c| *c != '-');
    let sum = body.fold(0, |sum, c| (sum * 2 + value(c)) % 37);
    assert_eq!(sum, 1, "law: {code} is taken, and its check character is wrong");
    let characters: Vec<char> = code.chars().collect();
    for at in 0..characters.len() {
        if characters[at] == '-' {
            continue;
        }
        for c in SET.chars().filter(|c| *c != characters[at]) {
            let mut slip = characters.clone();
            slip[at] = c;
            refused(code, &slip);
        }
        let next = characters.get(at + 1);
        if next.is_some_and(|next| *next != '-' && *next != characters[at]) {
            let mut slip = characters.clone();
            slip.swap(at, at + 1);
            refused(code, &slip);
        }
    }
}

fn refused(code: &str, slip: &[char]) {
    let slip: String = slip.iter().collect();
    assert_eq!(specimen::parse(&slip), None, "law: {slip} is taken for {code}");
}
