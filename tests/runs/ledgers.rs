//! Runs with a ledger: each kit is remembered once, and no kit is made twice.

use std::path::PathBuf;

use kitwright::ledger::{Kind, Ledger};

use crate::common::order_text;
use crate::desk::{Desk, ends, made, number, said, wait_for};

fn ledger(desk: &Desk) -> PathBuf {
    desk.path("ledger.db")
}

/// How often the kits of the first `count` orders were made, by the ledger, which
/// must be sound.
#[track_caller]
fn entries(desk: &Desk, count: usize) -> Vec<usize> {
    let mut ledger = Ledger::open_existing(&ledger(desk)).unwrap();
    ledger.check(None).unwrap();
    (0..count)
        .map(|index| {
            let history = ledger.history(&number(index)).unwrap();
            history
                .iter()
                .filter(|entry| matches!(entry.kind, Kind::Made | Kind::MadeAgain))
                .count()
        })
        .collect()
}

#[test]
fn a_run_that_was_killed_and_went_on_is_remembered_once() {
    let desk = Desk::with(24);
    let file = ledger(&desk);
    let file = file.to_str().unwrap();
    let settings = ["--kits-per-file", "1", "--threads", "1", "--ledger", file];
    let mut child = desk.start("out", &settings);
    wait_for(&desk.path("out/.run/part-003.json"));
    child.kill().unwrap();
    child.wait().unwrap();
    let before: usize = entries(&desk, 24).iter().sum();
    assert!((1..24).contains(&before), "{before} kits were recorded when it was killed");
    let again = [&settings[..], &["--resume"]].concat();
    ends(&desk.run("out", &again), 0, "24 kits");
    assert_eq!(entries(&desk, 24), [1; 24]);
    ends(&desk.run("out", &again), 0, "24 kits");
    assert_eq!(entries(&desk, 24), [1; 24], "a run that is done records nothing more");
}

#[test]
fn a_lost_packing_slip_of_a_recorded_run_is_made_again_as_it_was() {
    let desk = Desk::with(2);
    let file = ledger(&desk);
    let settings = ["--ledger", file.to_str().unwrap(), "--resume"];
    ends(&desk.run("out", &settings), 0, "2 kits");
    let whole = desk.files("out");
    for name in ["packing.pdf", "manifest.csv", "paper.pdf"] {
        std::fs::remove_file(desk.path("out").join(name)).unwrap();
        ends(&desk.run("out", &settings), 0, "2 kits");
        assert!(desk.files("out") == whole, "{name}");
    }
    assert_eq!(entries(&desk, 2), [1, 1]);
}

#[test]
fn a_second_run_leaves_out_what_was_made_before() {
    let desk = Desk::with(3);
    let file = ledger(&desk);
    let settings = ["--ledger", file.to_str().unwrap()];
    ends(&desk.run("one", &settings), 0, "3 kits");
    desk.order(3, &order_text(""));
    let second = desk.run("two", &settings);
    ends(&second, 0, "1 kit proven and written");
    ends(&second, 0, "3 made before");
    let rows = desk.rows("two");
    assert_eq!(made(&rows).len(), 1);
    assert_eq!(made(&rows)[0]["order"], number(3));
    let before = rows.iter().find(|row| row["status"] == "before").unwrap();
    assert!(before["note"].contains("a kit of it was made on"), "{before:?}");
    assert_eq!(entries(&desk, 4), [1; 4]);
    let third = desk.run("three", &settings);
    ends(&third, 0, "0 kits proven and written");
    assert_eq!(desk.files("three").len(), 1, "a manifest and nothing to print");
}

#[test]
fn a_wish_for_the_first_suitable_day_is_met_once_and_no_day_that_was_written_meets_it() {
    let wish = || order_text("").replace("2026-10-14", "\"first suitable\"");
    let desk = Desk::with(1);
    desk.order(1, &wish());
    let file = ledger(&desk);
    let settings = ["--ledger", file.to_str().unwrap()];
    ends(&desk.run("one", &settings), 0, "2 kits");
    desk.order(0, &wish());
    let later = |out: &str| {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_kitwright"));
        command.arg("run").arg(desk.path("orders")).arg("--out").arg(desk.path(out));
        command.args(["--today", "2026-10-20"]).args(settings).output().unwrap()
    };
    let second = later("two");
    ends(&second, 1, "1 wrong, 1 made before");
    ends(&second, 1, "+ start = ");
    // A revision with a day that was written is still of the order that was met.
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_kitwright"));
    command.current_dir(desk.path("")).args(["reprint", "HB-50001", "--reason", "away"]);
    command.args(["--start", "2026-10-20", "--today", "2026-09-01"]);
    command.args(["--ledger", "ledger.db", "--lab", "orders/lab.toml"]);
    ends(&command.output().unwrap(), 0, "revision-1");
    ends(&later("three"), 1, "1 wrong, 1 made before");
}

