//! Orders, and the files beside them.

use kitwright::proof::read;

use crate::bench::Bench;
use crate::common::{AGREED, LAB, order_set, order_text};

/// Texts that mean something to a typesetter, a template, a shell, a spreadsheet or
/// a browser, and are nothing but a name here.
const MARKUP: &[&str] = &[
    "*bold* _it_ `raw`",
    "#panic()",
    "#import \"x.typ\": *",
    "#eval(\"1+1\")",
    "$x^2$ @ref <label>",
    "\\#h(1em) \\u{202e}",
    "// note /* more */",
    "= Title - item + item",
    "{{ name }} { $x }",
    "<script>alert(1)</script>",
    "&amp; &#x41; %20 %s %n",
    "$(reboot) `id` ; rm -rf x",
    "'; DROP TABLE entry; --",
    "a|b|c",
    "~ -- --- ...",
    "\"#[\" 'x' \u{201C}y\u{201D}",
];

/// `text` as TOML writes it between quotation marks.
fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

/// All text of a PDF without its spaces, as the proof reads it.
fn printed(bytes: &[u8]) -> String {
    let pages = read(bytes).unwrap();
    let glyphs = pages.iter().flat_map(|page| &page.glyphs);
    glyphs.flat_map(|glyph| glyph.text.chars()).filter(is_ink).collect()
}

fn is_ink(c: &char) -> bool {
    !c.is_whitespace() && *c != '\u{A0}'
}

#[test]
fn markup_and_code_stand_on_the_page_as_they_were_typed() {
    for text in MARKUP {
        let bench = Bench::new();
        let order = order_text(&format!(
            "[provider]\nname = {0}\nphone = {0}\n[[dose]]\nmedicine = {0}\nform = \
             \"tablet\"\ntimes = [07:30]\nnote = {0}\n",
            quoted(text)
        ));
        let order = order.replace("\"Okonkwo-Reyes\"", &quoted(text));
        let order = order.replace("\"Marisol\"", &quoted(text));
        bench.write("order.toml", order);
        let lab = LAB
            .replace("\"Harbor Bend Laboratory\"", &quoted(text))
            .replace("\"12 Quay Street\"", &quoted(text))
            .replace("\"555-0100\"", &quoted(text))
            .replace("\"Monday to Friday, 9 am to 5 pm\"", &quoted(text))
            + &format!("[words.en]\nmailing = {0}\nbags = {0}\n", quoted(text));
        bench.write("lab.toml", lab);
        bench.make(text, &[]).with(0, &["1 kit proven and written"]);
        let wanted: String = text.chars().filter(is_ink).collect();
        for (file, least) in [("paper.pdf", 8), ("labels.pdf", 5), ("packing.pdf", 1)] {
            let bytes = std::fs::read(bench.path("kits/HB-20417").join(file)).unwrap();
            let all = printed(&bytes);
            // A family name stands in capitals on labels and slips.
            let found = all.matches(&wanted).count()
                + all.matches(&wanted.to_uppercase()).count();
            assert!(found >= least, "{text} stands {found} times in {file}: {all}");
        }
    }
}

/// One row: why, what of the ordinary order is put in place of what, and what is said.
type Row<'a> = (&'a str, &'a str, &'a str, &'a [&'a str]);

/// Each change of the ordinary order is refused.
#[track_caller]
fn refused(rows: &[Row]) {
    for (why, from, to, says) in rows {
        let bench = Bench::new();
        let order = order_text("").replace(from, to);
        assert_ne!(order, order_text(""), "{why}");
        bench.write("order.toml", order);
        bench.make(why, &[]).refused(says);
        assert!(!bench.path("kits").exists(), "{why}: something was written");
    }
}

