//! Finished kits, read back from their bytes: every demo order, every way of
//! setting one, the same bytes each time, and a proof that can fail.

mod common;

use common::{AGREED, demo_orders, order_set, order_text, source, workshop};
use kitwright::document::Edition;
use kitwright::fields::LONGEST_WORD;
use kitwright::imposition::Placing;
use kitwright::making::MadeKit;
use kitwright::medicine::Medicines;
use kitwright::proof::{Area, FileKind, Page, decode_qr, read};
use kitwright::protocol::builtin;
use kitwright::stock;
use kitwright::workshop::{Planned, Workshop};

#[track_caller]
fn make(shop: &mut Workshop, text: &str) -> (Planned, MadeKit) {
    let planned = shop
        .plan(&source(text), "order.toml".as_ref())
        .unwrap_or_else(|faults| panic!("{}", faults[0].plain()));
    let made = shop
        .make(&planned, &Placing::default())
        .unwrap_or_else(|faults| panic!("{}", faults[0].plain()));
    (planned, made)
}

/// What the proof says of one file, as one text.
fn prove(
    shop: &mut Workshop,
    (planned, made): &(Planned, MadeKit),
    kind: FileKind,
    bytes: &[u8],
) -> String {
    match shop.prove(planned, made, kind, bytes, kind.name()) {
        Ok(()) => String::new(),
        Err(faults) => faults.iter().map(|fault| format!("{}\n", fault.what)).collect(),
    }
}

#[track_caller]
fn make_and_prove(shop: &mut Workshop, text: &str) -> (Planned, MadeKit) {
    let kit = make(shop, text);
    prove_all(shop, &kit, text);
    kit
}

#[track_caller]
fn prove_all(shop: &mut Workshop, kit: &(Planned, MadeKit), text: &str) {
    for kind in FileKind::ALL {
        let found = prove(shop, kit, kind, kit.1.file(kind));
        assert!(found.is_empty(), "{found}\n{text}");
    }
}

#[test]
fn every_demo_order_becomes_a_proven_kit_or_is_on_hold() {
    let mut shop = workshop();
    let mut held = Vec::new();
    for (name, source) in demo_orders() {
        let planned = shop
            .plan(&source, name.as_ref())
            .unwrap_or_else(|faults| panic!("{}", faults[0].plain()));
        if planned.plan.holds().next().is_some() {
            held.push(name);
            continue;
        }
        make_and_prove(&mut shop, &source.text);
    }
    assert_eq!(held, ["12-steroid-held.toml"]);
}

#[test]
fn a_long_foot_keeps_off_the_edge_of_the_paper() {
    let mut shop = workshop();
    let long = "Fitzwilliam-Ängström-Vasconcelos y Hernández-Quiñones Ávil";
    for family in ["Lund", long] {
        for zone in ["America/Denver", "America/Argentina/Buenos_Aires"] {
            for language in ["en", "es"] {
                let order = order_set(&format!(
                    "language = \"{language}\"\npaper = \"a4\"\nstock = \"roll-102x51\""
                ))
                .replace("Okonkwo-Reyes", family)
                .replace("America/Denver", zone);
                make_and_prove(&mut shop, &order);
            }
        }
    }
}

#[test]
fn every_language_paper_size_and_clock_fits_and_proves() {
    let mut shop = workshop();
    for language in ["en", "es"] {
        for paper in ["letter", "a4"] {
            for text in ["standard", "large"] {
                for (clock, weight) in [("12h", "150 lb"), ("24h", "68.5 kg")] {
                    let order = order_set(&format!(
                        "language = \"{language}\"\npaper = \"{paper}\"\n\
                         text = \"{text}\"\nclock = \"{clock}\""
                    ))
                    .replace("150 lb", weight);
                    let (_, made) = make_and_prove(&mut shop, &order);
                    if text == "standard" {
                        assert_eq!(made.counts().sheet, 2, "{order}");
                    }
                }
            }
        }
    }
}

