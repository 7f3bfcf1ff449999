//! Where files are read from and written to: what is no file, what is there already,
//! and what leads elsewhere.

#![cfg(unix)]

use std::ffi::OsStr;
use std::fs::File;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::symlink;
use std::process::{Command, Stdio};

use crate::bench::Bench;
use crate::common::order_text;

fn bench() -> Bench {
    let bench = Bench::new();
    bench.write("order.toml", order_text(""));
    bench
}

const KIT: &str = "kits/HB-20417";
const RUN: [&str; 5] = ["run", "order.toml", "--out", "out", "--today"];

fn run(bench: &Bench, why: &str, more: &[&str]) -> crate::bench::Ended {
    bench.give(why, &[&RUN[..], &["2026-09-01", "--threads", "1"], more].concat())
}

#[test]
fn what_is_no_file_is_refused_and_not_waited_for() {
    let bench = bench();
    let made = Command::new("mkfifo").arg(bench.path("pipe.toml")).status().unwrap();
    assert!(made.success());
    std::fs::create_dir(bench.path("folder.toml")).unwrap();
    symlink("nowhere", bench.path("dangling.toml")).unwrap();
    symlink("ring.toml", bench.path("ring.toml")).unwrap();
    symlink("pipe.toml", bench.path("link.toml")).unwrap();
    symlink("/dev/zero", bench.path("zero.toml")).unwrap();
    symlink("/proc/self/mem", bench.path("mem.toml")).unwrap();
    for (file, code, says) in [
        ("pipe.toml", 3, "cannot read pipe.toml: it is a pipe or a socket and no file"),
        ("link.toml", 3, "cannot read link.toml: it is a pipe"),
        ("dangling.toml", 3, "cannot read dangling.toml: "),
        ("ring.toml", 3, "cannot read ring.toml: "),
        ("none.toml", 3, "cannot read none.toml: "),
        ("zero.toml", 1, "zero.toml is larger than 256 kB"),
        ("mem.toml", 3, "cannot read mem.toml: "),
    ] {
        bench.give(file, &["plan", file]).with(code, &[says, "= help: "]);
        let words = ["make", "order.toml", "--lab", file];
        bench.give(file, &words).with(if code == 1 { 1 } else { 3 }, &["= help: "]);
        let words = ["make", "order.toml", "--stock", file];
        let ended = bench.give(file, &words);
        assert!(matches!(ended.code, Some(1 | 3)), "{file}: {}", ended.said);
        let words = ["make", "order.toml", "--protocol", file];
        let ended = bench.give(file, &words);
        assert!(matches!(ended.code, Some(1 | 3)), "{file}: {}", ended.said);
        let words = ["proof", "order.toml", file];
        let ended = bench.give(file, &words);
        assert!(matches!(ended.code, Some(1 | 3)), "{file}: {}", ended.said);
        let words = ["ledger", "check", "--ledger", file];
        let ended = bench.give(file, &words);
        assert!(matches!(ended.code, Some(1 | 3)), "{file}: {}", ended.said);
    }
    bench
        .give("no bytes", &["plan", "/dev/null", "--lab", "lab.toml"])
        .refused(&["the file has no `order`"]);
    bench.give("a folder", &["plan", "folder.toml"]).with(1, &["holds no order"]);
    assert!(!bench.path("kits").exists());
}

