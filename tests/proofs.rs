//! What the proof must find where every text by itself is as it should be: rows
//! and values that have changed places, labels in cells that are not theirs,
//! ink beside the labels, an attachment that unpacks without end.

mod common;

use std::sync::Arc;

use common::{AGREED, order_set, order_text, source, workshop};
use kitwright::clock::Moment;
use kitwright::document::{
    Cover, CoverFacts, Kit, Packing, PageCounts, cover, packing_slip,
};
use kitwright::imposition::{EachKit, Feed, Placing};
use kitwright::making::{KitPages, MadeKit, lay_out_packing};
use kitwright::medicine::Class;
use kitwright::order::Paper;
use kitwright::plan::Action;
use kitwright::proof::{Difference, Faces, FileKind, Mode, Proving, prove_packing, read};
use kitwright::protocol::Allowed;
use kitwright::stock::{self, Length, Medium};
use kitwright::typeset::{About, Press, Sides};
use kitwright::units::Drink;
use kitwright::words::Words;
use kitwright::workshop::{Planned, Workshop};
use lopdf::{Document, Object, Stream, dictionary};

#[track_caller]
fn planned(shop: &mut Workshop, text: &str) -> Planned {
    shop.plan(&source(text), "order.toml".as_ref())
        .unwrap_or_else(|faults| panic!("{}", faults[0].plain()))
}

#[track_caller]
fn make(shop: &mut Workshop, planned: &Planned, placing: &Placing) -> MadeKit {
    shop.make(planned, placing).unwrap_or_else(|faults| panic!("{}", faults[0].plain()))
}

fn prove(
    shop: &mut Workshop,
    planned: &Planned,
    made: &MadeKit,
    kind: FileKind,
    bytes: &[u8],
) -> String {
    match shop.prove(planned, made, kind, bytes, kind.name()) {
        Ok(()) => String::new(),
        Err(faults) => faults.iter().map(|fault| format!("{}\n", fault.what)).collect(),
    }
}

/// An order with medicines that are all taken as prescribed, and others.
fn with_medicines() -> String {
    let dose = |medicine: &str, time: &str| {
        format!(
            "[[dose]]\nmedicine = \"{medicine}\"\nform = \"tablet\"\ntimes = [{time}]\n\
             timing = \"protocol\"\n"
        )
    };
    let doses = [
        ("metformin", "08:00"),
        ("levothyroxine", "20:00"),
        ("estradiol", "07:00, 21:00"),
    ];
    let doses = doses.map(|(medicine, time)| dose(medicine, time)).concat();
    order_text(&format!("{AGREED}{doses}"))
}

/// The same texts stand on the page, so only the row tells.
/// Thoroughly, with the fonts of a press.
fn by(press: &Press) -> Proving {
    Proving { mode: Mode::Raster, faces: Arc::new(Faces::new(press.font_files())) }
}

#[test]
fn a_time_beside_another_medicine_is_found() {
    let mut shop = workshop();
    let mut planned = planned(&mut shop, &with_medicines());
    let made = make(&mut shop, &planned, &Placing::default());
    let bytes = made.file(FileKind::Paper);
    assert_eq!(prove(&mut shop, &planned, &made, FileKind::Paper, bytes), "");
    let [metformin, levothyroxine, ..] = planned.order.doses.as_mut_slice() else {
        panic!("the order has too few doses");
    };
    std::mem::swap(&mut metformin.times, &mut levothyroxine.times);
    let found = prove(&mut shop, &planned, &made, FileKind::Paper, bytes);
    assert!(
        found.contains("expected the row \"metformin (tablet) | 8:00\u{A0}pm"),
        "{found}"
    );
}

#[test]
fn a_make_up_time_in_another_column_is_found() {
    let mut shop = workshop();
    let mut planned = planned(&mut shop, &order_text(""));
    let made = make(&mut shop, &planned, &Placing::default());
    let repeat = planned.plan.slots[3].repeat.as_mut().unwrap();
    std::mem::swap(&mut repeat.empty_at, &mut repeat.stop_drinking_at);
    let bytes = made.file(FileKind::Paper);
    let found = prove(&mut shop, &planned, &made, FileKind::Paper, bytes);
    assert!(found.contains("expected the row \"4 only"), "{found}");
}

