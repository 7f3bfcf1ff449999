//! Laws of faults: what is told of a wrong input must help, and must not harm the
//! terminal it is shown on.

use kitwright::fault::Fault;

/// The longest message or help, in characters.
const LONGEST: usize = 1_000;

/// The most faults of one file in TOML.
const MOST_OF_A_FILE: usize = 40;

/// The most faults of an export as a whole: some for each of its 200 columns.
const MOST_OF_AN_EXPORT: usize = 1_000;

/// The faults of one file.
#[track_caller]
pub fn of_file(faults: &[Fault]) {
    assert!(faults.len() <= MOST_OF_A_FILE, "law: {} faults", faults.len());
    sound(faults);
}

/// The faults of an export as a whole.
#[track_caller]
pub fn of_export(faults: &[Fault]) {
    assert!(faults.len() <= MOST_OF_AN_EXPORT, "law: {} faults", faults.len());
    sound(faults);
}

/// Faults of whatever, of which there is at least one.
#[track_caller]
pub fn sound(faults: &[Fault]) {
    assert!(!faults.is_empty(), "law: nothing is said of what is wrong");
    faults.iter().for_each(fault);
}

/// One fault.
#[track_caller]
pub fn fault(fault: &Fault) {
    for (part, text) in [("message", &fault.what), ("help", &fault.help)] {
        assert!(!text.trim().is_empty(), "law: an empty {part}: {fault:?}");
        line(part, text);
    }
    if let Some(place) = &fault.place {
        let (span, text) = (&place.span, &place.source.text);
        let within = span.start <= span.end && span.end <= text.len();
        assert!(within, "law: {span:?} is no place in a file of {} bytes", text.len());
        let is_whole =
            text.is_char_boundary(span.start) && text.is_char_boundary(span.end);
        assert!(is_whole, "law: {span:?} cuts a character in two");
        if !place.field.is_empty() {
            line("field", &place.field);
        }
    }
    shown(&fault.plain());
}

/// A report: it names a line within the file, and holds nothing that a terminal
/// takes for a command.
#[track_caller]
fn shown(report: &str) {
    for text in report.split('\n') {
        clean("report", text);
    }
}

/// A text of one line that is neither endless nor a danger to a terminal.
#[track_caller]
pub fn line(part: &str, text: &str) {
    let count = text.chars().count();
    assert!(count <= LONGEST, "law: a {part} of {count} characters");
    clean(part, text);
}

/// Control characters can give a terminal commands; controls of direction can turn a
/// time round.
///
/// # Source
///
/// Unicode Standard Annex 9, section 2, for the controls of direction.
#[track_caller]
fn clean(part: &str, text: &str) {
    let bad = text.chars().find(|c| {
        c.is_control()
            || matches!(c,
                '\u{061C}' | '\u{200E}' | '\u{200F}' | '\u{2028}' | '\u{2029}'
                | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
    });
    let bad = bad.map(u32::from);
    assert_eq!(bad, None, "law: a {part} holds a control character: {text:?}");
}
