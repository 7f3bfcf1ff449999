//! A ledger in a folder of its own, and invented kits to record in it.

use std::path::PathBuf;

use chrono::{DateTime, TimeDelta, Utc};
use kitwright::fault::{Fault, Source};
use kitwright::ledger::{
    Again, Basis, Document, Ledger, NewKit, Reprint, RunCounts, Stamp, What, digest,
};
use kitwright::specimen;

pub struct Desk {
    pub ledger: Ledger,
    pub path: PathBuf,
    pub folder: tempfile::TempDir,
}

impl Desk {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledger.db");
        Self { ledger: Ledger::open(&path).unwrap(), path, folder }
    }

    /// A desk with entries of every kind but `forgotten`.
    pub fn busy() -> Self {
        let mut desk = Self::new();
        let part = stamp(0).in_run("autumn", 1);
        let kits = [kit("HB-20417", "Okonkwo-Reyes"), kit("HB-20418", "Núñez")];
        desk.ledger.record_kits(&part, &kits, Again::Refuse).unwrap();
        let run = stamp(1).in_run("autumn", 0);
        let files = [document("run.pdf", 10)];
        let counts = RunCounts { made: 2, held: 1, wrong: 0 };
        desk.ledger.record_run(&run, counts, &files).unwrap();
        desk.ledger.record_printed(&stamp(2), "HB-20417", "tray 2", &files).unwrap();
        desk.ledger.record_kits(&stamp(3), &kits[..1], Again::Record).unwrap();
        for what in [What::Labels(None), What::Labels(Some(2)), What::Sheet] {
            let reprint =
                reprint(&desk.ledger, "HB-20418", what, "the sheet of Ms Núñez got wet");
            desk.ledger
                .record_reprint(&stamp(4), &reprint, |_| Ok(files.to_vec()))
                .unwrap();
        }
        let other = changed(&kits[1], "06:30", "07:00");
        desk.ledger
            .record_revision(
                &stamp(5),
                &other,
                &basis(&desk.ledger, "HB-20418"),
                "wakes later",
                |_| Ok(files.to_vec()),
            )
            .unwrap();
        desk
    }

    pub fn make(&mut self, seconds: i64, orders: &[&str]) {
        let kits: Vec<NewKit> =
            orders.iter().map(|order| kit(order, "Okonkwo-Reyes")).collect();
        self.ledger.record_kits(&stamp(seconds), &kits, Again::Refuse).unwrap();
    }

    #[track_caller]
    pub fn check_is_clean(&mut self) {
        if let Err(faults) = self.ledger.check(None) {
            panic!("{}", faults_of(&faults));
        }
    }
}

/// A stamp some seconds after a moment in the tests' autumn.
pub fn stamp(seconds: i64) -> Stamp {
    let start: DateTime<Utc> = "2026-11-25T14:00:00Z".parse().unwrap();
    Stamp::new(start + TimeDelta::seconds(seconds), "R. Adeyemi")
}

pub fn document(name: &str, pages: u32) -> Document {
    Document::whole(name, name.as_bytes(), pages)
}

pub fn kit(order: &str, family: &str) -> NewKit {
    let text = format!(
        "order = \"{order}\"\nprotocol = \"four-card\"\n\n[patient]\nfamily = \
         \"{family}\"\ngiven = \"Marisol\"\nborn = 1984-03-09\nweight = \"150 lb\"\n\n\
         [routine]\nwake = 06:30\n"
    );
    NewKit {
        order: order.into(),
        family: family.into(),
        given: "Marisol".into(),
        born: "1984-03-09".parse().unwrap(),
        source: Source::new(format!("{order}.toml"), text),
        protocol: "four-card 1".into(),
        stock: "letter-2x5".into(),
        lab_digest: digest(b"lab"),
        codes: (1..=5).map(|digit| specimen::code(order, digit)).collect(),
        documents: vec![document("paper.pdf", 5), document("labels.pdf", 1)],
        revision: 0,
    }
}

/// The kit with one thing in its text changed.
pub fn changed(kit: &NewKit, old: &str, new: &str) -> NewKit {
    let text = kit.source.text.replacen(old, new, 1);
    assert_ne!(text, kit.source.text);
    NewKit { source: Source::new(kit.source.name.clone(), text), ..kit.clone() }
}

/// What the ledger has of an order now.
pub fn basis(ledger: &Ledger, order: &str) -> Basis {
    ledger.kit(order).unwrap().map(|stored| stored.basis()).unwrap_or_default()
}

/// Papers planned from what the ledger has now.
pub fn reprint(ledger: &Ledger, order: &str, what: What, reason: &str) -> Reprint {
    Reprint {
        order: order.into(),
        from: basis(ledger, order),
        what,
        reason: reason.into(),
        stock: "letter-2x5".into(),
        lab_digest: digest(b"lab"),
    }
}

/// What is wrong, a line for each fault.
pub fn faults_of(faults: &[Fault]) -> String {
    faults.iter().map(|fault| fault.what.as_str()).collect::<Vec<_>>().join("\n")
}