#[test]
fn medicines_and_their_notes_go_on_overleaf_whatever_the_foot() {
    let mut shop = workshop();
    let note =
        "Take it with food, not on an empty stomach, and never with milk. ".repeat(3);
    let name = "Fitzwilliam-Ängström-Vasconcelos y Hernández-Quiñones Ávil";
    for count in 1..=7 {
        let doses: String = (1..=count)
            .map(|number| {
                format!(
                    "[[dose]]\nmedicine = \"warfarin {number}\"\nform = \"gel\"\n\
                     times = [10:10, 22:30]\nnote = \"{}\"\n",
                    note.trim()
                )
            })
            .collect();
        for language in ["en", "es"] {
            let order = order_text(&doses)
                .replace("[patient]", &format!("language = \"{language}\"\n[patient]"))
                .replace(
                    "[patient]",
                    "text = \"large\"\nstock = \"letter-2x7\"\n[patient]",
                )
                .replace("America/Denver", "America/Argentina/Buenos_Aires")
                .replace("Okonkwo-Reyes", name);
            make_and_prove(&mut shop, &order);
        }
    }
}

/// A workshop of a laboratory and a protocol of its own, which it reads at once.
fn workshop_with(lab: &str, protocol: &str) -> Workshop {
    let folder = tempfile::tempdir().unwrap();
    let lab_file = folder.path().join("lab.toml");
    let protocol_file = folder.path().join("own.toml");
    std::fs::write(&lab_file, lab).unwrap();
    std::fs::write(&protocol_file, protocol).unwrap();
    let mut shop = Workshop::new(Some(lab_file), Some(&protocol_file), common::today())
        .and_then(|shop| shop.with_press(None, None))
        .unwrap_or_else(|faults| panic!("{}", faults[0].plain()));
    shop.lab("order.toml".as_ref()).unwrap_or_else(|_| panic!("{lab}"));
    shop
}

/// The names with the longest words, of the medicines built in and of no medicine.
fn long_medicines() -> Vec<String> {
    let longest = |name: &str| name.split([' ', '-']).map(str::len).max().unwrap_or(0);
    let all = Medicines::builtin().entries().iter().map(|entry| entry.name.clone());
    // Those of glucocorticoids hold an order back.
    let mut names: Vec<String> =
        all.filter(|name| longest(name) >= 18 && !name.contains("prednis")).collect();
    names.push("n".repeat(LONGEST_WORD));
    names
}

#[test]
fn the_longest_names_fit_in_every_language_paper_and_size() {
    let mut shop = workshop();
    let word = "m".repeat(LONGEST_WORD);
    for language in ["en", "es"] {
        for (paper, text) in [
            ("letter", "standard"),
            ("a4", "standard"),
            ("letter", "large"),
            ("a4", "large"),
        ] {
            for names in long_medicines().chunks(6) {
                let doses = names.iter().map(|name| {
                    format!(
                        "[[dose]]\nmedicine = \"{name}\"\nform = \"injection\"\n\
                         times = [10:10, 22:30]\nnote = \"{word}\"\n"
                    )
                });
                let order = order_text(&doses.collect::<String>()).replace(
                    "[patient]",
                    &format!(
                        "language = \"{language}\"\npaper = \"{paper}\"\n\
                         text = \"{text}\"\n{}\n[patient]",
                        AGREED.replace("Ines Halloran", &word)
                    ),
                );
                make_and_prove(&mut shop, &order);
            }
        }
    }
}

#[test]
fn a_packing_slip_with_much_to_look_at_goes_on_overleaf() {
    let mut shop = workshop();
    let doses: String = (1..=12)
        .map(|number| {
            format!(
                "[[dose]]\nmedicine = \"an unlisted medicine with a long name, number \
                 {number}\"\nform = \"capsule\"\ntimes = [21:30]\n"
            )
        })
        .collect();
    let (_, made) = make_and_prove(&mut shop, &order_text(&doses));
    let pages = read(&made.packing).unwrap();
    let text = |page: &Page| -> String {
        page.glyphs.iter().map(|glyph| glyph.text.as_str()).collect()
    };
    let texts: Vec<String> = pages.iter().map(text).collect();
    assert_eq!(texts.len(), 2);
    assert!(texts[1].contains("Cards in this kit"), "{}", texts[1]);
    assert!(texts[1].contains("Checked by"), "{}", texts[1]);
    assert!(texts[1].contains("Page 2 of 2"), "{}", texts[1]);
}

