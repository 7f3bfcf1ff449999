//! Ways in which the paper could hurt somebody that no other test looks at. The
//! safety case in DEVELOPERS.md lists them all.

mod common;

use common::{AGREED, order_set, order_text, source, workshop};
use kitwright::imposition::Placing;
use kitwright::making::MadeKit;
use kitwright::proof::{FileKind, Page, read};
use kitwright::units::{Weight, WeightUnit};
use kitwright::words::CATALOGS;
use kitwright::workshop::{Planned, Workshop};
use proptest::prelude::*;

#[track_caller]
fn make(shop: &mut Workshop, text: &str) -> (Planned, MadeKit) {
    let first = |faults: Vec<kitwright::fault::Fault>| faults[0].plain();
    let planned = shop.plan(&source(text), "order.toml".as_ref());
    let planned = planned.unwrap_or_else(|faults| panic!("{}", first(faults)));
    let made = shop.make(&planned, &Placing::default());
    let made = made.unwrap_or_else(|faults| panic!("{}", first(faults)));
    (planned, made)
}

/// The pages of a file that anything is printed on, each as its text without spaces.
fn printed(made: &MadeKit, kind: FileKind) -> Vec<String> {
    let of = |page: &Page| -> String {
        let text: String = page.glyphs.iter().map(|glyph| glyph.text.as_str()).collect();
        bare(&text)
    };
    let pages = read(made.file(kind)).unwrap();
    pages.iter().filter(|page| !page.is_blank()).map(of).collect()
}

fn bare(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace() && *c != '\u{A0}').collect()
}

/// The program may never tell anybody to stop or delay a medicine, and the cautions
/// may not be weakened by the way. The proof takes its cautions from the catalogs, so
/// their words are held here. The cautions are common practice, no source; who changes
/// one asks the laboratory's medical director.
#[test]
fn the_cautions_have_the_words_that_were_agreed_on() {
    let english = "\
first-heading = Do not start yet if:
first-limits = Someone told you how much to drink. You have kidney or heart disease, diabetes, diabetes insipidus, kidney stones or sickle cell disease. You take lithium, desmopressin or a water pill.
first-pregnant = You are pregnant, breast-feeding or under 18.
first-ill = You are ill, throwing up, have a fever or loose stools, or it is very hot.
first-call = Call { $phone } first.
how-check = Check that the card has your name and birth date. If not, do not use it. Call us.
med-none = No medicines are listed in your order. If you take any, call us before you start.
med-rule = Do not stop, skip, delay or change any medicine for this test unless { $provider } told you to.
med-rule-unnamed = Do not stop, skip, delay or change any medicine for this test unless the person who prescribed it told you to.
med-as-usual = As usual
med-ask = Ask before you start: ________
med-prescribed = As prescribed
med-steroid = { $medicine } is a steroid. Never stop it suddenly.
wrong-ill = You feel ill, dizzy or very thirsty: drink, stop the test and call your provider or us.
wrong-ill-prescribed = You feel ill, dizzy or very thirsty: stop the test and call your provider or us. Drink as your provider told you.
first-cleared-rest = You may do this test if nothing else in the box is true for you. Keep to what your provider told you.
care-drink = If you are very thirsty, hot or unwell, drink. Your health comes first.
care-drink-prescribed = If you are very thirsty, hot or unwell, stop the test and call. Drink as your provider told you.
care-later = Do not drink extra later to catch up.
care-signs = Throwing up, fever, dizzy, confused, or very little urine? Stop the test and call. In an emergency call { $emergency }.
care-steroid = Throwing up, confused, very weak, or about to faint, and you take a steroid? Call { $emergency } at once.
care-cards = Never use a card with someone else's name. Never give a card to someone else.
care-not = This test is not for emergencies. Only your provider can tell you what the results mean.";
    let spanish = "\
translation-unreviewed = Traducción no revisada.
med-rule = Para esta prueba, no deje, no se salte, no atrase ni cambie ninguna medicina, a menos que se lo haya dicho { $provider }.
med-rule-unnamed = Para esta prueba, no deje, no se salte, no atrase ni cambie ninguna medicina, a menos que se lo haya dicho quien se la recetó.
med-steroid = { $medicine } es un esteroide (corticoide). Nunca deje de usarlo de repente.
care-drink = Si tiene mucha sed o calor, o se siente mal, beba algo. Su salud es lo primero.
care-signs = ¿Vómitos, fiebre, mareos, confusión o muy poca orina? Deje la prueba y llame. En una emergencia, llame al { $emergency }.
care-cards = Nunca use una tarjeta con el nombre de otra persona. Nunca le dé una tarjeta a otra persona.";
    for (language, agreed) in [("en", english), ("es", spanish)] {
        let (_, catalog) = CATALOGS.iter().find(|(known, _)| *known == language).unwrap();
        let lines: Vec<&str> = catalog.lines().collect();
        for line in agreed.lines() {
            let id = line.split(' ').next().unwrap();
            let now = lines.iter().filter(|line| line.split(' ').next() == Some(id));
            let now: Vec<_> = now.collect();
            assert_eq!(now, [&line], "{language}: `{id}` has other words");
        }
    }
}

