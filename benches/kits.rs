//! How long a kit takes, stage by stage: `cargo bench`.
//!
//! Medians over the demo orders, one thread. Prints a table and asserts
//! nothing; a timing is no test.

use std::path::Path;
use std::time::Instant;

use kitwright::fault::Source;
use kitwright::imposition::Placing;
use kitwright::proof::FileKind;
use kitwright::workshop::Workshop;

const ROUNDS: usize = 10;

fn main() {
    let orders = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-orders");
    let today = "2026-11-10".parse().expect("a date");
    let mut shop = Workshop::new(Some(orders.join("lab.toml")), None, today)
        .and_then(|shop| shop.with_press(None, None))
        .unwrap_or_else(|faults| panic!("{}", faults[0].plain()));
    let mut times: Vec<(&str, Vec<f64>)> =
        ["plan", "make", "proof of paper", "proof of labels", "proof of slip"]
            .map(|stage| (stage, Vec::new()))
            .into();
    let mut bytes = 0;
    let mut kits = 0;
    for _ in 0..ROUNDS {
        for entry in std::fs::read_dir(&orders).expect("the demo orders") {
            let path = entry.expect("an entry").path();
            if path.extension().is_none_or(|kind| kind != "toml")
                || path.ends_with("lab.toml")
            {
                continue;
            }
            let text = std::fs::read_to_string(&path).expect("an order");
            let source = Source::new("order.toml", text);
            let mut stage = 0;
            let mut timed = |start: Instant| {
                times[stage].1.push(start.elapsed().as_secs_f64() * 1000.0);
                stage += 1;
            };
            let start = Instant::now();
            let planned = shop.plan(&source, &path).expect("a sound order");
            if planned.plan.holds().next().is_some() {
                continue;
            }
            timed(start);
            let start = Instant::now();
            let made = shop.make(&planned, &Placing::default()).expect("a kit");
            timed(start);
            kits += 1;
            for kind in FileKind::ALL {
                let start = Instant::now();
                bytes += made.file(kind).len();
                let proof =
                    shop.prove(&planned, &made, kind, made.file(kind), kind.name());
                assert!(proof.is_ok());
                timed(start);
            }
        }
    }
    for (stage, times) in &mut times {
        times.sort_by(f64::total_cmp);
        println!("{stage:<16} {:>7.2} ms", times[times.len() / 2]);
    }
    println!("{:<16} {:>7.1} kB a kit", "size", bytes as f64 / kits as f64 / 1000.0);
}
