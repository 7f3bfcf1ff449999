//! What the ledger keeps of how a kit was planned, and whether an order still
//! comes to the same.
//!
//! The same text can come to other times: by another program, other zone data, a
//! protocol file that was edited under its old version, or another laboratory's
//! file with other defaults. A "Reprint 1" must have the times of the paper before
//! it, so the digest of the plan is kept and compared.

use serde_json::json;

use crate::clock::zone_data_version;
use crate::fault::Fault;
use crate::ledger::{Document, LABORATORY, PLAN, StoredKit, digest};
use crate::order::{ClockStyle, Paper, TextSize};
use crate::report;
use crate::workshop::Planned;

/// What is kept of a planned order, to be recorded with its files: the digest of
/// the plan with what else decides how times stand on the paper, and that of the
/// laboratory's name.
pub fn documents(planned: &Planned) -> [Document; 2] {
    fn word<T: PartialEq>(choices: &[(&'static str, T)], chosen: &T) -> &'static str {
        choices.iter().find(|(_, one)| one == chosen).map_or("", |pair| pair.0)
    }
    let order = &planned.order;
    let allowance = planned.protocol.allowance;
    let plan = json!({
        "plan": report::json(&planned.plan),
        "titles": planned.plan.slots.iter().map(|slot| &slot.title).collect::<Vec<_>>(),
        // What the look-up table by weight is made of.
        "allowance": [
            allowance.thousandths_of_cup_per_100_lb,
            allowance.lowest_lb,
            allowance.highest_lb,
        ],
        "language": order.language,
        "paper": word(Paper::CHOICES, &order.paper),
        "clock": word(ClockStyle::CHOICES, &order.clock),
        "text": word(TextSize::CHOICES, &order.text),
    });
    [
        Document::whole(PLAN, plan.to_string().as_bytes(), 0),
        Document::whole(LABORATORY, planned.lab.lab.name.as_bytes(), 0),
    ]
}

/// Whether an order comes to what its kit was made from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Compared {
    /// Absent for an entry of a program that did not keep it.
    pub plan: Option<bool>,
    pub laboratory: Option<bool>,
    pub protocol: bool,
    /// Whether the laboratory's file has the text it had.
    pub lab_file: bool,
}

/// Compares a planned order with the newest content of its kit.
pub fn compare(planned: &Planned, stored: &StoredKit) -> Compared {
    let [plan, laboratory] = documents(planned);
    let same = |now: &Document| {
        let then = stored.documents.iter().find(|then| then.name == now.name)?;
        Some(then.sha256 == now.sha256)
    };
    let lab = &planned.lab.lab.source.text;
    Compared {
        plan: same(&plan),
        laboratory: same(&laboratory),
        protocol: protocol(planned) == stored.protocol,
        lab_file: digest(lab.as_bytes()) == stored.lab_digest,
    }
}

fn protocol(planned: &Planned) -> String {
    format!("{} {}", planned.protocol.name, planned.protocol.version)
}

impl Compared {
    /// Whether the times on the paper may be others now.
    pub fn is_other_plan(&self) -> bool {
        !self.protocol || self.plan == Some(false)
    }

    /// Why the kit cannot be made again as it was.
    pub fn faults(&self, planned: &Planned, stored: &StoredKit) -> Vec<Fault> {
        let mut faults = Vec::new();
        if self.laboratory == Some(false) {
            faults.push(other_laboratory(planned, stored));
        }
        if !self.protocol {
            faults.push(Fault::new(
                format!(
                    "the kit {} was made by the protocol {}, and this is {}",
                    stored.order,
                    stored.protocol,
                    protocol(planned)
                ),
                format!(
                    "its times may be others now: name the old protocol file with \
                     --protocol, or {}",
                    revise(stored)
                ),
            ));
        } else if self.plan == Some(false) {
            faults.push(Fault::new(
                format!(
                    "the kit {} was made from another plan than its order comes to now",
                    stored.order
                ),
                format!(
                    "its times may be others now; what differs is not known: the program \
                     (version {} then, {} now), the zone data ({} then, {} now), the \
                     protocol ({} then and now, but its file may be another) or the \
                     laboratory\u{2019}s file ({}) has changed; print it with the program \
                     and the files of then, or {}",
                    stored.program,
                    env!("CARGO_PKG_VERSION"),
                    stored.zone_data,
                    zone_data_version(),
                    stored.protocol,
                    if self.lab_file { "with the text it had" } else { "with another text" },
                    revise(stored)
                ),
            ));
        }
        faults
    }
}

/// What to do where the times of now are wanted.
fn revise(stored: &StoredKit) -> String {
    format!(
        "give the patient the times of now in a revision: kitwright reprint {} --reason \
         \u{2026} --revise",
        stored.order
    )
}

/// The fault of an order whose kit another laboratory made.
fn other_laboratory(planned: &Planned, stored: &StoredKit) -> Fault {
    let lab = &planned.lab.lab;
    Fault::new(
        format!(
            "the kit {} was made by a laboratory of another name than {}, of {}",
            stored.order, lab.name, lab.source.name
        ),
        format!(
            "name the file of the kit\u{2019}s laboratory with --lab; if it is the same \
             one and has a new name, {}",
            revise(stored)
        ),
    )
}
