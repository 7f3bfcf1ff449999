//! Orders that are wrong: every fault at once, each with its place and help.

mod common;

use std::path::Path;

use common::{LAB, order_set, order_text, read, source, today};
use kitwright::fault::Fault;
use kitwright::lab::read_lab;
use kitwright::medicine::Medicines;
use kitwright::order::{ClockStyle, Names, number_in, read_order};
use kitwright::protocol::read_protocol;
use kitwright::stock::read_stock;
use kitwright::words::languages;

fn faults(text: &str) -> String {
    match read(text) {
        Ok(_) => panic!("no fault was found in\n{text}"),
        Err(faults) => faults.iter().map(|fault| fault.plain() + "\n").collect(),
    }
}

#[test]
fn all_faults_of_an_order_come_out_in_one_run() {
    let text = "\
order = \"hb 17\"
protocol = \"fuor-card\"
langauge = \"en\"
stock = \"leter-2x5\"
start = 2026-10-14
zone = \"America/Denvr\"

[patient]
family = \"\"
born = 2031-03-09
weight = \"150\"

[routine]
dinner = \"17:15\"
";
    let expected = "\
error: `hb 17` is not an order number
 --> order.toml:1:9
  |
1 | order = \"hb 17\"
  |         ^^^^^^^ order
  |
  = help: use capital letters A to Z, figures and hyphens; not `h`
error: there is no protocol `fuor-card`
 --> order.toml:2:12
  |
2 | protocol = \"fuor-card\"
  |            ^^^^^^^^^^^ protocol
  |
  = help: did you mean `four-card`? it can be: four-card, first-morning
error: unknown key `langauge`
 --> order.toml:3:1
  |
3 | langauge = \"en\"
  | ^^^^^^^^ langauge
  |
  = help: did you mean `language`?
error: there is no label stock `leter-2x5`
 --> order.toml:4:9
  |
4 | stock = \"leter-2x5\"
  |         ^^^^^^^^^^^ stock
  |
  = help: did you mean `letter-2x5`? it can be: letter-2x5, letter-2x7, letter-3x10, \
letter-4x10, a4-2x7, a4-3x7, roll-102x51, roll-76x51
error: `America/Denvr` is no place of the IANA time zone database
 --> order.toml:6:8
  |
6 | zone = \"America/Denvr\"
  |        ^^^^^^^^^^^^^^^ zone
  |
  = help: did you mean America/Denver? name a place that has the patient’s clock, such as America/Denver
error: `[patient]` has no `given`
 --> order.toml:8:1
  |
8 | [patient]
  | ^^^^^^^^^ patient.given
  |
  = help: add a line like this: given = \"Marisol\"
error: `patient.family` is empty
 --> order.toml:9:10
  |
9 | family = \"\"
  |          ^^ patient.family
  |
  = help: fill it in
error: the birth date 2031-03-09 is in the future
  --> order.toml:10:8
   |
10 | born = 2031-03-09
   |        ^^^^^^^^^^ patient.born
   |
   = help: write it as year-month-day, such as 1984-03-09
error: `150` is not a weight
  --> order.toml:11:10
   |
11 | weight = \"150\"
   |          ^^^^^ patient.weight
   |
   = help: write the number, a space and lb or kg: weight = \"150 lb\"
error: `dinner` must be a time without quotes, not a text
  --> order.toml:14:10
   |
14 | dinner = \"17:15\"
   |          ^^^^^^^ routine.dinner
   |
   = help: write it like this: dinner = 17:15
";
    assert_eq!(faults(text), expected);
}

/// What is said of a file; nothing if it is sound.
fn told<T>(read: Result<T, Vec<Fault>>) -> String {
    let faults = read.err().unwrap_or_default();
    faults.iter().map(Fault::plain).collect()
}

/// The lines that the faults of `text` point at, each once.
fn lines_of_faults(text: &str) -> Vec<usize> {
    let faults = read(text).expect_err(text);
    let start = |fault: &Fault| fault.place.as_ref().expect(text).span.start;
    let mut lines: Vec<usize> =
        faults.iter().map(|fault| text[..start(fault)].split('\n').count()).collect();
    lines.dedup();
    lines
}

