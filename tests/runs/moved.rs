//! A run's folder that is moved away while the run works, and what of another run
//! comes to lie in it.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Child, Command, Output};

use kitwright::run::journal::{FileRecord, Journal, PartRecord, Sent};
use serde_json::Value;

use crate::common::order_text;
use crate::desk::{Desk, ends, number, said, wait_for};

const BY_ONES: [&str; 4] = ["--kits-per-file", "1", "--threads", "1"];
const MOVED: &str = "is no longer the folder that this run was writing to";

/// The orders of the desk with another bedtime, in a folder of their own.
fn others(desk: &Desk, count: usize) -> Desk {
    let others = Desk::new();
    for index in 0..count {
        others.order(index, &order_text("").replace("22:30", "23:15"));
    }
    assert_ne!(others.path(""), desk.path(""));
    others
}

/// Runs the orders of `others` into a folder of `desk`.
fn run_into(desk: &Desk, others: &Desk, out: &str, more: &[&str]) -> Command {
    crate::desk::command(
        &others.path("orders"),
        &desk.path(out),
        &[&BY_ONES[..], more].concat(),
    )
}

fn signal(child: &Child, name: &str) {
    let kill = format!("kill -{name} {}", child.id());
    assert!(Command::new("sh").args(["-c", &kill]).status().unwrap().success());
}

fn moved(desk: &Desk, from: &str, to: &str) {
    std::fs::rename(desk.path(from), desk.path(to)).unwrap();
}

#[track_caller]
fn are_moved(output: &Output) {
    ends(output, 3, MOVED);
    ends(output, 3, "that folder as --out");
}

#[test]
fn two_runs_do_not_mix_if_the_folder_of_the_first_is_moved_away() {
    let desk = Desk::with(12);
    let others = others(&desk, 12);
    let first = desk.start("today", &BY_ONES);
    wait_for(&desk.path("today/.run/part-002.json"));
    signal(&first, "STOP");
    moved(&desk, "today", "today-old");
    let mut second = run_into(&desk, &others, "today", &[]);
    second.stdout(std::process::Stdio::piped()).stderr(std::process::Stdio::piped());
    let second = second.spawn().unwrap();
    wait_for(&desk.path("today/.run/part-002.json"));
    signal(&second, "STOP");
    signal(&first, "CONT");
    are_moved(&first.wait_with_output().unwrap());
    signal(&second, "CONT");
    ends(&second.wait_with_output().unwrap(), 0, "12 kits proven and written");
    ends(&run_into(&desk, &others, "alone", &[]).output().unwrap(), 0, "12 kits");
    assert!(desk.files("today") == desk.files("alone"), "the second run alone is there");
    // The first goes on where its folder is now.
    let resume = [&BY_ONES[..], &["--resume"]].concat();
    ends(&desk.run("today-old", &resume), 0, "12 kits proven and written");
    ends(&desk.run("first-alone", &BY_ONES), 0, "12 kits");
    assert!(desk.files("today-old") == desk.files("first-alone"));
}

/// Each step of a run, after its folder was moved away and another run took the name.
#[test]
fn nothing_is_written_to_a_folder_that_has_the_name_of_the_one_that_was_taken() {
    let desk = Desk::with(1);
    ends(&desk.run("whole", &[]), 0, "1 kit");
    let record = std::fs::read(desk.path("whole/.run/part-001.json")).unwrap();
    let record: PartRecord = serde_json::from_slice(&record).unwrap();
    let out = desk.path("out");
    for what_is_there in ["nothing", "a folder", "a run", "a lock of the same name"] {
        let journal = Journal::open(&out).unwrap();
        journal.stage("paper.pdf", b"one").unwrap();
        moved(&desk, "out", "old");
        let other = match what_is_there {
            "a folder" => {
                std::fs::create_dir(&out).unwrap();
                None
            }
            "a run" => Some(Journal::open(&out).unwrap()),
            "a lock of the same name" => {
                std::fs::create_dir_all(out.join(".run")).unwrap();
                std::fs::hard_link(desk.path("old/.run/lock"), out.join(".run/lock"))
                    .unwrap();
                None
            }
            _ => None,
        };
        let before = listed(&out);
        let faults = [
            journal.still().err(),
            journal.stage("paper.pdf", b"two").err(),
            journal.write("paper.pdf", b"two").err(),
            journal.publish(&record).err(),
            journal.end_part(&record).err(),
            journal.begun().err(),
            journal.sent("paper.pdf").err(),
            journal.set_sent("paper.pdf", Sent::Perhaps).err(),
            journal.head(|| Ok(None)).err(),
            journal.must_be(&record.paper).err(),
        ];
        for (step, fault) in faults.iter().enumerate() {
            let fault =
                fault.as_ref().unwrap_or_else(|| panic!("{what_is_there} {step}"));
            assert!(fault.what.contains(MOVED), "{what_is_there} {step}: {}", fault.what);
            assert!(fault.of_file);
        }
        assert_eq!(listed(&out), before, "{what_is_there}");
        // It is its own again once it is back.
        drop(other);
        let _ = std::fs::remove_dir_all(&out);
        moved(&desk, "old", "out");
        journal.write("paper.pdf", b"two").unwrap();
        drop(journal);
        std::fs::remove_dir_all(&out).unwrap();
    }
}