/// A laboratory with an address that has a hyphen, and a protocol of nine cards of which
/// some follow each other closely.
#[test]
fn a_laboratory_with_much_to_say_and_nine_cards_fits_every_size_and_language() {
    let mail =
        "escriba a specimen-receiving@example.org o a specimen-receiving@example.org";
    let lines = format!(
        "[approved]\nby = \"{mail}\"\non = 2026-09-01\n[words.en]\nmailing = \"{mail}\"\n\
         [words.es]\nhours = \"{mail}\"\nmailing = \"{mail}\"\nbags = \"{mail}\"\n"
    );
    let slots: String = (6..=9)
        .map(|digit| {
            format!(
                "[[slot]]\nid = \"more-{letter}\"\ndigit = {digit}\ncard = {card}\n\
                 anchor = \"waking\"\noffset_minutes = {offset}\n\
                 empty_before_minutes = 90\n\
                 title = {{ en = \"Ólafur\", es = \"Última\" }}\n\n",
                letter = ["a", "b", "c", "d"][digit - 6],
                card = digit - 1,
                offset = 300 + 60 * (digit - 6),
            )
        })
        .collect();
    let dry: String = ["a", "b", "c", "d"]
        .map(|letter| {
            format!(
                "[[drink]]\nfrom = \"more-{letter}.stop\"\nuntil = \"more-{letter}.card\"\n\
                 rule = \"nothing\"\n\n"
            )
        })
        .concat();
    let normal = "from = \"later.card\"\nrule = \"normal\"";
    let until = normal.replace("\nrule", "\nuntil = \"more-a.stop\"\nrule");
    let built_in = builtin("four-card").unwrap();
    assert!(built_in.text.contains(normal));
    let text = built_in
        .text
        .replacen("[[drink]]", &format!("{slots}{dry}[[drink]]"), 1)
        .replacen(normal, &until, 1)
        .replacen("\"four-card\"", "\"nine\"", 1);
    let mut shop = workshop_with(&format!("{}{lines}", common::LAB), &text);
    for language in ["en", "es"] {
        for paper in ["letter", "a4"] {
            for text in ["standard", "large"] {
                let order = order_set(&format!(
                    "language = \"{language}\"\npaper = \"{paper}\"\ntext = \"{text}\"\n\
                     stock = \"a4-2x7\""
                ))
                .replace("\"four-card\"", "\"nine\"")
                .replace("2026-10-14", "2027-09-22");
                make_and_prove(&mut shop, &order);
            }
        }
    }
}

/// Letters of a title reach up to the line above with their accents, and hang down to the
/// line below.
#[test]
fn a_title_with_accents_fits_every_stock() {
    let built_in = builtin("four-card").unwrap();
    let text = built_in
        .text
        .replacen("\"four-card\"", "\"accents\"", 1)
        .replacen("\"Night\"", "\"Bend Üñïçødé\"", 1)
        .replacen("\"Al acostarse\"", "\"Épp Última\"", 1);
    let mut shop = workshop_with(common::LAB, &text);
    for stock in stock::builtin_names() {
        for (language, number) in
            [("en", "HB-20417"), ("en", "HB-4567890123456789A"), ("es", "HB-20417")]
        {
            let order =
                order_set(&format!("language = \"{language}\"\nstock = \"{stock}\""))
                    .replace("\"four-card\"", "\"accents\"")
                    .replace("HB-20417", number);
            make_and_prove(&mut shop, &order);
        }
    }
}

#[test]
fn changed_times_are_spoken_of_where_a_dose_is_moved_and_nowhere_else() {
    let mut shop = workshop();
    for (timing, is_moved) in [("protocol", true), ("unchanged", false), ("ask", false)] {
        let order = order_text(&format!(
            "{AGREED}[[dose]]\nmedicine = \"estradiol\"\nform = \"tablet\"\n\
             times = [21:30]\ntiming = \"{timing}\"\n"
        ));
        let (_, made) = make_and_prove(&mut shop, &order);
        let text = printed(&made);
        for words in ["agreed to the changed times", "do not skip your estradiol"] {
            assert_eq!(text.contains(words), is_moved, "{timing}: {words}\n{text}");
        }
    }
}

#[test]
fn midnight_fits_the_columns_of_large_print() {
    let mut shop = workshop();
    for (language, month) in [("en", "03"), ("es", "03"), ("en", "09"), ("es", "09")] {
        for paper in ["letter", "a4"] {
            let order = order_set(&format!(
                "language = \"{language}\"\npaper = \"{paper}\"\ntext = \"large\""
            ))
            .replace("2026-10-14", &format!("2027-{month}-22"))
            .replace("17:15", "00:00")
            .replace("22:30", "00:00")
            .replace("06:30", "22:00");
            make_and_prove(&mut shop, &order);
        }
    }
}