/// The weight on line 10 has no unit, whatever is wrong with the line before or after.
#[test]
fn a_line_that_is_no_toml_hides_no_other_fault_and_makes_none() {
    let dose = "[[dose]]\nmedicine = \"estradiol\"\nform = \"tablet\"\ntimes = [20:00]\n";
    let text = order_text(dose);
    let text = text.replace("\"150 lb\"", "\"150\"");
    assert_eq!(lines_of_faults(&text), [10]);
    for (from, to, lines) in [
        ("17:15", "5:15 pm", &[10, 14][..]),
        ("06:30", "6:30", &[10, 16]),
        ("\"Marisol\"", "Marisol", &[8, 10]),
        ("\"Marisol\"", "\"Marisol", &[8, 10]),
        ("1984-03-09", "3/9/1984", &[9, 10]),
        ("2026-10-14", "", &[3, 10]),
        ("\"America/Denver\"", "America/Denver", &[4, 10]),
        ("\"HB-20417\"", "HB-20417", &[1, 10]),
        ("[20:00]", "[8:00 pm]", &[10, 21]),
        ("lunch = 12:30", "dinner = 17:15", &[10, 14]),
        ("lunch = 12:30\n", "lunch = 12.30\nsupper at 18:00\n", &[10, 13, 14]),
        // Without these, the lines below would mean something else.
        ("[routine]", "[routine", &[12]),
        ("[20:00]", "[\n20:00,\n8:00\n", &[23]),
        ("\"estradiol\"", "\"\"\"estradiol", &[22]),
    ] {
        assert!(text.contains(from), "{from}");
        assert_eq!(lines_of_faults(&text.replacen(from, to, 1)), lines, "{to}");
    }
}

/// Each value of each file that the program brings, made no TOML or of another kind.
#[test]
fn a_wrong_value_is_one_fault() {
    let read_text = |folder: &str, text: &str| -> Vec<Fault> {
        let source = source(text);
        let faults = match folder {
            "demo-orders" if text.contains("[patient]") => read(text).err(),
            "demo-orders" => read_lab(&source, &languages()).err(),
            "templates/protocols" => read_protocol(&source).err(),
            _ => read_stock(&source).err(),
        };
        faults.unwrap_or_default()
    };
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut tried = 0;
    for folder in ["demo-orders", "templates/protocols", "templates/stock"] {
        for entry in root.join(folder).read_dir().unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_none_or(|extension| extension != "toml") {
                continue;
            }
            let text = std::fs::read_to_string(&path).unwrap();
            for line in text.lines() {
                let Some((key, _)) = line.split_once('=') else { continue };
                if line.starts_with('#') {
                    continue;
                }
                for value in ["@", "{}"] {
                    let wrong = text.replacen(line, &format!("{key}= {value}"), 1);
                    let faults: String =
                        read_text(folder, &wrong).iter().map(Fault::plain).collect();
                    let count = faults.matches("error: ").count();
                    assert_eq!(count, 1, "{}: {key}= {value}\n{faults}", path.display());
                    tried += 1;
                }
            }
        }
    }
    assert!(tried > 500, "{tried}");
}

/// One changed line of a sound order, and what is said of it.
#[track_caller]
fn check(why: &str, from: &str, to: &str, expected: &str) {
    let text = order_text("");
    assert!(text.contains(from), "{why}");
    let found = faults(&text.replace(from, to));
    assert!(found.contains(expected), "{why}:\n{found}");
}

/// D is the check character that PyPI `python-stdnum` 2.2 gives `HB100013` (ISO/IEC
/// 7064, MOD 37-2), so HB-10001-3D is printed on card 3 of HB-10001.
#[test]
fn an_order_number_that_could_be_a_cards_code_is_refused() {
    let numbered = |number: &str| order_text("").replace("HB-20417", number);
    assert_eq!(
        faults(&numbered("HB-10001-3D")).lines().next(),
        Some("error: `HB-10001-3D` is the code of a card of HB-10001")
    );
    for number in ["HB-10001", "HB-10001-3E", "HB-10001-D3", "HB-10001-0J", "HB-100013D"]
    {
        let order = read(&numbered(number)).unwrap_or_else(|faults| panic!("{faults:?}"));
        assert_eq!(order.number, number);
    }
}

