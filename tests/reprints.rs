//! Labels and sheets printed again: the same code, a mark of their own, and
//! never without a reason.

mod common;

use std::path::{Path, PathBuf};
use std::process::Output;

use assert_cmd::Command;
use common::order_text;
use kitwright::proof::{attached_orders, read};
use tempfile::TempDir;

/// A laboratory with a ledger, one order, and its kit, made.
struct Desk {
    folder: TempDir,
}

impl Desk {
    fn new() -> Self {
        let desk = Self { folder: tempfile::tempdir().unwrap() };
        let lab = format!("ledger = \"ledger.db\"\n{}", common::LAB);
        std::fs::write(desk.path("lab.toml"), lab).unwrap();
        std::fs::write(desk.path("order.toml"), order_text("")).unwrap();
        desk.run(&["make", "order.toml"], 0);
        desk
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
            desk.printed(&format!("reprints/HB-20417/labels-reprint-{number}.pdf"));
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
    let bytes = std::fs::read(desk.path("reprints/HB-20417/labels-reprint-1.pdf"));
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
    let said = desk.run(&["reprint", "HB-20417", "--reason", "again"], 3);
    assert!(said.contains("it is there already"), "{said}");
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
    assert!(printed.contains("Yourtimeshavechanged."), "{printed}");
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
