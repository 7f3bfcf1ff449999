//! Writes the data of each kit's documents, as the templates get it, for the other
//! programs of the comparison, and beside it the kit's PDFs to compare theirs with.

use std::path::Path;

use kitwright::document::{Packing, Paper, label_sheets, packing_slip, paper_documents};
use kitwright::imposition::{Placing, impose};
use kitwright::making::MadeKit;
use kitwright::proof::FileKind;
use kitwright::workshop::{Planned, Workshop};
use serde::Serialize;

use super::{order_files, sound, workshop};

/// The data of the three files of one kit.
pub struct Data {
    pub paper: Paper,
    pub labels: kitwright::document::Labels,
    pub packing: Packing,
}

impl Data {
    /// What the documents of `planned` say; `made` is the finished kit, for the
    /// numbers of its pages.
    pub fn of(shop: &mut Workshop, planned: &Planned, made: &MadeKit) -> Self {
        let words = sound(shop.words(&planned.order.language));
        let packers = sound(shop.words(&planned.lab.lab.language));
        let stock = &made.batch.stock;
        let kit = planned.kit(stock, &words);
        let cells =
            impose(stock, &[planned.plan.slots.len()], 1, Default::default()).cells;
        let slip = sound(packing_slip(&kit, &packers, made.counts(), None));
        let blank = &made.batch.kits[0].blank;
        let paper = Paper { kits: vec![sound(paper_documents(&kit, blank))] };
        let placing = Placing::default();
        let labels = sound(label_sheets(&[kit], stock, &placing, &cells, &packers));
        Self { paper, labels, packing: Packing { cover: None, slips: vec![slip] } }
    }
}

/// Writes a folder for each order of `orders`.
pub fn write(orders: &Path, out: &Path) {
    let mut shop = workshop(orders);
    for file in order_files(&mut shop, orders) {
        let planned = file.plan(&mut shop);
        let made = sound(shop.make(&planned, &Placing::default()));
        let data = Data::of(&mut shop, &planned, &made);
        let folder = out.join(&planned.order.number);
        std::fs::create_dir_all(&folder).expect("a folder");
        let json = |kind: FileKind, json: Vec<u8>| {
            let path = folder.join(kind.name());
            std::fs::write(path.with_extension("json"), json).expect("a file");
            std::fs::write(path, made.file(kind)).expect("a file");
        };
        json(FileKind::Paper, text(&data.paper));
        json(FileKind::Labels, text(&data.labels));
        json(FileKind::Packing, text(&data.packing));
        if let Some(logo) = &planned.lab.logo {
            std::fs::write(out.join("logo.svg"), logo).expect("a file");
        }
    }
}

fn text(data: &impl Serialize) -> Vec<u8> {
    serde_json::to_vec(data).expect("plain data")
}
