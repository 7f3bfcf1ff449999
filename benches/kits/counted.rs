//! Takes ten demo orders as far as one stage and ends. `instructions.py` counts the
//! instructions of the whole process; a stage's own are what it has more than the
//! stage before.
//!
//! Nothing here may change from run to run: no clock, no threads, no random number
//! of its own, no network, and no file but the orders.

use clap::ValueEnum;
use kitwright::imposition::Placing;
use kitwright::making::MadeKit;
use kitwright::proof::FileKind;
use kitwright::workshop::Planned;

use super::{demo_orders, one_thread, order_files, sound, workshop};

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, ValueEnum)]
pub enum Stage {
    /// Fonts, templates and the orders' texts.
    Ready,
    /// Orders read and planned.
    Plan,
    /// PDFs made.
    Make,
    /// The paper proven.
    ProofPaper,
    /// The labels proven.
    ProofLabels,
    /// The packing slips proven.
    ProofSlips,
}

/// How many orders are made.
const ORDERS: usize = 10;

pub fn run(until: Stage) {
    let _pool = one_thread();
    let orders = demo_orders();
    let mut shop = workshop(&orders);
    let mut files = order_files(&mut shop, &orders);
    files.truncate(ORDERS);
    assert_eq!(files.len(), ORDERS, "the demo orders are too few");
    if until < Stage::Plan {
        return;
    }
    let planned: Vec<Planned> = files.iter().map(|file| file.plan(&mut shop)).collect();
    if until < Stage::Make {
        return;
    }
    let placing = Placing::default();
    let made: Vec<MadeKit> =
        planned.iter().map(|one| sound(shop.make(one, &placing))).collect();
    for (stage, kind) in [
        (Stage::ProofPaper, FileKind::Paper),
        (Stage::ProofLabels, FileKind::Labels),
        (Stage::ProofSlips, FileKind::Packing),
    ] {
        if until < stage {
            return;
        }
        for (planned, made) in planned.iter().zip(&made) {
            sound(shop.prove(planned, made, kind, made.file(kind), kind.name()));
        }
    }
}