#[test]
fn a_drink_beside_another_stretch_of_the_day_is_found() {
    let mut shop = workshop();
    let mut planned = planned(&mut shop, &order_text(""));
    let made = make(&mut shop, &planned, &Placing::default());
    let drinks = &mut planned.plan.drinks;
    let last = drinks.len() - 1;
    let nothing = drinks.iter().position(|one| one.allowed == Allowed::Nothing).unwrap();
    drinks[nothing].allowed = Allowed::Normal;
    drinks[last].allowed = Allowed::Nothing;
    let bytes = made.file(FileKind::Paper);
    let found = prove(&mut shop, &planned, &made, FileKind::Paper, bytes);
    let wanted =
        "expected the row \"Wed, October 14, 3:15\u{A0}pm to 5:15\u{A0}pm | As usual\"";
    assert!(found.contains(wanted), "{found}");
}

#[test]
fn a_number_beside_another_card_is_found_on_each_list() {
    let mut shop = workshop();
    let mut planned = planned(&mut shop, &order_text(""));
    let made = make(&mut shop, &planned, &Placing::default());
    let (one, two) = (planned.plan.slots[0].card, planned.plan.slots[1].card);
    planned.plan.slots[0].card = two;
    planned.plan.slots[1].card = one;
    for (kind, list) in [
        (
            FileKind::Paper,
            "expected the row \"Card 2 | HB-20417-15\" of the list of cards",
        ),
        (FileKind::Paper, "expected the row \"2 | HB-20417-15"),
        (
            FileKind::Packing,
            "expected the row \"Card 2 | HB-20417-15\" of the list of cards",
        ),
        (FileKind::Labels, "expected \"Card 2 – Before dinner\" on the label"),
    ] {
        let found = prove(&mut shop, &planned, &made, kind, made.file(kind));
        assert!(found.contains(list), "{}: {found}", kind.name());
    }
}

/// One thing of a plan that is another than on paper: which file tells, and what is
/// to be said of it by the second reading, which knows the plan and no documents.
struct Other {
    what: &'static str,
    change: fn(&mut Planned),
    file: FileKind,
    says: &'static str,
}

const fn other(
    what: &'static str,
    change: fn(&mut Planned),
    file: FileKind,
    says: &'static str,
) -> Other {
    Other { what, change, file, says }
}

/// Seven minutes later: no time of the plan is that far from another.
fn later(moment: &mut Moment) {
    *moment += chrono::TimeDelta::minutes(7);
}

/// 2,180 mL where the first amount is.
fn another_amount(one: &mut Planned) {
    let drinks = one.plan.drinks.iter_mut();
    let mut amounts = drinks.filter_map(|drink| drink.amount.as_mut());
    *amounts.next().unwrap() = Drink::from_quarter_cups(37);
}

/// Another check character for card 2.
fn another_number(one: &mut Planned) {
    one.plan.slots[1].code = "HB-20417-2X".to_owned();
}

fn with_evening_dose() -> String {
    let dose = "[[dose]]\nmedicine = \"progesterone\"\nform = \"capsule\"\n\
                times = [21:00]\ntiming = \"protocol\"\nnote = \"Take it with a snack.\"\n";
    order_text(&format!("{AGREED}{dose}"))
}

