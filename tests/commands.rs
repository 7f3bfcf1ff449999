//! The program as a user runs it.

use std::path::Path;
use std::process::Output;

use assert_cmd::Command;

fn kitwright(arguments: &[&str]) -> Output {
    let mut command = Command::cargo_bin("kitwright").unwrap();
    command.current_dir(env!("CARGO_MANIFEST_DIR")).args(arguments).output().unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn err(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[track_caller]
fn code(output: &Output, expected: i32) {
    assert_eq!(output.status.code(), Some(expected), "{}{}", out(output), err(output));
}

const TODAY: [&str; 2] = ["--today", "2026-09-01"];

fn make(orders: &str, folder: &Path) -> Output {
    let folder = folder.to_str().unwrap();
    kitwright(&["make", orders, "--out", folder, "--today", "2026-11-10"])
}

#[test]
fn a_plain_order_becomes_three_files_that_prove() {
    let folder = tempfile::tempdir().unwrap();
    let made = make("demo-orders/01-plain.toml", folder.path());
    code(&made, 0);
    assert!(out(&made).contains("made   HB-20417"), "{}", out(&made));
    let kit = folder.path().join("HB-20417");
    for name in ["paper.pdf", "labels.pdf", "packing.pdf"] {
        let pdf = kit.join(name);
        let proof =
            kitwright(&["proof", "demo-orders/01-plain.toml", pdf.to_str().unwrap()]);
        code(&proof, 0);
        let proof = kitwright(&[
            "proof",
            "demo-orders/02-night-worker.toml",
            pdf.to_str().unwrap(),
        ]);
        code(&proof, 1);
    }
    let entries = std::fs::read_dir(&kit).unwrap().count();
    assert_eq!(entries, 3, "no temporary file is left");
}

#[cfg(unix)]
#[test]
fn patient_data_is_for_the_owner_alone() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    code(&make("demo-orders/01-plain.toml", folder.path()), 0);
    let file = folder.path().join("HB-20417/paper.pdf");
    let mode = std::fs::metadata(file).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o600);
}