/// One dose on two lines would be printed, and taken, twice.
#[test]
fn a_dose_that_is_listed_twice_is_refused() {
    let gel = |medicine: &str, times: &str, form: &str| {
        format!(
            "[[dose]]\nmedicine = \"{medicine}\"\nform = \"{form}\"\ntimes = [{times}]\n"
        )
    };
    let with = |other: String| {
        read(&order_text(&format!(
            "{}{other}",
            gel("testosterone", "07:15, 20:00", "gel")
        )))
    };
    let faults = with(gel("Testosterone", "20:00", "gel")).unwrap_err();
    assert_eq!(
        faults[0].what,
        "Testosterone (gel) stands there twice at the same time, as dose 1 and as dose 2"
    );
    assert!(with(gel("testosterone", "12:00", "gel")).is_ok(), "another time");
    assert!(with(gel("testosterone", "20:00", "cream")).is_ok(), "another form");
    assert!(with(gel("estradiol", "20:00", "gel")).is_ok(), "another medicine");
}

/// An offset does not change its clocks as the patient's do (RFC 9557, 1.1, from memory).
#[test]
fn a_zone_is_a_place_and_no_offset() {
    for zone in ["Etc/GMT-7", "EST", "UTC", "GMT", "GMT-7", "-07:00", "UTC+2"] {
        let text = order_text("").replace("America/Denver", zone);
        let faults = read(&text).unwrap_err();
        assert!(faults[0].what.contains("is no place"), "{zone}: {}", faults[0].what);
        let help = &faults[0].help;
        assert!(help.starts_with("an offset does not change"), "{zone}: {help}");
    }
}

#[test]
fn each_field_refuses_what_cannot_be_printed_or_planned() {
    let family = "\"Okonkwo-Reyes\"";
    let long = format!("\"{}\"", "A ".repeat(31));
    let word = format!("\"{}\"", "A".repeat(33));
    for (why, from, to, expected) in [
        ("bidi control", family, "\"A\\u202Eb\"", "can hide or reorder text, U+202E"),
        ("zero width", family, "\"A\\u200Bb\"", "can hide or reorder text, U+200B"),
        ("bell", family, "\"A\\u0007\"", "a control character, U+0007"),
        ("newline", family, "\"A\\nB\"", "a control character, U+000A"),
        ("too long", family, &long, "61 characters, more than 60"),
        ("a word too long", family, &word, "has a word of 33 characters, more than 32"),
        ("not a text", family, "17", "must be a text in quotes, not a whole number"),
        ("too light", "\"150 lb\"", "\"19 lb\"", "outside 20 to 700 lb"),
        ("too heavy", "\"150 lb\"", "\"318 kg\"", "outside 20 to 700 lb"),
        ("born long ago", "1984-03-09", "1884-03-09", "more than 130 years ago"),
        ("short number", "HB-20417", "HB1", "4 to 20 characters"),
        ("path", "HB-20417", "../../etc", "use capital letters"),
        ("double hyphen", "HB-20417", "HB--20417", "hyphens stand singly"),
        ("year 1", "2026-10-14", "0001-01-01", "the start is in the year 1"),
        ("year 9999", "2026-10-14", "9999-12-31", "the start is in the year 9999"),
        ("no such date", "2026-10-14", "2026-02-30", "not valid TOML"),
        ("with seconds", "12:30", "12:30:15", "must be a time without quotes"),
        ("hour 25", "12:30", "25:30", "not valid TOML"),
        ("no zone", "zone = \"America/Denver\"", "zone = \"Mars/Base\"", "is no place"),
    ] {
        check(why, from, to, expected);
    }
}

#[test]
fn zone_names_are_the_databases_own() {
    check(
        "lower case",
        "America/Denver",
        "america/denver",
        "did you mean America/Denver",
    );
}

