//! The floor of the comparison: the pages of a kit placed by hand and written with
//! krilla, with shaped text and no layout engine. It plans nothing and proves nothing.
//!
//! Takes the data that the program's own templates get. Says how long each round
//! over all kits took.

mod data;
mod labels;
mod page;
mod paper;
mod pdf;
mod text;
mod timeline;

use std::path::{Path, PathBuf};
use std::sync::Barrier;
use std::time::Instant;

use clap::Parser;
use serde::de::DeserializeOwned;

use text::Fonts;

#[derive(Parser)]
struct Cli {
    /// The folder of data, a folder in it for each kit.
    #[arg(long)]
    data: PathBuf,

    /// The folder to write to.
    #[arg(long)]
    out: PathBuf,

    /// The folder of fonts.
    #[arg(long)]
    fonts: PathBuf,

    #[arg(long, default_value_t = 1)]
    workers: usize,

    #[arg(long, default_value_t = 3)]
    rounds: usize,

    /// Takes only the first kits.
    #[arg(long)]
    limit: Option<usize>,

    /// Makes one kit and ends.
    #[arg(long)]
    once: bool,

    /// Makes all kits once and ends.
    #[arg(long)]
    pass: bool,
}

fn main() {
    let cli = Cli::parse();
    let kits = kits_of(&cli.data, if cli.once { Some(1) } else { cli.limit });
    if cli.once || cli.pass {
        let fonts = Fonts::load(&cli.fonts);
        kits.iter().for_each(|kit| make(kit, &fonts, &cli.out));
        return;
    }
    let barrier = Barrier::new(cli.workers + 1);
    let mut seconds = Vec::new();
    std::thread::scope(|scope| {
        for worker in 0..cli.workers {
            let (cli, kits, barrier) = (&cli, &kits, &barrier);
            scope.spawn(move || {
                let fonts = Fonts::load(&cli.fonts);
                for _ in 0..=cli.rounds {
                    barrier.wait();
                    for kit in kits.iter().skip(worker).step_by(cli.workers) {
                        make(kit, &fonts, &cli.out);
                    }
                    barrier.wait();
                }
            });
        }
        // The first round warms up.
        for _ in 0..=cli.rounds {
            barrier.wait();
            let start = Instant::now();
            barrier.wait();
            seconds.push(start.elapsed().as_secs_f64());
        }
    });
    seconds.remove(0);
    println!("{}", serde_json::json!({ "kits": kits.len(), "seconds": seconds }));
}

/// The folder of each kit, in the order of their numbers.
fn kits_of(folder: &Path, limit: Option<usize>) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).expect("the folder of data");
    let mut folders: Vec<PathBuf> =
        entries.map(|entry| entry.expect("an entry").path()).collect();
    folders.retain(|path| path.is_dir());
    folders.sort();
    folders.truncate(limit.unwrap_or(usize::MAX));
    folders
}

fn make(kit: &Path, fonts: &Fonts, out: &Path) {
    let folder = out.join(kit.file_name().expect("a name"));
    std::fs::create_dir_all(&folder).expect("a folder");
    let write = |name: &str, bytes: Vec<u8>| {
        std::fs::write(folder.join(name), bytes).expect("a file");
    };
    let data: data::Paper = parsed(&kit.join("paper.json"));
    let title = &data.page.title;
    write("paper.pdf", pdf::pdf(paper::paper(&data, fonts), fonts, title));
    let data: data::Labels = parsed(&kit.join("labels.json"));
    write("labels.pdf", pdf::pdf(labels::labels(&data, fonts), fonts, &data.title));
    let data: data::Slip = parsed(&kit.join("packing.json"));
    let title = &data.title;
    write("packing.pdf", pdf::pdf(paper::packing(&data, fonts), fonts, title));
}

fn parsed<T: DeserializeOwned>(path: &Path) -> T {
    let json = std::fs::read(path).expect("a file of data");
    serde_json::from_slice(&json).expect("data of a kit")
}