#[test]
fn an_order_on_hold_prints_nothing_and_says_what_clears_it() {
    let folder = tempfile::tempdir().unwrap();
    let held = make("demo-orders/12-steroid-held.toml", folder.path());
    code(&held, 1);
    let said = out(&held);
    assert!(said.contains("hold   HB-20428"), "{said}");
    assert!(said.contains("the provider's instruction as its `note`"), "{said}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    let calendar = kitwright(&["plan", "demo-orders/12-steroid-held.toml", "--ics"]);
    code(&calendar, 1);
    assert!(out(&calendar).is_empty());
}

#[test]
fn a_wrong_order_does_not_stop_the_others() {
    let folder = tempfile::tempdir().unwrap();
    let orders = folder.path().join("orders");
    std::fs::create_dir(&orders).unwrap();
    for name in ["01-plain.toml", "lab.toml", "logo.svg"] {
        std::fs::copy(Path::new("demo-orders").join(name), orders.join(name)).unwrap();
    }
    std::fs::write(orders.join("00-wrong.toml"), "order = \"x\"\n").unwrap();
    // Nobody can tell which of two orders with one number is meant.
    for twin in ["02-twin.toml", "03-twin.toml"] {
        std::fs::copy("demo-orders/02-night-worker.toml", orders.join(twin)).unwrap();
    }
    let made = make(orders.to_str().unwrap(), &folder.path().join("kits"));
    code(&made, 1);
    let said = out(&made);
    assert!(said.contains("1 kit proven and written"), "{said}");
    assert!(said.contains("3 wrong"), "{said}");
    assert!(err(&made).contains("stands in"), "the number twice: {}", err(&made));
    assert!(folder.path().join("kits/HB-20417/labels.pdf").exists());
}

#[test]
fn a_protocol_file_that_an_order_does_not_name_is_not_passed_over() {
    let folder = tempfile::tempdir().unwrap();
    let own = std::fs::read_to_string("templates/protocols/four-card.toml").unwrap();
    let path = folder.path().join("mine.toml");
    std::fs::write(&path, own.replace("\"four-card\"", "\"four-card-long\"")).unwrap();
    let out = folder.path().join("kits");
    let made = kitwright(&[
        "make",
        "demo-orders/01-plain.toml",
        "--protocol",
        path.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
    ]);
    code(&made, 1);
    let said = err(&made);
    assert!(said.contains("the order is for `four-card`"), "{said}");
    assert!(said.contains("write protocol = \"four-card-long\""), "{said}");
}

#[test]
fn a_command_for_one_order_says_so_of_an_export() {
    for command in ["days", "proof"] {
        let given = [command, "demo-orders/export/orders.csv", "labels.pdf"];
        let said = kitwright(&given[..if command == "days" { 2 } else { 3 }]);
        code(&said, 3);
        assert!(err(&said).contains("one order is asked for"), "{}", err(&said));
    }
}

/// A card's title in another language is no title to the patient.
#[test]
fn a_protocol_without_titles_in_an_orders_language_makes_no_kit() {
    let folder = tempfile::tempdir().unwrap();
    let own = std::fs::read_to_string("templates/protocols/four-card.toml").unwrap();
    let path = folder.path().join("own.toml");
    std::fs::write(&path, own.replace(", es = \"Al acostarse\"", "")).unwrap();
    let plan =
        |order: &str| kitwright(&["plan", order, "--protocol", path.to_str().unwrap()]);
    code(&plan("demo-orders/01-plain.toml"), 0);
    let spanish = plan("demo-orders/05-spanish.toml");
    code(&spanish, 1);
    let said = err(&spanish);
    for wanted in ["no title in `es` for its slot `bedtime`", "es = \"Bedtime\""] {
        assert!(said.contains(wanted), "{said}");
    }
}

#[test]
fn what_is_wrong_with_the_laboratorys_file_is_shown_once_for_all_orders() {
    for (right, wrong, what) in [
        (
            "stock     = \"letter-2x5\"",
            "stock = \"letter-2x6\"",
            "no label stock `letter-2x6`",
        ),
        ("America/Denver", "America/Denvr", "`America/Denvr` is no place"),
    ] {
        let folder = tempfile::tempdir().unwrap();
        for name in ["01-plain.toml", "06-large-print.toml", "logo.svg"] {
            std::fs::copy(Path::new("demo-orders").join(name), folder.path().join(name))
                .unwrap();
        }
        let lab = std::fs::read_to_string("demo-orders/lab.toml").unwrap();
        std::fs::write(folder.path().join("lab.toml"), lab.replace(right, wrong))
            .unwrap();
        let made = make(folder.path().to_str().unwrap(), &folder.path().join("kits"));
        code(&made, 1);
        let said = err(&made);
        assert_eq!(said.matches(what).count(), 1, "{said}");
        assert!(said.contains("lab.toml:"), "{said}");
        assert!(out(&made).contains("2 wrong"), "{}", out(&made));
    }
}

#[cfg(unix)]
#[test]
fn nothing_in_a_folder_that_looks_like_an_order_is_passed_over() {
    let folder = tempfile::tempdir().unwrap();
    let orders = folder.path().join("orders");
    std::fs::create_dir_all(orders.join("old.toml")).unwrap();
    let copy = |from: &str, to: &str| {
        std::fs::copy(Path::new("demo-orders").join(from), orders.join(to)).unwrap();
    };
    copy("lab.toml", "lab.toml");
    copy("logo.svg", "logo.svg");
    copy("01-plain.toml", "HB-20417.TOML");
    // What nobody would take for an order.
    copy("02-night-worker.toml", "notes.txt");
    copy("02-night-worker.toml", ".hidden.toml");
    copy("02-night-worker.toml", "old.toml/02.toml");
    let plan = || kitwright(&["plan", orders.to_str().unwrap(), "--today", "2026-09-01"]);
    let sound = plan();
    code(&sound, 0);
    assert_eq!(out(&sound).matches("zone data").count(), 1, "{}", out(&sound));
    assert!(out(&sound).contains("HB-20417  OKONKWO-REYES"), "{}", out(&sound));

    std::os::unix::fs::symlink("gone.toml", orders.join("HB-40002.toml")).unwrap();
    std::os::unix::fs::symlink("gone.csv", orders.join("export.CSV")).unwrap();
    let _socket = std::os::unix::net::UnixListener::bind(orders.join("a.xlsx")).unwrap();
    let books = ["old.xls", "macros.XLSM", "binary.xlsb", "open.ods"];
    for name in books {
        copy("01-plain.toml", name);
    }
    let wrong = plan();
    code(&wrong, 3);
    assert!(out(&wrong).contains("HB-20417  OKONKWO-REYES"), "the rest goes on");
    let said = err(&wrong);
    for name in books {
        let path = orders.join(name).display().to_string();
        let what = format!("cannot read {path}: workbooks of this kind are not read");
        assert!(said.contains(&what), "{said}");
    }
    for name in ["HB-40002.toml", "export.CSV"] {
        let path = orders.join(name).display().to_string();
        let what =
            format!("cannot read {path}: it is a link to a file that cannot be had");
        assert!(said.contains(&what), "{said}");
    }
    let what = format!("cannot read {}: it is no file", orders.join("a.xlsx").display());
    assert!(said.contains(&what), "{said}");
}

/// The first commands of "A packing room's day", in a folder with the demo orders, and
/// an `lp` that only looks whether it is given files.
#[cfg(unix)]
#[test]
fn the_day_of_the_readme_works_as_it_is_typed() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let folder = tempfile::tempdir().unwrap();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    symlink(root.join("demo-orders"), folder.path().join("demo-orders")).unwrap();
    let bin = folder.path().join("bin");
    std::fs::create_dir(&bin).unwrap();
    symlink(env!("CARGO_BIN_EXE_kitwright"), bin.join("kitwright")).unwrap();
    let lp = "#!/bin/sh\nfor word; do case $word in -o|*=*) ;; *) [ -f \"$word\" ] \
              || exit 9; echo \"printed $word\";; esac; done\n";
    std::fs::write(bin.join("lp"), lp).unwrap();
    let mode = std::fs::Permissions::from_mode(0o755);
    std::fs::set_permissions(bin.join("lp"), mode).unwrap();
    let path = format!("{}:{}", bin.display(), std::env::var("PATH").unwrap());
    let readme = std::fs::read_to_string(root.join("README.md")).unwrap();
    let day = readme.split("## A packing room's day").nth(1).unwrap();
    let commands = day.lines().skip_while(|line| !line.starts_with("    "));
    let commands: Vec<&str> =
        commands.take_while(|line| line.starts_with("    ")).map(str::trim).collect();
    let mut printed = Vec::new();
    for (index, command) in commands.iter().enumerate() {
        let mut shell = std::process::Command::new("sh");
        shell.args(["-c", command]).current_dir(folder.path()).env("PATH", &path);
        let ended = shell.output().unwrap();
        // One of the demo orders is on hold.
        code(&ended, i32::from(index == 0));
        let said = out(&ended);
        let files = said.lines().filter_map(|line| line.strip_prefix("printed today/"));
        printed.extend(files.map(str::to_owned));
    }
    let names = ["paper-01.pdf", "paper-02.pdf", "labels-01.pdf", "labels-02.pdf"];
    assert_eq!(printed, names, "{commands:?}");
}

