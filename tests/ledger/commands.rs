//! `find`, `history` and `ledger` as a user runs them.

use std::path::Path;
use std::process::{Command, Output};

use kitwright::ledger::{Ledger, by_whom, ledger_file};

use super::desk::Desk;

fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_kitwright"))
}

fn run(folder: &Path, arguments: &[&str]) -> Output {
    program().current_dir(folder).args(arguments).output().unwrap()
}

#[track_caller]
fn says(output: &Output, code: i32, text: &str) {
    let out = String::from_utf8_lossy(&output.stdout).into_owned();
    let said = out + &String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{said}");
    assert!(said.contains(text), "{said}");
}

#[test]
fn find_prints_a_line_for_each_kit() {
    let desk = Desk::busy();
    let found = run(desk.folder.path(), &["find", "nunez", "--ledger", "ledger.db"]);
    says(&found, 0, "");
    assert_eq!(
        String::from_utf8_lossy(&found.stdout),
        "HB-20418              NÚÑEZ, Marisol, born 1984-03-09, made 2026-11-25T14:00:00Z, \
         revision 1, sheet reprint 1, label reprint 2\n"
    );
    let folder = desk.folder.path();
    let code = run(folder, &["find", "hb-20417-15", "--ledger", "ledger.db"]);
    says(&code, 0, "made again 1 (the code of slot 1)");
    let wrong = run(folder, &["find", "HB-20417-1X", "--ledger", "ledger.db"]);
    says(&wrong, 1, "is not a code: the check character is wrong");
    let none = run(folder, &["find", "Quill", "--ledger", "ledger.db"]);
    says(&none, 1, "nothing in the ledger fits `Quill`");
}

#[test]
fn history_tells_the_trail_newest_last() {
    let desk = Desk::busy();
    let folder = desk.folder.path();
    let trail = run(folder, &["history", "hb-20418", "--ledger", "ledger.db"]);
    says(&trail, 0, "");
    let text = String::from_utf8_lossy(&trail.stdout).into_owned();
    let lines: Vec<&str> = text.lines().collect();
    for (line, part) in [
        (
            0,
            "2026-11-25T14:00:00Z  Made by R. Adeyemi in the run autumn, part 1, protocol",
        ),
        (1, "Labels of slots 1, 2, 3, 4, 5 made again by R. Adeyemi, reprint 1"),
        (2, "Labels of slot 2 made again by R. Adeyemi, reprint 2"),
        (3, "Sheet made again by R. Adeyemi, reprint 1"),
        (3, "because: the sheet of Ms Núñez got wet, 1 document. (entry 8, "),
        (4, "2026-11-25T14:00:05Z  Changed by R. Adeyemi, revision 1"),
    ] {
        assert!(lines[line].contains(part), "{text}");
    }
    assert_eq!(lines.len(), 5);
    let by_code = run(folder, &["history", "HB-20418-1A", "--ledger", "ledger.db"]);
    says(&by_code, 1, "order HB-20418-1A is not in the ledger");
    let code = kitwright::specimen::code("HB-20418", 1);
    says(&run(folder, &["history", &code, "--ledger", "ledger.db"]), 0, "Made by");
}

#[test]
fn ledger_check_prints_the_head_and_takes_one() {
    let desk = Desk::busy();
    let folder = desk.folder.path();
    let head = desk.ledger.head().unwrap().unwrap().short().to_string();
    let checked = run(folder, &["ledger", "check", "--ledger", "ledger.db"]);
    says(&checked, 0, &format!("9 entries checked, 0 forgotten\nhead: {head}\n"));
    let with = ["ledger", "check", "--ledger", "ledger.db", "--head", &head];
    says(&run(folder, &with), 0, &format!("the printed head {head} is in it"));
    let with =
        ["ledger", "check", "--ledger", "ledger.db", "--head", "12 0000 0000 0000 0000"];
    says(&run(folder, &with), 1, "is not in the ledger, which ends at 9");
    let with = ["ledger", "check", "--ledger", "ledger.db", "--head", "12"];
    says(&run(folder, &with), 2, "is not a head of a ledger");
}

#[test]
fn ledger_forget_needs_somebody_to_say_yes() {
    let desk = Desk::busy();
    let folder = desk.folder.path();
    let args = [
        "ledger",
        "forget",
        "--older-than",
        "365",
        "--ledger",
        "ledger.db",
        "--now",
        "2027-11-26T14:00:00Z",
        "--by",
        "R. Adeyemi",
    ];
    let unasked = run(folder, &args);
    says(
        &unasked,
        1,
        "nobody was there to answer: forget 2 orders (9 entries) with no entry since 2026-11-26?",
    );
    says(&run(folder, &["find", "nunez", "--ledger", "ledger.db"]), 0, "HB-20418");
    let yes = run(folder, &[&args[..], &["--yes"]].concat());
    says(&yes, 0, "forgot 2 orders (9 entries)");
    says(&run(folder, &["find", "nunez", "--ledger", "ledger.db"]), 1, "nothing");
    says(&run(folder, &["find", "HB-20418", "--ledger", "ledger.db"]), 0, "forgotten");
    let trail = run(folder, &["history", "HB-20418", "--ledger", "ledger.db"]);
    says(&trail, 0, "person forgotten. (entry 2, ");
    let checked = run(folder, &["ledger", "check", "--ledger", "ledger.db"]);
    says(&checked, 0, "10 entries checked, 9 forgotten");
}

