//! The ledger's file, changed by others: a change is found, or changes nothing.
//!
//! The input is a list of changes to a ledger of some kits, four bytes each: where
//! (two bytes), what, and with what.

use std::path::{Path, PathBuf};

use chrono::DateTime;
use kitwright::fault::Source;
use kitwright::ledger::{
    Again, Document, Ledger, NewKit, Reprint, Stamp, StoredKit, What,
};
use kitwright::plan::plan;
use tempfile::TempDir;

use super::{faults, lab, order_of, protocol_named};

pub const WORDS: &str = include_str!("../../words/ledger.txt");

/// Orders that are in the ledger.
const ORDERS: &[&str] = &[
    include_str!("../../../../demo-orders/01-plain.toml"),
    include_str!("../../../../demo-orders/05-spanish.toml"),
    include_str!("../../../../demo-orders/10-long-name.toml"),
];

/// A ledger that nobody has changed, and what stands in it.
struct Desk {
    folder: TempDir,
    bytes: Vec<u8>,
    kits: Vec<StoredKit>,
    ledger: Ledger,
}

thread_local! {
    static DESK: Desk = desk();
}

fn desk() -> Desk {
    let folder = TempDir::new().expect("a folder");
    let path = folder.path().join("whole.db");
    let mut ledger = Ledger::open(&path).expect("a new ledger");
    let at = DateTime::from_timestamp(1_788_000_000, 0).expect("a moment");
    let stamp = Stamp::new(at, "R. Adeyemi").in_run("morning", 1);
    let kits: Vec<NewKit> = ORDERS.iter().map(|text| kit(text)).collect();
    ledger.record_kits(&stamp, &kits, Again::Refuse).expect("kits are recorded");
    let reprint = Reprint {
        order: kits[0].order.clone(),
        from: all(&ledger).expect("they can be read")[0].basis(),
        what: What::Labels(Some(2)),
        reason: "label torn".into(),
        stock: "letter-2x5".into(),
        lab_digest: String::new(),
    };
    let stamp = Stamp::new(at, "R. Adeyemi");
    ledger.record_reprint(&stamp, &reprint, |_| Ok(Vec::new())).expect("a reprint");
    let stored = all(&ledger).expect("they can be read");
    drop(ledger);
    let bytes = std::fs::read(&path).expect("a file");
    let ledger = Ledger::open_existing(&path).expect("the ledger");
    Desk { folder, bytes, kits: stored, ledger }
}

fn kit(text: &str) -> NewKit {
    let order = order_of(&Source::new("order.toml", text)).expect("a demo order");
    let protocol = protocol_named(&order.protocol.value).expect("built in");
    let plan = plan(&order, protocol, &lab().mail);
    let documents = vec![Document::whole("paper.pdf", b"paper", 6)];
    NewKit::of(&order, &plan, protocol, lab(), "letter-2x5", documents)
}

/// Every kit of the ledger, with what was done about it.
fn all(ledger: &Ledger) -> Result<Vec<StoredKit>, Vec<kitwright::fault::Fault>> {
    let mut kits = Vec::new();
    for text in ORDERS {
        let number = kitwright::order::number_in(text).expect("a number");
        ledger.history(&number).map_err(|fault| vec![fault])?;
        kits.extend(ledger.kit(&number).map_err(|fault| vec![fault])?);
    }
    Ok(kits)
}

pub fn read(data: &[u8]) {
    DESK.with(|desk| {
        let mut bytes = desk.bytes.clone();
        data.chunks_exact(4).take(64).for_each(|step| change(&mut bytes, step));
        let path = desk.folder.path().join("changed.db");
        if std::fs::write(&path, &bytes).is_ok() {
            changed(&path, &desk.kits);
        }
        for end in ["", "-wal", "-shm", "-journal"] {
            let _ = std::fs::remove_file(with_end(&path, end));
        }
    });
}

fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    name.into()
}

fn change(bytes: &mut Vec<u8>, step: &[u8]) {
    let at = usize::from(step[0]) << 8 | usize::from(step[1]);
    let at = at.min(bytes.len());
    let with = step[3];
    match step[2] % 8 {
        0..=3 => bytes.iter_mut().skip(at).take(1).for_each(|byte| *byte = with),
        4 => bytes.iter_mut().skip(at).take(1).for_each(|byte| *byte ^= 1 << (with % 8)),
        5 => bytes.iter_mut().skip(at).take(with.into()).for_each(|byte| *byte = 0),
        6 => {
            let from = usize::from(with) * 256;
            let piece: Vec<u8> = bytes.iter().skip(from).take(64).copied().collect();
            let end = (at + piece.len()).min(bytes.len());
            bytes.splice(at..end, piece);
        }
        _ => bytes.truncate(at),
    }
}

/// Either the change is told, or what stands in the ledger is what stood there.
fn changed(path: &Path, wanted: &[StoredKit]) {
    let mut ledger = match Ledger::open_existing(path) {
        Ok(ledger) => ledger,
        Err(found) => return faults::fault(&found),
    };
    if let Err(found) = ledger.check(None) {
        faults::sound(&found);
        return;
    }
    let kits = match all(&ledger) {
        Ok(kits) => kits,
        Err(found) => return faults::sound(&found),
    };
    // A tail that was cut off shows only with a head on paper.
    for kit in kits {
        let before = wanted.iter().find(|known| known.order == kit.order);
        let before = before.expect("law: an order that was never recorded");
        let cut_off = StoredKit { relabels: kit.relabels.clone(), ..before.clone() };
        assert_eq!(kit, cut_off, "law: changed, and nothing is told");
    }
}

/// Looks a text up.
pub fn looked_up(text: &str) {
    DESK.with(|desk| match desk.ledger.find(text) {
        Ok(found) => assert!(!found.is_empty(), "law: nothing is found, and not told"),
        Err(fault) => faults::fault(&fault),
    });
}