/// The bidirectional controls are those of Unicode Standard Annex 9, section 2.
#[test]
fn characters_that_cannot_be_seen_are_refused_with_their_number_and_place() {
    for (name, c) in [
        ("right-to-left override", '\u{202E}'),
        ("left-to-right embedding", '\u{202A}'),
        ("first strong isolate", '\u{2068}'),
        ("Arabic letter mark", '\u{061C}'),
        ("zero-width space", '\u{200B}'),
        ("zero-width joiner", '\u{200D}'),
        ("word joiner", '\u{2060}'),
        ("byte order mark", '\u{FEFF}'),
        ("soft hyphen", '\u{00AD}'),
        ("line separator", '\u{2028}'),
        ("variation selector", '\u{FE0F}'),
        ("tag", '\u{E0041}'),
        ("private use", '\u{E000}'),
        ("not a character", '\u{FFFF}'),
        ("Hangul filler", '\u{3164}'),
    ] {
        let number = format!("U+{:04X}", u32::from(c));
        refused(&[(
            name,
            "Marisol",
            &format!("Mari{c}sol"),
            &["`patient.given` holds", &number, "order.toml:8:9"],
        )]);
    }
    refused(&[
        ("an escape", "Marisol", "Mari\\u202Esol", &["U+202E", "order.toml:8:9"]),
        ("NUL", "Marisol", "Mari\\u0000sol", &["U+0000", "patient.given"]),
        ("a line break", "Marisol", "Mari\\nsol", &["U+000A", "patient.given"]),
        ("a terminal's escape", "Marisol", "\\u001B[2J", &["U+001B", "patient.given"]),
    ]);
}

#[test]
fn names_that_would_spoil_a_page_are_refused() {
    let zalgo = format!("Mari{}sol", "\u{0301}".repeat(50));
    let large = "W".repeat(200_000);
    refused(&[
        (
            "a flood of marks",
            "Marisol",
            &zalgo,
            &["`patient.given` has", "marks on one letter, more than 8", "order.toml:8"],
        ),
        (
            "a name without end",
            "Marisol",
            &large,
            &["`patient.given` has 200000 characters, more than 60", "order.toml:8"],
        ),
        ("a name of spaces", "Marisol", "   ", &["`patient.given` is empty"]),
        ("a character of no font", "Marisol", "\u{674E}", &["no font has", "U+674E"]),
        ("an emoji", "Marisol", "\u{1F600}", &["no font has", "U+1F600"]),
    ]);
}

#[test]
fn a_few_marks_on_a_letter_are_proven_or_refused() {
    for marks in 1..=8 {
        let bench = Bench::new();
        let name = format!("Mari{}sol", "\u{0301}\u{0323}".repeat(marks / 2 + 1));
        bench.write("order.toml", order_text("").replace("Marisol", &name));
        let ended = bench.make("marks", &[]);
        assert!(matches!(ended.code, Some(0 | 1)), "{marks}: {}", ended.said);
    }
}

#[test]
fn order_numbers_are_names_of_folders_everywhere() {
    let row = |number| ("a number", "HB-20417", number);
    for (why, from, to) in [
        row(".."),
        row("../HB-20417"),
        row("/etc/HB-1"),
        row("HB\\\\20417"),
        row("HB/20417"),
        row("HB-20417."),
        row("HB-20417 "),
        row("HB:20417"),
        row("~HB-20417"),
        row("-HB20417"),
        row("CON"),
        row("NUL"),
        row("hb-20417"),
        row("HB-20417\u{0301}"),
        row("\u{FF28}B-20417"),
        row("HB-2041\u{0667}"),
    ] {
        refused(&[(why, from, to, &["is not an order number", "order.toml:1:9"])]);
    }
    refused(&[
        (
            "a port",
            "HB-20417",
            "COM1",
            &["`COM1` is the name of a device", "order.toml:1"],
        ),
        ("a port", "HB-20417", "LPT9", &["`LPT9` is the name of a device"]),
    ]);
}

#[test]
fn dates_and_times_that_nobody_can_keep_are_refused() {
    refused(&[
        ("year 1", "2026-10-14", "0001-01-01", &["the start is in the year 1", ":3:9"]),
        ("year 9999", "2026-10-14", "9999-12-31", &["the start is in the year 9999"]),
        ("no such day", "2026-10-14", "2026-02-30", &["not valid TOML", ":3:"]),
        ("born in year 1", "1984-03-09", "0001-01-01", &["more than 130 years ago"]),
        ("born in 9999", "1984-03-09", "9999-12-31", &["is in the future", ":9:"]),
        ("24:00", "22:30", "24:00", &["not valid TOML", "order.toml:15"]),
        ("a leap second", "22:30", "22:59:60", &["bedtime", "order.toml:15"]),
        ("a second", "22:30", "22:30:01", &["`bedtime` must be a time", ":15:11"]),
        ("a time with a zone", "22:30", "22:30Z", &["order.toml:15"]),
        ("minutes", "22:30", "22:60", &["not valid TOML", "order.toml:15"]),
        ("a weight", "150 lb", "1e308 lb", &["`1e308 lb` is not a weight"]),
        ("no weight", "150 lb", "NaN kg", &["`NaN kg` is not a weight"]),
        ("less than none", "150 lb", "-150 lb", &["`-150 lb` is not a weight"]),
        ("all the figures", "150 lb", &format!("{} kg", "9".repeat(400)), &["weight"]),
    ]);
}

