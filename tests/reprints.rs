//! Labels and sheets printed again: the same code, a mark of their own, and
//! never without a reason.

mod common;

use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};

use assert_cmd::Command;
use common::order_text;
use kitwright::ledger::{Again, Entry, Kind, Ledger, NewKit, Stamp, digest};
use kitwright::proof::{attached_orders, read};
use kitwright::workshop::Workshop;
use tempfile::TempDir;

/// A laboratory with a ledger, one order, and its kit, made.
struct Desk {
    folder: TempDir,
}

/// The laboratory's file, with a ledger.
fn lab_text() -> String {
    format!("ledger = \"ledger.db\"\n{}", common::LAB)
}

impl Desk {
    fn new() -> Self {
        let desk = Self::with(&lab_text(), &order_text(""));
        desk.run(&["make", "order.toml"], 0);
        desk
    }

    /// A laboratory and one order, of which nothing is made yet.
    fn with(lab: &str, order: &str) -> Self {
        let desk = Self { folder: tempfile::tempdir().unwrap() };
        desk.write("lab.toml", lab);
        desk.write("order.toml", order);
        desk
    }

    fn write(&self, name: &str, text: &str) {
        std::fs::create_dir_all(self.path(name).parent().unwrap()).unwrap();
        std::fs::write(self.path(name), text).unwrap();
    }

    /// The entries of the kit.
    fn entries(&self) -> Vec<Entry> {
        let ledger = Ledger::open_existing(&self.path("ledger.db")).unwrap();
        ledger.history("HB-20417").unwrap()
    }

