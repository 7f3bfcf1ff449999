//! What stands in a run's way: orders that are wrong, folders that cannot be
//! written to, another run in the same place.

use std::fs::File;
use std::path::Path;

use crate::common::{order_set, order_text};
use crate::desk::{Desk, command, ends, made, number, said};

#[test]
fn an_order_that_is_wrong_does_not_stop_the_rest() {
    let desk = Desk::with(3);
    desk.order(3, &order_text("").replace("150 lb", "150"));
    desk.write("HB-50000-again.toml", &order_text("").replace("HB-20417", "HB-50000"));
    desk.write("HB-50009.toml", "order = ");
    let output = desk.run("out", &[]);
    ends(&output, 1, "2 kits proven and written");
    ends(&output, 1, "0 on hold, 4 wrong");
    ends(&output, 1, "`150` is not a weight");
    ends(&output, 1, "the order number HB-50000 stands in");
    let rows = desk.rows("out");
    assert_eq!(made(&rows).len(), 2, "of two with one number neither is made");
    let wrong: Vec<_> = rows.iter().filter(|row| row["status"] == "wrong").collect();
    assert_eq!(wrong.len(), 4, "{rows:?}");
    assert!(wrong.iter().all(|row| !row["note"].is_empty()), "{wrong:?}");
}

#[test]
fn a_row_that_is_wrong_does_not_stop_the_rest() {
    let desk = Desk::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-orders/export");
    let table = std::fs::read_to_string(folder.join("orders.csv")).unwrap();
    desk.write("lab.toml", &std::fs::read_to_string(folder.join("lab.toml")).unwrap());
    desk.write("orders.csv", &table.replacen(",148,", ",heavy,", 1));
    let orders = desk.path("orders/orders.csv");
    let output = command(&orders, &desk.path("out"), &[]).output().unwrap();
    ends(&output, 1, "1 on hold, 1 wrong");
    ends(&output, 1, "orders.csv, row 2, column \"Weight\"");
    let rows = desk.rows("out");
    assert_eq!(made(&rows).len(), table.lines().count() - 3);
}

/// What is left out can fill pages of the run sheet.
#[test]
fn a_run_of_which_much_is_left_out_tells_it_on_as_many_pages_as_that_takes() {
    let desk = Desk::with(2);
    for index in 2..130 {
        desk.order(index, &order_text("[health]\npregnant = true\n"));
    }
    let output = desk.run("out", &[]);
    ends(&output, 1, "2 kits proven and written");
    ends(&output, 1, "128 on hold, 0 wrong");
}

/// The labels of one kit are laid out like those before, if they are of one patient.
#[test]
fn two_kits_of_one_patient_with_other_clocks_are_made() {
    let desk = Desk::new();
    for (index, clock) in ["12h", "24h", "12h"].iter().enumerate() {
        desk.order(index, &order_set(&format!("clock = \"{clock}\"")));
    }
    ends(&desk.run("out", &[]), 0, "3 kits proven and written");
}

/// A name of sixty wide characters fits no label of 50.8 mm.
#[test]
fn an_order_that_does_not_fit_its_labels_is_left_out_of_its_part() {
    let desk = Desk::with(2);
    let long = order_text("")
        .replace("Okonkwo-Reyes", &["W".repeat(30), "W".repeat(29)].join("-"))
        .replace("HB-20417", "HB-LONGEST-ORDER-NO1");
    desk.write("HB-50000-long.toml", &long);
    let output = desk.run("out", &["--stock", "letter-4x10"]);
    ends(&output, 1, "2 kits proven and written");
    ends(&output, 1, "0 on hold, 1 wrong");
    ends(&output, 1, "the smallest stock that fits is letter-2x7");
    let rows = desk.rows("out");
    let kits: Vec<String> = made(&rows).iter().map(|row| row["order"].clone()).collect();
    assert_eq!(kits, [number(0), number(1)]);
    let out = rows.iter().find(|row| row["status"] == "wrong").unwrap();
    assert_eq!(out["order"], "HB-LONGEST-ORDER-NO1");
    let again = desk.run("out", &["--stock", "letter-4x10", "--resume"]);
    ends(&again, 1, "2 kits proven and written");
}

