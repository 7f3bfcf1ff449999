//! Laws that hold for any valid order, whatever its day, zone and medicines.

mod common;

use chrono::{Days, TimeDelta};
use common::{date, lab, order, protocol, workshop};
use kitwright::imposition::Placing;
use kitwright::medicine::{Class, Medicines};
use kitwright::plan::{Action, Plan, plan};
use kitwright::proof::FileKind;
use kitwright::protocol::Allowed;
use kitwright::stock::builtin_names;
use proptest::prelude::*;

/// Zones with changes of an hour, half an hour and two, at midnight and at
/// odd hours, with new rules in 2026, and without changes.
const ZONES: &[&str] = &[
    "America/New_York",
    "America/Denver",
    "America/Vancouver",
    "America/Winnipeg",
    "America/Havana",
    "America/Santiago",
    "America/Phoenix",
    "Europe/London",
    "Europe/Chisinau",
    "Africa/Cairo",
    "Africa/Casablanca",
    "Antarctica/Troll",
    "Australia/Lord_Howe",
    "Pacific/Auckland",
    "Pacific/Chatham",
    "Asia/Kathmandu",
];

/// Days around which clocks change somewhere in 2026 to 2028.
const CHANGES: &[&str] = &[
    "2026-03-08",
    "2026-03-29",
    "2026-04-05",
    "2026-09-06",
    "2026-09-20",
    "2026-09-27",
    "2026-10-04",
    "2026-10-25",
    "2026-11-01",
    "2027-03-14",
    "2027-03-28",
    "2027-04-04",
    "2027-04-30",
    "2027-10-03",
    "2027-10-31",
    "2027-11-07",
    "2028-03-12",
    "2028-03-26",
    "2028-04-02",
    "2028-11-05",
];

/// Every hold is cleared, so that every order is printed.
fn cleared() -> String {
    ["glucocorticoid", "fluid-limit", "weight"]
        .map(|hold| {
            format!(
                "[[cleared]]\nhold = \"{hold}\"\nby = \"R. Adeyemi\"\non = 2026-08-30\n"
            )
        })
        .concat()
}

/// Any time, and often one of those that are printed as words or are wide.
fn clock() -> impl Strategy<Value = String> {
    let wide = prop::sample::select(vec![0, 120, 144, 264]);
    prop_oneof![3 => 0..288u32, 1 => wide]
        .prop_map(|step| format!("{:02}:{:02}", step / 12, step % 12 * 5))
}

fn routine() -> impl Strategy<Value = String> {
    (clock(), clock(), clock(), clock()).prop_map(|(lunch, dinner, bedtime, wake)| {
        format!(
            "[routine]\nlunch = {lunch}\ndinner = {dinner}\nbedtime = {bedtime}\n\
             wake = {wake}\n"
        )
    })
}

/// The doses without those of one substance, form and time that came before.
fn each_once(mut doses: Vec<String>) -> Vec<String> {
    let key = |dose: &String| -> (String, String) {
        let mut lines = dose.lines().skip(1);
        let medicine = lines.next().unwrap().trim_start_matches("medicine = ");
        let substance = Medicines::builtin().substance(medicine.trim_matches('"'));
        (substance, lines.take(2).collect())
    };
    let mut seen = std::collections::HashSet::new();
    doses.retain(|dose| seen.insert(key(dose)));
    doses
}

fn dose() -> impl Strategy<Value = String> {
    // Some of each kind often, and any of those that are built in, for their names.
    let usual = prop::sample::select(vec![
        "estradiol",
        "progesterone",
        "melatonin",
        "levothyroxine",
        "prednisone",
        "hydrocortisone",
        "budesonide",
        "warfarin",
        "lithium carbonate",
        "zzunknown",
    ]);
    let entries = Medicines::builtin().entries();
    let any = (0..entries.len()).prop_map(move |index| entries[index].name.as_str());
    let medicine = prop_oneof![usual, any];
    let form = prop::sample::select(vec!["tablet", "gel", "patch", "injection"]);
    let timing = prop::sample::select(vec!["protocol", "unchanged", "ask"]);
    let dose = (medicine, form, clock(), timing, 0..10usize);
    dose.prop_map(|(medicine, form, time, timing, notes)| {
        format!(
            "[[dose]]\nmedicine = \"{medicine}\"\nform = \"{form}\"\ntimes = [{time}]\n\
             timing = \"{timing}\"\nnote = \"As agreed.{}\"\n",
            " Take it with food.".repeat(notes)
        )
    })
}

