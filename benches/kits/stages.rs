//! How long a kit takes, stage by stage: medians over the orders of a folder, one
//! thread. Prints a table or JSON and asserts no timing.
//!
//! What of making a kit is layout and what is export is asked of the typesetter's own
//! timer, in kits made for that alone: the timer costs time, so it is only trusted for
//! the shares.

use std::path::Path;
use std::time::Instant;

use kitwright::imposition::Placing;
use kitwright::output::Staged;
use kitwright::proof::FileKind;
use kitwright::workshop::Workshop;
use serde::Deserialize;

use super::{OrderFile, one_thread, order_files, sound, workshop};

/// Stages in their order.
const STAGES: [&str; 8] = [
    "plan",
    "data",
    "layout",
    "export",
    "proof of paper",
    "proof of labels",
    "proof of slip",
    "write",
];

/// Milliseconds of every kit.
#[derive(Default)]
struct Times {
    plan: Vec<f64>,
    make: Vec<f64>,
    proof: [Vec<f64>; 3],
    write: Vec<f64>,
}

/// Shares of making a kit.
struct Shares {
    layout: f64,
    export: f64,
}

/// Measures and prints the stages.
pub fn show(orders: &Path, rounds: usize, json: bool) {
    let _pool = one_thread();
    let mut shop = workshop(orders);
    let files = order_files(&mut shop, orders);
    let folder = tempfile::tempdir().expect("a folder");
    let mut times = Times::default();
    let mut bytes = 0;
    // Once to warm up.
    for round in 0..=rounds {
        if round == 1 {
            (times, bytes) = (Times::default(), 0);
        }
        for file in &files {
            bytes += kit(&mut shop, file, folder.path(), &mut times);
        }
    }
    let kilobytes = bytes as f64 / 1000.0 / (rounds * files.len()) as f64;
    let shares = shares(&mut shop, &files);
    let make = median(&mut times.make);
    let (layout, export) = (make * shares.layout, make * shares.export);
    let [paper, labels, slip] = times.proof.each_mut().map(|times| median(times));
    let plan = median(&mut times.plan);
    let write = median(&mut times.write);
    let data = make - layout - export;
    let medians = [plan, data, layout, export, paper, labels, slip, write];
    let stages = STAGES.into_iter().zip(medians);
    if json {
        let ms: serde_json::Map<_, _> =
            stages.map(|(name, median)| (name.to_owned(), median.into())).collect();
        println!("{}", serde_json::json!({ "ms": ms, "kilobytes": kilobytes }));
        return;
    }
    for (name, median) in stages {
        println!("{name:<16} {median:>7.2} ms");
    }
    println!("{:<16} {:>7.2} ms", "all", medians.iter().sum::<f64>());
    println!("{:<16} {kilobytes:>7.1} kB a kit", "size");
}

/// Makes, proves and writes one kit as the program does. Gives its size in bytes.
fn kit(shop: &mut Workshop, file: &OrderFile, out: &Path, times: &mut Times) -> usize {
    let planned = timed(&mut times.plan, || file.plan(shop));
    let placing = Placing::default();
    let made = timed(&mut times.make, || sound(shop.make(&planned, &placing)));
    for (kind, times) in FileKind::ALL.into_iter().zip(&mut times.proof) {
        let bytes = made.file(kind);
        timed(times, || sound(shop.prove(&planned, &made, kind, bytes, kind.name())));
    }
    let folder = out.join(&planned.order.number);
    timed(&mut times.write, || {
        let mut staged = Staged::default();
        for kind in FileKind::ALL {
            staged.replace(folder.join(kind.name()), made.file(kind)).expect("a file");
        }
        staged.publish().expect("files");
    });
    FileKind::ALL.iter().map(|kind| made.file(*kind).len()).sum()
}

fn timed<T>(times: &mut Vec<f64>, work: impl FnOnce() -> T) -> T {
    let start = Instant::now();
    let result = work();
    times.push(start.elapsed().as_secs_f64() * 1000.0);
    result
}

fn median(times: &mut [f64]) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

/// An event of the typesetter's timer: the begin or end of something.
#[derive(Deserialize)]
struct Event {
    name: String,
    ph: String,
    /// Microseconds.
    ts: f64,
}

/// Makes all kits once more, with the typesetter's timer on.
fn shares(shop: &mut Workshop, files: &[OrderFile]) -> Shares {
    let (mut all, mut layout, mut export) = (Vec::new(), 0.0, 0.0);
    for file in files {
        let planned = file.plan(shop);
        typst_timing::enable();
        timed(&mut all, || sound(shop.make(&planned, &Placing::default())));
        typst_timing::disable();
        let events = events();
        layout += within(&events, "compile");
        export += within(&events, "pdf");
    }
    let all: f64 = all.iter().sum();
    assert!(layout > 0.0 && export > 0.0, "the typesetter's timer has other names now");
    Shares { layout: layout / all, export: export / all }
}

fn events() -> Vec<Event> {
    let mut json = Vec::new();
    // What the places in the templates are called is not asked.
    typst_timing::export_json(&mut json, |_| (String::new(), 0)).expect("events");
    serde_json::from_slice(&json).expect("events")
}

/// Milliseconds between begins and ends of `name`, which does not hold itself.
fn within(events: &[Event], name: &str) -> f64 {
    let sum: f64 = events
        .iter()
        .filter(|event| event.name == name)
        .map(|event| if event.ph == "B" { -event.ts } else { event.ts })
        .sum();
    sum / 1000.0
}