/// The run sheet says why an order was left out, in the order's own words.
#[test]
fn whatever_is_wrong_with_an_order_its_neighbours_get_their_slips() {
    let desk = Desk::with(2);
    desk.write(&format!("{}.toml", "long-name".repeat(20)), "order = ");
    desk.order(2, &order_text("").replace("Okonkwo-Reyes", "\u{674E}\u{660E}"));
    desk.order(3, &order_text("").replace("150 lb", "\u{516D}\u{5341}\\u0007"));
    let keys: String = (0..200).map(|key| format!("unknown_{key} = 1\n")).collect();
    desk.order(4, &(keys + &order_text("")));
    desk.order(5, &order_text("").replace("150 lb", &"9".repeat(5_000)));
    let output = desk.run("out", &["--kits-per-file", "1"]);
    ends(&output, 1, "2 kits proven and written");
    ends(&output, 1, "0 on hold, 5 wrong");
    let printed = |slip: &str| {
        let pages = crate::desk::pages(&desk.files("out")[slip]);
        pages.iter().map(|(_, text)| text.as_str()).collect::<String>()
    };
    let text = printed("packing-01.pdf");
    for part in [
        "HB-50002,U+674EU+660E,Marisol:wrong:nofonthasthecharacter`U+674E`",
        "HB-50003:wrong:",
        "HB-50004:wrong:unknownkey`unknown_0`",
        "HB-50005:wrong:",
        "long-namelong-name",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
    // What is the matter with people is told once.
    let second = printed("packing-02.pdf");
    assert!(second.contains("5leftout") && !second.contains(":wrong:"), "{second}");
    let rows = desk.rows("out");
    let wrong = rows.iter().find(|row| row["order"] == "HB-50004").unwrap();
    assert!(wrong["note"].len() > 400, "the manifest has more: {}", wrong["note"]);
}

#[test]
fn a_run_of_nothing_but_wrong_orders_writes_a_manifest_alone() {
    let desk = Desk::new();
    desk.order(0, &order_text("").replace("150 lb", "150"));
    ends(&desk.run("out", &[]), 1, "0 kits proven and written");
    assert_eq!(desk.files("out").keys().collect::<Vec<_>>(), ["manifest.csv"]);
    ends(&desk.run("out", &["--resume"]), 1, "0 kits proven and written");
}

#[test]
fn a_second_run_into_the_same_folder_is_refused_while_the_first_writes() {
    let desk = Desk::with(1);
    std::fs::create_dir_all(desk.path("out/.run")).unwrap();
    let lock = File::create(desk.path("out/.run/lock")).unwrap();
    lock.try_lock().unwrap();
    ends(&desk.run("out", &[]), 3, "another run is writing to");
    ends(&desk.run("out", &["--resume"]), 3, "another run is writing to");
    assert!(desk.files("out").is_empty(), "nothing was written");
    lock.unlock().unwrap();
    ends(&desk.run("out", &[]), 0, "1 kit");
}

#[test]
fn of_two_runs_into_one_folder_at_once_one_is_refused() {
    let desk = Desk::with(12);
    let by_ones = ["--kits-per-file", "1"];
    let children = [desk.start("out", &by_ones), desk.start("out", &by_ones)];
    let outputs = children.map(|child| child.wait_with_output().unwrap());
    let refused = outputs
        .iter()
        .filter(|output| said(output).contains("another run is writing to"))
        .count();
    assert_eq!(refused, 1, "{}{}", said(&outputs[0]), said(&outputs[1]));
    assert_eq!(made(&desk.rows("out")).len(), 12);
}

#[test]
fn a_folder_that_cannot_be_made_is_a_fault_and_no_panic() {
    let desk = Desk::with(1);
    std::fs::write(desk.path("file"), "a file").unwrap();
    for out in ["file", "file/below", "file/far/below"] {
        let output = desk.run(out, &[]);
        ends(&output, 3, "cannot write to the folder");
        ends(&output, 3, "name another folder with --out");
    }
    assert_eq!(std::fs::read(desk.path("file")).unwrap(), b"a file");
    std::fs::create_dir(desk.path("out")).unwrap();
    std::fs::write(desk.path("out/.run"), "a file").unwrap();
    ends(&desk.run("out", &[]), 3, "cannot write to the folder");
}

/// A file of the run cannot take its place: a folder stands there.
#[test]
fn a_file_that_cannot_be_written_is_a_fault_and_the_run_can_go_on() {
    let desk = Desk::with(2);
    ends(&desk.run("out", &[]), 0, "2 kits");
    std::fs::remove_file(desk.path("out/labels.pdf")).unwrap();
    std::fs::create_dir_all(desk.path("out/labels.pdf/inner")).unwrap();
    ends(&desk.run("out", &["--resume"]), 3, "labels.pdf");
    std::fs::remove_dir_all(desk.path("out/labels.pdf")).unwrap();
    ends(&desk.run("out", &["--resume"]), 0, "2 kits");
}

#[test]
fn a_journal_that_is_no_journal_is_a_fault() {
    let desk = Desk::with(1);
    ends(&desk.run("out", &[]), 0, "1 kit");
    for (name, text) in
        [("part-001.json", "{\"part\": 1}"), ("end.json", "[]"), ("run.json", "{")]
    {
        std::fs::write(desk.path("out/.run").join(name), text).unwrap();
        ends(&desk.run("out", &["--resume"]), 1, "is no record of a run");
    }
}

#[test]
fn a_first_cell_is_given_for_one_stock_that_has_it() {
    let desk = Desk::with(2);
    ends(&desk.run("one", &["--start-at", "11"]), 1, "has no cell 11");
    ends(&desk.run("two", &["--start-at", "0"]), 2, "a whole number from 1");
    desk.order(2, &crate::common::order_set("stock = \"letter-2x7\""));
    ends(&desk.run("three", &["--start-at", "4"]), 1, "--start-at is for one stock");
    assert!(!desk.path("three").exists());
    ends(&desk.run("three", &[]), 0, "3 kits");
}

#[test]
fn only_the_first_sheet_of_a_run_is_part_used() {
    let desk = Desk::with(2);
    desk.order(2, &crate::common::order_set("paper = \"a4\""));
    let settings = ["--start-at", "4", "--kits-per-file", "1", "--stock", "letter-2x7"];
    ends(&desk.run("out", &settings), 0, "3 kits");
    let cells: Vec<String> =
        desk.rows("out").iter().map(|row| row["label cells"].clone()).collect();
    let fresh = "sheet 1: 1 2 3 4 5";
    assert_eq!(cells, ["sheet 1: 4 5 6 7 8", fresh, fresh]);
}

#[test]
fn a_part_used_sheet_with_too_little_room_is_put_away() {
    let desk = Desk::with(2);
    let output = desk.run("out", &["--start-at", "8"]);
    ends(&output, 0, "no kit fits from cell 8 on: put the part-used sheet away");
    ends(&output, 0, "load 1 sheet of letter-2x5, the first from cell 1 on");
    assert!(!said(&desk.run("all", &["--start-at", "6"])).contains("no kit fits"));
}

#[test]
fn names_that_a_packer_can_take_for_each_other_are_marked_over_the_whole_run() {
    let desk = Desk::with(3);
    for (index, family, given, born) in [
        (0, "Lee", "Bo", "1984-03-09"),
        (1, "Lée", "Bettina", "1990-01-02"),
        (2, "Leeds", "Bo", "1984-03-10"),
    ] {
        let text = order_text("")
            .replace("Okonkwo-Reyes", family)
            .replace("Marisol", given)
            .replace("1984-03-09", born);
        desk.order(index, &text);
    }
    ends(&desk.run("out", &["--kits-per-file", "1"]), 0, "3 kits");
    let marked = |part: &str| {
        let pages = crate::desk::pages(&desk.files("out")[part]);
        pages[0].1.split("namelikethatof").nth(1).map(|order| order[..8].to_owned())
    };
    assert_eq!(marked("packing-01.pdf"), Some(number(1)));
    assert_eq!(marked("packing-02.pdf"), Some(number(0)));
    assert_eq!(marked("packing-03.pdf"), None);
}

#[test]
fn orders_of_two_laboratories_do_not_go_into_one_run() {
    let desk = Desk::with(2);
    std::fs::create_dir(desk.path("other")).unwrap();
    std::fs::write(desk.path("other/lab.toml"), crate::common::LAB).unwrap();
    let other = order_text("").replace("HB-20417", "HB-60000");
    std::fs::write(desk.path("other/HB-60000.toml"), other).unwrap();
    let mut command = desk.command("out", &[]);
    let output = command.arg(desk.path("other")).output().unwrap();
    ends(&output, 1, "2 kits proven and written");
    ends(&output, 1, "the order HB-60000 has another laboratory's file");
    // Nor where the first order gets no kit: it is the one whose ledger is asked.
    let wrong = order_text("").replace("150 lb", "150").replace("HB-20417", "HB-60000");
    std::fs::write(desk.path("other/HB-60000.toml"), wrong).unwrap();
    let first = |out: &str, first: &str, more: &[&str]| {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_kitwright"));
        command.current_dir(desk.path("")).args(["run", first, "orders", "--out", out]);
        command.args(["--today", "2026-09-01"]).args(more).output().unwrap()
    };
    let output = first("wrong-first", "other", &[]);
    ends(&output, 1, "0 kits proven and written");
    ends(&output, 1, "the order HB-50000 has another laboratory's file, orders/lab.toml");
    let sound = order_text("").replace("HB-20417", "HB-60000");
    std::fs::write(desk.path("other/HB-60000.toml"), sound).unwrap();
    let kits: Vec<String> = ["1/2", "2/2"]
        .into_iter()
        .flat_map(|shard| {
            let out = shard.replace('/', "-");
            first(&out, "other", &["--shard", shard]);
            made(&desk.rows(&out)).into_iter().map(|row| row["order"].clone())
        })
        .collect();
    assert_eq!(kits, ["HB-60000"], "that of the first order's laboratory alone");
    // Another way to write the same place is no other laboratory.
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_kitwright"));
    let orders = ["./orders/HB-50000.toml", "orders/HB-50001.toml"];
    command.current_dir(desk.path("")).arg("run").args(orders).args(["--out", "same"]);
    let output = command.args(["--today", "2026-09-01"]).output().unwrap();
    ends(&output, 0, "2 kits proven and written");
}

#[cfg(unix)]
#[test]
fn files_and_folders_are_for_their_owner_alone() {
    use std::os::unix::fs::PermissionsExt;
    let desk = Desk::with(2);
    ends(&desk.run("new/out", &["--archive"]), 0, "2 kits");
    fn check(path: &Path) {
        let mode = std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
        if !path.is_dir() {
            assert_eq!(mode, 0o600, "{}", path.display());
            return;
        }
        assert_eq!(mode, 0o700, "{}", path.display());
        for entry in std::fs::read_dir(path).unwrap() {
            check(&entry.unwrap().path());
        }
    }
    check(&desk.path("new"));
}

/// What a command says, which must end by itself.
#[cfg(unix)]
#[track_caller]
fn ended(mut child: std::process::Child) -> std::process::Output {
    let start = std::time::Instant::now();
    while child.try_wait().unwrap().is_none() {
        if start.elapsed().as_secs() > 60 {
            child.kill().unwrap();
            panic!("it waits: {}", said(&child.wait_with_output().unwrap()));
        }
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    child.wait_with_output().unwrap()
}

#[cfg(unix)]
#[test]
fn a_lock_that_is_no_file_is_refused_and_not_waited_for() {
    let desk = Desk::with(1);
    let lock = desk.path("out/.run/lock");
    std::fs::create_dir_all(lock.parent().unwrap()).unwrap();
    let made = std::process::Command::new("mkfifo").arg(&lock).status().unwrap();
    assert!(made.success());
    for more in [&[][..], &["--resume"]] {
        let output = ended(desk.start("out", more));
        ends(&output, 3, "out/.run/lock is no file: it cannot be locked");
        ends(&output, 3, "take it away, the program makes its own");
    }
    std::fs::remove_file(&lock).unwrap();
    std::fs::write(desk.path("mine"), "mine").unwrap();
    std::os::unix::fs::symlink(desk.path("mine"), &lock).unwrap();
    ends(&ended(desk.start("out", &[])), 3, "is no file: it cannot be locked");
    std::fs::remove_file(&lock).unwrap();
    ends(&desk.run("out", &[]), 0, "1 kit");
}

/// Without more than that the system would end the program with a signal, SIGXFSZ.
#[cfg(unix)]
#[test]
fn a_file_that_outgrows_its_users_limit_is_a_fault_and_the_run_can_go_on() {
    let desk = Desk::with(2);
    let run = desk.command("out", &[]);
    let mut limited = std::process::Command::new("sh");
    limited.args(["-c", "ulimit -f 40; exec \"$0\" \"$@\""]);
    limited.arg(run.get_program()).args(run.get_args());
    let output = limited.output().unwrap();
    ends(&output, 3, "cannot write");
    ends(&output, 3, "has room");
    assert!(desk.files("out").is_empty(), "nothing half-written is there");
    ends(&desk.run("out", &["--resume"]), 0, "2 kits proven and written");
}
