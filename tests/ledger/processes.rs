//! Several processes and threads that record at once.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use kitwright::ledger::{Again, Kind, Ledger, What};

use super::desk::{Desk, kit, reprint, stamp};

const FILE: &str = "KITWRIGHT_TEST_LEDGER";
const NAME: &str = "KITWRIGHT_TEST_NAME";
const KITS: u32 = 40;

/// What another process does: this test program once more, with this test alone.
#[test]
#[ignore = "run by the other tests of this file, with a ledger in the environment"]
fn another_process_records_kits_one_by_one() {
    let (Ok(file), Ok(name)) = (std::env::var(FILE), std::env::var(NAME)) else { return };
    let mut ledger = Ledger::open(Path::new(&file)).unwrap();
    for part in 1..=KITS {
        let part_stamp = stamp(0).in_run(&name, part);
        let order = format!("{name}-{part:04}");
        let new = kit(&order, "Okonkwo-Reyes");
        ledger.record_kits(&part_stamp, &[new], Again::Refuse).unwrap();
        let sheet = reprint(&ledger, "SHARED-1", What::Sheet, "smudged");
        ledger.record_reprint(&stamp(0), &sheet, |_| Ok(vec![])).unwrap();
    }
}

fn process(file: &Path, name: &str) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["--ignored", "--exact"])
        .arg("processes::another_process_records_kits_one_by_one")
        .env(FILE, file)
        .env(NAME, name)
        .stdout(Stdio::null())
        .stderr(Stdio::inherit())
        .spawn()
        .unwrap()
}

#[test]
fn processes_that_record_at_once_make_one_sound_chain() {
    let mut desk = Desk::new();
    desk.make(0, &["SHARED-1"]);
    let names = ["DESK-A", "DESK-B", "DESK-C"];
    let all: Vec<Child> = names.map(|name| process(&desk.path, name)).into();
    for mut one in all {
        assert!(one.wait().unwrap().success());
    }
    let checked = desk.ledger.check(None).unwrap();
    assert_eq!(checked.entries, 1 + 3 * 2 * KITS as usize);
    for name in names {
        assert_eq!(desk.ledger.parts(name).unwrap(), (1..=KITS).collect::<Vec<_>>());
    }
    let trail = desk.ledger.history("SHARED-1").unwrap();
    let marks: BTreeSet<u32> = trail
        .iter()
        .filter(|entry| entry.kind == Kind::Reprinted)
        .map(|entry| entry.counter)
        .collect();
    assert_eq!(marks, (1..=3 * KITS).collect(), "no two sheets bear the same mark");
}

#[test]
fn a_run_that_was_killed_can_be_given_again() {
    let mut desk = Desk::new();
    desk.make(0, &["SHARED-1"]);
    let mut killed = process(&desk.path, "DESK-A");
    let start = Instant::now();
    while desk.ledger.parts("DESK-A").unwrap().len() < 3 {
        assert!(start.elapsed() < Duration::from_secs(60), "the process does nothing");
        std::thread::sleep(Duration::from_millis(1));
    }
    killed.kill().unwrap();
    killed.wait().unwrap();
    desk.check_is_clean();
    let done = desk.ledger.parts("DESK-A").unwrap().len();
    assert!(done >= 3);
    assert!(process(&desk.path, "DESK-A").wait().unwrap().success());
    assert_eq!(desk.ledger.parts("DESK-A").unwrap().len(), KITS as usize);
    let made = desk.ledger.history("DESK-A-0001").unwrap();
    assert_eq!(made.len(), 1, "a part is recorded once");
    desk.check_is_clean();
}

#[test]
fn processes_that_make_the_ledger_at_once_share_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    let threads: Vec<_> = (0..8)
        .map(|number| {
            let path = path.clone();
            std::thread::spawn(move || {
                let mut ledger = Ledger::open(&path).unwrap();
                let new = kit(&format!("HB-{number:04}"), "Okonkwo-Reyes");
                ledger.record_kits(&stamp(0), &[new], Again::Refuse).unwrap();
            })
        })
        .collect();
    for thread in threads {
        thread.join().unwrap();
    }
    assert_eq!(Ledger::open(&path).unwrap().check(None).unwrap().entries, 8);
    let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().collect();
    assert_eq!(left.len(), 1, "nothing half made is left: {left:?}");
}

#[test]
fn who_waits_too_long_is_told_so_and_has_recorded_nothing() {
    let mut desk = Desk::new();
    let holder = rusqlite::Connection::open(&desk.path).unwrap();
    holder.execute_batch("BEGIN IMMEDIATE").unwrap();
    let start = Instant::now();
    let kits = [kit("HB-20417", "Okonkwo-Reyes")];
    let faults = desk.ledger.record_kits(&stamp(0), &kits, Again::Refuse).unwrap_err();
    assert!(start.elapsed() >= Duration::from_secs(9), "{:?}", start.elapsed());
    assert!(
        faults[0].what.ends_with("another program has held it for 10 s"),
        "{faults:?}"
    );
    assert!(faults[0].what.starts_with("cannot write the ledger"), "{faults:?}");
    assert_eq!(desk.ledger.kit("HB-20417").unwrap(), None, "reading goes on meanwhile");
    holder.execute_batch("ROLLBACK").unwrap();
    desk.ledger.record_kits(&stamp(0), &kits, Again::Refuse).unwrap();
}
