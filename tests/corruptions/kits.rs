//! The finished kits that are changed: made once, shared by all tests.

use std::path::Path;
use std::sync::OnceLock;

use kitwright::document::{CoverFacts, Edition, SlipPlace};
use kitwright::imposition::{Feed, Placing};
use kitwright::making::{Batch, RunFacts};
use kitwright::order::Paper;
use kitwright::proof::{FileKind, Mode};
use kitwright::stock::{self, Length};
use kitwright::workshop::{Planned, Setup, Workshop};

use crate::common::{date, demo_orders, order_text, source, workshop};

/// One of the finished kits, or several that were printed together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Of {
    /// Letter, English, doses that move and one that asks.
    Evening,
    /// A steroid with its prescriber's note.
    Steroid,
    Spanish,
    /// A4, the 24-hour clock, sheets of 3 x 7 labels.
    Metric,
    /// Large print: more pages.
    Large,
    Undated,
    /// A first reprint, its labels on a sheet that is nudged and fed foot first.
    Reprint,
    /// Labels on a roll: each is a page.
    Roll,
    /// Three patients in one file each, the labels from the third cell on.
    Run,
}

impl Of {
    pub const ALL: [Self; 9] = [
        Self::Evening,
        Self::Steroid,
        Self::Spanish,
        Self::Metric,
        Self::Large,
        Self::Undated,
        Self::Reprint,
        Self::Roll,
        Self::Run,
    ];
}

/// A finished kit, or several.
pub struct Made {
    planned: Vec<Planned>,
    batch: Batch,
    packing: Vec<u8>,
    run: Option<RunFacts>,
}

impl Made {
    pub fn file(&self, kind: FileKind) -> &[u8] {
        match kind {
            FileKind::Paper => &self.batch.paper,
            FileKind::Labels => &self.batch.labels,
            FileKind::Packing => &self.packing,
        }
    }

    /// What the proof says of `bytes`, a line for each difference.
    pub fn prove(
        &self,
        shop: &mut Workshop,
        kind: FileKind,
        bytes: &[u8],
    ) -> Vec<String> {
        let planned: Vec<&Planned> = self.planned.iter().collect();
        let name = kind.name();
        let proven = match kind {
            FileKind::Packing => {
                let counts = self.counts();
                let (stock, run) = (&self.batch.stock, self.run.as_ref());
                shop.prove_packing(&planned, stock, &counts, run, bytes, name)
            }
            _ => shop.prove_batch(&planned, &self.batch, kind, bytes, name),
        };
        let faults = proven.err().unwrap_or_default();
        faults.into_iter().map(|fault| fault.what).collect()
    }

    fn counts(&self) -> Vec<kitwright::document::PageCounts> {
        self.batch.kits.iter().map(|kit| kit.counts).collect()
    }
}

/// A workshop of this thread's own, which proves as kits are proven unless more is
/// asked for: what is found must not be found by the second reader alone.
pub fn shop() -> Workshop {
    static SETUP: OnceLock<Setup> = OnceLock::new();
    let setup = SETUP.get_or_init(|| workshop().setup().clone());
    let mut shop = Workshop::with(setup.clone());
    shop.prove_by(Mode::Modules);
    shop
}

pub fn made(of: Of) -> &'static Made {
    static MADE: [OnceLock<Made>; Of::ALL.len()] = [const { OnceLock::new() }; 9];
    MADE[of as usize].get_or_init(|| make(of))
}

fn make(of: Of) -> Made {
    let mut shop = shop();
    let mut placing = Placing::default();
    let demos: &[&str] = match of {
        Of::Evening => &["08-evening-doser.toml"],
        Of::Steroid => &["13-steroid-cleared.toml"],
        Of::Spanish => &["05-spanish.toml"],
        Of::Metric => &["04-metric.toml"],
        Of::Large => &["06-large-print.toml"],
        Of::Undated => &["09-undated.toml"],
        Of::Roll => &["01-plain.toml"],
        Of::Reprint => &[],
        Of::Run => &["01-plain.toml", "05-spanish.toml", "08-evening-doser.toml"],
    };
    let mut planned: Vec<Planned> =
        demos.iter().map(|name| demo(&mut shop, name)).collect();
    match of {
        Of::Reprint => {
            let path = Path::new("order.toml");
            let mut one = shop.plan(&source(&order_text("")), path).ok().unwrap();
            one.edition = Edition { revision: 0, reprint: 1 };
            planned.push(one);
            placing.nudge = (Length::from_um(700), Length::from_um(-900));
            placing.feed = Feed::FootFirst;
        }
        Of::Roll => shop.use_stock(stock::builtin("roll-102x51").unwrap()),
        Of::Run => placing.start_at = 3,
        _ => {}
    }
    let refs: Vec<&Planned> = planned.iter().collect();
    let batch = shop.make_batch(&refs, &placing).ok().unwrap();
    let run = (of == Of::Run).then(|| run_facts(&batch));
    let counts: Vec<_> = batch.kits.iter().map(|kit| kit.counts).collect();
    let packing =
        shop.make_packing(&refs, &batch.stock, &counts, run.as_ref()).ok().unwrap();
    Made { planned, batch, packing, run }
}

fn demo(shop: &mut Workshop, name: &str) -> Planned {
    let (_, source) = demo_orders().into_iter().find(|(found, _)| found == name).unwrap();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-orders").join(name);
    shop.plan(&source, &path).unwrap_or_else(|faults| panic!("{}", faults[0].plain()))
}

fn run_facts(batch: &Batch) -> RunFacts {
    let kits = batch.kits.len();
    let place = |(index, kit): (usize, &kitwright::making::KitPages)| SlipPlace {
        number: index + 1,
        first: kit.first,
        last: kit.first + kit.blank.len() - 1,
        labels: format!("sheet {}: {}", index + 1, index + 3),
        alike: (index == 1).then(|| "HB-20424".into()),
    };
    RunFacts {
        cover: CoverFacts {
            run: "2026-10-01 09:00".into(),
            part: 1,
            parts: 1,
            paper: Paper::Letter,
            leaves: batch.sides.div_ceil(2),
            label_sheets: batch.imposition.sheets,
            stock: batch.stock.name.clone(),
            start_at: 3,
            is_roll: false,
            made: kits,
            out: 1,
            today: date("2026-09-01"),
            alike: vec![None; kits],
            left_out: vec!["HB-20499: on hold".into()],
            ledger: None,
        },
        places: batch.kits.iter().enumerate().map(place).collect(),
    }
}