    /// A command that says all of `wanted`, ends with 1 and records nothing.
    #[track_caller]
    fn refuses(&self, arguments: &[&str], wanted: &[&str]) {
        let before = self.entries().len();
        let said = self.run(arguments, 1);
        for wanted in wanted {
            assert!(said.contains(wanted), "{arguments:?} {wanted}: {said}");
        }
        assert_eq!(self.entries().len(), before, "{arguments:?}");
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// What a command says, which must end with `code`.
    #[track_caller]
    fn run(&self, arguments: &[&str], code: i32) -> String {
        let mut command = Command::cargo_bin("kitwright").unwrap();
        let Output { status, stdout, stderr } =
            command.current_dir(self.folder.path()).args(arguments).output().unwrap();
        let said = String::from_utf8([stdout, stderr].concat()).unwrap();
        assert_eq!(status.code(), Some(code), "{arguments:?}: {said}");
        said
    }

    /// What several commands say that were given at once: each has read the ledger
    /// before any of them can write to it.
    fn run_at_once(&self, commands: &[&[&str]]) -> Vec<(Option<i32>, String)> {
        let holder = rusqlite::Connection::open(self.path("ledger.db")).unwrap();
        holder.execute_batch("BEGIN IMMEDIATE").unwrap();
        let children: Vec<std::process::Child> = commands
            .iter()
            .map(|arguments| {
                let mut command =
                    std::process::Command::new(env!("CARGO_BIN_EXE_kitwright"));
                command.current_dir(self.folder.path()).args(*arguments);
                command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
            })
            .collect();
        // Well under the ten seconds that they wait for the ledger.
        std::thread::sleep(std::time::Duration::from_secs(3));
        holder.execute_batch("ROLLBACK").unwrap();
        children
            .into_iter()
            .map(|child| {
                let Output { status, stdout, stderr } = child.wait_with_output().unwrap();
                let said = String::from_utf8([stdout, stderr].concat()).unwrap();
                (status.code(), said)
            })
            .collect()
    }

    /// Everything printed in a PDF, without spaces.
    fn printed(&self, name: &str) -> String {
        let pages = read(&std::fs::read(self.path(name)).unwrap()).unwrap();
        let glyphs = pages.iter().flat_map(|page| &page.glyphs);
        let text: String = glyphs.map(|glyph| glyph.text.as_str()).collect();
        text.split_whitespace().collect()
    }
}

#[test]
fn one_label_comes_again_with_the_same_code_and_a_mark() {
    let desk = Desk::new();
    for (what, number) in
        [("HB-20417-31", 1), ("hb-20417-31", 2), ("kits/HB-20417/labels.pdf", 3)]
    {
        let card: &[&str] = if number == 3 { &["--card", "3"] } else { &[] };
        let said = desk.run(&[&["relabel", what, "--reason", "torn"], card].concat(), 0);
        assert!(said.contains("HB-20417-31 on letter-2x5"), "{said}");
        let printed =
            desk.printed(&format!("reprints/HB-20417/label-card-3-reprint-{number}.pdf"));
        assert_eq!(printed.matches("HB-20417-31").count(), 1, "{printed}");
        assert!(!printed.contains("HB-20417-15"), "{printed}");
        assert_eq!(printed.matches(&format!("Reprint{number}")).count(), 1, "{printed}");
    }
    let trail = desk.run(&["history", "HB-20417"], 0);
    assert!(trail.contains("reprint 3, earlier ones void"), "{trail}");
    assert!(trail.contains("because: torn"), "{trail}");
    desk.run(&["ledger", "check"], 0);
}

#[test]
fn a_label_can_lie_on_a_part_used_sheet_of_another_stock() {
    let desk = Desk::new();
    let arguments = ["relabel", "HB-20417", "--card", "spare", "--reason", "lost"];
    let laying = ["--stock", "letter-2x7", "--start-at", "7"];
    let said = desk.run(&[&arguments[..], &laying].concat(), 0);
    assert!(said.contains("free from cell 8 on"), "{said}");
    let bytes = std::fs::read(desk.path("reprints/HB-20417/label-spare-reprint-1.pdf"));
    let pages = read(&bytes.unwrap()).unwrap();
    let stock = kitwright::stock::builtin("letter-2x7").unwrap();
    let cell = stock.cell(6);
    let [image] = &pages[0].images[..] else { panic!("{:?}", pages[0].images) };
    assert!(image.top > cell.y.to_mm() && image.left > cell.x.to_mm());
    assert!(image.bottom < cell.y.to_mm() + stock.label_height.to_mm());
    let none = [&arguments[..], &["--start-at", "11"]].concat();
    assert!(desk.run(&none, 1).contains("has no cell 11"));
    let other = ["relabel", "HB-20417", "--card", "7", "--reason", "lost"];
    assert!(desk.run(&other, 1).contains("its cards are: 1, 2, 3, 4, spare"));
}

#[test]
fn nothing_comes_again_without_a_reason_or_an_order() {
    let desk = Desk::new();
    desk.run(&["relabel", "HB-20417"], 2);
    assert!(
        desk.run(&["relabel", "HB-20417", "--reason", " "], 1)
            .contains("no reason is given")
    );
    for (what, said) in [
        ("HB-99999", "nothing in the ledger fits `HB-99999`"),
        ("no such thing", "nothing in the ledger fits `no such thing`"),
        ("HB-20417-39", "did you mean HB-20417-31"),
        ("Okonkwo", "name the order: HB-20417"),
        ("lab.toml", "is no order"),
    ] {
        let found = desk.run(&["relabel", what, "--reason", "x"], 1);
        assert!(found.contains(said), "{what}: {found}");
    }
    assert!(!desk.path("reprints").exists());
}

#[test]
fn a_sheet_comes_again_with_its_mark_on_every_page() {
    let desk = Desk::new();
    desk.run(&["reprint", "HB-20417", "--reason", "lost in the post"], 0);
    let name = "reprints/HB-20417/paper-reprint-1.pdf";
    let printed = desk.printed(name);
    assert_eq!(printed.matches("Reprint1.Timesare").count(), 5, "{printed}");
    // The order that travels in it is the one that was made.
    let bytes = std::fs::read(desk.path(name)).unwrap();
    let attached = attached_orders(&bytes);
    assert_eq!(attached, [("HB-20417.toml".to_owned(), order_text(""))]);
    // A file that is there is never written over.
    std::fs::write(desk.path("reprints/HB-20417/paper-reprint-2.pdf"), "x").unwrap();
    let again = ["reprint", "HB-20417", "--reason", "again"];
    let said = desk.run(&again, 3);
    assert!(said.contains("it is there already"), "{said}");
    // What could not be written is not remembered as made.
    assert_eq!(desk.entries().len(), 2);
    desk.run(&[&again[..], &["--out", "elsewhere"]].concat(), 0);
    assert!(desk.path("elsewhere/HB-20417/paper-reprint-2.pdf").exists());
    let names = std::fs::read_dir(desk.path("reprints/HB-20417")).unwrap();
    assert_eq!(names.count(), 2, "no temporary file is left");
}

#[test]
fn new_times_make_a_revision_that_says_what_changed() {
    let desk = Desk::new();
    let change = ["reprint", "HB-20417", "--reason", "late shift", "--bedtime", "23:15"];
    let said = desk.run(&change, 0);
    assert!(
        said.contains("-   Wed 10-14 22:30   card 2, bedtime  HB-20417-23"),
        "{said}"
    );
    assert!(
        said.contains("+   Wed 10-14 23:15   card 2, bedtime  HB-20417-23"),
        "{said}"
    );
    assert!(!said.contains("card 3"), "waking did not change: {said}");
    let printed = desk.printed("reprints/HB-20417/paper-revision-1.pdf");
    assert_eq!(printed.matches("Revision1.").count(), 5, "{printed}");
    assert!(printed.contains("Yourplanhaschanged."), "{printed}");
    assert!(printed.contains("11:15pm"), "{printed}");
    let labels = desk.printed("reprints/HB-20417/labels-revision-1.pdf");
    assert_eq!(labels.matches("Revision1").count(), 5, "{labels}");
    assert!(labels.contains("HB-20417-23Planned14-Oct-2026,11:15pm"), "{labels}");
    // From now on the newest content is what comes again.
    desk.run(&["reprint", "HB-20417", "--reason", "lost"], 0);
    let again = desk.printed("reprints/HB-20417/paper-reprint-1.pdf");
    assert!(again.contains("Revision1,Reprint1."), "{again}");
    assert!(again.contains("11:15pm"), "{again}");
    // The first content is void, wherever it comes from.
    let old = desk.run(&["reprint", "kits/HB-20417/paper.pdf", "--reason", "x"], 1);
    assert!(old.contains("as the ledger has it, revision 1"), "{old}");
    let old = desk.run(&["make", "order.toml"], 1);
    assert!(old.contains("from another text (revision 1)"), "{old}");
    // The same times once more revise nothing.
    assert!(desk.run(&change, 1).contains("nothing is revised"));
}

#[test]
fn a_wrong_weight_or_name_is_corrected_in_a_revision() {
    let desk = Desk::new();
    let reprint = ["reprint", "HB-20417", "--reason", "wrong on the form"];
    let with = |more: &[&'static str]| [&reprint[..], more].concat();
    let said = desk.run(&with(&["--weight", "82 kg", "--family", "Okonkwo"]), 0);
    assert!(said.contains("- weight = \"150 lb\""), "{said}");
    assert!(said.contains("+ weight = \"82 kg\""), "{said}");
    assert!(said.contains("- HB-20417  OKONKWO-REYES, Marisol"), "{said}");
    assert!(said.contains("+ HB-20417  OKONKWO, Marisol"), "{said}");
    assert!(said.contains("morning drink"), "{said}");
    let printed = desk.printed("reprints/HB-20417/paper-revision-1.pdf");
    assert!(printed.contains("OKONKWO,Marisol"), "{printed}");
    assert!(!printed.contains("OKONKWO-REYES"), "{printed}");
    let labels = desk.printed("reprints/HB-20417/labels-revision-1.pdf");
    assert!(!labels.contains("OKONKWO-REYES"), "{labels}");
    // A value that is none is a fault of the order, as everywhere.
    desk.refuses(&with(&["--weight", "heavy"]), &["weight"]);
    desk.refuses(&with(&["--born", "2199-01-01"]), &["born"]);
    let other = ["--family", "Quill", "--given", "Ada", "--born", "1950-05-05"];
    desk.refuses(&with(&other), &["is of another patient", "a number of its own"]);
}

#[test]
fn a_corrected_order_file_makes_a_revision_when_that_is_asked_for() {
    let desk = Desk::new();
    let corrected =
        order_text("[provider]\nname = \"Dr. Ada Quill\"\nphone = \"555-0118\"\n");
    let corrected = corrected.replace("150 lb", "170 lb").replace("22:30", "23:15");
    desk.write("order.toml", &corrected);
    let reprint = ["reprint", "order.toml", "--reason", "provider rang"];
    desk.refuses(&reprint, &["as the ledger has it", "order.toml --reason", "--revise"]);
    desk.refuses(&["make", "order.toml"], &["kitwright reprint order.toml --reason"]);
    let revise = [&reprint[..], &["--revise"]].concat();
    let said = desk.run(&revise, 0);
    for wanted in ["- weight = \"150 lb\"", "+ weight = \"170 lb\"", "23:15   card 2"] {
        assert!(said.contains(wanted), "{wanted}: {said}");
    }
    let bytes =
        std::fs::read(desk.path("reprints/HB-20417/paper-revision-1.pdf")).unwrap();
    assert_eq!(attached_orders(&bytes)[0].1, corrected);
    // What the revision replaced does not come back, from wherever.
    desk.write("order.toml", &order_text(""));
    desk.refuses(
        &revise,
        &["order.toml is the order as it was: as before revision 1 of HB-20417"],
    );
    // Nor does a part of it, in a text that was corrected elsewhere.
    desk.write("order.toml", &order_text("").replace("06:30", "06:45"));
    desk.refuses(
        &revise,
        &[
            "brings `bedtime = 22:30` back, brings `weight = \"150 lb\"` back",
            "add --restore",
        ],
    );
    desk.write("order.toml", &order_text("").replace("22:30", "22:30:00"));
    desk.refuses(&revise, &["brings `bedtime = 22:30` back"]);
    let pdf = ["reprint", "kits/HB-20417/paper.pdf", "--reason", "x", "--revise"];
    desk.refuses(&pdf, &["as the ledger has it, revision 1"]);
    // Nor is anything lost that the revision added.
    desk.write(
        "order.toml",
        &order_text("").replace("150 lb", "172 lb").replace("22:30", "23:30"),
    );
    desk.refuses(&revise, &["lacks `name = \"Dr. Ada Quill\"`"]);
    // Unless the revision was the mistake.
    let said = desk.run(&[&revise[..], &["--restore"]].concat(), 0);
    assert!(said.contains("- name = \"Dr. Ada Quill\""), "{said}");
}

#[test]
fn a_corrected_order_keeps_the_day_that_was_chosen_for_it() {
    let desk = Desk::new();
    let asked =
        order_text("").replace("start = 2026-10-14", "start = \"first suitable\"");
    desk.write("order.toml", &asked.replace("150 lb", "170 lb"));
    let revise = ["reprint", "order.toml", "--reason", "weight", "--revise"];
    let said = desk.run(&revise, 0);
    assert!(!said.contains("what changed"), "the same drink by weight: {said}");
    let labels = desk.printed("reprints/HB-20417/labels-revision-1.pdf");
    assert!(labels.contains("14-Oct-2026"), "{labels}");
    // Another day in the file must suit, as one that is given by hand.
    let moved = order_text("").replace("150 lb", "170 lb").replace("10-14", "10-16");
    desk.write("order.toml", &moved);
    desk.refuses(&revise, &["the day 2026-10-16 does not suit"]);
}

#[test]
fn an_order_on_hold_was_never_printed_and_does_not_come_again() {
    let desk = Desk::new();
    let young = order_text("").replace("1984-03-09", "2008-12-01");
    std::fs::write(desk.path("young.toml"), young.replace("HB-20417", "HB-20418"))
        .unwrap();
    desk.run(&["make", "young.toml"], 1);
    let said = desk.run(&["relabel", "young.toml", "--reason", "x"], 1);
    assert!(said.contains("the order HB-20418 is not in the ledger"), "{said}");
}

#[test]
fn an_order_that_is_named_twice_is_one_order() {
    let desk = Desk::new();
    for what in ["HB-20417", "order.toml"] {
        for command in ["reprint", "relabel"] {
            let two = [command, what, "--order", "HB-20418", "--reason", "lost"];
            let wanted = format!("`{what}` is the order HB-20417, and not HB-20418");
            desk.refuses(&two, &[&wanted]);
            desk.run(&[command, what, "--order", "HB-20417", "--reason", "lost"], 0);
        }
    }
}

#[test]
fn without_a_ledger_the_number_must_be_given() {
    let desk = Desk::new();
    std::fs::write(desk.path("lab.toml"), common::LAB).unwrap();
    let pdf = "kits/HB-20417/labels.pdf";
    let said = desk.run(&["relabel", pdf, "--reason", "torn"], 1);
    assert!(said.contains("--number 1"), "{said}");
    let arguments = ["relabel", pdf, "--reason", "torn", "--number", "4"];
    let said = desk.run(&arguments, 0);
    assert!(said.contains("marked reprint 4"), "{said}");
    assert!(said.contains("remembered nowhere"), "{said}");
    assert!(Path::new(&desk.path("reprints/HB-20417/labels-reprint-4.pdf")).exists());
}

#[test]
fn without_a_ledger_a_pdf_must_be_what_its_order_makes_now() {
    let desk = Desk::new();
    // The zone moves no wall time, but the sheet names it; the day without post does.
    let lab = common::LAB.replace("holidays = \"us-federal\"", "closed = [2026-10-16]");
    desk.write("lab.toml", &lab);
    let pdf = "kits/HB-20417/paper.pdf";
    let said = desk.run(&["reprint", pdf, "--reason", "lost", "--number", "1"], 1);
    assert!(said.contains("not what its order makes now"), "{said}");
    desk.write("lab.toml", common::LAB);
    desk.run(&["reprint", pdf, "--reason", "lost", "--number", "1"], 0);
    let said = desk.run(&["reprint", "order.toml", "--reason", "x", "--number", "2"], 0);
    assert!(said.contains("nobody can tell"), "{said}");
}

#[test]
fn make_writes_over_no_kit_that_is_another() {
    let desk = Desk::with(common::LAB, &order_text(""));
    desk.run(&["make", "order.toml"], 0);
    let before = std::fs::read(desk.path("kits/HB-20417/labels.pdf")).unwrap();
    desk.run(&["make", "order.toml"], 0);
    let said = desk.run(&["make", "order.toml", "--stock", "letter-2x7"], 1);
    assert!(said.contains("is not what this order makes now"), "{said}");
    assert_eq!(std::fs::read(desk.path("kits/HB-20417/labels.pdf")).unwrap(), before);
}

#[test]
fn labels_that_do_not_fit_the_part_used_sheet_ask_for_a_fresh_one() {
    let desk = Desk::new();
    let all = ["relabel", "HB-20417", "--reason", "wet", "--start-at", "9"];
    let said = desk.run(&all, 0);
    assert!(
        said.contains("they do not fit from cell 9 on: load a fresh sheet"),
        "{said}"
    );
}

#[test]
fn nothing_is_printed_from_a_ledger_that_was_changed() {
    let desk = Desk::new();
    let file = rusqlite::Connection::open(desk.path("ledger.db")).unwrap();
    file.execute_batch(
        "DROP TRIGGER sealed_stays;
         UPDATE sealed SET order_text = replace(order_text, '22:30', '21:30'),
                           input_digest = ''",
    )
    .unwrap();
    drop(file);
    let wanted = ["entry 1: its sealed part is not the one", "nothing is printed again"];
    desk.refuses(&["relabel", "HB-20417", "--reason", "torn"], &wanted);
    desk.refuses(&["reprint", "HB-20417", "--reason", "lost"], &wanted);
    desk.refuses(&["reprint", "HB-20417", "--reason", "x", "--wake", "06:00"], &wanted);
    assert!(!desk.path("reprints").exists());
}

#[test]
fn a_new_day_must_keep_the_rules_of_a_day() {
    let limits = "[day]\nearliest = 2026-12-03\nlatest = 2027-03-20\n\
                  cards_expire = 2027-03-16\n";
    let text = order_text(limits).replace("2026-10-14", "2026-12-08");
    let desk = Desk::with(&lab_text(), &text);
    desk.run(&["make", "order.toml"], 0);
    let on = |date| {
        let moved = ["reprint", "HB-20417", "--reason", "she is away", "--start", date];
        [&moved[..], &["--today", "2026-11-26"]].concat()
    };
    desk.refuses(&on("2026-11-20"), &["is past: today is 2026-11-26", "earliest day"]);
    desk.refuses(&on("2026-11-26"), &["is today", "the provider's earliest day"]);
    desk.refuses(&on("2026-12-02"), &["2026-12-02 does not suit", "earliest day"]);
    desk.refuses(&on("2027-03-13"), &["the clocks go forward 60 minutes"]);
    desk.refuses(&on("2027-03-23"), &["after the provider's latest day", "they expire"]);
    let said = desk.run(&on("2026-12-15"), 0);
    assert!(said.contains("+   Tue 12-15 22:30   card 2, bedtime"), "{said}");

    // The cycle gives 6 December, day 21 of a cycle of 28 days, and no other.
    let cycle = "[cycle]\nfirst_day = 2026-11-16\nlength = 28\n";
    let text = order_text(cycle).replace("2026-10-14", "2026-12-06");
    let desk = Desk::with(&lab_text(), &text);
    desk.run(&["make", "order.toml"], 0);
    desk.refuses(&on("2026-12-15"), &["2026-12-15 does not suit"]);
}

#[test]
fn other_times_on_a_day_that_is_past_are_told() {
    let desk = Desk::new();
    let change = ["reprint", "HB-20417", "--reason", "late shift", "--bedtime"];
    let said = desk.run(&[&change[..], &["23:15", "--today", "2026-10-13"]].concat(), 0);
    assert!(!said.contains("note:"), "{said}");
    let said = desk.run(&[&change[..], &["23:30", "--today", "2026-10-14"]].concat(), 0);
    assert!(
        said.contains("the day of card 1, 2026-10-14, is today, and stays"),
        "{said}"
    );
    let said = desk.run(&[&change[..], &["23:45", "--today", "2026-10-15"]].concat(), 0);
    assert!(said.contains("the day of card 1, 2026-10-14, is past, and stays"), "{said}");
}

/// Dinner half an hour later is no dinner on the night before.
#[test]
fn a_dinner_that_moves_over_midnight_needs_its_day() {
    let routine = "lunch = 18:00\ndinner = 23:45\nbedtime = 03:00\nwake = 10:30\n";
    let text = order_text("");
    let (head, tail) = text.split_once("[routine]\n").unwrap();
    let rest = tail.find("\n[").map_or("", |at| &tail[at..]);
    let desk = Desk::with(&lab_text(), &format!("{head}[routine]\n{routine}{rest}"));
    desk.run(&["make", "order.toml"], 0);
    let later = [
        "reprint",
        "HB-20417",
        "--reason",
        "x",
        "--dinner",
        "00:15",
        "--today",
        "2026-10-01",
    ];
    desk.refuses(
        &later,
        &[
            "begins on 2026-10-14 at 00:15, not near 2026-10-14 at 23:45",
            "--start 2026-10-15 for the same night, or --start 2026-10-14",
        ],
    );
    let said = desk.run(&[&later[..], &["--start", "2026-10-15"]].concat(), 0);
    assert!(said.contains("+ dinner = 00:15"), "{said}");
}

#[test]
fn who_cleared_a_hold_cleared_it_for_what_was_known() {
    let young = order_text(
        "[[cleared]]\nhold = \"under-18\"\nby = \"R. Adeyemi, RN\"\non = 2026-10-01\n",
    );
    let desk = Desk::with(&lab_text(), &young.replace("1984-03-09", "2009-05-05"));
    desk.run(&["make", "order.toml"], 0);
    let reprint = ["reprint", "HB-20417", "--reason", "slip"];
    desk.refuses(
        &[&reprint[..], &["--born", "2020-05-05"]].concat(),
        &["R. Adeyemi, RN cleared the hold under-18 for the birth date as it was"],
    );
    desk.run(&[&reprint[..], &["--weight", "82 kg"]].concat(), 0);
}

#[test]
fn a_day_that_the_program_chose_is_no_longer_its_own_when_it_is_moved() {
    let text = order_text("").replace("2026-10-14", "\"first suitable\"");
    let desk = Desk::with(&lab_text(), &text);
    desk.run(&["make", "order.toml", "--today", "2026-11-26"], 0);
    let moved = ["reprint", "HB-20417", "--reason", "away", "--start", "2026-12-08"];
    let said = desk.run(&[&moved[..], &["--today", "2026-11-26"]].concat(), 0);
    // It says so of the day before, and no longer of this one.
    assert_eq!(said.matches("chosen by the program").count(), 1, "{said}");
    assert!(said.contains("-   info              day-chosen"), "{said}");
    let bytes = std::fs::read(desk.path("reprints/HB-20417/paper-revision-1.pdf"));
    let attached = attached_orders(&bytes.unwrap());
    assert!(!attached[0].1.contains("first_suitable_from"), "{attached:?}");
}

/// The protocol with `from` changed, under the name and version it had.
fn edited_protocol(from: &str, to: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates/protocols");
    let text = std::fs::read_to_string(path.join("four-card.toml")).unwrap();
    let edited = text.replacen(from, to, 1);
    assert_ne!(text, edited);
    edited
}

#[test]
fn a_protocol_edited_under_its_old_version_makes_no_reprint() {
    let desk = Desk::new();
    let later = edited_protocol("offset_minutes = 120", "offset_minutes = 150");
    desk.write("own.toml", &later);
    let own = ["--protocol", "own.toml"];
    let wanted = [
        "the kit HB-20417 was made from another plan than its order comes to now",
        "what differs is not known",
        "2026f then, 2026f now",
        "with the text it had",
        "--revise",
    ];
    let reprint = ["reprint", "HB-20417", "--reason", "lost"];
    let relabel = ["relabel", "HB-20417-31", "--reason", "torn"];
    desk.refuses(&[&reprint[..], &own].concat(), &wanted);
    desk.refuses(&[&relabel[..], &own].concat(), &wanted);
    // The same order once more, without a mark, would be worse.
    desk.refuses(&["make", "order.toml", "--protocol", "own.toml"], &wanted);
    // As a revision it can be given to the patient, and only once.
    let revise = [&reprint[..], &own, &["--revise"]].concat();
    let said = desk.run(&revise, 0);
    assert!(said.contains("its times before are not known"), "{said}");
    desk.refuses(&revise, &["nothing is revised"]);
    desk.refuses(&reprint, &wanted[..1]);
    desk.run(&[&reprint[..], &own].concat(), 0);
    let printed = desk.printed("reprints/HB-20417/paper-reprint-1.pdf");
    assert!(printed.contains("Revision1,Reprint1."), "{printed}");
    assert!(printed.contains("9:00am"), "card 4, 150 minutes after 6:30: {printed}");
    desk.run(&["ledger", "check"], 0);
}

/// A newer copy with a mark is about, so one without would be taken for the first.
#[test]
fn after_a_reprint_nothing_is_made_again_without_a_mark() {
    for again in [
        ["reprint", "HB-20417", "--reason", "lost"],
        ["relabel", "HB-20417-23", "--reason", "torn"],
    ] {
        let desk = Desk::new();
        desk.run(&["make", "order.toml", "--out", "second"], 0);
        desk.run(&again, 0);
        desk.refuses(
            &["make", "order.toml", "--out", "third"],
            &["so a copy without one is void", "kitwright reprint HB-20417"],
        );
        assert!(!desk.path("third").exists());
    }
}

#[test]
fn a_reprint_is_proven_as_the_reprint_that_it_is() {
    let desk = Desk::new();
    desk.run(&["reprint", "HB-20417", "--reason", "lost"], 0);
    let pdf = "reprints/HB-20417/paper-reprint-1.pdf";
    desk.run(&["proof", "order.toml", pdf, "--reprint", "1"], 0);
    desk.refuses(
        &["proof", "order.toml", pdf],
        &["which nobody planned", "\"Reprint 1\" is compared with"],
    );
    let fourth = ["relabel", "HB-20417", "--reason", "torn", "--start-at", "5"];
    desk.run(&fourth, 0);
    let labels = "reprints/HB-20417/labels-reprint-1.pdf";
    let proof = ["proof", "order.toml", labels, "--reprint", "1"];
    desk.refuses(&proof, &["labels"]);
    desk.run(&[&proof[..], &["--start-at", "5"]].concat(), 0);
    desk.refuses(&["proof", "order.toml", pdf, "--reprint", "2"], &["Reprint 2"]);
}

/// What the cards are called stands on the sheet and on each label.
#[test]
fn other_titles_of_cards_make_no_reprint() {
    let desk = Desk::new();
    desk.write("own.toml", &edited_protocol("en = \"Bedtime\"", "en = \"At noon\""));
    for again in ["reprint", "relabel"] {
        desk.refuses(
            &[again, "HB-20417", "--reason", "lost", "--protocol", "own.toml"],
            &["was made from another plan"],
        );
    }
}

/// Who corrects a weight does not mean to change the protocol.
#[test]
fn a_correction_by_another_protocol_must_be_asked_for() {
    let desk = Desk::with(&lab_text(), &order_text(""));
    desk.write("own.toml", &edited_protocol("version     = \"1\"", "version = \"2\""));
    desk.run(&["make", "order.toml", "--protocol", "own.toml"], 0);
    let weight = ["reprint", "HB-20417", "--reason", "weight", "--weight", "165 lb"];
    desk.refuses(
        &weight,
        &["was made by the protocol four-card 2, and this is four-card 1"],
    );
    desk.run(&[&weight[..], &["--revise"]].concat(), 0);
    desk.run(&[&weight[..], &["--dinner", "18:00"]].concat(), 0);
}

/// From an export an order is corrected by its row.
#[test]
fn a_mended_row_of_an_export_makes_a_revision() {
    let row = |weight: &str| {
        format!(
            "order,family,given,born,fluid_limit,protocol,start,zone,weight\nHB-20417,Okonkwo,\
             Marisol,1984-03-09,no,four-card,2026-10-14,America/Denver,{weight}\nHB-20418,\
             Quill,Ada,1980-01-01,no,four-card,2026-10-14,America/Denver,140 lb\n"
        )
    };
    let desk = Desk::with(&lab_text(), "");
    std::fs::remove_file(desk.path("order.toml")).unwrap();
    desk.write("orders.csv", &row("150 lb"));
    desk.run(&["make", "orders.csv"], 0);
    desk.write("orders.csv", &row("190 lb"));
    let told = "kitwright reprint orders.csv --order HB-20417 --reason";
    desk.refuses(&["make", "orders.csv"], &[told]);
    let revise = ["reprint", "orders.csv", "--order", "HB-20417", "--reason", "weight"];
    desk.refuses(&revise, &[told]);
    let said = desk.run(&[&revise[..], &["--revise"]].concat(), 0);
    assert!(said.contains("+ weight = \"190 lb\""), "{said}");
    let without = ["reprint", "orders.csv", "--reason", "weight", "--revise"];
    desk.refuses(&without, &["carries 2 orders", "--order HB-20417"]);
}

/// The table by weight stands on the paper of somebody without a weight, too.
#[test]
fn other_amounts_to_drink_make_no_reprint() {
    let text = order_text("").replace("weight = \"150 lb\"\n", "");
    let desk = Desk::with(&lab_text(), &text);
    desk.run(&["make", "order.toml"], 0);
    for (from, to) in [
        ("cups_per_100_lb = 1.0", "cups_per_100_lb = 3.0"),
        ("highest_lb = 400", "highest_lb = 300"),
    ] {
        desk.write("own.toml", &edited_protocol(from, to));
        desk.refuses(
            &["reprint", "HB-20417", "--reason", "lost", "--protocol", "own.toml"],
            &["was made from another plan"],
        );
    }
}

#[test]
fn a_laboratorys_file_that_changes_the_paper_makes_no_reprint() {
    let desk = Desk::new();
    let reprint = ["reprint", "HB-20417", "--reason", "lost"];
    let relabel = ["relabel", "HB-20417", "--reason", "torn"];
    for line in ["language = \"es\"", "paper = \"a4\"", "clock = \"24h\""] {
        desk.write("lab.toml", &format!("{line}\n{}", lab_text()));
        let wanted = ["was made from another plan", "with another text"];
        desk.refuses(&reprint, &wanted);
        desk.refuses(&relabel, &wanted);
    }
    // Another telephone is not another plan.
    desk.write("lab.toml", &lab_text().replace("555-0100", "555-0199"));
    let said = desk.run(&reprint, 0);
    assert!(said.contains("note: lab.toml has changed since"), "{said}");
    // Another laboratory is, though all times are the same.
    desk.write("lab.toml", &lab_text().replace("Harbor Bend Lab", "Quillon Lab"));
    let wanted = ["made by a laboratory of another name than Quillon Laboratory"];
    desk.refuses(&reprint, &wanted);
    desk.refuses(&relabel, &wanted);
    desk.refuses(&[&reprint[..], &["--bedtime", "23:15"]].concat(), &wanted);
    desk.run(&[&reprint[..], &["--bedtime", "23:15", "--revise"]].concat(), 0);
}

#[test]
fn an_entry_of_an_earlier_program_is_printed_with_a_note() {
    let desk = Desk::with(&lab_text(), &order_text(""));
    let mut shop =
        Workshop::new(Some(desk.path("lab.toml")), None, common::today()).unwrap();
    let order = common::source(&order_text(""));
    let planned =
        shop.plan(&order, Path::new("")).unwrap_or_else(|f| panic!("{}", f[0].plain()));
    let (lab, stock) = (&planned.lab.lab, "letter-2x5");
    let kit = NewKit::of(
        &planned.order,
        &planned.plan,
        &planned.protocol,
        lab,
        stock,
        Vec::new(),
    );
    let stamp = Stamp::new("2026-09-01T10:00:00Z".parse().unwrap(), "R. Adeyemi");
    let mut ledger = Ledger::open(&desk.path("ledger.db")).unwrap();
    ledger.record_kits(&stamp, &[kit], Again::Refuse).unwrap();
    drop(ledger);
    let said = desk.run(&["reprint", "HB-20417", "--reason", "lost"], 0);
    assert!(said.contains("does not say what it was planned by"), "{said}");
}

#[test]
fn labels_of_an_order_on_hold_or_without_letters_are_not_made() {
    let young = order_text("").replace("1984-03-09", "2010-12-01");
    let desk = Desk::with(common::LAB, &young);
    let relabel = ["relabel", "order.toml", "--reason", "torn", "--number", "1"];
    let said = desk.run(&relabel, 1);
    assert!(said.contains("the order HB-20417 is on hold"), "{said}");
    desk.write("order.toml", &order_text("").replace("Marisol", "\u{738B}"));
    let said = desk.run(&relabel, 1);
    assert!(said.contains("no font has the character"), "{said}");
    assert!(!desk.path("reprints").exists());
}

#[test]
fn a_day_is_never_chosen_anew_for_a_kit_that_is_out() {
    let text = order_text("").replace("2026-10-14", "\"first suitable\"");
    let desk = Desk::with(&lab_text(), &text);
    desk.run(&["make", "order.toml", "--today", "2026-11-26"], 0);
    let relabel = ["relabel", "order.toml", "--reason", "torn"];
    let reprint = ["reprint", "order.toml", "--reason", "lost"];
    let wanted = ["the order asks for the first suitable day", "order number HB-20417"];
    desk.refuses(&relabel, &wanted);
    desk.refuses(&reprint, &wanted);
    // Nor in another folder.
    desk.refuses(
        &["make", "order.toml", "--out", "other", "--today", "2026-12-28"],
        &["got its first suitable day", "kitwright reprint HB-20417 --reason"],
    );
    desk.run(&["reprint", "kits/HB-20417/paper.pdf", "--reason", "lost"], 0);
    // Without a ledger there is the PDF.
    desk.write("lab.toml", common::LAB);
    let number = ["--number", "1", "--out", "more"];
    desk.refuses(&[&relabel[..], &number].concat(), &wanted);
    desk.refuses(&[&reprint[..], &number].concat(), &wanted);
    let pdf = ["relabel", "kits/HB-20417/paper.pdf", "--reason", "torn"];
    desk.run(&[&pdf[..], &number].concat(), 0);
}

#[test]
fn the_ledger_is_looked_for_beside_the_order_first() {
    let desk = Desk::with(common::LAB, &order_text(""));
    desk.write("clinic/lab.toml", &lab_text());
    desk.write("clinic/order.toml", &order_text(""));
    desk.run(&["make", "clinic/order.toml"], 0);
    let relabel = ["relabel", "clinic/order.toml", "--reason", "torn"];
    desk.run(&relabel, 0);
    let trail = desk.run(&["history", "HB-20417", "--lab", "clinic/lab.toml"], 0);
    assert!(trail.contains("reprint 1"), "{trail}");
    // A ledger counts by itself.
    let numbered = [&relabel[..], &["--number", "7"]].concat();
    let said = desk.run(&numbered, 1);
    assert!(said.contains("--number 7 is given, and clinic/ledger.db counts"), "{said}");
    // A file that cannot be read may name one.
    desk.write("clinic/lab.toml", &format!("{}colour = 1\n", lab_text()));
    let said = desk.run(&numbered, 1);
    assert!(said.contains("clinic/lab.toml"), "{said}");
    assert_eq!(std::fs::read_dir(desk.path("reprints/HB-20417")).unwrap().count(), 1);
    // Where there is none beside the order, the one in this folder names it.
    let desk = Desk::new();
    desk.write("clinic/order.toml", &order_text(""));
    desk.write("clinic/lab.toml", common::LAB);
    desk.run(&relabel, 0);
    assert_eq!(desk.entries().len(), 2);
}

#[test]
fn marks_of_single_cards_and_of_all_never_meet_in_one_file() {
    let desk = Desk::new();
    desk.run(&["relabel", "HB-20417-31", "--reason", "torn"], 0);
    desk.run(&["relabel", "HB-20417", "--card", "spare", "--reason", "torn"], 0);
    let said = desk.run(&["relabel", "HB-20417", "--reason", "all wet"], 0);
    assert!(said.contains("marked reprint 2"), "{said}");
    let mut names: Vec<String> = std::fs::read_dir(desk.path("reprints/HB-20417"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    let wanted = [
        "label-card-3-reprint-1.pdf",
        "label-spare-reprint-1.pdf",
        "labels-reprint-2.pdf",
    ];
    assert_eq!(names, wanted);
}

#[test]
fn what_is_recorded_is_what_was_used() {
    let desk = Desk::with(&lab_text(), &order_text(""));
    desk.run(&["make", "order.toml", "--stock", "letter-2x7"], 0);
    let changed = lab_text().replace("555-0100", "555-0199");
    desk.write("lab.toml", &changed);
    let relabel = ["relabel", "HB-20417-31", "--reason", "torn"];
    let said = desk.run(&relabel, 0);
    assert!(said.contains("on letter-2x7, marked reprint 1"), "{said}");
    let said = desk.run(&[&relabel[..], &["--stock", "letter-3x10"]].concat(), 0);
    assert!(said.contains("on letter-3x10, marked reprint 2"), "{said}");
    // Paper is on no stock, so one that does not fit stops no paper.
    let stocked = format!("stock = \"none-such\"\n{changed}");
    desk.write("lab.toml", &stocked);
    desk.run(&["reprint", "HB-20417", "--reason", "lost"], 0);
    desk.run(&relabel, 0);
    let used: Vec<(String, String)> =
        desk.entries().into_iter().map(|entry| (entry.stock, entry.lab_digest)).collect();
    let entry = |stock: &str, lab: &str| (stock.to_owned(), digest(lab.as_bytes()));
    let wanted = [
        entry("letter-2x7", &lab_text()),
        entry("letter-2x7", &changed),
        entry("letter-3x10", &changed),
        entry("", &stocked),
        entry("letter-2x7", &stocked),
    ];
    assert_eq!(used, wanted);
}

#[test]
fn a_stock_of_the_laboratorys_own_that_is_not_named_again_is_told() {
    let desk = Desk::with(&lab_text(), &order_text(""));
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates/stock");
    let text = std::fs::read_to_string(path.join("letter-2x7.toml")).unwrap();
    desk.write("own.toml", &text.replace("\"letter-2x7\"", "\"drawer-9\""));
    desk.run(&["make", "order.toml", "--stock", "own.toml"], 0);
    let relabel = ["relabel", "HB-20417-31", "--reason", "torn"];
    let said = desk.run(&relabel, 0);
    assert!(said.contains("were on drawer-9, which is not built in"), "{said}");
    let said = desk.run(&[&relabel[..], &["--stock", "own.toml"]].concat(), 0);
    assert!(said.contains("on drawer-9, marked reprint 2"), "{said}");
    assert!(!said.contains("note:"), "{said}");
}

#[test]
fn a_revision_has_a_packing_slip_and_tells_its_warnings() {
    let desk = Desk::new();
    let change = ["reprint", "HB-20417", "--reason", "early shift", "--bedtime", "18:30"];
    let said = desk.run(&change, 0);
    assert!(said.contains("warning: short-interval: bedtime comes 75 minutes"), "{said}");
    let slip = desk.printed("reprints/HB-20417/packing-revision-1.pdf");
    assert!(slip.contains("HB-20417-23"), "{slip}");
    let entries = desk.entries();
    let files: Vec<String> = entries[1]
        .sealed
        .as_ref()
        .unwrap()
        .documents()
        .into_iter()
        .filter(|document| document.is_file())
        .map(|document| document.name)
        .collect();
    let wanted =
        ["paper-revision-1.pdf", "labels-revision-1.pdf", "packing-revision-1.pdf"];
    assert_eq!(files, wanted);
}

#[test]
fn a_revision_that_is_made_again_bears_its_mark() {
    let desk = Desk::new();
    desk.run(&["reprint", "HB-20417", "--reason", "late", "--bedtime", "23:15"], 0);
    desk.write("order.toml", &order_text("").replace("22:30", "23:15"));
    // The first kit, without a mark, is not written over.
    desk.refuses(&["make", "order.toml"], &["is of another text of this order"]);
    desk.run(&["make", "order.toml", "--out", "second"], 0);
    let printed = desk.printed("second/HB-20417/paper.pdf");
    assert_eq!(printed.matches("Revision1.").count(), 5, "{printed}");
    let labels = desk.printed("second/HB-20417/labels.pdf");
    assert_eq!(labels.matches("Revision1").count(), 5, "{labels}");
}

#[test]
fn each_laboratory_has_its_own_ledger() {
    let desk = Desk::with(common::LAB, &order_text(""));
    for (folder, number) in [("a", "HB-20417"), ("b", "HB-20418")] {
        let text = order_text("").replace("HB-20417", number);
        desk.write(&format!("{folder}/order.toml"), &text);
        desk.write(&format!("{folder}/lab.toml"), &lab_text());
    }
    desk.run(&["make", "a", "b"], 0);
    for (folder, own, other) in
        [("a", "HB-20417", "HB-20418"), ("b", "HB-20418", "HB-20417")]
    {
        let lab = format!("{folder}/lab.toml");
        desk.run(&["history", own, "--lab", &lab], 0);
        desk.run(&["history", other, "--lab", &lab], 1);
    }
}

#[test]
fn a_kit_of_another_text_is_not_written_over() {
    let desk = Desk::with(common::LAB, &order_text(""));
    desk.run(&["make", "order.toml"], 0);
    let before = std::fs::read(desk.path("kits/HB-20417/paper.pdf")).unwrap();
    desk.write("order.toml", &order_text("").replace("22:30", "23:15"));
    let said = desk.run(&["make", "order.toml"], 1);
    assert!(said.contains("paper.pdf is of another text of this order"), "{said}");
    assert!(said.contains("move kits/HB-20417 away"), "{said}");
    assert_eq!(std::fs::read(desk.path("kits/HB-20417/paper.pdf")).unwrap(), before);
    // The same text once more gives the file, as it always did.
    desk.write("order.toml", &order_text(""));
    desk.run(&["make", "order.toml"], 0);
}

#[test]
fn an_alignment_page_and_a_manifest_write_over_nothing() {
    let desk = Desk::with(common::LAB, &order_text(""));
    let ruler = ["stock", "letter-2x5", "--ruler", "page.pdf"];
    desk.run(&ruler, 0);
    assert!(desk.run(&ruler, 3).contains("page.pdf: it is there already"));
    desk.run(&["run", "order.toml", "--out", "tray"], 0);
    let manifest = ["manifest", "tray", "--out", "all.csv"];
    desk.run(&manifest, 0);
    assert!(desk.run(&manifest, 3).contains("all.csv: it is there already"));
}

#[test]
fn the_longest_foot_has_room_for_the_marks_of_a_revision_and_a_reprint() {
    let order =
        common::order_set("language = \"es\"\npaper = \"a4\"\nstock = \"roll-102x51\"")
            .replace("America/Denver", "America/Argentina/Buenos_Aires")
            .replace(
                "Okonkwo-Reyes",
                "Fitzwilliam-Ängström-Vasconcelos y Hernández-Quiñones",
            );
    let desk = Desk::with(&lab_text(), &order);
    desk.run(&["make", "order.toml"], 0);
    for more in [&[][..], &["--bedtime", "23:15"], &[]] {
        let command = ["reprint", "HB-20417", "--reason", "sheet lost"];
        desk.run(&[&command, more].concat(), 0);
    }
}

/// Whoever is refused says so, and has recorded and written nothing.
#[track_caller]
fn refused(said: &[(Option<i32>, String)]) -> usize {
    let refused: Vec<&String> =
        said.iter().filter(|(code, _)| *code == Some(1)).map(|(_, said)| said).collect();
    for said in &refused {
        assert!(said.contains("the order HB-20417 was changed meanwhile"), "{said}");
        assert!(said.contains("give the command again"), "{said}");
    }
    let done = said.iter().filter(|(code, _)| *code == Some(0)).count();
    assert_eq!(refused.len() + done, said.len(), "{said:?}");
    refused.len()
}

#[test]
fn of_two_revisions_at_once_none_is_lost() {
    let desk = Desk::new();
    let bed = ["reprint", "HB-20417", "--reason", "late shift", "--bedtime", "23:45"];
    let wake = ["reprint", "HB-20417", "--reason", "wakes later", "--wake", "07:10"];
    let said = desk.run_at_once(&[&bed, &wake]);
    let refused = refused(&said);
    let entries = desk.entries();
    assert_eq!(entries.len(), 1 + 2 - refused);
    let text = entries.last().unwrap().sealed.as_ref().unwrap().order_text.clone();
    let has = [text.contains("23:45"), text.contains("07:10")];
    // Each that was told "done" is in the newest text.
    for (index, has) in has.into_iter().enumerate() {
        assert_eq!(has, said[index].0 == Some(0), "{text} {said:?}");
    }
    let files = std::fs::read_dir(desk.path("reprints/HB-20417")).unwrap().count();
    assert_eq!(files, 3 * (2 - refused), "nothing of the one refused is there");
}

#[test]
fn no_stale_sheet_or_label_comes_after_a_revision() {
    let desk = Desk::new();
    let revise = ["reprint", "HB-20417", "--reason", "late shift", "--bedtime", "23:45"];
    let sheet = ["reprint", "HB-20417", "--reason", "sheet lost"];
    let labels = ["relabel", "HB-20417", "--reason", "labels torn"];
    let said = desk.run_at_once(&[&revise, &sheet, &labels]);
    let refused = refused(&said);
    assert_eq!(said[0].0, Some(0), "other papers are no reason against: {said:?}");
    let entries = desk.entries();
    assert_eq!(entries.len(), 1 + 3 - refused);
    let revised = entries.iter().position(|entry| entry.kind == Kind::Revised).unwrap();
    let is_new = |name: &str| desk.printed(name).contains("11:45pm");
    for (kind, name, index) in [
        (Kind::Reprinted, "reprints/HB-20417/paper-reprint-1.pdf", 1),
        (Kind::Relabelled, "reprints/HB-20417/labels-reprint-1.pdf", 2),
    ] {
        match entries.iter().position(|entry| entry.kind == kind) {
            Some(at) => assert_eq!(is_new(name), at > revised, "{name}"),
            None => {
                assert_eq!(said[index].0, Some(1), "{name}");
                assert!(!desk.path(name).exists(), "{name}");
            }
        }
    }
}
