//! A run that was stopped goes on and ends as if it had not been.

use std::path::Path;

use crate::common::order_text;
use crate::desk::{Desk, ends, said, wait_for};

const BY_ONES: [&str; 4] = ["--kits-per-file", "1", "--threads", "1"];

/// A desk with a run in `out` that was killed when some of its parts were whole.
fn killed() -> Desk {
    let desk = Desk::with(24);
    let mut child = desk.start("out", &BY_ONES);
    wait_for(&desk.path("out/.run/part-002.json"));
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(!desk.path("out/manifest.csv").exists(), "it was killed before its end");
    desk
}

fn resume(desk: &Desk) -> std::process::Output {
    desk.run("out", &[&BY_ONES[..], &["--resume"]].concat())
}

#[test]
fn threads_and_stops_change_no_byte() {
    let desk = killed();
    ends(&desk.run("out", &BY_ONES), 1, "which was stopped");
    ends(&resume(&desk), 0, "24 kits proven and written");
    ends(&desk.run("one", &BY_ONES), 0, "24 kits");
    let two = ["--kits-per-file", "1", "--threads", "2"];
    ends(&desk.run("two", &two), 0, "24 kits");
    let whole = desk.files("one");
    assert_eq!(whole.len(), 3 * 24 + 1);
    assert!(desk.files("two") == whole, "two threads give the same files");
    assert!(desk.files("out") == whole, "a resumed run gives the same files");
}

#[test]
fn a_file_that_was_lost_or_damaged_is_made_again_as_it_was() {
    let desk = Desk::with(4);
    let by_twos = ["--kits-per-file", "2", "--archive"];
    let again = [&by_twos[..], &["--resume"]].concat();
    ends(&desk.run("out", &by_twos), 0, "4 kits");
    let whole = desk.files("out");
    assert!(whole.contains_key("archive/HB-50003.pdf"), "{:?}", whole.keys());
    for name in ["paper-01.pdf", "labels-02.pdf", "packing-01.pdf", "manifest.csv"] {
        let path = desk.path("out").join(name);
        std::fs::remove_file(&path).unwrap();
        ends(&desk.run("out", &again), 0, "4 kits");
        assert!(desk.files("out") == whole, "{name} was deleted");
        std::fs::write(&path, &whole[name][..whole[name].len() / 2]).unwrap();
        ends(&desk.run("out", &again), 0, "4 kits");
        assert!(desk.files("out") == whole, "{name} was cut off");
    }
}

#[test]
fn a_run_that_is_done_makes_nothing_again() {
    let desk = Desk::with(2);
    ends(&desk.run("out", &[]), 0, "2 kits");
    ends(&desk.run("out", &[]), 1, "which is done");
    let time = |name: &str| {
        std::fs::metadata(desk.path("out").join(name)).unwrap().modified().unwrap()
    };
    let names = ["paper.pdf", "labels.pdf", "packing.pdf", "manifest.csv"];
    let before = names.map(time);
    let resumed = desk.run("out", &["--resume"]);
    ends(&resumed, 0, "2 kits proven and written");
    ends(&resumed, 0, "print with:");
    assert_eq!(names.map(time), before);
}

#[test]
fn a_run_that_made_nothing_says_so_and_not_that_it_is_done() {
    let desk = Desk::with(1);
    desk.order(0, &order_text("").replace("150 lb", "heavy"));
    ends(&desk.run("out", &[]), 1, "0 kits");
    desk.order(0, &order_text(""));
    ends(&desk.run("out", &[]), 1, "in which no kit was made");
}

#[test]
fn a_run_into_an_empty_folder_may_be_given_with_resume() {
    let desk = Desk::with(1);
    ends(&desk.run("out", &["--resume"]), 0, "1 kit proven and written");
}

const DIFFERS: &str = "are not those with which the run";

#[test]
fn a_run_does_not_go_on_with_other_orders() {
    let desk = killed();
    let before = desk.files("out");
    let differs = |wanted: &str| {
        let output = resume(&desk);
        ends(&output, 1, DIFFERS);
        let said = said(&output);
        assert!(said.contains(&format!("What is other:\n         {wanted}")), "{said}");
    };
    desk.order(20, &order_text("").replace("22:30", "22:45"));
    differs("- the order HB-50020: has another text\n");
    desk.order(20, &order_text("").replace("150 lb", "heavy"));
    differs("- the order HB-50020: is wrong now\n");
    desk.order(20, &order_text(""));
    desk.order(24, &order_text(""));
    differs("- the order HB-50024: is new\n");
    std::fs::remove_file(desk.path("orders/HB-50024.toml")).unwrap();
    std::fs::remove_file(desk.path("orders/HB-50020.toml")).unwrap();
    differs("- the order HB-50020: was there, and is not\n");
    assert!(desk.files("out") == before, "nothing was written");
    desk.order(20, &order_text(""));
    ends(&resume(&desk), 0, "24 kits");
}

