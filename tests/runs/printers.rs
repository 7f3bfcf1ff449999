//! Printing a run: asked for, at full size, in order, and nothing twice. A
//! command `lp` of the test's own stands for that of CUPS and keeps a log.

use std::os::unix::fs::PermissionsExt;
use std::process::Output;

use kitwright::ledger::{Kind, Ledger};
use kitwright::specimen;

use crate::desk::{Desk, ends, said};

const PRINT: [&str; 2] = ["--print", "PAPER=front,LABELS=back"];
const LOG: &str = "lp.log";

/// Puts an `lp` on the desk that logs its arguments, one a line, and does `then`.
fn install_lp(desk: &Desk, then: &str) {
    let folder = desk.path("bin");
    std::fs::create_dir_all(&folder).unwrap();
    let log = desk.path(LOG);
    let script = format!(
        "#!/bin/sh\nfor word in \"$@\"; do printf '%s\\n' \"$word\"; done >>'{}'\n{then}\n",
        log.display()
    );
    let lp = folder.join("lp");
    std::fs::write(&lp, script).unwrap();
    std::fs::set_permissions(&lp, std::fs::Permissions::from_mode(0o755)).unwrap();
}

fn run(desk: &Desk, more: &[&str]) -> Output {
    let old = std::env::var("PATH").unwrap_or_default();
    let path = format!("{}:{old}", desk.path("bin").display());
    let more = [&["--kits-per-file", "2"][..], more].concat();
    desk.command("out", &more).env("PATH", path).output().unwrap()
}

/// What `lp` was given, call by call: what stands before and after `--`.
fn calls(desk: &Desk) -> Vec<String> {
    let text = std::fs::read_to_string(desk.path(LOG)).unwrap_or_default();
    let words: Vec<&str> = text.lines().collect();
    let out = format!("{}/", desk.path("out").display());
    words
        .split_inclusive(|word| word.starts_with(&out))
        .map(|call| call.join(" ").replace(&out, ""))
        .collect()
}

fn call(run: &str, queue: &str, file: &str, sides: &str) -> String {
    format!(
        "-d {queue} -t {run} {file} -o print-scaling=none -o sides={sides} \
         -o media=na_letter_8.5x11in -- {file}"
    )
}

fn all_calls(desk: &Desk) -> Vec<String> {
    let run = desk.rows("out")[0]["run"].clone();
    ["01", "02"]
        .iter()
        .flat_map(|part| {
            [
                call(&run, "front", &format!("paper-{part}.pdf"), "two-sided-long-edge"),
                call(&run, "back", &format!("labels-{part}.pdf"), "one-sided"),
                call(&run, "front", &format!("packing-{part}.pdf"), "one-sided"),
            ]
        })
        .collect()
}

#[test]
fn nothing_is_printed_where_nobody_can_be_asked() {
    let desk = Desk::with(3);
    install_lp(&desk, "exit 0");
    ends(&run(&desk, &PRINT), 1, "there is no terminal to answer at");
    assert_eq!(calls(&desk), [""; 0]);
    ends(&desk.run("other", &["--yes"]), 2, "--print");
}

#[test]
fn a_run_is_printed_in_order_at_full_size_and_never_twice() {
    let desk = Desk::with(3);
    install_lp(&desk, "exit 0");
    let yes = [&PRINT[..], &["--yes"]].concat();
    let first = run(&desk, &yes);
    ends(&first, 0, "packing-02.pdf is at front");
    assert!(!said(&first).contains("lp -"), "no command for what is sent: {first:?}");
    assert_eq!(calls(&desk), all_calls(&desk));
    let again = [&yes[..], &["--resume"]].concat();
    let second = run(&desk, &again);
    ends(&second, 0, "paper-01.pdf was sent before");
    ends(&second, 0, "lp -d front -t ");
    assert_eq!(calls(&desk).len(), 6, "nothing is printed twice");
    std::fs::remove_file(desk.path("out/labels-01.pdf")).unwrap();
    ends(&run(&desk, &again), 0, "labels-01.pdf was sent before");
    assert_eq!(calls(&desk).len(), 6, "not even a file that was made again");
    let told = said(&run(&desk, &["--resume"]));
    assert!(
        told.contains("\nsent before; only if it did not come out:\n  lp -t"),
        "{told}"
    );
    assert!(!told.contains("print with:"), "{told}");
}

#[test]
fn a_run_can_be_printed_after_it_was_made() {
    let desk = Desk::with(3);
    install_lp(&desk, "exit 0");
    ends(&run(&desk, &[]), 0, "print with:");
    assert_eq!(calls(&desk), [""; 0]);
    ends(&run(&desk, &[&PRINT[..], &["--yes", "--resume"]].concat()), 0, "is at back");
    assert_eq!(calls(&desk), all_calls(&desk));
}