#[test]
fn a_number_used_for_another_text_is_wrong_and_both_texts_are_shown() {
    let desk = Desk::with(2);
    let file = ledger(&desk);
    let settings = ["--ledger", file.to_str().unwrap()];
    ends(&desk.run("one", &settings), 0, "2 kits");
    desk.order(1, &order_text("").replace("06:30", "07:00"));
    let second = desk.run("two", &settings);
    ends(&second, 1, "0 kits proven and written");
    ends(&second, 1, "1 wrong");
    let text = said(&second);
    assert!(text.contains("from another text"), "{text}");
    for line in ["- wake = 06:30", "+ wake = 07:00"] {
        assert!(text.contains(line), "{line} in {text}");
    }
    assert!(text.contains("HB-50001.toml"), "{text}");
    assert_eq!(entries(&desk, 2), [1, 1]);
}

#[test]
fn a_ledger_that_was_changed_stops_the_run() {
    let desk = Desk::with(2);
    let file = ledger(&desk);
    let settings = ["--ledger", file.to_str().unwrap()];
    ends(&desk.run("one", &settings), 0, "2 kits");
    let connection = rusqlite::Connection::open(&file).unwrap();
    let triggers: Vec<String> = connection
        .prepare("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    for trigger in triggers {
        connection.execute_batch(&format!("DROP TRIGGER \"{trigger}\"")).unwrap();
    }
    connection
        .execute(
            "UPDATE sealed SET order_text = replace(order_text, '150 lb', '250 lb')",
            [],
        )
        .unwrap();
    drop(connection);
    desk.order(2, &order_text(""));
    let output = desk.run("two", &settings);
    assert_ne!(output.status.code(), Some(0), "{}", said(&output));
    assert!(!desk.path("two").exists(), "nothing was made");
}

#[test]
fn two_runs_that_record_at_once_make_each_kit_once() {
    let desk = Desk::with(16);
    let file = ledger(&desk);
    let file = file.to_str().unwrap();
    let by_twos = ["--ledger", file, "--kits-per-file", "2", "--threads", "1"];
    let shards = ["1/2", "2/2"].map(|shard| {
        desk.start(
            &shard.replace('/', "-"),
            &[&by_twos[..], &["--shard", shard]].concat(),
        )
    });
    for child in shards {
        let output = child.wait_with_output().unwrap();
        ends(&output, 0, "proven and written");
    }
    let all = made(&desk.rows("1-2")).len() + made(&desk.rows("2-2")).len();
    assert_eq!(all, 16);
    assert_eq!(entries(&desk, 16), [1; 16]);
}

/// As when two people start the same run, from two desks, in the same second.
#[test]
fn two_runs_of_the_same_orders_at_once_make_each_kit_once() {
    let desk = Desk::with(12);
    let file = ledger(&desk);
    let settings =
        ["--ledger", file.to_str().unwrap(), "--kits-per-file", "1", "--threads", "1"];
    let outputs = ["one", "two"]
        .map(|out| desk.start(out, &settings))
        .map(|child| child.wait_with_output().unwrap());
    for output in &outputs {
        ends(output, 0, "proven and written");
    }
    // What one of them did not get the other has, on its paper, too.
    let mut orders: Vec<String> = ["one", "two"]
        .into_iter()
        .flat_map(|out| made(&desk.rows(out)))
        .map(|row| row["order"].clone())
        .collect();
    orders.sort();
    assert_eq!(orders, (0..12).map(number).collect::<Vec<_>>());
    for out in ["one", "two"] {
        let papers = desk.files(out).into_keys().filter(|name| name.starts_with("paper"));
        assert_eq!(papers.count(), made(&desk.rows(out)).len(), "{out}");
    }
    assert_eq!(entries(&desk, 12), [1; 12]);
}

#[test]
fn a_new_ledger_is_told_of_and_an_old_one_is_not() {
    let desk = Desk::with(1);
    let file = ledger(&desk);
    let settings = ["--ledger", file.to_str().unwrap()];
    let begun = format!("began the ledger {}", file.display());
    ends(&desk.run("one", &settings), 0, &begun);
    assert!(!said(&desk.run("two", &settings)).contains("began the ledger"));
}

/// "é" is one character to one system and two to another, and the same on paper.
#[test]
fn an_order_in_another_unicode_form_is_one_that_was_made_before() {
    let desk = Desk::new();
    let file = ledger(&desk);
    let settings = ["--ledger", file.to_str().unwrap()];
    desk.order(0, &order_text("").replace("Marisol", "Ren\u{e9}e"));
    ends(&desk.run("one", &settings), 0, "1 kit");
    desk.order(0, &order_text("").replace("Marisol", "Rene\u{301}e"));
    let second = desk.run("two", &settings);
    ends(&second, 0, "1 made before");
}