const OTHERS: &[Other] = &[
    other(
        "when card 1 is done",
        |one| later(one.plan.slots[0].collect_at.as_mut().unwrap()),
        FileKind::Paper,
        "expected card 1 at 17:22, which is not there",
    ),
    other(
        "when card 1 is done, on the information card",
        |one| later(one.plan.slots[0].collect_at.as_mut().unwrap()),
        FileKind::Paper,
        "expected 17:22 beside HB-20417-15",
    ),
    other(
        "when the bladder is emptied before card 1",
        |one| later(one.plan.slots[0].empty_at.as_mut().unwrap()),
        FileKind::Paper,
        "expected the emptying before card 1 at 15:22, which is not there",
    ),
    other(
        "when card 1 is made up",
        |one| later(&mut one.plan.slots[0].repeat.as_mut().unwrap().collect_at),
        FileKind::Paper,
        "expected the make-up of card 1 at 17:22, which is not there",
    ),
    other(
        "when the bladder is emptied before a make-up",
        |one| {
            let repeat = one.plan.slots[0].repeat.as_mut().unwrap();
            later(repeat.empty_at.as_mut().unwrap());
        },
        FileKind::Paper,
        "expected the emptying of a make-up at 15:22, which is not there",
    ),
    other(
        "when to pack",
        |one| later(&mut one.plan.pack_at),
        FileKind::Paper,
        "paper.pdf, page 1: expected packing at",
    ),
    other(
        "when to pack, on the checklist",
        |one| later(&mut one.plan.pack_at),
        FileKind::Paper,
        "paper.pdf, page 4: expected packing at",
    ),
    other(
        "when a moved dose is taken",
        |one| {
            let moved =
                one.plan.doses.iter_mut().find_map(|dose| match &mut dose.action {
                    Action::AfterCard { at, .. } => Some(at),
                    _ => None,
                });
            later(moved.unwrap());
        },
        FileKind::Paper,
        "expected progesterone at 22:37, which is not there",
    ),
    other(
        "until when there is no caffeine",
        |one| later(&mut one.plan.caffeine.as_mut().unwrap().1),
        FileKind::Paper,
        "page 3: expected \"",
    ),
    other(
        "where a stretch of drinking begins",
        |one| later(&mut one.plan.drinks[1].from),
        FileKind::Paper,
        "expected a stretch of drinking at",
    ),
    other(
        "where a stretch of drinking ends",
        |one| later(one.plan.drinks[0].until.as_mut().unwrap()),
        FileKind::Paper,
        "expected the end of a stretch at",
    ),
    other(
        "an amount",
        another_amount,
        FileKind::Paper,
        "page 1: expected the amount 2180 mL, which is not there",
    ),
    other(
        "an amount that the plan has not",
        another_amount,
        FileKind::Paper,
        "page 1: found the amount 470 mL, which is not in the plan",
    ),
    other(
        "an amount, in the drinks table",
        another_amount,
        FileKind::Paper,
        "page 3: expected the amount 2180 mL, which is not there",
    ),
    other(
        "what follows from a later dinner",
        |one| later(&mut one.plan.what_if.dinner[0].then_at),
        FileKind::Paper,
        "expected a row of a changed day at",
    ),
    other(
        "what follows from a later bedtime",
        |one| later(&mut one.plan.what_if.bedtime[0].then_at),
        FileKind::Paper,
        "expected a row of a changed day at",
    ),
    other(
        "what follows from a later waking",
        |one| later(&mut one.plan.what_if.waking[0].then_at),
        FileKind::Paper,
        "expected a row of a changed day at",
    ),
    other(
        "the day to post",
        |one| one.plan.post_on = one.plan.post_on.and_then(|on| on.succ_opt()),
        FileKind::Paper,
        "expected the day to post",
    ),
    other(
        "the birth date",
        |one| one.order.patient.born = common::date("1984-03-08"),
        FileKind::Paper,
        "expected the birth date \"March 8, 1984\"",
    ),
    other(
        "the given name",
        |one| one.order.patient.given = "Marisa".to_owned(),
        FileKind::Paper,
        "page 4: expected the name \"Marisa\"",
    ),
    other(
        "the family name",
        |one| one.order.patient.family = "Okonkwo-Reys".to_owned(),
        FileKind::Paper,
        "page 2: expected \"OKONKWO-REYS\" on the page",
    ),
    other(
        "the provider who is named in the rule about medicines",
        |one| one.order.provider.as_mut().unwrap().name = "Dr. Ines Hallam".to_owned(),
        FileKind::Paper,
        "expected the caution \"Do not stop, skip, delay or change any medicine",
    ),
    other(
        "the provider's note",
        |one| one.order.doses[0].note = Some("Take it with no snack.".to_owned()),
        FileKind::Paper,
        "expected the provider's note \"Take it with no snack.\"",
    ),
    other(
        "a steroid that no caution names",
        |one| one.order.doses[0].class = Some(Class::Glucocorticoid),
        FileKind::Paper,
        "expected the caution \"progesterone is a steroid.",
    ),
    other(
        "the number of a card, on the checklist",
        another_number,
        FileKind::Paper,
        "page 4: expected the number \"HB-20417-2X\"",
    ),
    other(
        "a number of which paper has one figure more",
        |one| {
            let code = &mut one.plan.slots.last_mut().unwrap().code;
            code.truncate(code.len() - 1);
        },
        FileKind::Paper,
        " of the list of cards, which is not there",
    ),
    other(
        "the number of a card, on the information card",
        another_number,
        FileKind::Paper,
        "page 5: expected the number \"HB-20417-2X\"",
    ),
    other(
        "the number of a card, on the packing slip",
        another_number,
        FileKind::Packing,
        "page 1: expected the number \"HB-20417-2X\"",
    ),
];

