//! How long a kit takes, stage by stage: medians over the orders of a folder, one
//! thread. Prints a table or JSON and asserts no timing.

use std::path::Path;
use std::time::Instant;

use kitwright::imposition::Placing;
use kitwright::output;
use kitwright::proof::FileKind;
use kitwright::typeset::{About, Press, Template, lay_out};
use kitwright::workshop::{Planned, Workshop};
use serde::Serialize;

use super::data::Data;
use super::{OrderFile, one_thread, order_files, sound, workshop};

/// The stages of a kit. The last, `make`, is what data, layout and export are when
/// the program does them in one.
const STAGES: [&str; 9] = [
    "plan",
    "data",
    "layout",
    "export",
    "proof of paper",
    "proof of labels",
    "proof of slip",
    "write",
    "make",
];

/// Milliseconds of each stage, over all kits.
#[derive(Default)]
struct Times([Vec<f64>; STAGES.len()]);

impl Times {
    fn of<T>(&mut self, stage: &str, work: impl FnOnce() -> T) -> T {
        let index = STAGES.iter().position(|name| *name == stage).expect("a stage");
        let start = Instant::now();
        let result = work();
        self.0[index].push(start.elapsed().as_secs_f64() * 1000.0);
        result
    }

    /// Adds the last `count` times of a stage up to one.
    fn join(&mut self, stage: &str, count: usize) {
        let index = STAGES.iter().position(|name| *name == stage).expect("a stage");
        let from = self.0[index].len() - count;
        let sum = self.0[index].drain(from..).sum();
        self.0[index].push(sum);
    }

    fn median(&mut self, index: usize) -> f64 {
        let times = &mut self.0[index];
        times.sort_by(f64::total_cmp);
        times[times.len() / 2]
    }
}

/// Measures and prints the stages.
pub fn show(orders: &Path, rounds: usize, json: bool) {
    let _pool = one_thread();
    let mut shop = workshop(orders);
    let press = sound(Press::new(Vec::new()));
    let files = order_files(&mut shop, orders);
    let folder = tempfile::tempdir().expect("a folder");
    let mut times = Times::default();
    let mut bytes = 0;
    // Once to warm up and to see that the right thing is measured.
    for round in 0..=rounds {
        if round == 1 {
            times = Times::default();
            bytes = 0;
        }
        for file in &files {
            bytes += made(&mut shop, file, folder.path(), &mut times);
        }
        for file in &files {
            taken_apart(&mut shop, &press, file, &mut times, round == 0);
        }
    }
    let kilobytes = bytes as f64 / 1000.0 / (rounds * files.len()) as f64;
    let medians: Vec<f64> = (0..STAGES.len()).map(|index| times.median(index)).collect();
    if json {
        let stages: serde_json::Map<_, _> = STAGES
            .iter()
            .zip(&medians)
            .map(|(name, median)| ((*name).to_owned(), (*median).into()))
            .collect();
        println!("{}", serde_json::json!({ "ms": stages, "kilobytes": kilobytes }));
        return;
    }
    for (name, median) in STAGES.iter().zip(medians) {
        println!("{name:<16} {median:>7.2} ms");
    }
    println!("{:<16} {kilobytes:>7.1} kB a kit", "size");
}

/// Makes, proves and writes one kit as the program does. Gives its size in bytes.
fn made(shop: &mut Workshop, file: &OrderFile, out: &Path, times: &mut Times) -> usize {
    let planned = times.of("plan", || file.plan(shop));
    let made = times.of("make", || sound(shop.make(&planned, &Placing::default())));
    for kind in FileKind::ALL {
        let stage = match kind {
            FileKind::Paper => "proof of paper",
            FileKind::Labels => "proof of labels",
            FileKind::Packing => "proof of slip",
        };
        times.of(stage, || {
            sound(shop.prove(&planned, &made, kind, made.file(kind), kind.name()));
        });
    }
    let folder = out.join(&planned.order.number);
    times.of("write", || {
        for kind in FileKind::ALL {
            output::write_whole(&folder.join(kind.name()), made.file(kind))
                .expect("a file");
        }
    });
    FileKind::ALL.iter().map(|kind| made.file(*kind).len()).sum()
}

/// Does what `make` does, one step after the other. With `check`, the bytes are
/// compared with those that the program makes.
fn taken_apart(
    shop: &mut Workshop,
    press: &Press,
    file: &OrderFile,
    times: &mut Times,
    check: bool,
) {
    let planned = file.plan(shop);
    let made = sound(shop.make(&planned, &Placing::default()));
    // Whatever is remembered of this kit is not to help.
    (0..3).for_each(|_| comemo::evict(0));
    let data = times.of("data", || Data::of(shop, &planned, &made));
    let logo = planned.lab.logo.as_deref();
    let Data { paper, labels, packing } = &data;
    let titles = [&paper.kits[0].page.title, &labels.title, &packing.slips[0].title];
    let [first, second, third] = titles.map(|title| title.as_str());
    let files = [
        pdf(press, &planned, FileKind::Paper, first, paper, logo, times),
        pdf(press, &planned, FileKind::Labels, second, labels, None, times),
        pdf(press, &planned, FileKind::Packing, third, packing, None, times),
    ];
    for (kind, bytes) in FileKind::ALL.into_iter().zip(files) {
        assert!(
            !check || bytes == made.file(kind),
            "{} of {} is not what the program makes: stages.rs no longer does what it \
             does",
            kind.name(),
            planned.order.number
        );
    }
    times.join("layout", FileKind::ALL.len());
    times.join("export", FileKind::ALL.len());
}

fn pdf(
    press: &Press,
    planned: &Planned,
    kind: FileKind,
    title: &str,
    data: &impl Serialize,
    logo: Option<&[u8]>,
    times: &mut Times,
) -> Vec<u8> {
    let template = match kind {
        FileKind::Paper => Template::Paper,
        FileKind::Labels => Template::Labels,
        FileKind::Packing => Template::Packing,
    };
    let number = &planned.order.number;
    let about = About {
        identity: format!("{number}/{}/0/0", kind.name().trim_end_matches(".pdf")),
        title: format!("{title} – {number}"),
        sides: kind.sides(),
        logo,
    };
    let laid = times.of("layout", || sound(lay_out(press, template, data, logo)));
    times.of("export", || sound(laid.export(&about)))
}