/// All names below a folder.
fn listed(folder: &Path) -> Vec<String> {
    let mut names = Vec::new();
    for entry in std::fs::read_dir(folder).into_iter().flatten() {
        let path = entry.unwrap().path();
        names.push(path.display().to_string());
        names.extend(listed(&path));
    }
    names.sort();
    names
}

fn record(desk: &Desk, out: &str, name: &str) -> BTreeMap<String, Value> {
    let bytes = std::fs::read(desk.path(out).join(".run").join(name)).unwrap();
    serde_json::from_slice(&bytes).unwrap()
}

fn put(desk: &Desk, out: &str, name: &str, record: &BTreeMap<String, Value>) {
    let json = serde_json::to_vec_pretty(record).unwrap();
    std::fs::write(desk.path(out).join(".run").join(name), json).unwrap();
}

/// Lays the first part of one run, record and files, into the folder of another.
fn lay_over(desk: &Desk, from: &str, to: &str) {
    for name in ["paper-01.pdf", "labels-01.pdf", ".run/part-001.json"] {
        std::fs::copy(desk.path(from).join(name), desk.path(to).join(name)).unwrap();
    }
}

fn resume(desk: &Desk) -> Output {
    desk.run("out", &[&BY_ONES[..], &["--resume"]].concat())
}

#[test]
fn a_part_of_another_run_is_made_again_and_never_used() {
    let desk = Desk::with(2);
    let others = others(&desk, 2);
    ends(&desk.run("out", &BY_ONES), 0, "2 kits");
    let (whole, own) = (desk.files("out"), record(&desk, "out", "part-001.json"));
    ends(&run_into(&desk, &others, "other", &[]).output().unwrap(), 0, "2 kits");
    lay_over(&desk, "other", "out");
    ends(&resume(&desk), 0, "paper-01.pdf was not as the run had left it");
    assert!(desk.files("out") == whole);
    assert_eq!(record(&desk, "out", "part-001.json"), own);
    // Of the same orders, too: the ledger knows it under the other run's name.
    ends(&desk.run("twin", &BY_ONES), 0, "2 kits");
    lay_over(&desk, "twin", "out");
    assert_ne!(record(&desk, "out", "part-001.json"), own);
    ends(&resume(&desk), 0, "2 kits");
    assert_eq!(record(&desk, "out", "part-001.json"), own);
    // Nor does the name alone make it a part of this run.
    lay_over(&desk, "other", "out");
    let mut renamed = record(&desk, "out", "part-001.json");
    renamed.insert("run".into(), own["run"].clone());
    put(&desk, "out", "part-001.json", &renamed);
    ends(&resume(&desk), 0, "2 kits");
    assert!(desk.files("out") == whole);
    assert_eq!(record(&desk, "out", "part-001.json"), own);
}