/// A date and a time that both stand twice say which they are. That midnight needs to
/// say which end of a date it is: NIST, "Times of Day FAQs", from memory.
#[test]
fn a_label_says_which_midnight_and_which_of_two_times() {
    let mut shop = workshop();
    for stock in stock::builtin_names() {
        for (language, midnight, second) in [
            (
                "en",
                "Planned 12 midnight into 15-Oct-2026",
                "Planned 01-Nov-2026, 1:15 am (2nd)",
            ),
            ("es", "Prevista medianoche, inicia 15-oct-2026", "1:15 a. m. (2.ª)"),
        ] {
            let settings = format!(
                "language = \"{language}\"\nclock = \"12h\"\nstock = \"{stock}\""
            );
            let at_midnight = order_set(&settings).replace("22:30", "00:00");
            let clocks_back = order_set(&settings)
                .replace("2026-10-14", "2026-10-31")
                .replace("22:30", "20:00")
                .replace("06:30", "00:15");
            for (order, wanted) in [(at_midnight, midnight), (clocks_back, second)] {
                let (_, made) = make_and_prove(&mut shop, &order);
                let text = printed_in(&made.batch.labels);
                assert!(text.contains(wanted), "{wanted}: {text}");
            }
        }
    }
}

#[test]
fn every_stock_takes_a_longest_order_number_and_an_ordinary_name() {
    let mut shop = workshop();
    for name in stock::builtin_names() {
        let order = order_set(&format!("stock = \"{name}\""))
            .replace("HB-20417", "HB-4567890123456789A");
        make_and_prove(&mut shop, &order);
    }
}

#[test]
fn every_stock_has_room_for_the_mark_of_a_reprint() {
    let mut shop = workshop();
    for stock in stock::builtin_names() {
        for (language, family) in [("en", "Ávila"), ("es", "Okonkwo-Reyes"), ("es", "Li")]
        {
            for (revision, reprint) in [(0, 1), (2, 0), (12, 12)] {
                let order =
                    order_set(&format!("language = \"{language}\"\nstock = \"{stock}\""))
                        .replace("Okonkwo-Reyes", family);
                let path = "order.toml".as_ref();
                let mut planned = shop.plan(&source(&order), path).ok().unwrap();
                planned.edition = Edition { revision, reprint };
                let made = shop
                    .make(&planned, &Placing::default())
                    .unwrap_or_else(|faults| panic!("{}\n{order}", faults[0].plain()));
                prove_all(&mut shop, &(planned, made), &order);
            }
        }
    }
}

#[test]
fn a_name_that_does_not_fit_a_label_names_the_smallest_stock_that_does() {
    let mut shop = workshop();
    let long = "Fitzwilliam-Ängström-Vasconcelos y Hernández-Quiñones Ávila";
    assert!((58..=60).contains(&long.chars().count()));
    let order = |stock: &str| {
        order_set(&format!("stock = \"{stock}\""))
            .replace("HB-20417", "HB-4567890123456789A")
            .replace("Okonkwo-Reyes", long)
    };
    let planned = shop.plan(&source(&order("letter-4x10")), "x".as_ref()).unwrap();
    let Err(faults) = shop.make(&planned, &Placing::default()) else {
        panic!("it fitted")
    };
    let help = &faults[0].help;
    assert!(help.contains("the smallest stock that fits is letter-"), "{help}");
    make_and_prove(&mut shop, &order("letter-2x7"));
}

#[test]
fn a_character_that_no_font_has_is_shown_where_it_is_written() {
    let dose = |note: &str| {
        format!(
            "[[dose]]\nmedicine = \"estradiol\"\nform = \"gel\"\ntimes = [07:30]\n{note}"
        )
    };
    let doses = dose("") + &dose("note = \"\\u738B\"\n").replace("07:30", "08:30");
    let inline = "health = { pregnant = true }\n\
                  cleared = [{ hold = \"pregnant\", by = \"\u{738B}\", on = 2026-08-01 }]";
    for (text, field, place) in [
        (order_text("").replace("Marisol", "\u{738B}"), "patient.given", "8:9"),
        // Written as an escape, and the letter itself in a comment before it.
        (
            format!("# \u{738B}\n{}", order_text("").replace("Okonkwo-Reyes", "\\u738B")),
            "patient.family",
            "8:10",
        ),
        (order_text(&doses), "dose[2].note", "26:8"),
        (order_set(inline), "cleared[1].by", "7:38"),
    ] {
        let mut shop = workshop();
        let planned = shop.plan(&source(&text), "x".as_ref()).unwrap();
        let Err(faults) = shop.make(&planned, &Placing::default()) else {
            panic!("it was printed: {field}")
        };
        let plain = faults[0].plain();
        let what = format!("`\u{738B}` (U+738B) of {field}");
        assert!(plain.contains(&what), "{plain}");
        assert!(plain.contains(&format!("order.toml:{place}\n")), "{plain}");
    }
}