/// The documents are made from the plan as well, so what is said must be the second
/// reading's own words.
#[test]
fn each_fact_of_the_plan_is_read_from_paper_a_second_time() {
    let mut shop = workshop();
    let same = planned(&mut shop, &with_evening_dose());
    let made = make(&mut shop, &same, &Placing::default());
    for kind in FileKind::ALL {
        assert_eq!(prove(&mut shop, &same, &made, kind, made.file(kind)), "");
    }
    let mut missed = String::new();
    for Other { what, change, file, says } in OTHERS {
        let mut one = planned(&mut shop, &with_evening_dose());
        change(&mut one);
        let found = prove(&mut shop, &one, &made, *file, made.file(*file));
        if !found.contains(says) {
            missed += &format!("{what}: wanted \"{says}\"\n{found}\n");
        }
    }
    assert!(missed.is_empty(), "{missed}");
}

/// Each of these leaves the PDF as it is and says another thing of where its kits are.
#[test]
fn where_the_kits_of_a_file_begin_is_not_believed() {
    let mut shop = workshop();
    let one = planned(&mut shop, &order_text(""));
    let other = order_text("").replace("HB-20417", "HB-20418");
    let other = planned(&mut shop, &other);
    let both = [&one, &other];
    let mut made = shop.make_batch(&both, &Placing::default()).ok().unwrap();
    let kits = made.kits.clone();
    let (kind, name) = (FileKind::Paper, FileKind::Paper.name());
    let mut check = |change: &dyn Fn(&mut Vec<KitPages>), wanted: &str| {
        made.kits.clone_from(&kits);
        change(&mut made.kits);
        let proven = shop.prove_batch(&both, &made, kind, &made.paper, name);
        let found: Vec<String> = proven
            .err()
            .unwrap_or_default()
            .into_iter()
            .map(|fault| fault.what)
            .collect();
        let found = found.join("\n");
        assert!(
            found.contains(wanted) && found.is_empty() == wanted.is_empty(),
            "{found}"
        );
    };
    check(&|_| {}, "");
    let unknown = "the pages of the kits are not known";
    check(&|kits| drop(kits.pop()), unknown);
    check(&|kits| kits[0].first = 2, unknown);
    check(&|kits| kits[1].first += 1, "begins on the back of another's leaf");
    check(&|kits| kits[1].first = 99, "pages or more, found");
}

#[test]
fn labels_that_share_a_sheet_where_each_kit_has_its_own_are_found() {
    let mut shop = workshop();
    let one = planned(&mut shop, &order_text(""));
    let other = order_text("").replace("HB-20417", "HB-20418");
    let other = planned(&mut shop, &other);
    let both = [&one, &other];
    let mut made = shop.make_batch(&both, &Placing::default()).ok().unwrap();
    made.placing.each_kit = EachKit::Sheet;
    let kind = FileKind::Labels;
    let proven = shop.prove_batch(&both, &made, kind, &made.labels, kind.name());
    let found = proven.unwrap_err();
    let wanted = "the labels of HB-20418 are not on a sheet of their own";
    assert!(found.iter().any(|fault| fault.what.contains(wanted)));
}

/// Some kits for one run sheet.
struct Run {
    planned: Vec<Planned>,
    words: Vec<Words>,
    packers: Words,
    stock: stock::Stock,
}

const COUNTS: PageCounts = PageCounts { sheet: 2, fluids: 2, card: 1 };