/// Words that could take a medicine away stand in these messages and in no other, and
/// none of them is about a medicine but those that say not to.
#[test]
fn no_other_message_speaks_of_stopping_anything() {
    let (_, catalog) = CATALOGS.iter().find(|(language, _)| *language == "en").unwrap();
    let taken_away = |line: &&str| {
        let words: Vec<String> =
            line.split(|c: char| !c.is_alphabetic()).map(str::to_lowercase).collect();
        ["stop", "stopping", "skip", "delay", "pause", "omit", "postpone"]
            .iter()
            .any(|word| words.iter().skip(1).any(|found| found == word))
    };
    let found: Vec<&str> = catalog
        .lines()
        .filter(|line| !line.starts_with('#'))
        .filter_map(|line| line.split_once(" = "))
        .filter(|(_, text)| taken_away(&format!("- {text}").as_str()))
        .map(|(id, _)| id)
        .collect();
    assert_eq!(
        found,
        [
            "step-caffeine",
            "med-rule",
            "med-rule-unnamed",
            "med-steroid",
            "wrong-dose-next",
            "wrong-dose",
            "wrong-ill",
            "wrong-ill-prescribed",
            "care-drink-prescribed",
            "care-signs"
        ]
    );
}

/// The two moments that a clock shows alike, where it goes back: 12:15 am and two hours
/// are the second 1:15 am (Python `zoneinfo` 2026f).
#[test]
fn a_time_that_the_clock_shows_twice_says_which_it_is() {
    let mut shop = workshop();
    for (settings, wanted) in [
        (
            "text = \"standard\"",
            [
                "1:15 am 4 Card 4. Your clock will show this time twice. Do this the \
                 second time.",
                "11:15 pm 1:15 am (1st) 11:30 pm 1:30 am (1st) 11:45 pm 1:45 am (1st) \
                 12 midnight 1:00 am (2nd) 12:15 am 1:15 am (2nd)",
                "Sun, November 1, 1:15 am (2nd)",
            ],
        ),
        (
            "text = \"large\"\nclock = \"24h\"\nlanguage = \"es\"",
            [
                "01:15 4 Tarjeta 4. Su reloj mostrará esta hora dos veces. Haga esto \
                 la segunda vez.",
                "23:15 01:15 (1.ª) 23:30 01:30 (1.ª) 23:45 01:45 (1.ª) \
                 00:00 01:00 (2.ª) 00:15 01:15 (2.ª)",
                "dom, 1 de noviembre, 01:15 (2.ª)",
            ],
        ),
    ] {
        let order = order_set(settings)
            .replace("2026-10-14", "2026-10-31")
            .replace("America/Denver", "America/New_York")
            .replace("12:30", "11:30")
            .replace("17:15", "14:00")
            .replace("22:30", "17:00")
            .replace("06:30", "00:15");
        let (_, made) = make(&mut shop, &order);
        let paper = printed(&made, FileKind::Paper).concat();
        for text in wanted {
            assert!(
                paper.contains(&bare(text)),
                "\"{text}\" is not on the paper: {paper}"
            );
        }
    }
}