#[test]
fn a_run_does_not_go_on_with_another_laboratorys_file_or_other_settings() {
    let desk = killed();
    let lab = crate::common::LAB;
    desk.write("lab.toml", &lab.replace("555-0100", "555-0101"));
    ends(&resume(&desk), 1, DIFFERS);
    desk.write("lab.toml", lab);
    let one = ["--kits-per-file", "1", "--resume"];
    for (other, named) in [
        (&["--kits-per-file", "2", "--resume"][..], "--kits-per-file"),
        (&[&one[..], &["--start-at", "3"]].concat(), "--start-at"),
        (&[&one[..], &["--each-kit", "sheet"]].concat(), "how labels lie"),
        (&[&one[..], &["--nudge", "0.3,0"]].concat(), "how labels lie"),
        (&[&one[..], &["--feed", "foot-first"]].concat(), "how labels lie"),
        (&[&one[..], &["--stock", "letter-2x7"]].concat(), "the stock"),
        (&[&one[..], &["--archive"]].concat(), "--archive"),
        (&[&one[..], &["--shard", "1/2"]].concat(), "--shard: not what it was"),
    ] {
        let output = desk.run("out", other);
        let said = said(&output);
        assert!(said.contains(DIFFERS) && said.contains(named), "{other:?}: {said}");
        assert_eq!(output.status.code(), Some(1), "{other:?}");
    }
    ends(&resume(&desk), 0, "24 kits");
}

/// A stock of one's own keeps its name when its measures change.
#[test]
fn a_run_does_not_go_on_with_other_measures_of_its_stock() {
    let desk = Desk::with(4);
    let stock = include_str!("../../templates/stock/letter-2x5.toml");
    let file = desk.path("stock.toml");
    std::fs::write(&file, stock).unwrap();
    let by_ones =
        [&["--stock", file.to_str().unwrap(), "--resume"][..], &BY_ONES].concat();
    ends(&desk.run("out", &by_ones), 0, "4 kits");
    std::fs::remove_file(desk.path("out/labels-03.pdf")).unwrap();
    let moved = stock.replace("top = 12.7", "top = 12.2");
    assert_ne!(moved, stock);
    std::fs::write(&file, moved).unwrap();
    ends(&desk.run("out", &by_ones), 1, DIFFERS);
    std::fs::write(&file, stock).unwrap();
    let output = desk.run("out", &by_ones);
    ends(&output, 0, "4 kits");
    ends(&output, 0, "labels-03.pdf was no longer there, and is made again");
    assert!(!said(&output).contains("paper-03.pdf was"), "{}", said(&output));
}

#[test]
fn a_run_does_not_go_on_with_another_protocol() {
    let desk = killed();
    let protocol = include_str!("../../templates/protocols/four-card.toml");
    let file = desk.path("four-card.toml");
    std::fs::write(&file, protocol).unwrap();
    let more = ["--resume", "--protocol", file.to_str().unwrap()];
    ends(&desk.run("out", &[&BY_ONES[..], &more].concat()), 1, DIFFERS);
}

#[cfg(unix)]
#[test]
fn ctrl_c_stops_a_run_and_says_how_to_go_on() {
    let desk = Desk::with(24);
    let child = desk.start("out", &BY_ONES);
    wait_for(&desk.path("out/.run/part-002.json"));
    let kill = format!("kill -INT {}", child.id());
    assert!(
        std::process::Command::new("sh").args(["-c", &kill]).status().unwrap().success()
    );
    let output = child.wait_with_output().unwrap();
    ends(&output, 130, "stopped: ");
    ends(&output, 130, "of 24 parts are whole; go on with --resume");
    no_leftovers(&desk.path("out"));
    ends(&resume(&desk), 0, "24 kits");
    ends(&desk.run("one", &BY_ONES), 0, "24 kits");
    assert!(desk.files("out") == desk.files("one"));
}

/// What was begun and not finished may lie in the journal alone, until the next
/// run sweeps it away.
fn no_leftovers(folder: &Path) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        assert!(name == ".run" || name.ends_with(".pdf"), "{name} was left");
    }
}

#[test]
fn what_a_killed_run_left_half_written_is_swept_away() {
    let desk = killed();
    std::fs::write(desk.path("out/.run/.tmpAbCdEf"), "half").unwrap();
    no_leftovers(&desk.path("out"));
    ends(&resume(&desk), 0, "24 kits");
    for entry in std::fs::read_dir(desk.path("out/.run")).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        assert!(name == "lock" || name.ends_with(".json"), "{name} was left");
    }
}