impl Run {
    fn of(orders: &[String]) -> Self {
        let mut shop = workshop();
        let planned: Vec<Planned> =
            orders.iter().map(|order| planned(&mut shop, order)).collect();
        let words = planned.iter().map(|one| Words::load(&one.order.language).unwrap());
        Self {
            words: words.collect(),
            planned,
            packers: Words::load("en").unwrap(),
            stock: stock::builtin("letter-2x5").unwrap(),
        }
    }

    fn kits(&self) -> Vec<Kit<'_>> {
        let kits = self.planned.iter().zip(&self.words);
        kits.map(|(planned, words)| planned.kit(&self.stock, words)).collect()
    }

    /// The documents as a document stage with the mistake `wrong` makes them.
    fn packing(&self, wrong: impl Fn(&mut Packing), blank: &[bool]) -> Packing {
        let kits = self.kits();
        let facts = CoverFacts {
            run: "2026-10-01 09:00".into(),
            part: 1,
            parts: 1,
            paper: Paper::Letter,
            leaves: 9,
            label_sheets: 2,
            stock: self.stock.name.clone(),
            is_roll: false,
            start_at: 1,
            made: kits.len(),
            out: 1,
            today: common::today(),
            alike: vec![None; kits.len()],
            left_out: vec!["HB-20499: on hold".into()],
            ledger: None,
        };
        let slips = kits
            .iter()
            .map(|kit| packing_slip(kit, &self.packers, COUNTS, None).unwrap());
        let mut made = Packing {
            slips: slips.collect(),
            cover: Some(
                cover(&facts, &kits, "Harbor Bend Laboratory", &self.packers, blank)
                    .unwrap(),
            ),
        };
        wrong(&mut made);
        made
    }

    fn about(&self) -> About {
        About {
            identity: "test".into(),
            title: FileKind::Packing.title(&self.kits(), &self.packers),
            sides: Sides::One,
        }
    }

    /// What the proof says of packing slips that were made, and are compared,
    /// with that mistake.
    fn prove(&self, cover_pages: usize, wrong: impl Fn(&mut Packing)) -> String {
        let data = self.packing(&wrong, &vec![false; cover_pages]);
        let press = Press::new(Vec::new()).unwrap();
        let laid = lay_out_packing(&press, data, &self.packers).unwrap();
        let bytes = laid.export(&self.about()).unwrap();
        let data_of = |blank: &[bool]| Ok(self.packing(&wrong, blank));
        let kits = self.kits();
        let found = prove_packing(&bytes, &kits, &self.packers, &by(&press), data_of);
        let found = found.err().unwrap_or_default();
        found
            .iter()
            .map(|Difference { page, what }| format!("{page}: {what}\n"))
            .collect()
    }
}

fn three_orders() -> Vec<String> {
    let dose = "[[dose]]\nmedicine = \"zzunknown\"\nform = \"tablet\"\ntimes = [08:00]\n";
    vec![
        order_set("language = \"es\""),
        order_text("").replace("HB-20417", "HB-20418"),
        order_text(dose).replace("HB-20417", "HB-20419").replace("10-14", "10-20"),
    ]
}

/// Swaps a field of two items.
fn swap<T>(items: &mut [T], one: usize, other: usize, of: fn(&mut T) -> &mut String) {
    let value = std::mem::take(of(&mut items[one]));
    let value = std::mem::replace(of(&mut items[other]), value);
    *of(&mut items[one]) = value;
}

fn cover_of(packing: &mut Packing) -> &mut Cover {
    packing.cover.as_mut().unwrap()
}

#[test]
fn a_run_sheet_whose_lines_or_facts_changed_places_is_found() {
    let run = Run::of(&three_orders());
    assert_eq!(run.prove(1, |_| {}), "");
    let found = run.prove(1, |data| cover_of(data).kits.swap(0, 1));
    assert!(found.contains("1: expected the row \"2 | HB-20418"), "{found}");
    let found = run.prove(1, |data| {
        let kits = &mut cover_of(data).kits;
        let note = std::mem::take(&mut kits[0].note);
        kits[1].note = note;
    });
    assert!(found.contains("HB-20417"), "{found}");
    let found = run.prove(1, |data| {
        let kits = &mut cover_of(data).kits;
        swap(kits, 1, 2, |one| &mut one.start);
    });
    assert!(found.contains("HB-20418 | OKONKWO-REYES, Marisol | 14-Oct-2026"), "{found}");
    let found = run.prove(1, |data| {
        let facts = &mut cover_of(data).facts;
        swap(facts, 1, 2, |one| &mut one.value);
    });
    assert!(
        found
            .contains("expected the row \"Kits in this part | 3\" of the number of kits"),
        "{found}"
    );
}

