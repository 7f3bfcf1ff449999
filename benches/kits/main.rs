//! Measures what the program does, for `compare.py` and `instructions.py` and for
//! `cargo bench`, which shows how long a kit takes stage by stage.
//!
//! Asserts no timing. What it measures is first compared with what the program
//! makes, so that nothing else is measured.

mod counted;
mod data;
mod speed;
mod stages;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::{Parser, Subcommand};
use kitwright::fault::{Fault, Source};
use kitwright::workshop::{Planned, Workshop};

/// Measures how kits are made.
#[derive(Debug, Parser)]
struct Cli {
    #[command(subcommand)]
    command: Option<Command>,

    /// What `cargo bench` says; it changes nothing.
    #[arg(long, global = true, hide = true)]
    bench: bool,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Shows the median time of each stage of a kit, on one thread.
    Stages {
        /// A folder of order files.
        orders: PathBuf,

        /// How often each kit is made.
        #[arg(long, default_value_t = 10)]
        rounds: usize,

        /// Prints JSON.
        #[arg(long)]
        json: bool,
    },
    /// Makes all kits again and again, and prints how long each round took, as JSON.
    Speed(speed::Speed),
    /// Writes the data of each kit's documents, and its PDFs, for other programs.
    Data {
        /// A folder of order files.
        orders: PathBuf,

        /// The folder to write to.
        out: PathBuf,
    },
    /// Takes ten demo orders as far as a stage and ends, to be counted from outside.
    Counted {
        /// The last stage.
        #[arg(value_enum)]
        until: counted::Stage,
    },
}

fn main() {
    match Cli::parse().command {
        None => stages::show(&demo_orders(), 10, false),
        Some(Command::Stages { orders, rounds, json }) => {
            stages::show(&orders, rounds, json);
        }
        Some(Command::Speed(speed)) => speed::show(&speed),
        Some(Command::Data { orders, out }) => data::write(&orders, &out),
        Some(Command::Counted { until }) => counted::run(until),
    }
}

fn demo_orders() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-orders")
}

/// A workshop for the orders of a folder, always on the same day.
fn workshop(orders: &Path) -> Workshop {
    let today = "2026-09-01".parse().expect("a date");
    sound(
        Workshop::new(Some(orders.join("lab.toml")), None, today)
            .and_then(|shop| shop.with_press(None, None)),
    )
}

/// An order's file that has been read.
struct OrderFile {
    path: PathBuf,
    source: Arc<Source>,
}

impl OrderFile {
    fn plan(&self, shop: &mut Workshop) -> Planned {
        sound(shop.plan(&self.source, &self.path))
    }
}

/// The orders of a folder by name, without those on hold.
fn order_files(shop: &mut Workshop, folder: &Path) -> Vec<OrderFile> {
    let entries = std::fs::read_dir(folder).unwrap_or_else(|error| {
        panic!("cannot read the folder {}: {error}", folder.display())
    });
    let mut paths: Vec<PathBuf> =
        entries.map(|entry| entry.expect("an entry").path()).collect();
    paths.retain(|path| {
        path.extension().is_some_and(|kind| kind == "toml") && !path.ends_with("lab.toml")
    });
    paths.sort();
    let read = |path: PathBuf| {
        let text = std::fs::read_to_string(&path).expect("an order");
        OrderFile { source: Source::new(path.display().to_string(), text), path }
    };
    let mut files: Vec<OrderFile> = paths.into_iter().map(read).collect();
    files.retain(|file| file.plan(shop).plan.holds().next().is_none());
    assert!(!files.is_empty(), "{} has no order to make", folder.display());
    files
}

/// What came of a step that no benchmark order may fail.
fn sound<T>(result: Result<T, Vec<Fault>>) -> T {
    result.unwrap_or_else(|faults| panic!("{}", faults[0].plain()))
}

/// Keeps the typesetter's work on this thread, as the program's own threads do.
/// Dropped, the pool is gone.
fn one_thread() -> rayon::ThreadPool {
    rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .use_current_thread()
        .build()
        .expect("a pool of this thread alone")
}