/// The text of a dated order on or near a day when some clocks change.
fn any_order() -> impl Strategy<Value = String> {
    let day = (prop::sample::select(CHANGES), 0..6u64)
        .prop_map(|(day, off)| (date(day) - Days::new(3)) + Days::new(off));
    let zone = prop::sample::select(ZONES);
    let weight = prop_oneof![
        (20..=700u32).prop_map(|lb| format!("weight = \"{lb} lb\"\n")),
        (10..=316u32).prop_map(|kg| format!("weight = \"{kg}.5 kg\"\n")),
        Just(String::new()),
    ];
    let setting = (
        prop::sample::select(vec!["en", "es"]),
        prop::sample::select(vec!["letter", "a4"]),
        prop::sample::select(vec!["12h", "24h"]),
        prop::sample::select(vec!["standard", "large"]),
    );
    let family = prop::sample::select(vec![
        "Okonkwo-Reyes",
        "Li",
        "Þórsdóttir",
        "Vandersloot-Pemberton",
        "O’Šerić",
    ]);
    let stock = prop::sample::select(builtin_names());
    let label = (family, stock);
    let provider = prop_oneof![Just("dose_rules = \"agreed\"\n"), Just("")];
    let doses = prop::collection::vec(dose(), 0..7);
    (day, zone, weight, setting, label, routine(), provider, doses).prop_map(
        |(day, zone, weight, setting, label, routine, provider, doses)| {
            let (language, paper, clock, text) = setting;
            let (family, stock) = label;
            format!(
                "order = \"HB-20417\"\nprotocol = \"four-card\"\nstart = {day}\n\
                 zone = \"{zone}\"\nlanguage = \"{language}\"\npaper = \"{paper}\"\n\
                 clock = \"{clock}\"\ntext = \"{text}\"\nstock = \"{stock}\"\n\
                 [patient]\nfamily = \"{family}\"\ngiven = \"Marisol\"\n\
                 born = 1984-03-09\n{weight}{routine}\
                 [provider]\nname = \"Dr. Halloran\"\nphone = \"555-0117\"\n{provider}\
                 {}",
                each_once(doses).concat() + &cleared()
            )
        },
    )
}

