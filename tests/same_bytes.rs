//! Same order, same bytes. The SHA-256 of every file of the demo kits, and of print
//! runs of the demo export, is kept in `tests/same_bytes.txt`; here they are made on
//! one thread and on two, in shards, after a stop, twice in one process, and with
//! other surroundings. `tests/outside/same_bytes.py` asks the same of the release
//! build, and hashes with another library.
//!
//! A hash that changes is a change of what people read, so it is renewed on purpose:
//! look at the pages, then `KITWRIGHT_RENEW_HASHES=1 cargo test --test same_bytes`.

mod common;

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::OnceLock;

use common::{demo_orders, workshop};
use kitwright::imposition::Placing;
use kitwright::proof::FileKind;
use sha2::{Digest, Sha256};

/// Files by their names under a folder.
type Files = BTreeMap<String, Vec<u8>>;

/// The day and the moment of the runs; the kits themselves must not depend on them.
const TODAY: &str = "2026-09-01";
const NOW: &str = "2026-11-25T08:00:00Z";

/// Four parts and an archive, so that every kind of file is there more than once.
const RUN: [&str; 3] = ["--kits-per-file", "4", "--archive"];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn kept_file() -> PathBuf {
    root().join("tests/same_bytes.txt")
}

fn kitwright() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_kitwright"));
    command.current_dir(root()).stdin(Stdio::null());
    command
}

/// Runs a command that makes all it can: it ends with exit code 1 if an order is on hold,
/// as one of the demo orders and one of the export are.
#[track_caller]
fn made(mut command: Command) {
    let output = command.output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(matches!(output.status.code(), Some(0 | 1)), "{command:?}\n{said}");
    assert!(!said.contains("error"), "{command:?}\n{said}");
}

fn make(command: &mut Command, orders: &[PathBuf], out: &Path) {
    command.arg("make").args(orders).arg("--out").arg(out).args(["--today", TODAY]);
}

fn run(out: &Path, more: &[&str]) -> Command {
    let mut command = kitwright();
    command.args(["run", "demo-orders/export/orders.csv", "--out"]).arg(out);
    command.args(["--today", TODAY, "--now", NOW]).args(RUN).args(more);
    command
}

/// Every file in a folder but the journal of a run, with `before` before its name.
fn files(before: &str, folder: &Path) -> Files {
    let mut found = Files::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let name = format!("{before}/{name}");
        if path.is_file() {
            found.insert(name, std::fs::read(&path).unwrap());
        } else if !name.ends_with("/.run") {
            found.append(&mut files(&name, &path));
        }
    }
    found
}

/// The demo kits, made as README says, in a folder that is gone afterwards.
fn demo_kits() -> Files {
    let folder = tempfile::tempdir().unwrap();
    let mut command = kitwright();
    make(&mut command, &["demo-orders".into()], folder.path());
    made(command);
    files("make", folder.path())
}

fn demo_run(before: &str, more: &[&str]) -> Files {
    let folder = tempfile::tempdir().unwrap();
    made(run(&folder.path().join("out"), more));
    files(before, &folder.path().join("out"))
}

fn hashes(files: &Files) -> BTreeMap<String, String> {
    let hash = |bytes: &Vec<u8>| {
        Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
    };
    files.iter().map(|(name, bytes)| (name.clone(), hash(bytes))).collect()
}

/// The hashes that are kept, by name. With `KITWRIGHT_RENEW_HASHES` set they are made
/// anew first, once, whichever test comes first.
fn kept() -> &'static BTreeMap<String, String> {
    static KEPT: OnceLock<BTreeMap<String, String>> = OnceLock::new();
    KEPT.get_or_init(|| {
        if std::env::var_os("KITWRIGHT_RENEW_HASHES").is_some() {
            renew();
        }
        let text = std::fs::read_to_string(kept_file()).unwrap();
        text.lines()
            .filter(|line| !line.starts_with('#'))
            .map(|line| {
                let (hash, name) = line.split_once("  ").unwrap();
                (name.to_owned(), hash.to_owned())
            })
            .collect()
    })
}

const HEAD: &str = "\
# SHA-256 of what the demo orders come to, in the form of sha256sum. Written by
# KITWRIGHT_RENEW_HASHES=1 cargo test --test same_bytes
# A change here is a change of what people read: look at the pages first.
";

fn renew() {
    let mut all = hashes(&demo_kits());
    for (before, more) in SCENES {
        all.append(&mut hashes(&demo_run(before, more)));
    }
    let mut text = HEAD.to_owned();
    for (name, hash) in all {
        writeln!(text, "{hash}  {name}").unwrap();
    }
    std::fs::write(kept_file(), text).unwrap();
}

/// The print runs that are kept: the whole one and its two shards.
const SCENES: [(&str, &[&str]); 3] = [
    ("run", &["--threads", "1"]),
    ("shard-1", &["--threads", "1", "--shard", "1/2"]),
    ("shard-2", &["--threads", "1", "--shard", "2/2"]),
];