/// Text that is markup or code elsewhere is printed as it stands.
#[test]
fn markup_in_a_name_is_printed_and_not_obeyed() {
    let mut shop = workshop();
    for name in ["*A* _b_", "#panic()", "$x$ @ref", "a\\\\b", "<b>{c}", "{ $x }", "-- x"]
    {
        make_and_prove(&mut shop, &order_text("").replace("Marisol", name));
    }
}

#[test]
fn the_same_order_gives_the_same_bytes() {
    let text = order_text("");
    let (_, first) = make(&mut workshop(), &text);
    let mut shop = workshop();
    make(&mut shop, &text.replace("HB-20417", "HB-20418").replace("17:15", "18:00"));
    let (_, second) = make(&mut shop, &text);
    for kind in FileKind::ALL {
        assert!(first.file(kind) == second.file(kind), "{}", kind.name());
    }
}

/// ISO/IEC 18004: a code with a quiet zone of four modules, of level Q and in
/// the smallest version that holds it (version 1 to 16, version 2 to 29
/// alphanumeric characters), read by another library than the one that made it.
#[test]
fn every_label_decodes_to_its_code_at_the_resolutions_of_common_printers() {
    let mut shop = workshop();
    for (number, modules) in [("HB-20417", 21.0), ("HB-4567890123456789A", 25.0)] {
        for name in ["letter-2x5", "letter-4x10", "roll-76x51"] {
            let order =
                order_set(&format!("stock = \"{name}\"")).replace("HB-20417", number);
            let (planned, made) = make(&mut shop, &order);
            let pages = read(&made.batch.labels).unwrap();
            for (index, slot) in planned.plan.slots.iter().enumerate() {
                let cell = made.batch.stock.cell(index);
                let (left, top) = (cell.x.to_mm(), cell.y.to_mm());
                let area = Area {
                    left,
                    top,
                    right: left + made.batch.stock.label_width.to_mm(),
                    bottom: top + made.batch.stock.label_height.to_mm(),
                };
                for dots_per_inch in [203.0, 300.0] {
                    let read =
                        decode_qr(&made.batch.labels, cell.page, area, dots_per_inch);
                    assert_eq!(read.as_ref(), Ok(&slot.code), "{name}");
                }
                let image = pages[cell.page]
                    .images
                    .iter()
                    .find(|image| area.holds(image.centre()))
                    .unwrap();
                let module = (image.right - image.left) / (modules + 8.0);
                assert!(module >= 0.4, "{name}: {module} mm to a module");
            }
        }
    }
}

/// Another order's kit is caught wherever the two differ.
#[test]
fn the_proof_catches_the_paper_of_another_order() {
    let mut shop = workshop();
    let kit = make(&mut shop, &order_text(""));
    for (why, from, to) in [
        ("a dinner five minutes later", "17:15", "17:20"),
        ("another waking", "06:30", "06:31"),
        ("another day", "2026-10-14", "2026-10-15"),
        ("another family name", "Okonkwo-Reyes", "Okonkwo-Reyas"),
        ("another birth date", "1984-03-09", "1984-03-08"),
        ("another order number", "HB-20417", "HB-20471"),
    ] {
        let (_, other) = make(&mut shop, &order_text("").replace(from, to));
        for kind in [FileKind::Paper, FileKind::Labels] {
            let found = prove(&mut shop, &kit, kind, other.file(kind));
            assert!(!found.is_empty(), "{why}: {}", kind.name());
        }
    }
    let (_, heavier) = make(&mut shop, &order_text("").replace("150 lb", "180 lb"));
    let found = prove(&mut shop, &kit, FileKind::Paper, &heavier.batch.paper);
    assert!(
        found.contains("found the amount 410 mL, which is not in the plan"),
        "{found}"
    );
}