#[test]
fn doses_and_clearances_are_checked() {
    let add = |extra: &str| faults(&order_text(extra));
    let prednisone = add("[[dose]]\nmedicine = \"prednisone\"\nform = \"tablet\"\n\
                          kind = \"hormone\"\ntimes = [08:00]\n");
    assert!(
        prednisone
            .contains("prednisone is a glucocorticoid, and the order calls it a hormone"),
        "{prednisone}"
    );
    for (extra, expected) in [
        (
            "[[dose]]\nmedicine = \"x\"\nform = \"tablet\"\ntimes = []\n",
            "`times` is empty",
        ),
        ("[[dose]]\nmedicine = \"x\"\nform = \"tablet\"\n", "has no `times`"),
        (
            "[[dose]]\nmedicine = \"x\"\nform = \"tablet\"\ntimes = [08:00, 08:00]\n",
            "a time twice",
        ),
        (
            "[[dose]]\nmedicine = \"x\"\nform = \"tablet\"\n\
             times = [01:00, 02:00, 03:00, 04:00, 05:00, 06:00, 07:00]\n",
            "more than six times",
        ),
        (
            "[[dose]]\nmedicine = \"x\"\nform = \"tabelt\"\ntimes = [08:00]\n",
            "did you mean `tablet`?",
        ),
        (
            "[[dose]]\nmedicine = \"x\"\nform = \"gel\"\ntimes = [08:00]\n\
             change_on = 2026-10-15\n",
            "`change_on` is for patches",
        ),
        (
            "[[cleared]]\nhold = \"pregnant\"\nby = \"R. Adeyemi\"\non = 2026-09-03\n",
            "which is in the future",
        ),
        ("[[cleared]]\nhold = \"pregnant\"\non = 2026-08-01\n", "has no `by`"),
        ("[health]\npregnent = true\n", "did you mean `pregnant`?"),
    ] {
        let found = add(extra);
        assert!(found.contains(expected), "{expected}:\n{found}");
    }
    // Six times are the most, and a hold can have been cleared today, 1 September, or
    // where the clocks are ahead, on the 2nd.
    let most = "[[dose]]\nmedicine = \"x\"\nform = \"tablet\"\n\
                times = [01:00, 02:00, 03:00, 04:00, 05:00, 06:00]\n\
                [[cleared]]\nhold = \"pregnant\"\nby = \"R. Adeyemi\"\non = 2026-09-02\n";
    let order = read(&order_text(most)).unwrap_or_else(|faults| panic!("{faults:?}"));
    assert_eq!((order.doses[0].times.len(), order.cleared.len()), (6, 1));
}

#[test]
fn no_text_makes_the_reader_panic() {
    for text in [
        "",
        "=",
        "[",
        "[[",
        "\u{FEFF}",
        "order = ",
        "[patient",
        "a.b.c = 1",
        "order = 1\norder = 2",
        "[order]",
        "[[patient]]\n[[patient]]",
        "patient = []",
        "dose = 3",
        "[[dose]]\n[[dose.times]]",
        "start = 07:30",
        "zone = [\"a\", 1]",
        "\0",
        "order = \"\\uD800\"",
        "x = 99999999999999999999999999",
    ] {
        assert!(read(text).is_err(), "{text:?}");
    }
    let deep = format!("x = {}", "[".repeat(2000));
    assert!(read(&deep).is_err());
    let large = format!("# {}", "x".repeat(300_000));
    let found = faults(&large);
    assert!(found.contains("more than 256 kB"), "{found}");
}

fn protocol_faults(from: &str, to: &str) -> String {
    let text = include_str!("../templates/protocols/four-card.toml");
    assert!(text.contains(from), "{from}");
    let text = text.replacen(from, to, 1);
    match read_protocol(&source(&text)) {
        Ok(_) => panic!("no fault was found for {to}"),
        Err(faults) => faults.iter().map(Fault::plain).collect(),
    }
}