/// A date far off says nothing about the days of the collection.
#[test]
fn dates_far_off_end_with_a_word() {
    for (why, more) in [
        ("cleared", "[[cleared]]\nhold = \"pregnant\"\nby = \"R. Adeyemi, RN\"\non = "),
        ("arrives", "[day]\nkit_arrives = "),
        ("earliest", "[day]\nearliest = "),
        ("latest", "[day]\nlatest = "),
        ("expire", "[day]\ncards_expire = "),
        ("cycle", "[cycle]\nlength = 28\nfirst_day = "),
        (
            "patch",
            "[[dose]]\nmedicine = \"estradiol\"\nform = \"patch\"\ntimes = [07:30]\n\
             change_on = ",
        ),
    ] {
        for date in ["0000-01-01", "0001-01-01", "9999-12-31"] {
            for start in ["2026-10-14", "2000-01-01", "2199-12-31", "\"first suitable\""]
            {
                let bench = Bench::new();
                let order = order_text(&format!("{more}{date}\n"));
                bench.write("order.toml", order.replace("2026-10-14", start));
                for command in ["plan", "days"] {
                    let words = [command, "order.toml", "--today", "2026-09-01"];
                    let ended = bench.give(why, &words);
                    let told = ended.code == Some(0) || ended.said.contains("help: ")
                        // Of `days`: no day suits, and each has its reason.
                        || command == "days";
                    assert!(matches!(ended.code, Some(0 | 1)) && told, "{}", ended.said);
                }
            }
        }
    }
}

#[test]
fn a_day_of_reading_far_off_ends_with_a_word() {
    let bench = Bench::new();
    bench.write("order.toml", order_set("text = \"large\""));
    bench.write("first.toml", order_text("").replace("2026-10-14", "\"first suitable\""));
    for today in ["-262143-01-01", "+262142-12-31", "0000-01-01", "9999-12-31"] {
        for order in ["order.toml", "first.toml"] {
            let today = format!("--today={today}");
            let plan = bench.give("plan", &["plan", order, &today]);
            // A year of no calendar is no day of a command line.
            let codes = if today.ends_with("9999-12-31") { 0..=1 } else { 2..=2 };
            let is_said =
                |code: Option<i32>| code.is_some_and(|code| codes.contains(&code));
            assert!(is_said(plan.code), "{today}: {}", plan.said);
            let from = today.replace("--today", "--from");
            for words in [
                &["days", order, &today][..],
                &["days", order, "--today", "2026-09-01", &from, "--days", "366"],
            ] {
                let days = bench.give("days", words);
                assert!(is_said(days.code), "{words:?}: {}", days.said);
            }
        }
    }
}

#[test]
fn nesting_without_end_is_a_fault_and_no_crash() {
    let deep = 100_000;
    for (why, text) in [
        ("lists", format!("a = {}", "[".repeat(deep))),
        ("closed lists", format!("a = {}{}", "[".repeat(deep), "]".repeat(deep))),
        ("tables", format!("a = {}", "{a=".repeat(deep / 2))),
        ("dotted keys", format!("{}a = 1", "a.".repeat(deep))),
        ("a header", format!("[{}a]", "a.".repeat(deep))),
        ("headers", "[[a.a.a]]\n".repeat(deep / 10)),
        ("quotes", format!("a = {}", "\"\"\"".repeat(deep / 2))),
        ("keys", (0..20_000).map(|key| format!("a{key} = 1\n")).collect()),
        ("one key", "a = 1\n".repeat(40_000)),
        ("nothing but faults", "= \n".repeat(80_000)),
        ("one long line", format!("order = \"{}", "x".repeat(250_000))),
        ("tabs", "\t".repeat(250_000) + "x"),
        ("wide", "\u{FF21}".repeat(80_000)),
    ] {
        let bench = Bench::new();
        bench.write("order.toml", &text);
        bench.write("own.toml", &text);
        bench.make(why, &[]).refused(&["order.toml"]);
        bench.plan(why, "order.toml").refused(&["order.toml"]);
        bench.write("order.toml", order_text(""));
        bench.make(why, &["--stock", "own.toml"]).refused(&["own.toml"]);
        bench.make(why, &["--protocol", "own.toml"]).refused(&["own.toml"]);
        bench.make(why, &["--lab", "own.toml"]).refused(&["own.toml"]);
    }
}