#[test]
fn the_proof_names_the_page_and_what_it_found_there() {
    let mut shop = workshop();
    let kit = make(&mut shop, &order_text(""));
    let (_, other) = make(&mut shop, &order_text("").replace("17:15", "17:20"));
    let found = prove(&mut shop, &kit, FileKind::Labels, &other.batch.labels);
    assert!(
        found.contains("labels.pdf, page 1: expected the times [(17, 15)]"),
        "{found}"
    );
    let other = make(&mut shop, &order_text("").replace("HB-20417", "HB-20418"));
    let found = prove(&mut shop, &kit, FileKind::Labels, &other.1.batch.labels);
    assert!(
        found.contains("expected a QR code of HB-20417-15, found one of \"HB-20418-11\""),
        "{found}"
    );
}

#[test]
fn the_proof_refuses_bytes_that_are_no_kit() {
    let mut shop = workshop();
    let kit = make(&mut shop, &order_text(""));
    let whole = kit.1.batch.paper.clone();
    for (why, bytes) in [
        ("nothing", Vec::new()),
        ("no PDF", b"%PDF-1.7 but no more".to_vec()),
        ("half a PDF", whole[..whole.len() / 2].to_vec()),
        ("the labels", kit.1.batch.labels.clone()),
    ] {
        let found = prove(&mut shop, &kit, FileKind::Paper, &bytes);
        assert!(!found.is_empty(), "{why}");
    }
    let setting = b"/PrintScaling/None";
    let at = whole.windows(setting.len()).position(|found| found == setting).unwrap();
    let mut scaled = whole.clone();
    scaled[at..at + setting.len()].copy_from_slice(b"/PrintScalinX/None");
    let found = prove(&mut shop, &kit, FileKind::Paper, &scaled);
    assert!(found.contains("expected PrintScaling None, found nothing"), "{found}");
}

#[test]
fn labels_of_another_stock_are_refused() {
    let mut shop = workshop();
    let kit = make(&mut shop, &order_text(""));
    let other = order_set("stock = \"letter-2x7\"");
    let (_, other) = make(&mut shop, &other);
    let found = prove(&mut shop, &kit, FileKind::Labels, &other.batch.labels);
    assert!(found.contains("has slipped by"), "{found}");
}

#[test]
fn the_other_protocol_fits_every_size_and_language() {
    let mut shop = workshop();
    for language in ["en", "es"] {
        for text in ["standard", "large"] {
            let order =
                order_set(&format!("language = \"{language}\"\ntext = \"{text}\""))
                    .replace("four-card", "first-morning");
            make_and_prove(&mut shop, &order);
        }
    }
}

/// Everything that is printed on the paper, as one text.
fn printed(made: &MadeKit) -> String {
    printed_in(&made.batch.paper)
}

fn printed_in(pdf: &[u8]) -> String {
    let pages = read(pdf).unwrap();
    let glyphs = pages.iter().flat_map(|page| &page.glyphs);
    glyphs.map(|glyph| glyph.text.as_str()).collect::<String>().replace('\u{A0}', " ")
}