#[test]
fn exit_codes_tell_a_wrong_order_from_a_file_that_cannot_be_used() {
    code(&kitwright(&["plan", "no-such-file.toml"]), 3);
    code(&kitwright(&["plan"]), 2);
    code(&kitwright(&["make", "demo-orders", "--out", "Cargo.toml/kits"]), 3);
    code(&kitwright(&["make", "demo-orders/01-plain.toml", "--no-proof"]), 2);
    code(&kitwright(&["plan", "demo-orders/09-undated.toml", "--ics"]), 1);
    code(&kitwright(&["stock", "letter-9x9"]), 1);
}

#[test]
fn a_new_order_can_be_planned_as_it_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let order = folder.path().join("order.toml");
    let order = order.to_str().unwrap();
    code(&kitwright(&["new", order]), 0);
    code(&kitwright(&["new", order]), 3);
    let lab = ["--lab", "demo-orders/lab.toml"];
    let planned = kitwright(&[&["plan", order], &lab[..], &TODAY[..]].concat());
    code(&planned, 0);
    // Every line that is commented out is one the program knows.
    let all: String = std::fs::read_to_string(order)
        .unwrap()
        .lines()
        .map(|line| {
            let bare = line.trim_start_matches("# ");
            let is_setting = bare.starts_with('[')
                || bare.split_once('=').is_some_and(|(key, _)| {
                    key.trim().chars().all(|c| c.is_ascii_lowercase() || c == '_')
                });
            format!("{}\n", if is_setting { bare } else { "" })
        })
        .collect();
    assert!(all.contains("[health]") && all.contains("medicine"), "{all}");
    std::fs::write(order, all).unwrap();
    code(
        &kitwright(&[&["plan", order], &lab[..], &["--today", "2026-11-01"]].concat()),
        0,
    );
}