#[test]
fn one_order_is_forgotten_by_its_number_and_only_by_one_of_the_two_ways() {
    let desk = Desk::busy();
    let folder = desk.folder.path();
    let forget = ["ledger", "forget", "--ledger", "ledger.db"];
    let with = |more: &[&'static str]| run(folder, &[&forget[..], more].concat());
    says(&with(&["--order", "HB-20418"]), 1, "of the number HB-20418?");
    says(&with(&["--order", "HB-99999", "--yes"]), 1, "HB-99999 is not in the ledger");
    says(&with(&["--order", "HB-20418", "--yes"]), 0, "forgot 1 order (");
    says(&with(&["--order", "HB-20418", "--older-than", "3"]), 2, "cannot be used with");
    says(&with(&["--yes"]), 2, "--older-than <DAYS>");
    says(&run(folder, &["find", "HB-20418", "--ledger", "ledger.db"]), 0, "forgotten");
    says(&run(folder, &["find", "okonkwo", "--ledger", "ledger.db"]), 0, "HB-20417");
}

#[test]
fn the_laboratorys_file_can_name_the_ledger() {
    let desk = Desk::busy();
    let folder = desk.folder.path();
    let find = ["find", "HB-20417"];
    let none = run(folder, &find);
    says(&none, 1, "no ledger is named, and there is no lab.toml in this folder");
    says(&none, 1, "ledger = \"ledger.db\" in lab.toml");
    let lab = "name = \"Harbor Bend Laboratory\"\naddress = [\"12 Quay Street\"]\n\
               phone = \"555-0100\"\nhours = \"8 to 5\"\n";
    std::fs::write(folder.join("lab.toml"), lab).unwrap();
    says(&run(folder, &find), 1, "lab.toml names no ledger");
    std::fs::write(folder.join("lab.toml"), format!("{lab}ledger = \"ledger.db\"\n"))
        .unwrap();
    says(&run(folder, &find), 0, "HB-20417");
    let elsewhere = tempfile::tempdir().unwrap();
    let lab_file = folder.join("lab.toml");
    let named = [&find[..], &["--lab", lab_file.to_str().unwrap()]].concat();
    says(&run(elsewhere.path(), &named), 0, "HB-20417");
    assert_eq!(ledger_file(None, Some(&lab_file)).unwrap(), folder.join("ledger.db"));
    for wrong in ["ledger = \"\"", "ledger = \"x/\"", "ledger = 3"] {
        std::fs::write(folder.join("lab.toml"), format!("{lab}{wrong}\n")).unwrap();
        says(&run(folder, &find), 1, "ledger");
    }
}

#[test]
fn a_ledger_that_is_not_there_is_unusable() {
    let folder = tempfile::tempdir().unwrap();
    for command in [&["find", "x"][..], &["history", "HB-1000"], &["ledger", "check"]] {
        let args = [command, &["--ledger", "none.db"]].concat();
        says(&run(folder.path(), &args), 3, "cannot read the ledger none.db");
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn who_is_the_name_given_or_the_user() {
    assert_eq!(by_whom(Some("R. Adeyemi, RN")), "R. Adeyemi, RN");
    assert!(!by_whom(None).is_empty());
}

/// Root may write to what is read-only, so the program is run as nobody.
#[cfg(target_os = "linux")]
#[test]
fn a_ledger_that_may_only_be_read_is_not_recorded_in() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;
    let desk = Desk::busy();
    let Desk { ledger, path, folder } = desk;
    drop(ledger);
    let set = |path: &Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    };
    let is_root = std::fs::metadata(folder.path()).unwrap().uid() == 0;
    let as_nobody = |arguments: &[&str]| {
        let mut command = program();
        command.args(arguments).args(["--ledger", path.to_str().unwrap()]);
        if is_root {
            command.uid(65_534).gid(65_534);
        }
        command.current_dir("/").output()
    };
    set(folder.path(), 0o755);
    set(&path, 0o400);
    if is_root {
        // The program itself may lie where nobody may not run it.
        match as_nobody(&["find", "HB-20417"]) {
            Ok(output) => says(&output, 3, "cannot read the ledger"),
            Err(_) => return,
        }
    }
    set(&path, 0o444);
    set(folder.path(), 0o555);
    let read = as_nobody(&["find", "HB-20417"]).unwrap();
    says(&read, 3, "a reader, too, puts two files beside the ledger");
    set(folder.path(), 0o777);
    let forget = ["ledger", "forget", "--older-than", "1", "--yes"];
    says(&as_nobody(&forget).unwrap(), 3, "it is read-only");
    set(&path, 0o600);
    assert_eq!(Ledger::open(&path).unwrap().check(None).unwrap().entries, 9);
}