/// Compares files with what is kept of all whose names begin with `scene/`. Those that
/// differ are put where they can be looked at.
#[track_caller]
fn as_kept(scene: &str, how: &str, found: &Files) {
    let of_scene =
        |name: &str| name.split_once('/').is_some_and(|(before, _)| before == scene);
    let kept: BTreeMap<_, _> = kept().iter().filter(|(name, _)| of_scene(name)).collect();
    assert!(!kept.is_empty(), "nothing is kept of {scene}");
    let looked_at = Path::new(env!("CARGO_TARGET_TMPDIR")).join("same_bytes").join(how);
    let mut differ = Vec::new();
    let now = hashes(found);
    for (name, hash) in &now {
        if kept.get(name) != Some(&hash) {
            let path = looked_at.join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(&path, &found[name]).unwrap();
            differ.push(format!("{name} has other bytes: {}", path.display()));
        }
    }
    let gone = kept.keys().filter(|name| !now.contains_key(**name));
    differ.extend(gone.map(|name| format!("{name} was not made")));
    assert!(
        differ.is_empty(),
        "{how}: {} of {} files are not those that are kept:\n  {}\n\
         if every test here says so, something that is printed has changed: look at the \
         pages of these files, and if they are right, keep the new hashes with\n  \
         KITWRIGHT_RENEW_HASHES=1 cargo test --test same_bytes\n\
         if only some say so, the same order no longer gives the same bytes: mend that",
        differ.len(),
        kept.len(),
        differ.join("\n  ")
    );
}

#[test]
fn the_demo_kits_are_those_that_are_kept() {
    as_kept("make", "as README says", &demo_kits());
}

#[test]
fn a_print_run_and_its_shards_are_those_that_are_kept() {
    for (scene, more) in SCENES {
        as_kept(scene, "on one thread", &demo_run(scene, more));
    }
}

#[test]
fn two_threads_change_no_byte() {
    as_kept("run", "on two threads", &demo_run("run", &["--threads", "2"]));
}

/// The paper of a kit is the same whichever pile it lies in.
#[test]
fn a_kit_in_a_shard_is_the_kit_of_the_whole_run() {
    let of = |scene: &str| -> BTreeMap<String, String> {
        let begins = format!("{scene}/archive/");
        let kept = kept().iter();
        kept.filter_map(|(name, hash)| {
            Some((name.strip_prefix(&begins)?.to_owned(), hash.clone()))
        })
        .collect()
    };
    let (mut one, mut two) = (of("shard-1"), of("shard-2"));
    assert!(one.len() > 1 && two.len() > 1, "{} and {}", one.len(), two.len());
    one.append(&mut two);
    assert_eq!(one, of("run"));
}

/// As a power cut leaves it: the records of one part and of the end are missing, one
/// file of the part is cut off and one is not there.
#[test]
fn a_run_that_goes_on_ends_in_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    made(run(&out, &["--threads", "2"]));
    for name in [".run/part-002.json", ".run/end.json", "labels-02.pdf", "manifest.csv"] {
        std::fs::remove_file(out.join(name)).unwrap_or_else(|error| {
            panic!("{name}: {error}");
        });
    }
    let paper = std::fs::read(out.join("paper-02.pdf")).unwrap();
    std::fs::write(out.join("paper-02.pdf"), &paper[..paper.len() / 2]).unwrap();
    made(run(&out, &["--threads", "1", "--resume"]));
    as_kept("run", "after a stop", &files("run", &out));
}

/// What was set before leaves nothing behind in the typesetter.
#[test]
fn one_process_gives_the_same_bytes_again_in_any_order() {
    let mut shop = workshop();
    let mut orders = demo_orders();
    for turn in ["the first time", "again"] {
        let mut found = Files::new();
        for (name, source) in &orders {
            let path = root().join("demo-orders").join(name);
            let planned = shop.plan(source, &path).unwrap();
            if planned.plan.holds().next().is_some() {
                continue;
            }
            let made = shop.make(&planned, &Placing::default()).unwrap();
            for kind in FileKind::ALL {
                let name = format!("make/{}/{}", planned.order.number, kind.name());
                found.insert(name, made.file(kind).to_vec());
            }
        }
        as_kept("make", turn, &found);
        orders.reverse();
    }
}

/// Another zone, language, folder, umask, day and order of the files.
#[cfg(unix)]
#[test]
fn the_surroundings_change_no_byte() {
    let mut orders: Vec<PathBuf> = demo_orders()
        .iter()
        .map(|(name, _)| root().join("demo-orders").join(name))
        .collect();
    orders.reverse();
    for (zone, language, umask, today) in [
        ("Pacific/Kiritimati", "tr_TR.UTF-8", "000", "2026-09-30"),
        (":/nowhere", "C", "077", "2026-08-25"),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("a folder — with a name");
        let mut command = Command::new("sh");
        let umask = format!("umask {umask}; exec \"$@\"");
        command.args(["-c", &umask, "sh", env!("CARGO_BIN_EXE_kitwright"), "make"]);
        command.args(&orders).arg("--out").arg(&out).args(["--today", today]);
        command.current_dir(folder.path()).stdin(Stdio::null()).env_clear();
        command.env("TZ", zone).env("LANG", language).env("LC_ALL", language);
        made(command);
        as_kept("make", &format!("in {language}"), &files("make", &out));
    }
}
