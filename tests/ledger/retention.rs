//! What is forgotten is gone from the files, and the chain stays whole.

use chrono::{DateTime, Utc};
use kitwright::ledger::{Again, Forgotten, Kind, Ledger, What, Which};
use rusqlite::Connection;

use super::desk::{Desk, basis, changed, faults_of, kit, reprint, stamp};

fn day(seconds: i64) -> DateTime<Utc> {
    stamp(seconds).at
}

/// All bytes of the ledger's folder: the file and what SQLite puts beside it.
fn bytes(desk: &Desk) -> Vec<u8> {
    let mut all = Vec::new();
    for entry in std::fs::read_dir(desk.folder.path()).unwrap() {
        all.extend(std::fs::read(entry.unwrap().path()).unwrap());
    }
    all
}

fn holds(bytes: &[u8], text: &str) -> bool {
    bytes.windows(text.len()).any(|window| window == text.as_bytes())
}

#[test]
fn what_is_forgotten_is_gone_from_the_bytes_of_the_files() {
    let mut desk = Desk::busy();
    desk.ledger
        .record_kits(&stamp(1000), &[kit("HB-30000", "Lindqvist")], Again::Refuse)
        .unwrap();
    let digests: Vec<String> = desk
        .ledger
        .history("HB-20418")
        .unwrap()
        .iter()
        .filter_map(|entry| entry.sealed.as_ref())
        .flat_map(|sealed| {
            let documents = sealed.documents().into_iter().map(|d| d.sha256);
            documents.chain([sealed.input_digest.clone()]).collect::<Vec<_>>()
        })
        .filter(|digest| {
            // Those of the kit that stays are the same file names and so the same.
            let stays = desk.ledger.history("HB-30000").unwrap();
            let stays = stays[0].sealed.as_ref().unwrap();
            stays.documents().iter().all(|document| document.sha256 != *digest)
        })
        .collect();
    let before = bytes(&desk);
    let secrets = ["Okonkwo-Reyes", "Núñez", "Marisol\"\nborn", "got wet", "wakes later"];
    for secret in secrets {
        assert!(holds(&before, secret), "{secret}");
    }
    assert!(digests.len() > 3);

    let limit = day(500);
    let expected = Forgotten { orders: 2, entries: 9 };
    assert_eq!(desk.ledger.to_forget(Which::Before(limit)).unwrap(), expected);
    assert_eq!(desk.ledger.forget(&stamp(2000), Which::Before(limit)).unwrap(), expected);

    let after = bytes(&desk);
    for secret in ["Okonkwo-Reyes", "Núñez", "got wet", "wakes later"] {
        assert!(!holds(&after, secret), "{secret}");
    }
    for digest in &digests {
        assert!(!holds(&after, digest), "a digest by which an order could be guessed");
    }
    assert!(holds(&after, "Lindqvist"), "the newer kit stays");

    let checked = desk.ledger.check(None).unwrap();
    assert_eq!(checked.forgotten, 9);
    let stored = desk.ledger.kit("HB-20418").unwrap().unwrap();
    assert_eq!((stored.person, stored.revision, stored.reprints), (None, 1, 1));
    assert!(desk.ledger.find("nunez").is_err());
    assert_eq!(desk.ledger.find("HB-20418").unwrap().len(), 1);
    let nothing = Forgotten::default();
    assert_eq!(desk.ledger.forget(&stamp(2001), Which::Before(limit)).unwrap(), nothing);
    assert_eq!(
        desk.ledger.head().unwrap().unwrap().seq,
        11,
        "nothing is recorded for it"
    );
}

#[test]
fn a_kit_in_use_is_remembered_whole() {
    let mut desk = Desk::new();
    desk.make(0, &["HB-20417", "HB-20418"]);
    let sheet = reprint(&desk.ledger, "HB-20417", What::Sheet, "smudged");
    desk.ledger.record_reprint(&stamp(1000), &sheet, |_| Ok(vec![])).unwrap();
    let forgotten = desk.ledger.forget(&stamp(2000), Which::Before(day(500))).unwrap();
    assert_eq!(forgotten, Forgotten { orders: 1, entries: 1 });
    assert!(desk.ledger.kit("HB-20417").unwrap().unwrap().person.is_some());
    assert!(desk.ledger.kit("HB-20418").unwrap().unwrap().person.is_none());
    let trail = desk.ledger.history("HB-20418").unwrap();
    assert!(trail[0].is_forgotten() && trail[0].kind == Kind::Made);
}