#[test]
fn a_file_that_a_printer_refused_is_told_of_and_sent_again_with_the_rest() {
    let desk = Desk::with(3);
    let fails =
        "case \"$*\" in *labels-01.pdf) echo 'lp: no such queue' >&2; exit 1;; esac";
    install_lp(&desk, fails);
    let yes = [&PRINT[..], &["--yes"]].concat();
    let failed = run(&desk, &yes);
    ends(&failed, 1, "labels-01.pdf was not printed: lp: no such queue");
    ends(&failed, 1, "look whether it is in the printer's queue");
    assert_eq!(calls(&desk), all_calls(&desk)[..2], "it stops where it failed");
    install_lp(&desk, "exit 0");
    let again = run(&desk, &[&yes[..], &["--resume"]].concat());
    ends(&again, 0, "paper-01.pdf was sent before");
    let wanted = all_calls(&desk);
    assert_eq!(calls(&desk), [&wanted[..2], &wanted[1..]].concat());
}

#[test]
fn a_computer_without_lp_is_told_so() {
    let desk = Desk::with(1);
    let more = [&PRINT[..], &["--yes"]].concat();
    let nothing = desk.path("orders");
    let output = desk.command("out", &more).env("PATH", nothing).output().unwrap();
    ends(&output, 1, "paper.pdf was not printed: cannot run lp");
}

#[test]
fn the_ledger_remembers_what_went_to_which_printer() {
    let desk = Desk::with(3);
    install_lp(&desk, "exit 0");
    let file = desk.path("ledger.db");
    let ledger = ["--ledger", file.to_str().unwrap()];
    ends(&run(&desk, &[&PRINT[..], &["--yes"], &ledger].concat()), 0, "is at front");
    let resumed = run(&desk, &[&PRINT[..], &["--yes", "--resume"], &ledger].concat());
    ends(&resumed, 0, "was sent");
    let connection = rusqlite::Connection::open(&file).unwrap();
    let mut rows = connection
        .prepare("SELECT detail FROM entry WHERE kind = 'printed' ORDER BY seq")
        .unwrap();
    let printed: Vec<String> =
        rows.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    assert_eq!(printed, ["front", "back", "front", "front", "back", "front"]);
    assert_eq!(Kind::Printed.word(), "printed");
    // Of each kit it is the files that it lies in.
    let mut history = std::process::Command::new(env!("CARGO_BIN_EXE_kitwright"));
    let history = history.args(["history", "HB-50002"]).args(ledger).output().unwrap();
    ends(&history, 0, "Sent to the printer front by ");
    ends(&history, 0, "Sent to the printer back by ");
    let sent = said(&history).matches("Sent to the printer").count();
    assert_eq!(sent, 2, "{}", said(&history));
    Ledger::open_existing(&file).unwrap().check(None).unwrap();
}

#[test]
fn the_queue_nudge_and_feed_are_those_that_lab_toml_gives_the_printer() {
    let desk = Desk::with(1);
    install_lp(&desk, "exit 0");
    let lab = format!(
        "{}[printers.back]\nqueue = \"shelf-2\"\nnudge_x = 0.5\nnudge_y = -0.3\n\
         feed = \"foot-first\"\n",
        crate::common::LAB
    );
    desk.write("lab.toml", &lab);
    let printed = run(&desk, &[&PRINT[..], &["--yes"]].concat());
    ends(&printed, 0, "labels.pdf is at shelf-2");
    let given = ["--nudge", "0.5,-0.3", "--feed", "foot-first"];
    ends(&desk.run("by-hand", &given), 0, "1 kit");
    let labels = |out: &str| desk.files(out)["labels.pdf"].clone();
    assert!(labels("out") == labels("by-hand"), "{}", said(&printed));
}

/// The details of the ledger's entries about printing.
fn printed(file: &std::path::Path) -> Vec<String> {
    let connection = rusqlite::Connection::open(file).unwrap();
    let mut rows = connection
        .prepare("SELECT detail FROM entry WHERE kind = 'printed' ORDER BY seq")
        .unwrap();
    rows.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect()
}

/// A desk whose `lp` puts something else in the place of `out/labels-01.pdf` when it is
/// given `when`, and the arguments of a run that prints without asking.
fn labels_replaced(desk: &Desk, when: &str) -> Vec<String> {
    let labels = desk.path("out/labels-01.pdf");
    let labels = labels.display();
    install_lp(desk, &format!("case \"$*\" in *{when}) echo other > '{labels}';; esac"));
    let ledger = desk.path("ledger.db").display().to_string();
    let more = ["--yes", "--resume", "--ledger", &ledger];
    [&PRINT[..], &more].concat().into_iter().map(str::to_owned).collect()
}