/// The value stands in the data beside its label and on paper beside another.
#[test]
fn a_fact_that_stands_beside_another_label_on_paper_is_found() {
    let run = Run::of(&three_orders());
    let swap = |data: &mut Packing| cover_of(data).facts.swap(3, 4);
    let press = Press::new(Vec::new()).unwrap();
    let data = run.packing(swap, &[false]);
    let laid = lay_out_packing(&press, data, &run.packers).unwrap();
    let bytes = laid.export(&run.about()).unwrap();
    let data_of = |blank: &[bool]| Ok(run.packing(|_| {}, blank));
    let kits = run.kits();
    let found = prove_packing(&bytes, &kits, &run.packers, &by(&press), data_of);
    let found = found.unwrap_err();
    let row = found.iter().find(|one| one.what.contains("expected the row \"Labels"));
    assert_eq!(row.map(|one| one.page), Some(1), "{found:?}");
}

#[test]
fn a_packing_slip_whose_facts_changed_places_is_found() {
    let run = Run::of(&three_orders());
    let found = run.prove(1, |data| {
        let facts = &mut data.slips[1].facts;
        swap(facts, 2, 3, |one| &mut one.value);
    });
    assert!(
        found.contains("3: expected the row \"Paper | Letter\" of the facts"),
        "{found}"
    );
    let found = run.prove(1, |data| data.slips[2].cards.swap(1, 2));
    assert!(found.contains("4: expected the row \"Card 2 | HB-20419-2"), "{found}");
}

/// Its headings stand again on the second page.
#[test]
fn a_run_sheet_of_two_pages_is_proven() {
    let orders: Vec<String> = (0..40)
        .map(|number| {
            order_text("").replace("HB-20417", &format!("HB-{}", 30000 + number))
        })
        .collect();
    let run = Run::of(&orders);
    assert_eq!(run.prove(2, |_| {}), "");
    let found = run.prove(2, |data| cover_of(data).kits.swap(38, 39));
    assert!(found.contains("expected the row \"39 | HB-30038"), "{found}");
}

/// Each of these leaves the PDF as it is and says another thing of where its
/// labels lie.
#[test]
fn labels_are_compared_with_every_cell_they_must_have() {
    let mut shop = workshop();
    let one = planned(&mut shop, &order_text(""));
    let placing = Placing { start_at: 3, ..Placing::default() };
    let made = make(&mut shop, &one, &placing);
    let labels = made.file(FileKind::Labels).to_vec();
    assert_eq!(prove(&mut shop, &one, &made, FileKind::Labels, &labels), "");
    let mut check = |change: &dyn Fn(&mut MadeKit), wanted: &str| {
        let mut made = make(&mut shop, &one, &placing);
        change(&mut made);
        let found = prove(&mut shop, &one, &made, FileKind::Labels, &labels);
        assert!(found.contains(wanted), "{wanted}: {found}");
    };
    check(
        &|made| made.batch.imposition.cells.clear(),
        "expected cells for 1 kits, found them for 0",
    );
    check(
        &|made| made.batch.imposition.cells[0].truncate(4),
        "expected 5 cells for HB-20417, found 4",
    );
    check(
        &|made| made.batch.imposition.cells[0][1] = 2,
        "two labels lie in cell 3, one of HB-20417",
    );
    check(
        &|made| made.batch.imposition.cells[0][0] = 1,
        "a label of HB-20417 lies in cell 2, and cell 3 is the first that is free",
    );
    check(
        &|made| made.batch.imposition.cells[0][4] = 10,
        "the labels of HB-20417 lie on 2 sheets",
    );
    check(
        &|made| made.batch.imposition.cells[0][4] = usize::MAX / 2,
        "the labels of HB-20417 lie on 2 sheets",
    );
    check(
        &|made| made.batch.imposition.free_from = Some(4),
        "expected 1 sheets of which the last is free from cell 8, found 1 and cell 4",
    );
    check(
        &|made| {
            made.batch.placing = Placing { start_at: 2, ..made.batch.placing };
            made.batch.placing.each_kit = EachKit::Row;
            made.batch.imposition.cells[0] = vec![1, 2, 3, 4, 5];
        },
        "the labels of HB-20417 do not begin on a row",
    );
}

