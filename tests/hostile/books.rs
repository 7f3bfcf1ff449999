//! Files of the laboratory's own: stocks, protocols, its own file.

use crate::bench::Bench;
use crate::common::{LAB, order_text};

const STOCK: &str = include_str!("../../templates/stock/letter-2x5.toml");
const PROTOCOL: &str = include_str!("../../templates/protocols/four-card.toml");

#[test]
fn a_stock_that_no_sheet_has_is_refused() {
    for (why, from, to, says) in [
        (
            "larger than its page",
            "columns = 2",
            "columns = 9",
            "on a page of 215.9 x 279.4",
        ),
        ("off the page", "top = 12.7", "top = 90", "the labels reach to"),
        ("no columns", "columns = 2", "columns = 0", "`columns` is 0"),
        ("fewer than none", "rows = 5", "rows = -5", "`rows` is -5"),
        ("as many as can be", "rows = 5", "rows = 9223372036854775807", "`rows` is 9223"),
        ("more than can be", "rows = 5", "rows = 99999999999999999999", "`rows` must be"),
        ("in hexadecimal", "columns = 2", "columns = 0xFF", "`columns` is 255"),
        ("a width in another base", "101.6", "0x50", "`label_width` must be a number"),
        ("no number", "101.6", "nan", "`label_width` must be a number"),
        ("without end", "101.6", "inf", "`label_width` must be a number"),
        ("1e308", "101.6", "1e308", "`label_width` must be a number"),
        (
            "a tenth of a micrometre",
            "101.6",
            "101.6001",
            "`label_width` must be a number",
        ),
        ("negative", "101.6", "-101.6", "`label_width` is -101.6"),
        ("overlapping", "pitch_x = 106.36", "pitch_x = 90", "so labels would overlap"),
        ("a negative gap", "pitch_y = 50.8", "pitch_y = -50.8", "`pitch_y` is -50.8"),
        ("a negative margin", "left = 4.13", "left = -4.13", "`left` is -4.13"),
        ("a text", "inset = 3.0", "inset = \"3 mm\"", "`inset` must be a number"),
        ("a roll with rows", "\"letter\"", "\"roll\"", "a roll has one label to a page"),
        ("no such page", "\"letter\"", "\"a3\"", "`medium` cannot be `a3`"),
        ("small", "label_height = 50.8", "label_height = 12.7", "too small for a card"),
    ] {
        let bench = Bench::new();
        let stock = STOCK.replace(from, to);
        assert_ne!(stock, STOCK, "{why}");
        bench.write("own.toml", &stock);
        bench.write("order.toml", order_text(""));
        bench.make(why, &["--stock", "own.toml"]).refused(&[says]);
        if why != "small" {
            let ruler = ["stock", "own.toml", "--ruler", "page.pdf"];
            bench.give(why, &ruler).refused(&[says, "own.toml:"]);
        }
        assert!(
            !bench.path("page.pdf").exists() && !bench.path("kits").exists(),
            "{why}"
        );
    }
}

/// A cell's inset can be wider than its label is.
#[test]
fn a_stock_whose_labels_are_all_edge_ends_with_a_word() {
    let bench = Bench::new();
    let small = STOCK
        .replace("label_width = 101.6", "label_width = 50")
        .replace("label_height = 50.8", "label_height = 25")
        .replace("inset = 3.0", "inset = 10");
    bench.write("own.toml", small);
    bench.write("order.toml", order_text(""));
    bench.make("all edge", &["--stock", "own.toml"]).refused(&[]);
    let name = STOCK
        .replace("name = \"letter-2x5\"", &format!("name = \"{}\"", "x".repeat(9_000)));
    bench.write("own.toml", name);
    bench
        .make("a long name", &["--stock", "own.toml"])
        .refused(&["`name` has 9000 characters", "own.toml:1:8"]);
}