/// As while "print now?" waits: `lp` changes the file that comes next.
#[test]
fn a_file_that_is_replaced_before_it_is_sent_is_not_sent() {
    let desk = Desk::with(3);
    let file = desk.path("ledger.db");
    let yes = labels_replaced(&desk, "paper-01.pdf");
    let yes: Vec<&str> = yes.iter().map(String::as_str).collect();
    let refused = run(&desk, &yes);
    ends(&refused, 3, "labels-01.pdf is not the file that the run made and proved");
    ends(&refused, 3, "do not print it; give the command again with --resume");
    let wanted = all_calls(&desk);
    assert_eq!(calls(&desk), wanted[..1]);
    assert_eq!(printed(&file), ["front"], "nothing is remembered as printed");
    install_lp(&desk, "exit 0");
    ends(&run(&desk, &yes), 0, "labels-01.pdf is at back");
    assert_eq!(calls(&desk), wanted, "it was made again and sent");
}

#[test]
fn a_file_that_is_replaced_while_it_is_sent_is_told_of() {
    let desk = Desk::with(3);
    let file = desk.path("ledger.db");
    let yes = labels_replaced(&desk, "labels-01.pdf");
    let yes: Vec<&str> = yes.iter().map(String::as_str).collect();
    let told = run(&desk, &yes);
    ends(&told, 3, "and was just sent");
    ends(&told, 3, "look in the printer's queue");
    assert_eq!(printed(&file), ["front"]);
    ends(&run(&desk, &yes), 1, "labels-01.pdf was being sent when the program ended");
}

/// Prints the paper of an order again, with a mark.
fn reprint(desk: &Desk, order: &str) {
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_kitwright"));
    command.current_dir(desk.path("")).args(["reprint", order, "--reason", "lost"]);
    command.args(["--ledger", "ledger.db", "--lab", "orders/lab.toml"]);
    ends(&command.output().unwrap(), 0, "is void");
}

#[test]
fn no_command_is_given_to_print_a_file_that_holds_something_void() {
    let desk = Desk::with(3);
    install_lp(&desk, "exit 0");
    let file = desk.path("ledger.db");
    let more = ["--resume", "--ledger", file.to_str().unwrap()];
    ends(&run(&desk, &more), 0, "-- ");
    reprint(&desk, &crate::desk::number(1));
    let output = run(&desk, &more);
    ends(&output, 0, "so that what is in these files is void:\n  paper-01.pdf");
    ends(&output, 0, "take what is void out of it; the manifest says where that is");
    let text = said(&output);
    let lines: Vec<&str> = text.lines().filter(|line| line.contains("lp -t")).collect();
    assert_eq!(lines.len(), 5, "{text}");
    assert!(!lines.iter().any(|line| line.contains("paper-01.pdf")), "{text}");
    assert!(text.find("is void").unwrap() < text.find("print with:").unwrap(), "{text}");
}

#[test]
fn no_command_is_given_to_send_a_file_again_that_holds_something_void() {
    let desk = Desk::with(3);
    install_lp(&desk, "exit 0");
    let file = desk.path("ledger.db");
    let more = [&PRINT[..], &["--yes", "--resume", "--ledger", file.to_str().unwrap()]];
    let more = more.concat();
    ends(&run(&desk, &more), 0, "packing-02.pdf is at front");
    reprint(&desk, &crate::desk::number(1));
    let output = run(&desk, &more);
    ends(&output, 0, "paper-01.pdf was sent before; if it did not come out: print it by");
    let text = said(&output);
    let lines: Vec<&str> = text.lines().filter(|line| line.contains("lp -d")).collect();
    assert_eq!(lines.len(), 5, "{text}");
    assert!(!lines.iter().any(|line| line.contains("paper-01.pdf")), "{text}");
    assert_eq!(calls(&desk).len(), 6, "nothing is printed twice");
}

#[test]
fn something_void_in_one_file_keeps_no_other_from_its_printer() {
    let desk = Desk::with(3);
    install_lp(&desk, "exit 0");
    let file = desk.path("ledger.db");
    let more = ["--resume", "--ledger", file.to_str().unwrap()];
    ends(&run(&desk, &more), 0, "-- ");
    reprint(&desk, &crate::desk::number(1));
    let output = run(&desk, &[&PRINT[..], &["--yes"], &more].concat());
    ends(&output, 1, "paper-01.pdf holds what was made again since: HB-50001");
    ends(&output, 1, "packing-02.pdf is at front");
    assert_eq!(calls(&desk), all_calls(&desk)[1..]);
}

