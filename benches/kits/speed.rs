//! Makes all kits of a folder again and again, as the program does, and says how
//! long each round took.

use std::path::{Path, PathBuf};
use std::sync::Barrier;
use std::time::Instant;

use clap::Args;
use kitwright::imposition::Placing;
use kitwright::output::Staged;
use kitwright::proof::FileKind;
use kitwright::workshop::Workshop;

use super::{OrderFile, one_thread, order_files, sound, workshop};

#[derive(Debug, Args)]
pub struct Speed {
    /// A folder of order files.
    orders: PathBuf,

    /// The folder to write to.
    out: PathBuf,

    #[arg(long, default_value_t = 1)]
    threads: usize,

    /// How often all kits are made, after once to warm up.
    #[arg(long, default_value_t = 5)]
    rounds: usize,

    /// Does not prove what it makes, and so only measures.
    #[arg(long)]
    no_proof: bool,
}

/// Measures and prints JSON: the kits of a round, and the seconds of each.
pub fn show(speed: &Speed) {
    let mut shop = workshop(&speed.orders);
    let files = order_files(&mut shop, &speed.orders);
    let setup = shop.setup().clone();
    // All threads begin each round together; the main thread takes the time.
    let barrier = Barrier::new(speed.threads + 1);
    let mut seconds = Vec::new();
    std::thread::scope(|scope| {
        for thread in 0..speed.threads {
            let (setup, files, barrier) = (setup.clone(), &files, &barrier);
            let work = move || {
                let _pool = one_thread();
                let mut shop = Workshop::with(setup);
                for _ in 0..=speed.rounds {
                    barrier.wait();
                    for file in files.iter().skip(thread).step_by(speed.threads) {
                        make(&mut shop, file, &speed.out, speed.no_proof);
                    }
                    barrier.wait();
                }
            };
            // The stack that the program's own threads have.
            std::thread::Builder::new()
                .stack_size(32 * 1024 * 1024)
                .spawn_scoped(scope, work)
                .expect("a thread");
        }
        for _ in 0..=speed.rounds {
            barrier.wait();
            let start = Instant::now();
            barrier.wait();
            seconds.push(start.elapsed().as_secs_f64());
        }
    });
    seconds.remove(0);
    println!("{}", serde_json::json!({ "kits": files.len(), "seconds": seconds }));
}

/// From the text of an order to files.
fn make(shop: &mut Workshop, file: &OrderFile, out: &Path, no_proof: bool) {
    let planned = file.plan(shop);
    let made = sound(shop.make(&planned, &Placing::default()));
    let folder = out.join(&planned.order.number);
    let mut staged = Staged::default();
    for kind in FileKind::ALL {
        let bytes = made.file(kind);
        if !no_proof {
            sound(shop.prove(&planned, &made, kind, bytes, kind.name()));
        }
        staged.replace(folder.join(kind.name()), bytes).expect("a file");
    }
    staged.publish().expect("files");
}