#[test]
fn a_protocol_that_nobody_can_follow_is_refused() {
    let slot = |id: &str, digit: u32, card: u32, more: &str| {
        format!(
            "[[slot]]\nid = \"{id}\"\ndigit = {digit}\ncard = {card}\nanchor = \"dinner\"\n\
             title = {{ en = \"X\" }}\n{more}\n"
        )
    };
    let own = |slots: String| {
        format!(
            "name = \"four-card\"\nversion = \"1\"\nsource = \"x\"\nstarts_with = \
             \"dinner\"\n[routine]\nlunch = 12:30\ndinner = 18:00\nbedtime = 22:30\nwake = \
             06:30\n{slots}[allowance]\ncups_per_100_lb = 1.0\nlowest_lb = 70\nhighest_lb = \
             400\n[drying]\nminimum_minutes = 240\n"
        )
    };
    let many: String = (0..2_400).map(|n| slot("a", 1 + n % 9, 1 + n % 9, "")).collect();
    let crowd: String = (0..10_000).map(|n| format!("[[slot]]\nid=\"{n}\"\n")).collect();
    let ring =
        slot("a", 1, 1, "emptied_by = \"b\"") + &slot("b", 2, 2, "emptied_by = \"a\"");
    for (why, text, says) in [
        ("many cards", own(many), "the protocol has 2400 slots"),
        ("ten thousand cards", own(crowd), "the protocol has 10000 slots"),
        ("no card", own(String::new()), "the protocol has 0 slots"),
        ("a ring", own(ring), "`a` is emptied by `b`, which is not before it"),
        ("itself", own(slot("a", 1, 1, "emptied_by = \"a\"")), "which is not before it"),
        ("a digit", own(slot("a", 0, 1, "")), "`digit` is 0"),
        ("ten", own(slot("a", 1, 10, "")), "`card` is 10"),
        (
            "long ago",
            own(slot("a", 1, 1, "offset_minutes = -721")),
            "`offset_minutes` is -721",
        ),
        (
            "far on",
            own(slot("a", 1, 1, "offset_minutes = 9223372036854775807")),
            "`offset_minutes` is 9223372036854775807",
        ),
        (
            "nothing before",
            own(slot("a", 1, 1, "empty_before_minutes = 0")),
            "`empty_before_minutes` is 0",
        ),
        (
            "negative",
            own(slot("a", 1, 1, "within_minutes = -5")),
            "`within_minutes` is -5",
        ),
        (
            "a point in it",
            own(slot("a", 1, 1, "") + "[[drink]]\nfrom = \"a.a.a\"\nrule = \"nothing\"\n"),
            "`a.a.a` is no point of this plan",
        ),
    ] {
        let bench = Bench::new();
        bench.write("own.toml", text);
        bench.write("order.toml", order_text(""));
        let ended = bench.make(why, &["--protocol", "own.toml"]);
        ended.refused(&[says, "own.toml:"]);
    }
}

/// Offsets that are allowed, at their ends and in any order: a plan or a word.
#[test]
fn offsets_that_turn_the_day_round_end_with_a_word() {
    for offset in [-720, -60, 0, 60, 1440] {
        for anchor in ["lunch", "dinner", "bedtime", "waking"] {
            let bench = Bench::new();
            let own = PROTOCOL.replacen(
                "anchor = \"dinner\"",
                &format!("anchor = \"{anchor}\"\noffset_minutes = {offset}"),
                1,
            );
            assert_ne!(own, PROTOCOL);
            bench.write("own.toml", own);
            bench.write("order.toml", order_text(""));
            let ended = bench.make("an offset", &["--protocol", "own.toml"]);
            assert!(
                matches!(ended.code, Some(0 | 1)),
                "{offset} {anchor}: {}",
                ended.said
            );
            if ended.code == Some(1) {
                assert!(ended.said.contains("= help: "), "{}", ended.said);
            }
            // The evening card's anchor moves, and the bedtime card stays at 22:30.
            let base =
                [("lunch", 750), ("dinner", 1035), ("bedtime", 1350), ("waking", 1830)];
            let at = offset + base.iter().find(|(name, _)| *name == anchor).unwrap().1;
            let plan = bench.give(
                "an offset",
                &[
                    "plan",
                    "order.toml",
                    "--today",
                    "2026-09-01",
                    "--protocol",
                    "own.toml",
                ],
            );
            let told =
                plan.said.contains("card 2 is planned at 2026-10-14 22:30, and not");
            assert_eq!(told, at >= 1350, "{offset} {anchor}: {}", plan.said);
        }
    }
}

#[test]
fn a_laboratorys_file_that_is_out_of_bounds_is_refused() {
    for (why, more, says) in [
        ("a logo elsewhere", "logo = \"../../etc/x.svg\"", "is not an SVG file beside"),
        ("a logo elsewhere", "logo = \"C:\\\\x.svg\"", "is not an SVG file beside"),
        ("no logo", "logo = \"none.svg\"", "none.svg"),
        ("a ledger of nothing", "ledger = \"\"", "`ledger` names no file"),
        ("a folder", "ledger = \"books/\"", "`ledger` names no file"),
        ("no zone", "zone = \"../../etc/passwd\"", "is no place of the IANA"),
        ("a zone", &format!("zone = \"{}\"", "A/".repeat(90_000)), "is no place"),
        ("words", &format!("emergency = \"{}\"", "9".repeat(90_000)), "emergency"),
    ] {
        let bench = Bench::new();
        let lab =
            LAB.lines().filter(|line| !line.starts_with("zone")).collect::<Vec<_>>();
        bench.write("lab.toml", format!("{more}\n{}", lab.join("\n")));
        bench.write("order.toml", order_text(""));
        let ended = bench.make(why, &[]);
        assert!(matches!(ended.code, Some(1 | 3)), "{why}: {}", ended.said);
        assert!(ended.said.contains(says), "{why}: {}", ended.said);
        assert!(ended.said.contains("= help: "), "{why}: {}", ended.said);
    }
}