#[test]
fn a_record_names_all_orders_of_its_part_and_no_other() {
    let desk = Desk::with(3);
    let by_three = ["--kits-per-file", "3", "--resume"];
    ends(&desk.run("out", &by_three), 0, "3 kits");
    let (whole, own) = (desk.files("out"), record(&desk, "out", "part-001.json"));
    for change in ["one is missing", "one stands twice", "another order", "another cell"]
    {
        let mut changed = own.clone();
        let kits = changed.get_mut("kits").unwrap().as_array_mut().unwrap();
        match change {
            "one is missing" => drop(kits.remove(1)),
            "one stands twice" => kits.push(kits[2].clone()),
            "another order" => kits[1]["order"] = number(7).into(),
            _ => drop(changed.insert("start_at".into(), 2.into())),
        }
        put(&desk, "out", "part-001.json", &changed);
        ends(&desk.run("out", &by_three), 0, "3 kits");
        assert_eq!(record(&desk, "out", "part-001.json"), own, "{change}");
        assert!(desk.files("out") == whole, "{change}");
    }
}

/// Such as those of programs that did not name the run.
#[test]
fn a_record_that_names_no_run_is_not_trusted_and_its_part_is_made_again() {
    let desk = Desk::with(2);
    let ledger = desk.path("ledger.db");
    let more =
        [&BY_ONES[..], &["--resume", "--ledger", ledger.to_str().unwrap()]].concat();
    ends(&desk.run("out", &more), 0, "2 kits");
    let whole = desk.files("out");
    let names = ["part-001.json", "part-002.json", "end.json"];
    let own = names.map(|name| record(&desk, "out", name));
    for (name, own) in names.iter().zip(&own) {
        let mut old = own.clone();
        assert!(old.remove("run").is_some(), "{name}");
        put(&desk, "out", name, &old);
    }
    let output = desk.run("out", &more);
    ends(&output, 0, "2 kits");
    assert!(!said(&output).contains("note:"), "{}", said(&output));
    assert!(desk.files("out") == whole);
    assert_eq!(names.map(|name| record(&desk, "out", name)), own);
}

#[test]
fn what_is_staged_is_published_only_if_it_is_what_was_proven() {
    let desk = Desk::with(2);
    ends(&desk.run("out", &BY_ONES), 0, "2 kits");
    let whole = desk.files("out");
    let staged = desk.path("out/.run/paper-01.pdf");
    // Another kit's paper, while the right one is in its place, and while it is not.
    for is_there in [true, false] {
        std::fs::write(&staged, &whole["paper-02.pdf"]).unwrap();
        if !is_there {
            std::fs::remove_file(desk.path("out/paper-01.pdf")).unwrap();
        }
        ends(&resume(&desk), 0, "2 kits");
        assert!(desk.files("out") == whole, "{is_there}");
        assert!(!staged.exists(), "it is taken away");
    }
    // A link to the right bytes can lead to others tomorrow.
    let kept = desk.path("kept.pdf");
    std::fs::rename(desk.path("out/paper-01.pdf"), &kept).unwrap();
    std::os::unix::fs::symlink(&kept, &staged).unwrap();
    ends(&resume(&desk), 0, "2 kits");
    assert!(!desk.path("out/paper-01.pdf").is_symlink());
    assert!(desk.files("out") == whole);
}

#[test]
fn a_staged_file_that_is_changed_before_it_is_published_is_a_fault() {
    let desk = Desk::with(1);
    ends(&desk.run("out", &[]), 0, "1 kit");
    let bytes = std::fs::read(desk.path("out/.run/part-001.json")).unwrap();
    let record: PartRecord = serde_json::from_slice(&bytes).unwrap();
    let paper = desk.path("out/paper.pdf");
    std::fs::rename(&paper, desk.path("out/.run/paper.pdf")).unwrap();
    let journal = Journal::open(&desk.path("out")).unwrap();
    journal.publish(&record).unwrap();
    assert!(paper.exists(), "as it was, it is published");
    std::fs::remove_file(&paper).unwrap();
    let FileRecord { sha256, .. } = journal.stage("paper.pdf", b"another").unwrap();
    assert_ne!(sha256, record.paper.sha256);
    let fault = journal.publish(&record).unwrap_err();
    assert!(fault.what.contains("was changed or taken away"), "{}", fault.what);
    assert!(fault.help.contains("--resume"), "{}", fault.help);
    assert!(!paper.exists());
}
