//! A run in shards, and one manifest of all of them.

use std::collections::BTreeMap;
use std::process::{Command, Output};

use crate::common::order_text;
use crate::desk::{Desk, Row, ends, made, number, rows, said};

fn join(desk: &Desk, folders: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_kitwright"));
    command.arg("manifest").args(folders.iter().map(|folder| desk.path(folder)));
    command.output().unwrap()
}

/// Twelve orders that become kits, one on hold, and one that is wrong.
fn desk() -> Desk {
    let desk = Desk::with(12);
    desk.order(12, &order_text("[health]\npregnant = true\n"));
    desk.order(13, &order_text("").replace("150 lb", "150"));
    desk
}

/// What a manifest says of an order, whatever the file it is in.
fn facts(rows: &[Row]) -> BTreeMap<String, (String, String, String)> {
    let fact = |row: &Row| {
        (row["status"].clone(), row["codes"].clone(), row["input sha256"].clone())
    };
    let found: BTreeMap<_, _> =
        rows.iter().map(|row| (row["order"].clone(), fact(row))).collect();
    assert_eq!(found.len(), rows.len(), "an order stands twice");
    found
}

#[test]
fn shards_are_a_partition_of_the_run_and_their_manifests_join() {
    let desk = desk();
    ends(&desk.run("whole", &[]), 1, "12 kits proven and written");
    let mut all = Vec::new();
    let folders = ["one", "two", "three"];
    for (index, folder) in folders.iter().enumerate() {
        let shard = format!("{}/3", index + 1);
        let output = desk.run(folder, &["--shard", &shard]);
        assert!(matches!(output.status.code(), Some(0 | 1)), "{output:?}");
        let own = desk.rows(folder);
        assert!(made(&own).len() < 12, "a shard is no whole run");
        all.extend(own);
    }
    assert_eq!(facts(&all), facts(&desk.rows("whole")));
    let joined = join(&desk, &folders);
    ends(&joined, 0, "");
    assert_eq!(facts(&rows(&joined.stdout)), facts(&all));
}

#[test]
fn a_shard_that_is_missing_is_named() {
    let desk = desk();
    for (folder, shard) in [("one", "1/3"), ("three", "3/3")] {
        desk.run(folder, &["--shard", shard]);
    }
    ends(&join(&desk, &["one", "three"]), 1, "there is no manifest of shard 2/3");
    let unmade = join(&desk, &["one", "two", "three"]);
    ends(&unmade, 3, "cannot read");
    assert!(unmade.stdout.is_empty(), "nothing is joined");
}

#[test]
fn a_shard_without_orders_has_a_manifest_too() {
    let desk = Desk::with(1);
    let folders: Vec<String> = (1..=4).map(|shard| format!("shard-{shard}")).collect();
    let mut kits = 0;
    for (index, folder) in folders.iter().enumerate() {
        let shard = format!("{}/4", index + 1);
        ends(&desk.run(folder, &["--shard", &shard]), 0, "proven and written");
        kits += made(&desk.rows(folder)).len();
    }
    assert_eq!(kits, 1);
    let folders: Vec<&str> = folders.iter().map(String::as_str).collect();
    let joined = join(&desk, &folders);
    ends(&joined, 0, "");
    let rows = rows(&joined.stdout);
    assert_eq!(rows.len(), 1, "{rows:?}");
    assert_eq!(rows[0]["order"], number(0));
}

#[test]
fn an_order_that_was_made_twice_is_named_with_both_places() {
    let desk = Desk::with(2);
    desk.run("one", &[]);
    desk.run("two", &[]);
    let joined = join(&desk, &["one", "two"]);
    ends(&joined, 1, "the order HB-50000 was made in");
    ends(&joined, 1, "the order HB-50001 was made in");
    assert!(joined.stdout.is_empty(), "nothing is joined");
    // The kits of one folder are there once, so none is to be destroyed.
    let joined = join(&desk, &["one", "./one"]);
    ends(&joined, 1, "one is named twice");
    assert!(!said(&joined).contains("destroy"), "{}", said(&joined));
}

#[test]
fn a_file_that_cannot_be_read_is_one_entry_with_its_name_of_the_first_shard() {
    let desk = Desk::with(2);
    // Three faults of one file: two columns are unknown and the protocol is not said.
    desk.write(
        "export.csv",
        "order,family,given,born,x,y\nHB-60000,A,B,1984-03-09,1,2\n",
    );
    let unread = |folder: &str| {
        let rows = desk.rows(folder);
        rows.iter().filter(|row| row["order"] == "export.csv").count()
    };
    let whole = desk.run("whole", &[]);
    ends(&whole, 1, "2 kits proven and written");
    ends(&whole, 1, "1 wrong");
    ends(&whole, 1, "nothing says what the column `x` holds");
    assert_eq!(unread("whole"), 1);
    let row = &desk.rows("whole")[2];
    assert!(row["note"].contains("column `x`") && row["note"].contains("column `y`"));
    for (folder, shard, count) in [("one", "1/2", 1), ("two", "2/2", 0)] {
        let output = desk.run(folder, &["--shard", shard]);
        ends(&output, 1, &format!("{count} wrong"));
        ends(&output, 1, "nothing says what the column `x` holds");
        assert_eq!(unread(folder), count, "shard {shard}");
    }
    let joined = join(&desk, &["one", "two"]);
    ends(&joined, 0, "");
    assert_eq!(rows(&joined.stdout).len(), 3);
}