#[test]
fn what_is_void_is_told_by_file_and_of_one_label_by_its_code() {
    let desk = Desk::with(3);
    let file = desk.path("ledger.db");
    let more = ["--resume", "--ledger", file.to_str().unwrap()];
    ends(&run(&desk, &more), 0, "-- ");
    let void = |changes: &[&[&str]]| -> Vec<String> {
        for change in changes {
            let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_kitwright"));
            command.current_dir(desk.path("")).args(*change).args(["--reason", "lost"]);
            command.args(["--ledger", "ledger.db", "--lab", "orders/lab.toml"]);
            ends(&command.output().unwrap(), 0, "");
        }
        let text = said(&run(&desk, &more));
        let after = text.split("is void:\n").nth(1).unwrap();
        let lines = after.lines().take_while(|line| line.starts_with("  "));
        lines.map(|line| line.split_whitespace().collect::<Vec<_>>().join(" ")).collect()
    };
    let (one, two) = (crate::desk::number(0), crate::desk::number(1));
    let code = |slot: u8| specimen::code(&one, slot);
    assert_eq!(
        void(&[&["relabel", &one, "--card", "3"]]),
        [format!("labels-01.pdf {}", code(3))]
    );
    assert_eq!(
        void(&[&["relabel", &two], &["reprint", &one]]),
        [format!("paper-01.pdf {one}"), format!("labels-01.pdf {}, {two}", code(3))]
    );
    assert_eq!(
        void(&[&["reprint", &two, "--bedtime", "23:00"]]),
        [
            format!("paper-01.pdf {one}, {two}"),
            format!("labels-01.pdf {}, {two}", code(3)),
            format!("packing-01.pdf {two}"),
        ]
    );
}

/// A laboratory with two printers of labels and one of paper.
fn write_lab(desk: &Desk, queues: [&str; 3]) {
    let [front, back, spare] = queues;
    let lab = format!(
        "{}[printers.front]\nqueue = \"{front}\"\n[printers.back]\nqueue = \"{back}\"\n\
         nudge_x = 0.5\nfeed = \"foot-first\"\n[printers.spare]\nqueue = \"{spare}\"\n",
        crate::common::LAB
    );
    desk.write("lab.toml", &lab);
}

#[test]
fn paper_and_labels_never_go_to_one_queue_whatever_they_are_called() {
    let desk = Desk::with(1);
    install_lp(&desk, "exit 0");
    write_lab(&desk, ["Office", " Office", "Label_Printer"]);
    for (trays, both) in [
        ("PAPER=front,LABELS=back", "`front` and `back` of --print"),
        ("PAPER=Office,LABELS=back", "`Office` and `back` of --print"),
        ("PAPER=office,LABELS=back", "`office` and `back` of --print"),
        ("PAPER=Loft,LABELS= loft", "`Loft` and `loft` of --print"),
    ] {
        let refused = run(&desk, &["--print", trays, "--yes"]);
        ends(&refused, 1, "one queue would print labels on paper");
        ends(&refused, 1, both);
    }
    ends(&run(&desk, &["--print", "PAPER= Loft,LABELS=Loft "]), 2, "one queue would");
    assert_eq!(calls(&desk), [""; 0]);
    ends(&run(&desk, &["--print", "PAPER= front ,LABELS= spare", "--yes"]), 0, "1 kit");
    let queues: Vec<String> = calls(&desk)
        .iter()
        .map(|call| call.split(" -t ").next().unwrap().into())
        .collect();
    assert_eq!(queues, ["-d Office", "-d Label_Printer", "-d Office"]);
}

#[test]
fn a_printer_named_by_its_queue_is_the_one_that_was_measured() {
    let desk = Desk::with(1);
    install_lp(&desk, "exit 0");
    write_lab(&desk, ["Office", "Label_Printer", "Other"]);
    let labels = |out: &str| desk.files(out)["labels.pdf"].clone();
    let by_queue = run(&desk, &["--print", "PAPER=Office,LABELS=Label_Printer", "--yes"]);
    ends(&by_queue, 0, "labels.pdf is at Label_Printer");
    ends(&desk.run("by-hand", &["--nudge", "0.5,0", "--feed", "foot-first"]), 0, "1 kit");
    assert!(labels("out") == labels("by-hand"), "{}", said(&by_queue));
    ends(&desk.run("plain", &[]), 0, "1 kit");
    assert!(labels("out") != labels("plain"), "the measure changes the labels");

    write_lab(&desk, ["Office", "Label_Printer", "Label_Printer"]);
    let trays = ["--print", "PAPER=Office,LABELS=Label_Printer"];
    let refused = desk.run("several", &trays);
    ends(&refused, 1, "that of several printers in lab.toml: back, spare");
    ends(&refused, 1, "such as LABELS=back");
    let named = desk.run("named", &[&trays[..], &["--printer", "back"]].concat());
    ends(&named, 1, "there is no terminal to answer at");
    assert!(labels("out") == labels("named"), "{}", said(&named));
}