/// A person may ask to be forgotten at any time (Regulation (EU) 2016/679, article 17,
/// from memory).
#[test]
fn one_order_is_forgotten_whatever_its_age_and_no_other() {
    let mut desk = Desk::busy();
    desk.ledger
        .record_kits(&stamp(1000), &[kit("HB-30000", "Lindqvist")], Again::Refuse)
        .unwrap();
    let which = Which::Order("HB-30000");
    let one = Forgotten { orders: 1, entries: 1 };
    assert_eq!(desk.ledger.to_forget(which).unwrap(), one);
    // A clock that was set back since does not stand in the way.
    assert_eq!(desk.ledger.forget(&stamp(900), which).unwrap(), one);
    let after = bytes(&desk);
    assert!(!holds(&after, "Lindqvist"));
    assert!(holds(&after, "Okonkwo-Reyes"), "the others stay");
    assert_eq!(desk.ledger.check(None).unwrap().forgotten, 1);
    assert_eq!(desk.ledger.forget(&stamp(2000), which).unwrap(), Forgotten::default());
    let unknown = "order HB-3 is not in the ledger";
    let which = Which::Order("HB-3");
    assert_eq!(faults_of(&[desk.ledger.to_forget(which).unwrap_err()]), unknown);
    assert_eq!(faults_of(&desk.ledger.forget(&stamp(2000), which).unwrap_err()), unknown);
}

#[test]
fn nothing_is_recorded_for_a_forgotten_order() {
    let mut desk = Desk::new();
    desk.make(0, &["HB-20417"]);
    desk.ledger.forget(&stamp(2000), Which::Before(day(500))).unwrap();
    let made = "order HB-20417 was made on 2026-11-25T14:00:00Z, and its text was \
                forgotten since: it cannot be compared";
    let kits = [kit("HB-20417", "Okonkwo-Reyes")];
    for again in [Again::Refuse, Again::Record] {
        let faults = desk.ledger.record_kits(&stamp(2001), &kits, again).unwrap_err();
        assert_eq!(faults_of(&faults), made);
    }
    let gone = "order HB-20417, made on 2026-11-25T14:00:00Z, was forgotten";
    let sheet = reprint(&desk.ledger, "HB-20417", What::Sheet, "smudged");
    let refused = desk.ledger.record_reprint(&stamp(2001), &sheet, |_| Ok(vec![]));
    assert_eq!(faults_of(&refused.unwrap_err()), gone);
    let other = changed(&kits[0], "06:30", "07:00");
    let refused = desk.ledger.record_revision(
        &stamp(2001),
        &other,
        &basis(&desk.ledger, &other.order),
        "later",
        |_| Ok(vec![]),
    );
    assert_eq!(faults_of(&refused.unwrap_err()), gone);
    let refused = desk.ledger.record_printed(&stamp(2001), "HB-20417", "tray 2", &[]);
    assert_eq!(faults_of(&refused.unwrap_err()), gone);
    let part = stamp(0).in_run("autumn", 1);
    let kits = [kit("HB-20500", "Lindqvist")];
    desk.ledger.record_kits(&part, &kits, Again::Refuse).unwrap();
    desk.ledger.forget(&stamp(4000), Which::Before(day(3000))).unwrap();
    let faults = desk.ledger.record_kits(&part, &kits, Again::Refuse).unwrap_err();
    assert_eq!(
        faults_of(&faults),
        "part 1 of the run autumn was recorded on 2026-11-25T14:00:00Z and forgotten since"
    );
    desk.check_is_clean();
}

#[test]
fn a_clock_that_is_wrong_forgets_nothing() {
    let mut desk = Desk::new();
    desk.make(100, &["HB-20417"]);
    let faults = desk.ledger.forget(&stamp(50), Which::Before(day(200))).unwrap_err();
    assert_eq!(
        faults_of(&faults),
        "2026-11-25T14:03:20Z is later than now, 2026-11-25T14:00:50Z\n\
         an entry is of 2026-11-25T14:01:40Z, later than now, 2026-11-25T14:00:50Z"
    );
    assert!(desk.ledger.kit("HB-20417").unwrap().unwrap().person.is_some());
}

#[test]
fn a_reader_that_keeps_old_bytes_alive_is_named_and_the_next_call_finishes() {
    let mut desk = Desk::new();
    desk.make(0, &["HB-20417"]);
    let reader = Connection::open(&desk.path).unwrap();
    reader.execute_batch("BEGIN; SELECT * FROM sealed").unwrap();
    let _: i64 =
        reader.query_row("SELECT count(*) FROM sealed", [], |r| r.get(0)).unwrap();
    let faults = desk.ledger.forget(&stamp(2000), Which::Before(day(500))).unwrap_err();
    assert!(faults[0].what.contains("1 were forgotten, but their bytes"), "{faults:?}");
    reader.execute_batch("COMMIT").unwrap();
    assert!(holds(&bytes(&desk), "Okonkwo-Reyes"), "the test would show nothing");
    desk.ledger.forget(&stamp(2001), Which::Before(day(500))).unwrap();
    assert!(!holds(&bytes(&desk), "Okonkwo-Reyes"));
    drop(reader);
    let mut again = Ledger::open_existing(&desk.path).unwrap();
    assert_eq!(again.check(None).unwrap().forgotten, 1);
}

#[test]
fn the_same_person_leaves_two_commitments_that_have_nothing_in_common() {
    let mut desk = Desk::busy();
    let mut other = Desk::busy();
    let of =
        |desk: &mut Desk| desk.ledger.history("HB-20417").unwrap()[0].commitment.clone();
    let (one, two) = (of(&mut desk), of(&mut other));
    assert_eq!(one.len(), 32);
    assert_ne!(one, two, "each is salted on its own");
}