#[test]
fn a_faulty_protocol_is_reported_like_a_faulty_order() {
    for (from, to, expected) in [
        ("\"evening.stop\"", "\"evning.stop\"", "did you mean `evening.stop`?"),
        ("digit = 2", "digit = 1", "the digit 1 stands for two slots"),
        ("card  = 2", "card  = 1", "repeats a card number"),
        ("id    = \"bedtime\"", "id    = \"evening\"", "the slot `evening` stands twice"),
        ("emptied_by = \"waking\"", "emptied_by = \"later\"", "which is not before it"),
        ("emptied_by = \"waking\"", "emptied_by = \"bedtime\"", "the same anchor"),
        ("empty_before_minutes = 120", "empty_before_minutes = -5", "from 1 to 720"),
        ("minimum_minutes = 240", "minimum_minutes = 0", "from 60 to 10080"),
        ("after = \"bedtime\"", "after = \"bedtim\"", "there is no slot `bedtim`"),
        ("\"later.card\"", "\"waking.stop\"", "`waking.stop`, a point without a time"),
        ("\"later.card\"", "\"night.card\"", "a point without a time"),
        ("quarter_cups = 8", "", "an amount belongs to the rule"),
        ("anchor = \"dinner\"", "anchor = \"supper\"", "`anchor` cannot be `supper`"),
        ("id    = \"night\"", "id    = \"Night!\"", "is no name for a slot"),
        ("{ en = \"Night\", es = \"Noche\" }", "{}", "has no `title`"),
        ("{ en = \"Night\"", "{ en = \" \"", "`slot[5].title.en` is empty"),
        ("lowest_lb  = 70", "lowest_lb = 500", "the lowest weight is 500 lb"),
        (
            "lowest_lb  = 70",
            "lowest_lb = 24",
            "for 24 lb the rule gives less than a quarter",
        ),
        // One in another base would be read as if it were decimal.
        (
            "cups_per_100_lb = 1.0",
            "cups_per_100_lb = 0x1",
            "must be a number with at most",
        ),
        ("[limits]", "[[limits]]", "`limits` must be a table, not a list"),
        // Rules that no step of the sheet tells.
        (
            "rule = \"nothing\"",
            "rule = \"if-thirsty\"",
            "add a [[drink]] with from = \"evening.stop\", until = \"evening.card\"",
        ),
        (
            "rule = \"if-thirsty\"",
            "rule = \"nothing\"",
            "from `bedtime.card` on, and no step",
        ),
        ("rule = \"allowance\"", "rule = \"nothing\"", "from `waking` on, and no step"),
        (
            "rule = \"if-thirsty\"",
            "rule = \"allowance\"",
            "from `bedtime.card` on, where no card of waking is done",
        ),
    ] {
        let found = protocol_faults(from, to);
        assert!(found.contains(expected), "{expected}:\n{found}");
    }
    // The rules that name the slot are as right as before.
    for (from, to) in [
        ("anchor = \"dinner\"", "anchor = \"supper\""),
        ("id    = \"evening\"", "id    = evening"),
        ("digit = 1", "digit = 12"),
        ("quarter_cups = 8", "quarter_cups = 800"),
    ] {
        let found = protocol_faults(from, to);
        assert_eq!(found.matches("error: ").count(), 1, "{to}:\n{found}");
    }
    let many = "[[slot]]\nid = \"a\"\n".repeat(10_000);
    assert!(read_protocol(&source(&many)).is_err());
}

#[test]
fn a_laboratorys_file_refuses_what_cannot_be_printed() {
    for (line, expected) in [
        ("emergency = \" \"", "`emergency` is empty"),
        ("id_prefix = \"hb-\"", "no order number can begin with `hb-`"),
        ("id_prefix = \"A-B-C-D-E-F-G-H-I\"", "no order number can begin"),
        ("printers.\"\\u001B[2J\".queue = \"a\"", "holds a control character, U+001B"),
        ("printers.\"\".queue = \"a\"", "a name here is empty"),
    ] {
        let lab = source(&format!("{line}\n{}", common::LAB));
        let found = read_lab(&lab, &languages()).unwrap_err();
        assert_eq!(found.len(), 1, "{line}");
        let found = found[0].plain();
        assert!(found.contains(expected), "{expected}:\n{found}");
    }
    for prefix in ["", "HB-", "HB", "A-B-C-D-E-F-G-H-"] {
        let lab = source(&format!("id_prefix = \"{prefix}\"\n{}", common::LAB));
        assert_eq!(read_lab(&lab, &languages()).unwrap().id_prefix, prefix);
    }
}

/// U+009B begins a command on many terminals (ECMA-48, from memory), and U+200F turns
/// what stands beside it round.
#[test]
fn a_report_shows_no_character_that_a_terminal_obeys() {
    for hidden in ["\u{9b}", "\u{1b}", "\u{200f}", "\u{202e}", "\u{2028}", "\u{7}"] {
        let found = faults(&order_text(&format!("{hidden}[2J = 1")));
        assert!(!found.contains(hidden), "{found:?}");
    }
}