#[test]
fn an_order_can_come_from_standard_input() {
    let text = std::fs::read_to_string("demo-orders/01-plain.toml").unwrap();
    let mut command = Command::cargo_bin("kitwright").unwrap();
    let output = command
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["plan", "-", "--json", "--lab", "demo-orders/lab.toml"])
        .write_stdin(text)
        .output()
        .unwrap();
    code(&output, 0);
    let plan: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(plan["slots"][0]["collect_at"], "2026-10-14T17:15:00-06:00");
    assert_eq!(plan["zone_data"], "2026f");
    assert_eq!(plan["drinks"][5]["ml"], 350);
}

#[test]
fn the_plan_reads_as_a_table() {
    let plan = kitwright(&["plan", "demo-orders/01-plain.toml", "--today", "2026-09-01"]);
    code(&plan, 0);
    let expected = "\
HB-20417  OKONKWO-REYES, Marisol  America/Denver, zone data 2026f
  Wed 10-14 12:30   no caffeine until Thu 10-15 08:30
  Wed 10-14 15:15   empty the bladder, then drink nothing until card 1
  Wed 10-14 17:15   card 1, evening  HB-20417-15
  Wed 10-14 20:30   empty the bladder, then drink nothing until card 2
  Wed 10-14 22:30   card 2, bedtime  HB-20417-23
  Thu 10-15 06:30   card 3, waking  HB-20417-31
  Thu 10-15 08:30   card 4, later  HB-20417-4*
  Fri 10-16 06:30   pack, if every card is dry
  if up at night    spare card, night  HB-20417-5Y
  Fri 2026-10-16    post
  morning drink     350 mL, 1½ US cups
";
    assert_eq!(out(&plan), expected);
}

#[test]
fn the_calendar_has_its_zone_and_an_alarm_for_each_moment() {
    let calendar = kitwright(&["plan", "demo-orders/03-clock-change.toml", "--ics"]);
    code(&calendar, 0);
    let text = out(&calendar);
    let count = |what: &str| text.matches(what).count();
    assert_eq!(count("BEGIN:VEVENT"), 8, "{text}");
    assert_eq!(count("BEGIN:VALARM"), 8);
    assert!(text.contains("TZID:America/New_York\r\n"), "{text}");
    assert!(text.contains("DTSTART:20261101T020000\r\nTZOFFSETFROM:-0400\r\n"), "{text}");
    assert!(text.contains("DTSTART;TZID=America/New_York:20261101T070000\r\n"), "{text}");
}

#[test]
fn stocks_are_listed_and_get_an_alignment_page() {
    let list = kitwright(&["stock"]);
    code(&list, 0);
    assert!(
        out(&list).contains("letter-2x5     Letter sheet, 2 x 5 labels"),
        "{}",
        out(&list)
    );
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("ruler.pdf");
    code(&kitwright(&["stock", "a4-3x7", "--ruler", page.to_str().unwrap()]), 0);
    let pages = kitwright::proof::read(&std::fs::read(page).unwrap()).unwrap();
    let [page] = &pages[..] else { panic!("{} pages", pages.len()) };
    assert!((page.width - 210.0).abs() < 0.1 && (page.height - 297.0).abs() < 0.1);
    let cell = page.shapes.iter().find(|shape| {
        (shape.left - 7.48).abs() < 0.2 && (shape.right - shape.left - 63.99).abs() < 0.3
    });
    assert!(cell.is_some(), "{:?}", page.shapes.first());
}

#[test]
fn help_completions_and_the_manual_page_are_there() {
    for command in ["make", "plan", "days", "proof", "new", "stock"] {
        let help = kitwright(&[command, "--help"]);
        code(&help, 0);
        assert!(out(&help).contains("Usage: kitwright"), "{command}");
    }
    assert!(out(&kitwright(&["completions", "bash"])).contains("_kitwright"));
    assert!(out(&kitwright(&["man"])).contains(".TH kitwright"));
    assert!(out(&kitwright(&["--version"])).contains("zone data 2026f"));
}

#[test]
fn messages_have_no_colour_where_there_is_no_terminal() {
    let wrong = kitwright(&["plan", "no-such-file.toml"]);
    assert!(!err(&wrong).contains('\u{1b}'), "{}", err(&wrong));
}