/// Steps of other protocols than those built in: each says what its rules say, and no more.
#[test]
fn the_sheet_of_a_protocol_of_ones_own_says_what_it_asks_for() {
    let own = builtin("four-card").unwrap().text.replacen("\"four-card\"", "\"own\"", 1);
    let order = order_text("").replace("\"four-card\"", "\"own\"");
    let caffeine = "until = \"later.card\"\n\n[allowance]";
    let dinner_rule = "[[drink]]\nfrom = \"dinner\"\nuntil = \"bedtime.stop\"\n\
                       rule = \"with-dinner\"\n\n";
    for (why, changes, wanted, unwanted) in [
        (
            "minutes of another card than that of waking",
            vec![(
                "anchor = \"bedtime\"\n",
                "anchor = \"bedtime\"\nwithin_minutes = 30\n",
            )],
            "Do it just before you go to sleep.Be done within 30 minutes.While",
            "Be done within 30 minutes. Write",
        ),
        (
            "a waking card without minutes",
            vec![("within_minutes = 10\n", "")],
            "You missed card 3: no card 4 today.",
            "Be done within",
        ),
        (
            "caffeine until card 2",
            vec![(caffeine, "until = \"bedtime.card\"\n\n[allowance]")],
            "chocolate until after card 2.",
            "No caffeine yet",
        ),
        (
            "caffeine until waking, which is a card",
            vec![(caffeine, "until = \"waking\"\n\n[allowance]")],
            "chocolate until after card 3.",
            "No caffeine yet",
        ),
        (
            "caffeine until an emptying",
            vec![(caffeine, "until = \"bedtime.stop\"\n\n[allowance]")],
            "chocolate until 8:30 pm.",
            "until after card",
        ),
        (
            "no rule for dinner",
            vec![(dinner_rule, "")],
            "Eat dinner.8:30 pm",
            "nothing to drink.",
        ),
        (
            "a card before dinner",
            vec![(
                "anchor = \"dinner\"\n",
                "anchor = \"dinner\"\noffset_minutes = -30\n",
            )],
            "5:15 pmEat dinner. Have one normal drink",
            "ThenEat dinner",
        ),
        (
            "a long drying",
            vec![("minimum_minutes = 240", "minimum_minutes = 2000")],
            "Do this from Sat, October 17, 6:30 am on.",
            "from Fri, October 16",
        ),
    ] {
        let mut text = own.clone();
        for (from, to) in changes {
            assert!(text.contains(from), "{why}: {from}");
            text = text.replacen(from, to, 1);
        }
        let mut shop = workshop_with(common::LAB, &text);
        let (_, made) = make_and_prove(&mut shop, &order);
        let paper = printed(&made);
        assert!(paper.contains(wanted), "{why}: no \"{wanted}\": {paper}");
        assert!(!paper.contains(unwanted), "{why}: \"{unwanted}\": {paper}");
    }
}

#[test]
fn people_whose_drinking_is_prescribed_read_no_amount() {
    let mut shop = workshop();
    let extra = "[health]\nfluid_limit = true\n[[cleared]]\nhold = \"fluid-limit\"\n\
                 by = \"R. Adeyemi, RN\"\non = 2026-08-30\n";
    let (_, made) = make_and_prove(&mut shop, &order_text(extra));
    let text = printed(&made);
    assert!(!text.contains(" mL"), "{text}");
    assert!(!text.contains("glass of water"), "{text}");
    assert!(text.contains("R. Adeyemi, RN looked at your health and how much"), "{text}");
    assert!(text.contains("if nothing else in the box is true for you"), "{text}");
    for drink in ["unwell, drink.", "thirsty: drink"] {
        assert!(!text.contains(drink), "{drink}: {text}");
    }
    // Nothing that keeps them from a drink stands without the provider's word.
    for forbidden in ["is done.", "drink as usual"] {
        assert!(!text.contains(forbidden), "{forbidden}: {text}");
    }
    assert!(text.contains("card 1 is done, unless your provider told you to drink."));
    let bare: String = text.split_whitespace().collect();
    for rest in bare.split("drinknothing").skip(1) {
        assert!(rest.starts_with("untilcard"), "{rest}");
    }
    assert_eq!(bare.matches("drinkastold").count(), 2, "{text}");
}

#[test]
fn the_head_of_many_medicines_stands_again_on_the_next_page() {
    let mut shop = workshop();
    let dose = |medicine: &str| {
        format!(
            "[[dose]]\nmedicine = \"{medicine}\"\nform = \"tablet\"\n\
             times = [07:00, 09:00, 12:00, 15:00, 18:00, 21:00]\n"
        )
    };
    let doses: String = [
        "metformin",
        "amlodipine",
        "warfarin",
        "levetiracetam",
        "codeine",
        "lisinopril",
        "phenytoin",
    ]
    .iter()
    .map(|medicine| dose(medicine))
    .collect();
    for language in ["en", "es"] {
        let order = order_set(&format!("language = \"{language}\"")) + &doses;
        let (_, made) = make_and_prove(&mut shop, &order);
        let head = ["Youtakeitat", "Horadesiempre"];
        let text: String = printed(&made).split_whitespace().collect();
        let heads: usize = head.iter().map(|head| text.matches(head).count()).sum();
        assert_eq!(heads, 2, "{language}");
    }
}