#[test]
fn a_wrong_value_is_shown_short() {
    let long = "a".repeat(100_000);
    for key in ["language", "zone", "paper"] {
        // A key may not stand twice.
        let text = order_text("").replace("\nzone = ", "\nstock = ");
        let found = read(&format!("{key} = \"{long}\"\n{text}")).unwrap_err();
        for fault in found {
            assert!(fault.what.len() + fault.help.len() < 1_000, "{}", fault.what);
        }
    }
}

#[test]
fn a_stock_larger_than_its_page_is_refused() {
    let text = include_str!("../templates/stock/letter-2x5.toml");
    for (from, to, expected) in [
        ("rows = 5", "rows = 6", "on a page of 215.9 x 279.4 mm"),
        ("pitch_x = 106.36", "pitch_x = 90", "labels would overlap"),
        ("medium = \"letter\"", "medium = \"roll\"", "a roll has one label to a page"),
        ("label_width = 101.6", "label_width = -1", "from 10 to 300"),
    ] {
        let found: String = read_stock(&source(&text.replace(from, to)))
            .unwrap_err()
            .iter()
            .map(Fault::plain)
            .collect();
        assert!(found.contains(expected), "{expected}:\n{found}");
    }
}

/// Letter is 215.9 by 279.4 mm (ANSI/ASME Y14.1: 8.5 by 11 inches, from memory).
#[test]
fn labels_reach_the_edge_of_the_page_and_touch_but_no_more() {
    let text = include_str!("../templates/stock/letter-2x5.toml");
    let (reach, overlap) = ("the labels reach to", "labels would overlap");
    for (why, from, to, pitch, expected) in [
        ("just to the right edge", "left = 4.13", "left = 7.94", "", ""),
        ("beyond it", "left = 4.13", "left = 7.941", "", reach),
        ("just to the foot", "top = 12.7", "top = 25.4", "", ""),
        ("below it", "top = 12.7", "top = 25.401", "", reach),
        ("side by side", "pitch_x = 106.36", "pitch_x = 101.6", "", ""),
        ("columns overlap", "pitch_x = 106.36", "pitch_x = 101.599", "", overlap),
        ("rows overlap", "pitch_y = 50.8", "pitch_y = 50.799", "", overlap),
        ("one column has no pitch", "columns = 2", "columns = 1", "pitch_x = 106.36", ""),
        ("one row has no pitch", "rows = 5", "rows = 1", "pitch_y = 50.8", ""),
    ] {
        assert!(text.contains(from) && text.contains(pitch), "{why}");
        let mut text = text.replace(from, to);
        if let Some((key, _)) = pitch.split_once(" = ") {
            text = text.replace(pitch, &format!("{key} = 20"));
        }
        let found = told(read_stock(&source(&text)));
        assert!(found.contains(expected), "{why}:\n{found}");
        assert_eq!(found.is_empty(), expected.is_empty(), "{why}:\n{found}");
    }
}

#[test]
fn a_protocol_of_a_spare_alone_is_refused() {
    let text = include_str!("../templates/protocols/four-card.toml");
    let slots = text.find("[[slot]]").unwrap();
    let night = text.find("[[slot]]\nid    = \"night\"").unwrap();
    let drinks = text.find("[[drink]]").unwrap();
    let only = format!("{}{}", &text[..slots], &text[night..drinks]);
    let found: String =
        read_protocol(&source(&only)).unwrap_err().iter().map(Fault::plain).collect();
    assert!(found.contains("a spare and no card"), "{found}");
}

#[test]
fn an_order_number_has_single_hyphens_between_other_characters() {
    let numbered = |number: &str| read(&order_text("").replace("HB-20417", number));
    for (number, expected) in [
        ("HB1", "an order number has 4 to 20 characters"),
        ("HB-2041700000000000-A", "an order number has 4 to 20 characters"),
        ("-HB20417", "hyphens stand singly"),
        ("HB20417-", "hyphens stand singly"),
        ("HB--20417", "hyphens stand singly"),
        ("COM1", "no folder can have that name"),
        ("LPT9", "no folder can have that name"),
    ] {
        let faults = numbered(number).expect_err(number);
        assert!(faults[0].help.contains(expected), "{number}: {}", faults[0].plain());
    }
    for number in ["HB17", "HB-204170000000000-A", "COMA", "COM10", "LPTX", "1COM"] {
        let order = numbered(number).unwrap_or_else(|faults| panic!("{faults:?}"));
        assert_eq!(order.number, number);
    }
}