#[test]
fn a_label_number_that_is_not_its_slots_is_found() {
    let mut shop = workshop();
    let mut one = planned(&mut shop, &order_text(""));
    let code = one.plan.slots[1].code.clone();
    one.plan.slots[0].code = code;
    let made = make(&mut shop, &one, &Placing::default());
    let labels = made.file(FileKind::Labels);
    let found = prove(&mut shop, &one, &made, FileKind::Labels, labels);
    assert!(found.contains("HB-20417-23 is not the number of HB-20417's"), "{found}");
    assert!(found.contains("two labels have the number HB-20417-23"), "{found}");
}

#[test]
fn the_months_on_a_label_are_read_and_compared() {
    let mut shop = workshop();
    for (language, born) in [("en", "09-Mar-1984"), ("es", "09-mar-1984")] {
        let order = order_set(&format!("language = \"{language}\""));
        let mut one = planned(&mut shop, &order);
        let made = make(&mut shop, &one, &Placing::default());
        let labels = made.file(FileKind::Labels);
        let printed: String = read(labels).unwrap()[0]
            .glyphs
            .iter()
            .map(|glyph| glyph.text.as_str())
            .collect();
        assert!(printed.contains(born), "{printed}");
        assert_eq!(prove(&mut shop, &one, &made, FileKind::Labels, labels), "");
        one.order.patient.born = common::date("1984-05-09");
        let found = prove(&mut shop, &one, &made, FileKind::Labels, labels);
        let wanted = "expected the birth date 1984-05-09 on the label HB-20417-15";
        assert!(found.contains(wanted), "{found}");
    }
    let mut one = planned(&mut shop, &order_text(""));
    let made = make(&mut shop, &one, &Placing::default());
    let labels = made.file(FileKind::Labels);
    for slot in &mut one.plan.slots {
        let later = chrono::Days::new(31);
        slot.collect_at = slot.collect_at.map(|at| at.checked_add_days(later).unwrap());
    }
    let found = prove(&mut shop, &one, &made, FileKind::Labels, labels);
    let wanted = "expected the planned day 2026-11-14 on the label HB-20417-15";
    assert!(found.contains(wanted), "{found}");
}

#[test]
fn labels_without_dates_are_proven() {
    let mut shop = workshop();
    let order = order_text("")
        .replace("start = 2026-10-14\n", "")
        .replace("zone = \"America/Denver\"\n", "");
    let one = planned(&mut shop, &order);
    assert!(!one.plan.is_dated());
    let made = make(&mut shop, &one, &Placing::default());
    let labels = made.file(FileKind::Labels);
    assert_eq!(prove(&mut shop, &one, &made, FileKind::Labels, labels), "");
}

/// `bytes` with `drawing`, in the operators of ISO 32000, on the first page.
fn drawn_on(bytes: &[u8], drawing: &str) -> Vec<u8> {
    let mut document = Document::load_mem(bytes).unwrap();
    let page = document.page_iter().next().unwrap();
    let stream = Stream::new(dictionary! {}, drawing.as_bytes().to_vec());
    let added = document.add_object(stream);
    let page = document.get_object_mut(page).unwrap().as_dict_mut().unwrap();
    let before = page.get(b"Contents").unwrap().clone();
    let contents = match before {
        Object::Array(mut streams) => {
            streams.push(added.into());
            streams
        }
        one => vec![one, added.into()],
    };
    page.set("Contents", contents);
    let mut out = Vec::new();
    document.save_to(&mut out).unwrap();
    out
}

