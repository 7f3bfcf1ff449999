//! Writes the data of each kit's documents, as the templates get it, for the other
//! programs of the comparison, and beside it the kit's PDFs to compare theirs with.

use std::path::Path;

use kitwright::document::{
    Labels, PaperDocuments, label_sheets, modules, packing_slip, paper_documents,
};
use kitwright::imposition::Placing;
use kitwright::making::MadeKit;
use kitwright::proof::FileKind;
use kitwright::workshop::{Planned, Workshop};
use serde::Serialize;

use super::{order_files, sound, workshop};

/// The paper of one kit, as its template reads it.
#[derive(Serialize)]
struct OnePaper {
    alone: bool,
    #[serde(flatten)]
    documents: PaperDocuments,
}

/// Writes a folder for each order of `orders`.
pub fn write(orders: &Path, out: &Path) {
    let mut shop = workshop(orders);
    for file in order_files(&mut shop, orders) {
        let planned = file.plan(&mut shop);
        let made = sound(shop.make(&planned, &Placing::default()));
        let folder = out.join(&planned.order.number);
        std::fs::create_dir_all(&folder).expect("a folder");
        for (kind, json) in
            FileKind::ALL.into_iter().zip(data(&mut shop, &planned, &made))
        {
            let path = folder.join(kind.name());
            std::fs::write(path.with_extension("json"), json).expect("a file");
            std::fs::write(path, made.file(kind)).expect("a file");
        }
        if let Some(logo) = &planned.lab.logo {
            std::fs::write(out.join("logo.svg"), logo).expect("a file");
        }
    }
}

/// What the three files of a kit say, as JSON; `made` is the finished kit, for the
/// numbers of its pages and the cells of its labels.
fn data(shop: &mut Workshop, planned: &Planned, made: &MadeKit) -> [Vec<u8>; 3] {
    let words = sound(shop.words(&planned.order.language));
    let packers = sound(shop.words(&planned.lab.lab.language));
    let batch = &made.batch;
    let kit = planned.kit(&batch.stock, &words);
    let documents = sound(paper_documents(&kit, &batch.kits[0].blank));
    let slip = sound(packing_slip(&kit, &packers, made.counts(), None));
    let cells = &batch.imposition.cells;
    let labels =
        sound(label_sheets(&[kit], &batch.stock, &batch.placing, cells, &packers));
    [json(&OnePaper { alone: true, documents }), drawn(&labels), json(&slip)]
}

/// The labels with the modules of their QR codes, which our own template gets as bytes.
fn drawn(labels: &Labels) -> Vec<u8> {
    let all = modules(labels);
    let mut data = serde_json::to_value(labels).expect("plain data");
    let sheets = data["sheets"].as_array_mut().expect("sheets").iter_mut();
    let mut start = 0;
    for label in sheets.flat_map(|sheet| sheet.as_array_mut().expect("labels")) {
        let side = label["qr"]["modules"].as_u64().expect("a number") as usize;
        label["qr"]["pixels"] = all[start..start + side * side].into();
        start += side * side;
    }
    json(&data)
}

fn json(data: &impl Serialize) -> Vec<u8> {
    serde_json::to_vec(data).expect("plain data")
}