#[test]
fn an_order_can_come_by_a_shells_pipe() {
    let bench = bench();
    let program = env!("CARGO_BIN_EXE_kitwright");
    let script = format!("{program} plan <(cat order.toml) --lab lab.toml --json");
    let output = Command::new("bash")
        .args(["-c", &script])
        .current_dir(bench.path(""))
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

#[test]
fn names_that_are_no_text_are_names() {
    let bench = bench();
    let odd = OsStr::from_bytes(b"or\xFFder \xC3.toml");
    std::fs::copy(bench.path("order.toml"), bench.path("").join(odd)).unwrap();
    let words = ["make".as_ref(), odd, "--out".as_ref(), OsStr::from_bytes(b"k\xFE")];
    let today = ["--today", "2026-09-01"].map(OsStr::new);
    bench.give_os("bytes", &[&words[..], &today].concat()).with(0, &["1 kit proven"]);
    let kit = bench.path("").join(OsStr::from_bytes(b"k\xFE")).join("HB-20417/paper.pdf");
    assert!(kit.is_file());
    let words = ["run".as_ref(), odd, "--out".as_ref(), OsStr::from_bytes(b"r\xFE")];
    let ledger = ["--ledger".as_ref(), OsStr::from_bytes(b"l\xFE.db")];
    bench.give_os("bytes", &[&words[..], &ledger, &today].concat()).with(0, &["1 kit"]);
    assert!(bench.path("").join(OsStr::from_bytes(b"l\xFE.db")).is_file());
    // What is recorded is text.
    let words = ["make".as_ref(), "order.toml".as_ref(), "--by".as_ref(), odd];
    bench.give_os("a name of bytes", &words).with(2, &["invalid UTF-8"]);
}

#[test]
fn a_file_in_the_place_of_a_kits_is_left_as_it_is() {
    for (why, text) in [
        ("a letter", b"Dear Sir".to_vec()),
        ("nothing", Vec::new()),
        ("half a kit", b"%PDF-1.7\n".to_vec()),
    ] {
        let bench = bench();
        bench.write(&format!("{KIT}/labels.pdf"), &text);
        bench.make(why, &[]).refused(&[
            "kits/HB-20417/labels.pdf is there, and is not what this order makes now",
        ]);
        assert_eq!(
            std::fs::read(bench.path(KIT).join("labels.pdf")).unwrap(),
            text,
            "{why}"
        );
        let left = std::fs::read_dir(bench.path(KIT)).unwrap().count();
        assert_eq!(left, 1, "{why}: something else was written");
    }
    let bench = bench();
    std::fs::create_dir_all(bench.path(KIT).join("paper.pdf/mine")).unwrap();
    bench.make("a folder", &[]).with(3, &["paper.pdf: it is a folder", "move it away"]);
    let pipe = bench.path(KIT).join("labels.pdf");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    bench.make("a pipe", &[]).with(3, &["labels.pdf: it is a pipe"]);
}

#[test]
fn a_link_in_the_place_of_a_kits_file_leads_nowhere() {
    let bench = bench();
    bench.write("mine.txt", "mine");
    std::fs::create_dir_all(bench.path(KIT)).unwrap();
    symlink("../../mine.txt", bench.path(KIT).join("paper.pdf")).unwrap();
    bench.make("a link", &[]).refused(&["paper.pdf is there, and is not what"]);
    symlink("../../none.pdf", bench.path(KIT).join("labels.pdf")).unwrap();
    bench.make("a link to nothing", &[]).with(3, &["labels.pdf"]);
    assert_eq!(std::fs::read(bench.path("mine.txt")).unwrap(), b"mine");
    assert!(!bench.path("none.pdf").exists());

    symlink("none.toml", bench.path("new.toml")).unwrap();
    bench.give("new", &["new", "new.toml"]).with(3, &["new.toml: it is there already"]);
    bench.give("new", &["new", "mine.txt"]).with(3, &["mine.txt: it is there already"]);
    let ruler = ["stock", "letter-2x5", "--ruler", "new.toml"];
    bench.give("ruler", &ruler).with(3, &["new.toml: it is there already"]);
    assert!(!bench.path("none.toml").exists());
}

#[test]
fn what_is_in_a_runs_way_is_left_as_it_is() {
    for name in ["paper.pdf", "labels.pdf", "packing.pdf", "manifest.csv", "archive"] {
        let bench = bench();
        std::fs::create_dir(bench.path("out")).unwrap();
        symlink("../mine.txt", bench.path("out").join(name)).unwrap();
        bench.write("mine.txt", "mine");
        run(&bench, name, &["--archive"]).refused(&[name, "is there, and is of no run"]);
        assert_eq!(std::fs::read(bench.path("mine.txt")).unwrap(), b"mine");
    }
    let bench = bench();
    std::fs::create_dir_all(bench.path("out")).unwrap();
    std::fs::create_dir_all(bench.path("elsewhere")).unwrap();
    bench.write("elsewhere/.tmpmine", "mine");
    symlink("../elsewhere", bench.path("out/.run")).unwrap();
    for more in [&[][..], &["--resume"]] {
        run(&bench, "a journal elsewhere", more).with(3, &["out/.run is a link"]);
    }
    assert_eq!(std::fs::read_dir(bench.path("elsewhere")).unwrap().count(), 1);
}

#[test]
fn a_run_says_what_it_puts_in_the_place_of_another_file() {
    let bench = bench();
    run(&bench, "a run", &[]).with(0, &["1 kit"]);
    let whole = std::fs::read(bench.path("out/paper.pdf")).unwrap();
    let note = "note: out/paper.pdf was not as the run had left it, and is made again";
    bench.write("mine.txt", "mine");
    std::fs::remove_file(bench.path("out/paper.pdf")).unwrap();
    let gone = "note: out/paper.pdf was no longer there, and is made again";
    run(&bench, "gone", &["--resume"]).with(0, &["1 kit", gone]);
    std::fs::remove_file(bench.path("out/paper.pdf")).unwrap();
    symlink("../mine.txt", bench.path("out/paper.pdf")).unwrap();
    run(&bench, "a link", &["--resume"]).with(0, &[note]);
    assert_eq!(std::fs::read(bench.path("mine.txt")).unwrap(), b"mine");
    assert!(!bench.path("out/paper.pdf").is_symlink());
    bench.write("out/manifest.csv", "mine");
    run(&bench, "a text", &["--resume"]).with(0, &["manifest.csv was not as the run"]);
    assert_eq!(std::fs::read(bench.path("out/paper.pdf")).unwrap(), whole);
}

#[test]
fn a_run_of_another_version_is_left_to_it() {
    let bench = bench();
    run(&bench, "a run", &[]).with(0, &["1 kit"]);
    let record = std::fs::read_to_string(bench.path("out/.run/run.json")).unwrap();
    let ours = format!("\"program\": \"{}\"", env!("CARGO_PKG_VERSION"));
    for (from, to, says) in [
        (
            &ours[..],
            "\"program\": \"9.9.9\"",
            "was begun by version 9.9.9 of the program",
        ),
        ("\"form\": 1", "\"form\": 2", "in the form 2; this is version"),
        ("\"form\": 1", "\"more\": [], \"form\": 2", "in the form 2; this is version"),
        ("\"form\": 1,", "", "is no record of a run"),
        ("\"digest\": \"", "\"digest\": \"0", "are not those with which the run"),
    ] {
        let other = record.replace(from, to);
        assert_ne!(other, record);
        bench.write("out/.run/run.json", other);
        run(&bench, to, &["--resume"]).refused(&[says]);
    }
    // What a record says is not believed where it cannot be.
    let whole = format!("\"whole\": \"{}", "é".repeat(20));
    bench.write("out/.run/run.json", record.replace("\"whole\": \"", &whole));
    std::fs::remove_file(bench.path("out/.run/end.json")).unwrap();
    let ended = run(&bench, "a digest", &["--resume"]);
    assert!(matches!(ended.code, Some(0 | 1)), "{}", ended.said);
    bench.write("out/.run/run.json", record);
    let part = std::fs::read_to_string(bench.path("out/.run/part-001.json")).unwrap();
    for (from, to) in [
        ("\"first\": 1", "\"first\": 18446744073709551615"),
        ("\"part\": 1", "\"part\": 7"),
        ("\"name\": \"paper.pdf\"", "\"name\": \"../mine.txt\""),
        ("\"sides\": ", "\"sides\": 9"),
    ] {
        let other = part.replace(from, to);
        assert_ne!(other, part, "{from}");
        bench.write("out/.run/part-001.json", other);
        run(&bench, to, &["--resume"]).with(0, &["1 kit"]);
        let again =
            std::fs::read_to_string(bench.path("out/.run/part-001.json")).unwrap();
        assert_eq!(again, part, "{from}: the part was made again");
    }
    // Pipes and devices in its journal are not read.
    std::fs::remove_file(bench.path("out/.run/part-001.json")).unwrap();
    symlink("/dev/zero", bench.path("out/.run/part-001.json")).unwrap();
    run(&bench, "zeros", &["--resume"]).with(1, &["part-001.json is larger than"]);
    std::fs::remove_file(bench.path("out/manifest.csv")).unwrap();
    symlink("/dev/zero", bench.path("out/manifest.csv")).unwrap();
    bench
        .give("manifest", &["manifest", "out"])
        .with(1, &["manifest.csv is larger than"]);
}

#[test]
fn what_cannot_be_said_is_no_crash() {
    let program = env!("CARGO_BIN_EXE_kitwright");
    let full = || Stdio::from(File::options().write(true).open("/dev/full").unwrap());
    let bench = bench();
    bench.write("wrong.toml", "order = ");
    let command = |words: &[&str]| {
        let mut command = Command::new(program);
        command.args(words).current_dir(bench.path("")).stdin(Stdio::null());
        command.args(["--today", "2026-09-01"]);
        command
    };
    for words in [
        &["plan", "order.toml"][..],
        &["make", "order.toml"],
        &["run", "order.toml", "--out", "out"],
        &["days", "order.toml"],
    ] {
        let output = command(words).stdout(full()).output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(3), "{words:?}: {said}");
        assert!(said.contains("cannot write to standard output"), "{words:?}: {said}");
    }
    for (words, code) in [
        (&["plan", "wrong.toml"][..], 1),
        (&["make", "wrong.toml"], 1),
        (&["run", "order.toml", "--out", "other"], 0),
        (&["plan", "none.toml"], 3),
    ] {
        let status =
            command(words).stderr(full()).stdout(Stdio::null()).status().unwrap();
        assert_eq!(status.code(), Some(code), "{words:?}");
        let status = command(words).stderr(full()).stdout(full()).status().unwrap();
        assert!(matches!(status.code(), Some(0..=3)), "{words:?}: {status}");
        std::fs::remove_dir_all(bench.path("other")).ok();
    }
}

#[test]
fn what_a_killed_program_left_is_swept_away_and_nothing_else() {
    let bench = bench();
    bench.write(&format!("{KIT}/.kitwright-AbCdEf"), "half");
    bench.write(&format!("{KIT}/.tmpmine"), "mine");
    bench.write(&format!("{KIT}/notes.txt"), "mine");
    bench.make("after a kill", &[]).with(0, &["1 kit"]);
    let mut names: Vec<String> = std::fs::read_dir(bench.path(KIT))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    let kit = ["labels.pdf", "notes.txt", "packing.pdf", "paper.pdf"];
    assert_eq!(names, [&[".tmpmine"][..], &kit].concat());
}