fn planned(text: &str) -> Plan {
    plan(&order(text), &protocol("four-card"), &lab().mail)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, ..ProptestConfig::default() })]

    #[test]
    fn events_come_in_their_order(text in any_order()) {
        let plan = planned(&text);
        let cards: Vec<_> = plan.slots.iter().filter_map(|slot| slot.collect_at).collect();
        prop_assert!(cards.is_sorted_by(|a, b| a < b), "{cards:?}");
        prop_assert!(plan.anchors.lunch < cards[0]);
        prop_assert!(plan.pack_at > cards[3]);
        for slot in &plan.slots {
            if let (Some(empty), Some(collect)) = (slot.empty_at, slot.collect_at) {
                prop_assert!(empty < collect);
                prop_assert_eq!(slot.stop_drinking_at, Some(empty));
            }
        }
        let pack = plan.pack_at.date_naive();
        prop_assert!(plan.post_on.is_some_and(|post| post >= pack));
    }

    #[test]
    fn intervals_hold_in_elapsed_time(text in any_order()) {
        let plan = planned(&text);
        let [one, two, three, four, _] = &plan.slots[..] else { panic!("five slots") };
        let at = |slot: &kitwright::plan::PlannedSlot| slot.collect_at.unwrap();
        let two_hours = TimeDelta::hours(2);
        prop_assert_eq!(at(one) - one.empty_at.unwrap(), two_hours);
        prop_assert_eq!(at(four) - at(three), two_hours);
        let before_bed = at(two) - two.empty_at.unwrap();
        prop_assert!(before_bed == two_hours || two.empty_at == one.collect_at);
        prop_assert!(before_bed <= two_hours);
        for slot in [one, two, three, four] {
            prop_assert_eq!(slot.dry_at.unwrap() - at(slot), TimeDelta::hours(4));
        }
        prop_assert!(plan.pack_at - at(four) >= TimeDelta::hours(4));
    }

    #[test]
    fn nothing_may_be_drunk_inside_a_stop(text in any_order()) {
        let plan = planned(&text);
        let stops: Vec<_> =
            plan.slots.iter().filter_map(|s| Some((s.stop_drinking_at?, s.collect_at?))).collect();
        for stretch in plan.drinks.iter().filter(|s| s.allowed != Allowed::Nothing) {
            for (from, until) in &stops {
                let ends_before = stretch.until.is_some_and(|end| end <= *from);
                let starts_after = stretch.from >= *until;
                prop_assert!(ends_before || starts_after, "{stretch:?} in {from} to {until}");
            }
        }
    }

    /// Two stops of two hours can follow one another; nobody who is awake goes
    /// without a drink for longer. Common practice, no source.
    #[test]
    fn nobody_goes_without_a_drink_for_more_than_four_hours(text in any_order()) {
        let plan = planned(&text);
        let mut dry_since = None;
        for stretch in &plan.drinks {
            let until = stretch.until.unwrap_or(stretch.from);
            if stretch.allowed != Allowed::Nothing {
                dry_since = None;
                continue;
            }
            let since = *dry_since.get_or_insert(stretch.from);
            prop_assert!(until - since <= TimeDelta::hours(4), "{:?}", plan.drinks);
        }
        for pair in plan.drinks.windows(2) {
            prop_assert!(pair[0].until <= Some(pair[1].from) || pair[0].until.is_none());
        }
    }

    #[test]
    fn only_agreed_hormones_ever_move_and_nothing_is_left_out(text in any_order()) {
        let order = order(&text);
        let plan = planned(&text);
        let agreed = order.provider.as_ref().is_some_and(|p| p.dose_rules_agreed);
        let wanted: usize = order.doses.iter().map(|dose| dose.times.len() * 2).sum();
        prop_assert_eq!(plan.doses.len(), wanted);
        let repeated = plan.slots.iter().filter_map(|s| s.repeat.as_ref()).flat_map(|r| &r.doses);
        for dose in plan.doses.iter().chain(repeated) {
            let class = order.doses[dose.index].class;
            if matches!(dose.action, Action::AfterCard { .. }) {
                prop_assert_eq!(class, Some(Class::Hormone));
                prop_assert!(agreed);
                let shift = dose.take_at().unwrap() - dose.usual_at;
                prop_assert!(shift >= TimeDelta::zero() && shift <= TimeDelta::hours(4));
            }
            if class == Some(Class::Glucocorticoid) {
                prop_assert_eq!(&dose.action, &Action::AsPrescribed);
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 80, ..ProptestConfig::default() })]

    /// The proof reads the paper back and compares it with the plan, so this
    /// is the law that the printed sheet says what the plan says.
    #[test]
    fn any_order_typesets_and_proves(text in any_order()) {
        let mut shop = workshop();
        let source = common::source(&text);
        let planned = shop.plan(&source, "order.toml".as_ref()).unwrap();
        let made = match shop.make(&planned, &Placing::default()) {
            Ok(made) => made,
            Err(faults) => panic!("{}\n{text}", faults[0].plain()),
        };
        for kind in FileKind::ALL {
            let bytes = made.file(kind);
            if let Err(faults) = shop.prove(&planned, &made, kind, bytes, kind.name()) {
                panic!("{}\n{text}", faults[0].plain());
            }
        }
    }
}