#[test]
fn the_number_of_an_order_is_known_whatever_else_is_wrong_with_it() {
    for (text, expected) in [
        (order_text("").as_str(), Some("HB-20417")),
        ("order = \"HB-1\"\nlangauge = 3\n[patient\n", Some("HB-1")),
        ("order = \" \"\n", None),
        ("order = 17\n", None),
        ("protocol = \"four-card\"\n", None),
    ] {
        assert_eq!(number_in(text).as_deref(), expected, "{text}");
    }
}

/// People who read English are used to the 12-hour clock, others to the 24-hour one:
/// common practice, no source.
#[test]
fn the_clock_is_the_orders_or_the_laboratorys_or_the_languages() {
    let twelve = "hours = \"Monday to Friday, 9 am to 5 pm\"";
    for (why, in_order, in_lab, expected) in [
        ("English", "language = \"en\"", "", ClockStyle::Twelve),
        ("Spanish", "language = \"es\"", "", ClockStyle::TwentyFour),
        (
            "the laboratory",
            "language = \"en\"",
            "clock = \"24h\"",
            ClockStyle::TwentyFour,
        ),
        ("the order", "clock = \"12h\"", "clock = \"24h\"", ClockStyle::Twelve),
    ] {
        assert!(LAB.contains(twelve));
        let lab = LAB.replace(twelve, &format!("{twelve}\n{in_lab}"));
        let lab = read_lab(&source(&lab), &languages()).unwrap();
        let text = source(&order_set(in_order));
        let order =
            read_order(&text, &lab, Medicines::builtin(), &Names::builtin(), today());
        assert_eq!(order.unwrap().clock, expected, "{why}");
    }
}

/// The limits of an order are common practice, no source.
#[test]
fn limits_are_kept_to_the_last_day_and_the_last_dose() {
    let born = |date: &str| read(&order_text("").replace("1984-03-09", date));
    for (date, sound) in [
        ("2026-09-01", true), // the day on which the tests read their orders
        ("2026-09-02", false),
        ("1896-01-01", true),
        ("1895-12-31", false),
    ] {
        assert_eq!(born(date).is_ok(), sound, "born {date}");
    }
    let dose = |n: usize| {
        format!("[[dose]]\nmedicine = \"x\"\nform = \"tablet\"\ntimes = [08:{n:02}]\n")
    };
    let order = read(&order_text(&(0..12).map(dose).collect::<String>())).unwrap();
    assert_eq!(order.doses.len(), 12);
    assert_eq!(order.patient.name(), "OKONKWO-REYES, Marisol");
    let found = faults(&order_text(&(0..13).map(dose).collect::<String>()));
    assert!(found.contains("the order has 13 dose tables, more than 12"), "{found}");
}

/// The limits of a protocol are common practice, no source; a quarter cup for 25 lb is
/// what one cup for 100 lb comes to.
#[test]
fn limits_of_a_protocol_are_kept_to_the_last_slot_and_the_last_pound() {
    let text = include_str!("../templates/protocols/first-morning.toml");
    let slot = |number: u32| {
        let letter = char::from_u32('a' as u32 + number).unwrap();
        format!(
            "[[slot]]\nid = \"{letter}\"\ndigit = {number}\ncard = {number}\n\
             anchor = \"waking\"\noffset_minutes = {number}\ntitle = {{ en = \"x\" }}\n"
        )
    };
    let from = text.find("[[slot]]").unwrap();
    let until = text.find("[[drink]]").unwrap();
    let slots = |more: &str| format!("{}{more}{}", &text[..from], &text[until..]);
    let own = &text[from..until];
    let up_to = |last| own.to_owned() + &(2..=last).map(slot).collect::<String>();
    for (why, text, expected) in [
        ("no slot", slots("").replace("waking.card", "waking"), "has 0 slots"),
        ("nine slots", slots(&up_to(9)), ""),
        ("ten slots", slots(&up_to(10)), "has 10 slots"),
        ("a quarter cup", text.replace("lowest_lb  = 70", "lowest_lb = 25"), ""),
        (
            "less than that",
            text.replace("lowest_lb  = 70", "lowest_lb = 24"),
            "write 25 or more",
        ),
        ("a rule for one weight", text.replace("lowest_lb  = 70", "lowest_lb = 400"), ""),
        (
            "a rule for none",
            text.replace("lowest_lb  = 70", "lowest_lb = 401"),
            "the lowest weight is 401 lb",
        ),
    ] {
        let found = told(read_protocol(&source(&text)));
        assert!(found.contains(expected), "{why}:\n{found}");
        assert_eq!(found.is_empty(), expected.is_empty(), "{why}:\n{found}");
    }
}