#[test]
fn files_that_are_no_text_are_refused() {
    let utf_16: Vec<u8> =
        order_text("").encode_utf16().flat_map(u16::to_le_bytes).collect();
    let rows: [(&str, Vec<u8>, &str); 11] = [
        ("empty", vec![], "has no `order`"),
        ("a mark alone", b"\xEF\xBB\xBF".to_vec(), "has no `order`"),
        ("UTF-16", [b"\xFF\xFE".to_vec(), utf_16.clone()].concat(), "is not UTF-8 text"),
        ("UTF-16 without a mark", utf_16, "not valid TOML"),
        ("noise", (0..=255).cycle().take(50_000).collect(), "is not UTF-8 text"),
        ("PDF", b"%PDF-1.7\n%\xE2\xE3\n".to_vec(), "order.toml is a PDF, and no text"),
        (
            "ledger",
            b"SQLite format 3\0\x10\xFF".to_vec(),
            "is a ledger or another database",
        ),
        ("XLSX", b"PK\x03\x04\xFF".to_vec(), "is a workbook or another packed file"),
        ("XLS", b"\xD0\xCF\x11\xE0\xA1".to_vec(), "save it as .xlsx or .csv"),
        ("zeros", vec![0; 50_000], "not valid TOML"),
        ("too large", vec![b'\n'; 300_000], "is larger than 256 kB"),
    ];
    for (why, bytes, says) in rows {
        let bench = Bench::new();
        bench.write("order.toml", bytes);
        bench.make(why, &[]).refused(&[says, "order.toml"]);
    }
    let bench = Bench::new();
    bench.write("order.toml", format!("\u{FEFF}{}", order_text("")));
    bench.make("a mark before an order", &[]).with(0, &["1 kit proven"]);
}

#[test]
fn ten_megabytes_in_a_field_are_refused() {
    let bench = Bench::new();
    bench.write("order.toml", order_text("").replace("Marisol", &"W".repeat(10_000_000)));
    bench.make("ten megabytes", &[]).refused(&["order.toml is larger than 256 kB"]);
}

/// Every text of an order, and how much of one goes on a page.
#[test]
fn texts_that_do_not_fit_are_a_fault_and_no_cut() {
    for (why, more) in [
        (
            "a note",
            format!(
                "[[dose]]\nmedicine = \"estradiol\"\nform = \"gel\"\ntimes = \
                           [07:30]\nnote = \"{}\"\n",
                "W".repeat(240)
            ),
        ),
        (
            "doses",
            "[[dose]]\nmedicine = \"estradiol\"\nform = \"gel\"\ntimes = [07:30]\n"
                .repeat(5_000),
        ),
        (
            "times",
            format!(
                "[[dose]]\nmedicine = \"estradiol\"\nform = \"gel\"\ntimes = \
                          [{}]\n",
                "07:30,".repeat(30_000)
            ),
        ),
        (
            "clearances",
            "[[cleared]]\nhold = \"pregnant\"\nby = \"X\"\non = 2026-10-01\n"
                .repeat(5_000),
        ),
        ("unknown keys", (0..9_000).map(|key| format!("[a{key}]\nb = 1\n")).collect()),
    ] {
        let bench = Bench::new();
        bench.write("order.toml", order_text(&format!("{AGREED}{more}")));
        let ended = bench.make(why, &[]);
        assert!(matches!(ended.code, Some(0 | 1)), "{why}: {}", ended.said);
        assert!(
            ended.code == Some(0) || ended.said.contains("= help: "),
            "{}",
            ended.said
        );
    }
}