/// What each order's paper says, and what it may not say.
#[test]
fn the_paper_says_what_a_patient_has_to_know_in_an_unusual_case() {
    let dose = |medicine: &str, form: &str, time: &str, more: &str| {
        format!(
            "[[dose]]\nmedicine = \"{medicine}\"\nform = \"{form}\"\ntimes = [{time}]\n{more}\n"
        )
    };
    let moved = "timing = \"protocol\"";
    let cleared = |hold: &str| {
        format!(
            "[[cleared]]\nhold = \"{hold}\"\nby = \"R. Adeyemi, RN\"\non = 2026-08-30\n"
        )
    };
    let plain = order_text("");
    let with = |extra: &str| order_text(&format!("{AGREED}\n{extra}"));
    let mut shop = workshop();
    for (why, order, wanted, unwanted) in [
        (
            "a dose has one time, though the clocks skip it on the second day",
            with(&dose("lamotrigine", "tablet", "02:30", ""))
                .replace("2026-10-14", "2027-03-13")
                .replace("America/Denver", "America/New_York"),
            "lamotrigine (tablet) 2:30 am As prescribed As prescribed",
            "3:30 am",
        ),
        (
            "a medicine in two forms is two medicines",
            with(
                &(dose("estradiol", "gel", "07:30", moved)
                    + &dose("estradiol", "tablet", "07:30", moved)),
            ),
            "take your 7:30 am estradiol (gel) after that, about 8:30 am. If you make up \
             cards 3 and 4: take your 7:30 am estradiol (tablet) after that",
            "7:30 am estradiol after",
        ),
        (
            "a note is for one form of a medicine",
            with(
                &(dose(
                    "hydrocortisone",
                    "tablet",
                    "08:00",
                    "note = \"Take all doses.\"",
                ) + &dose(
                    "hydrocortisone",
                    "cream",
                    "08:00",
                    "note = \"Not on the hands.\"",
                ) + &cleared("glucocorticoid")),
            ),
            "hydrocortisone (cream). From your provider: Not on the hands.",
            "hydrocortisone. From your provider",
        ),
        (
            "two notes of one medicine say of which dose they are",
            with(
                &(dose("estradiol", "tablet", "07:00", "note = \"2 mg\"")
                    + &dose("estradiol", "tablet", "21:00", "note = \"1 mg\"")),
            ),
            "estradiol, 7:00 am. From your provider: 2 mg",
            "estradiol. From your provider",
        ),
        (
            "a note goes before the sip of water",
            with(&(dose("metformin", "tablet", "21:00", "note = \"After card 2.\""))),
            "take your metformin on time, or when the note above says, with a sip of water",
            "on time, with a sip",
        ),
        (
            "who missed card 3 is told of medicines once",
            with(&dose("estradiol", "gel", "07:30", moved)),
            "You did card 3 but missed card 4: do not skip your estradiol.",
            "You missed card 4",
        ),
        (
            "a card that is the emptying says that nothing is drunk after it",
            plain.replace("17:15", "20:00"),
            "Where it says card 1, that empties your bladder. Drink nothing until card 2 is \
             done.",
            "Where it says card 2",
        ),
        (
            "a question goes before a dose that is taken once",
            with(&dose("estradiol", "gel", "16:00", moved)),
            "If one says to ask, ask. If not, take it once, after the later card.",
            "name one dose",
        ),
        (
            "both cards of a short evening are made up as they were planned",
            plain.replace("17:15", "21:00"),
            "Do you make up both card 1 and card 2? Card 1 is also the time to empty your \
             bladder.",
            "If one says to ask",
        ),
        (
            "who has to ask how much to drink reads so before the first day",
            order_text(&cleared("weight")).replace("150 lb", "420 lb"),
            "Before you start, ask your provider how much you may drink. Write it here:",
            "Your amount",
        ),
        (
            "who has a limit is not told to drink, pregnant or not",
            order_text(&format!(
                "[health]\nfluid_limit = true\npregnant = true\n{}{}",
                cleared("fluid-limit"),
                cleared("pregnant")
            )),
            "stop the test and call your provider or us. Drink as your provider told you.",
            "very thirsty: drink",
        ),
        (
            "nor is who is under 18",
            order_text(&format!(
                "[health]\nkidney_disease = true\n{}{}",
                cleared("fluid-limit"),
                cleared("under-18")
            ))
            .replace("1984-03-09", "2010-03-09"),
            "stop the test and call. Drink as your provider told you.",
            "unwell, drink",
        ),
        (
            "who was asked about breast-feeding reads so",
            order_text(&format!(
                "[health]\nbreastfeeding = true\n{}",
                cleared("fluid-limit")
            )),
            "looked at your health, breast-feeding and how much you may drink on",
            "your pregnancy",
        ),
        (
            "a clearance of what is not there says nothing to the patient",
            order_text(&cleared("under-18")),
            "If you made up a card, first sleep once more.",
            "You may do this test",
        ),
        (
            "without a spare card a night is for the toilet",
            plain.replace("four-card", "first-morning"),
            "If you get up Just use the toilet, if you then sleep again. Up for good? Do \
             card 1, even if it is early.",
            "Spare card",
        ),
    ] {
        let (_, made) = make(&mut shop, &order);
        let paper = printed(&made, FileKind::Paper).concat();
        assert!(paper.contains(&bare(wanted)), "{why}: no \"{wanted}\": {paper}");
        assert!(!paper.contains(&bare(unwanted)), "{why}: \"{unwanted}\": {paper}");
    }
}