/// Were it passed over, a dose or a limit would be left out and nobody told.
#[test]
fn what_should_be_a_table_and_is_none_is_refused() {
    for (line, expected) in [
        ("dose = \"levothyroxine\"", "`dose` must be a list of tables, not a text"),
        ("dose = [\"levothyroxine\"]", "`dose` must be a list of tables, not a text"),
        ("dose = { medicine = \"x\" }", "`dose` must be a list of tables, not one table"),
        ("dose = { medicine = \"x\" }", "start each with a line of its own: [[dose]]"),
        ("health = true", "`health` must be a table, not true or false"),
        ("provider = \"Dr. Halloran\"", "`provider` must be a table, not a text"),
        ("cleared = 1", "`cleared` must be a list of tables, not a whole number"),
        ("day = 2026-12-02", "`day` must be a table, not a date"),
        ("cycle = 28", "`cycle` must be a table, not a whole number"),
    ] {
        let found = faults(&order_set(line));
        assert!(found.contains(expected), "{line}:\n{found}");
    }
}

#[test]
fn what_would_be_right_is_said_as_it_is_written_in_the_file() {
    for (from, to, expected) in [
        ("born = ", "height = 1,70\nborn = ", "a number has a point, not a comma"),
        (
            "dinner = 17:15",
            "dinner = 7:15",
            "each part of a time or date has two figures",
        ),
        (
            "[routine]",
            "[provider]\nname = \"A\"\nphone = \"555-0117\"\ndose_rules = \"no\"\n[routine]",
            "write dose_rules = \"agreed\", or leave it out",
        ),
    ] {
        let found = faults(&order_text("").replace(from, to));
        assert!(found.contains(expected), "{to}:\n{found}");
    }
}

#[test]
fn a_date_with_a_time_is_neither_a_date_nor_a_time() {
    for (from, to, expected) in [
        ("start = 2026-10-14", "start = 2026-10-14T17:15", "`start` must be"),
        ("start = 2026-10-14", "start = 2026-10-14T23:00:00Z", "`start` must be"),
        ("dinner = 17:15", "dinner = 2026-10-14T17:15", "`dinner` must be a time"),
        ("dinner = 17:15", "dinner = 2026-10-14T17:15:00-06:00", "must be a time"),
        ("born = 1984-03-09", "born = 1984-03-09T00:00", "`born` must be a date"),
    ] {
        let found = faults(&order_text("").replace(from, to));
        assert!(found.contains(expected), "{to}:\n{found}");
        assert!(found.contains("not a date and time"), "{to}:\n{found}");
    }
}

/// More marks reach into the lines around and may hide them: common practice, no
/// source. A word of 32 characters fits a line of large print.
#[test]
fn marks_and_words_are_kept_to_their_limits() {
    let given = |given: &str| {
        let text = order_text("").replace("Marisol", given);
        read(&text).err().map_or_else(String::new, |faults| faults[0].plain())
    };
    let marks = |count| format!("Mar{}isol", "\u{0323}".repeat(count));
    let word = |length| format!("Marisol {}", "a".repeat(length));
    for (why, text, expected) in [
        ("eight marks", marks(8), ""),
        ("nine", marks(9), "has 9 marks on one letter, more than 8"),
        ("many", marks(40), "has 40 marks on one letter, more than 8"),
        ("eight on each of two", format!("{0}{0}", marks(8)), ""),
        ("a long word", word(32), ""),
        ("a longer", word(33), "has a word of 33 characters, more than 32"),
        ("two with a hyphen", format!("{0}-{0}", "a".repeat(20)), ""),
        ("letters that may stand at an end of a line", "王".repeat(40), ""),
    ] {
        let found = given(&text);
        assert!(found.contains(expected), "{why}: {found}");
        assert_eq!(found.is_empty(), expected.is_empty(), "{why}: {found}");
    }
}