/// What the sheet says of medicines: doses that moving would bring together, a dose in
/// the night, a dose that moves, and one that is due while nothing is drunk.
#[test]
fn each_dose_reads_so_that_none_is_left_out_and_none_is_taken_twice() {
    let by_rule = |medicine: &str, times: &str| {
        format!(
            "[[dose]]\nmedicine = \"{medicine}\"\nform = \"tablet\"\n\
             times = [{times}]\ntiming = \"protocol\"\n"
        )
    };
    let ask = "Ask before you start: ________";
    let mut shop = workshop();
    for (dose, wanted, missing) in [
        (
            by_rule("levothyroxine", "06:15"),
            vec![
                format!("levothyroxine (tablet) 6:15 am {ask} {ask}"),
                "If you make up a card, ask about that day, too".to_owned(),
            ],
            "Now take",
        ),
        (
            by_rule("estradiol", "06:30, 08:00"),
            vec![format!("estradiol (tablet) 6:30 am As usual {ask}")],
            "Now take",
        ),
        (
            by_rule("progesterone", "21:00"),
            vec![
                "9:00 pm Wait with your progesterone (tablet) until card 2 is done."
                    .to_owned(),
                "Now take your 9:00 pm progesterone (tablet), if you have not taken it yet."
                    .to_owned(),
                "You missed card 2: do not skip your progesterone. Call your provider."
                    .to_owned(),
                "If you make up card 2: take your 9:00 pm progesterone after that, about \
                 10:30 pm."
                    .to_owned(),
            ],
            "Ask before",
        ),
        (
            by_rule("metformin", "21:00"),
            vec![
                "While you drink nothing: take your metformin on time, with a sip of water."
                    .to_owned(),
            ],
            "do not skip your",
        ),
        (
            by_rule("metformin", "19:00"),
            vec!["As prescribed As prescribed".to_owned()],
            "sip of water. Write",
        ),
    ] {
        let order = order_text(&format!("{AGREED}\n{dose}"));
        let (_, made) = make_and_prove(&mut shop, &order);
        let bare = |text: &str| text.split_whitespace().collect::<String>();
        let text = bare(&printed(&made));
        for wanted in wanted {
            assert!(text.contains(&bare(&wanted)), "{wanted}: {text}");
        }
        assert!(!text.contains(&bare(missing)), "{missing}: {text}");
    }
}

#[test]
fn a_held_order_cannot_be_made() {
    let mut shop = workshop();
    let order = order_text("[health]\npregnant = true\n");
    let planned = shop.plan(&source(&order), "x".as_ref()).unwrap();
    let Err(faults) = shop.make(&planned, &Placing::default()) else {
        panic!("it was made")
    };
    assert!(faults[0].what.contains("is on hold"), "{}", faults[0].what);
}

#[test]
fn names_with_marks_below_and_free_text_with_times_are_printed() {
    let mut shop = workshop();
    for family in ["Ștefan", "Moța", "Ozoliņš", "Kalniņš"] {
        for name in stock::builtin_names() {
            let order = order_set(&format!("stock = \"{name}\""))
                .replace("Okonkwo-Reyes", family);
            make_and_prove(&mut shop, &order);
        }
    }
    let dose = "[provider]\nname = \"Dr. Halloran\"\nphone = \"555-0117 (from 9:15 am)\"\n\
                [[dose]]\nmedicine = \"metformin\"\nform = \"tablet\"\ntimes = [08:00]\n\
                note = \"At 12 noon drink 250 mL.\"\n";
    make_and_prove(&mut shop, &order_text(dose));
}

#[test]
fn a_dose_in_a_gap_of_the_clock_is_printed_with_both_its_times() {
    let mut shop = workshop();
    let dose = "[[dose]]\nmedicine = \"warfarin\"\nform = \"tablet\"\ntimes = [02:30]\n";
    let order = order_text(dose)
        .replace("2026-10-14", "2027-03-13")
        .replace("America/Denver", "America/New_York");
    make_and_prove(&mut shop, &order);
}

#[test]
fn large_print_takes_long_names_and_order_numbers() {
    let mut shop = workshop();
    for (number, family) in
        [("HB-KIT-20417", "Featherstonehaugh"), ("HB-MMMMMMMMMMMMMMMMM", "Okonkwo-Reyes")]
    {
        for paper in ["letter", "a4"] {
            for language in ["en", "es"] {
                let order = order_set(&format!(
                    "text = \"large\"\npaper = \"{paper}\"\nlanguage = \"{language}\""
                ))
                .replace("HB-20417", number)
                .replace("Okonkwo-Reyes", family);
                make_and_prove(&mut shop, &order);
            }
        }
    }
}