#[test]
fn ink_beside_the_labels_is_found() {
    let mut shop = workshop();
    let one = planned(&mut shop, &order_text(""));
    let made = make(&mut shop, &one, &Placing::default());
    let labels = made.file(FileKind::Labels);
    let same = drawn_on(labels, "q Q");
    assert_eq!(prove(&mut shop, &one, &made, FileKind::Labels, &same), "");
    // Points from the lower left corner: the last of ten cells, which is free,
    // then the margin, then a cell that is used.
    for (drawing, wanted) in [
        ("q 400 60 30 30 re f Q", "found 1 filled shapes beside the labels"),
        ("q 400 60 m 500 60 l S Q", "found 4 other lines"),
        ("q 400 60 m 500 60 l S Q", "the ruler reaches into the labels"),
        ("q 400 770 m 420 770 l S Q", "found 4 other lines"),
        (
            "q 30 0 0 30 400 60 cm /x0 Do Q",
            "found 1 images beside the labels, which nobody planned",
        ),
        (
            "q 30 0 0 30 100 700 cm /x0 Do Q",
            "expected one image on the label HB-20417-15, found 2",
        ),
    ] {
        let drawn = drawn_on(labels, drawing);
        let found = prove(&mut shop, &one, &made, FileKind::Labels, &drawn);
        assert!(found.contains(wanted), "{drawing}: {found}");
    }
    // Where there is no room for a ruler, no line may be beside the labels.
    let names = stock::builtin_names().into_iter();
    let bare = names
        .filter_map(stock::builtin)
        .find(|stock| stock.medium != Medium::Roll && stock.top.to_mm() < 10.0)
        .unwrap();
    let order = order_set(&format!("stock = \"{}\"", bare.name));
    let one = planned(&mut shop, &order.replace("Okonkwo-Reyes", "Li"));
    let made = make(&mut shop, &one, &Placing::default());
    let drawn = drawn_on(made.file(FileKind::Labels), "q 40 40 m 60 40 l S Q");
    let found = prove(&mut shop, &one, &made, FileKind::Labels, &drawn);
    assert!(found.contains("found 1 lines beside the labels"), "{found}");
}

#[test]
fn a_sheet_that_is_nudged_and_fed_foot_first_is_proven() {
    let mut shop = workshop();
    let one = planned(&mut shop, &order_text(""));
    let nudge = (Length::from_um(700), Length::from_um(-900));
    let placing = Placing { nudge, feed: Feed::FootFirst, ..Placing::default() };
    let made = make(&mut shop, &one, &placing);
    let labels = made.file(FileKind::Labels);
    assert_eq!(prove(&mut shop, &one, &made, FileKind::Labels, labels), "");
}

/// `bytes` with `content` as what is attached, packed as PDFs do.
fn attaching(bytes: &[u8], content: Vec<u8>, packed: bool) -> Vec<u8> {
    let mut document = Document::load_mem(bytes).unwrap();
    let stream = document
        .objects
        .values()
        .filter_map(|object| object.as_dict().ok())
        .find_map(|file| file.get(b"EF").ok()?.as_dict().ok()?.get(b"F").ok())
        .and_then(|stream| stream.as_reference().ok())
        .unwrap();
    let stream = document.get_object_mut(stream).unwrap().as_stream_mut().unwrap();
    stream.set_plain_content(content);
    if packed {
        stream.compress().unwrap();
        assert!(stream.content.len() < 100_000);
    }
    let mut out = Vec::new();
    document.save_to(&mut out).unwrap();
    out
}

#[test]
fn an_attachment_that_unpacks_to_too_much_is_a_difference() {
    let mut shop = workshop();
    let one = planned(&mut shop, &order_text(""));
    let made = make(&mut shop, &one, &Placing::default());
    let paper = made.file(FileKind::Paper);
    let text = one.order.source.text.as_bytes().to_vec();
    let same = attaching(paper, text, false);
    assert_eq!(prove(&mut shop, &one, &made, FileKind::Paper, &same), "");
    for (packed, wanted) in [
        (true, "the attached HB-20417.toml cannot be unpacked to 1048576 bytes"),
        (false, "the attached HB-20417.toml has 20971520 bytes, more than 1048576"),
    ] {
        let bomb = attaching(paper, vec![b' '; 20 << 20], packed);
        let found = prove(&mut shop, &one, &made, FileKind::Paper, &bomb);
        assert!(found.contains(wanted), "{found}");
        assert!(kitwright::proof::attached_orders(&bomb).is_empty());
    }
}