#[test]
fn a_steroid_is_printed_as_prescribed_with_its_instruction_and_its_caution() {
    let mut shop = workshop();
    let extra = format!(
        "{AGREED}\n[[dose]]\nmedicine = \"hydrocortisone\"\nform = \"tablet\"\n\
         times = [07:30, 16:00]\ntiming = \"unchanged\"\n\
         note = \"Take both tablets as always.\"\n\
         [[cleared]]\nhold = \"glucocorticoid\"\nby = \"R. Adeyemi, RN\"\non = 2026-08-30\n"
    );
    let (planned, made) = make(&mut shop, &order_text(&extra));
    assert_eq!(planned.plan.doses.len(), 4);
    for dose in &planned.plan.doses {
        assert_eq!(dose.take_at(), Some(dose.usual_at), "{dose:?}");
    }
    let sheet = printed(&made, FileKind::Paper).concat();
    for wanted in [
        "Take both tablets as always.",
        "hydrocortisone is a steroid. Never stop it suddenly.",
        "very weak, or about to faint, and you take a steroid? Call 911 at once.",
        "Do not stop, skip, delay or change any medicine for this test",
    ] {
        assert!(
            sheet.contains(&bare(wanted)),
            "\"{wanted}\" is not on the paper: {sheet}"
        );
    }
    assert!(!sheet.contains("Nowtakehydrocortisone"), "{sheet}");
}

#[test]
fn a_language_that_nobody_reviewed_says_so_on_every_page() {
    let mut shop = workshop();
    for text in ["standard", "large"] {
        let order = order_set(&format!("language = \"es\"\ntext = \"{text}\""));
        let (_, made) = make(&mut shop, &order);
        for (index, page) in printed(&made, FileKind::Paper).iter().enumerate() {
            assert!(page.contains("Traducciónnorevisada."), "page {}: {page}", index + 1);
        }
    }
    let (_, made) = make(&mut shop, &order_text(""));
    assert!(!printed(&made, FileKind::Paper).concat().contains("revisada"));
}

/// So a lost page, or one of another person's, is seen.
#[test]
fn every_page_says_whose_it_is_and_which_of_how_many() {
    let mut shop = workshop();
    for text in ["standard", "large"] {
        let (_, made) = make(&mut shop, &order_set(&format!("text = \"{text}\"")));
        let pages = printed(&made, FileKind::Paper);
        let mut next = (1, 0);
        for page in &pages {
            assert!(page.contains("OKONKWO-REYES"), "{page}");
            assert!(page.contains("HB-20417"), "{page}");
            let said = page.split("Page").skip(1).find_map(numbers);
            let (number, of) =
                said.unwrap_or_else(|| panic!("no number of a page: {page}"));
            if number == 1 {
                assert!(next.0 > next.1, "page {} of {} is not there", next.0, next.1);
                next = (1, of);
            }
            assert_eq!((number, of), next, "{page}");
            next.0 += 1;
        }
        assert!(
            next.0 > next.1 && pages.len() >= 4,
            "{} pages end at {next:?}",
            pages.len()
        );
    }
}

/// `2of6` as 2 and 6.
fn numbers(text: &str) -> Option<(u32, u32)> {
    let figures = |text: &str| -> String {
        text.chars().take_while(char::is_ascii_digit).collect()
    };
    let (number, rest) = text.split_once("of")?;
    Some((number.parse().ok()?, figures(rest).parse().ok()?))
}

#[test]
fn a_page_that_was_lost_is_found() {
    let mut shop = workshop();
    let (planned, made) = make(&mut shop, &order_text(""));
    let whole = made.file(FileKind::Paper);
    let pages = read(whole).unwrap().len();
    for lost in 1..=pages as u32 {
        let mut pdf = lopdf::Document::load_mem(whole).unwrap();
        pdf.delete_pages(&[lost]);
        let mut bytes = Vec::new();
        pdf.save_to(&mut bytes).unwrap();
        assert_eq!(read(&bytes).unwrap().len(), pages - 1);
        let found = shop.prove(&planned, &made, FileKind::Paper, &bytes, "paper.pdf");
        assert!(found.is_err(), "the proof does not miss page {lost}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4000, ..ProptestConfig::default() })]

    /// The rule is common practice, no source; the pound of 0.45359237 kg and the cup
    /// of 236.5882365 mL are those of NIST Handbook 44, Appendix C, from memory.
    #[test]
    fn nobody_is_given_more_to_drink_than_the_rule(thousandths in 30_000i64..400_000, kg: bool) {
        let unit = if kg { WeightUnit::Kilogram } else { WeightUnit::Pound };
        let weight = Weight::from_thousandths(thousandths, unit);
        let figure = thousandths as f64 / 1000.0;
        let pounds = if kg { figure / 0.453_592_37 } else { figure };
        let most = pounds / 100.0 * 236.588_236_5;
        let given = weight.allowance(1000);
        prop_assert!(f64::from(given.ml()) <= most + 1e-6, "{weight}: {given:?}, {most}");
        prop_assert!(f64::from(given.quarter_cups()) * 59.147_059_125 <= most + 1e-6);
        let least = most - 59.147_059_125 - 10.0;
        prop_assert!(f64::from(given.ml()) > least, "{weight}: {given:?}, {most}");
    }
}
