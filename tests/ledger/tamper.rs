//! Changes made to the file behind the program's back are found.

use kitwright::ledger::ShortHead;
use proptest::prelude::*;
use rusqlite::Connection;
use rusqlite::types::Value;

use super::desk::{Desk, faults_of};

/// The ledger's tables without their triggers, as somebody who means harm would
/// open them.
fn raw(desk: &Desk) -> Connection {
    let connection = Connection::open(&desk.path).unwrap();
    connection
        .execute_batch(
            "PRAGMA foreign_keys = OFF; DROP TRIGGER entry_stays;
             DROP TRIGGER entry_is_kept; DROP TRIGGER sealed_stays;",
        )
        .unwrap();
    connection
}

fn columns(connection: &Connection, table: &str) -> Vec<String> {
    let sql =
        format!("SELECT name FROM pragma_table_info('{table}') WHERE name <> 'seq'");
    let mut statement = connection.prepare(&sql).unwrap();
    statement.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect()
}

fn seqs(connection: &Connection, table: &str) -> Vec<i64> {
    let sql = format!("SELECT seq FROM {table} ORDER BY seq");
    let mut statement = connection.prepare(&sql).unwrap();
    statement.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect()
}

fn known(desk: &Desk) -> ShortHead {
    desk.ledger.head().unwrap().unwrap().short()
}

#[track_caller]
fn is_found(desk: &mut Desk, known: Option<ShortHead>, why: &str) -> String {
    match desk.ledger.check(known) {
        Ok(_) => panic!("not found: {why}"),
        Err(faults) => faults_of(&faults),
    }
}

/// A value that differs from `old` and that the column can hold.
fn other(old: &Value, how: u8) -> Value {
    match old {
        Value::Integer(n) => Value::Integer(n + 1 + i64::from(how)),
        Value::Text(text) if text.is_empty() => Value::Text("x".into()),
        Value::Text(text) => {
            let mut changed: Vec<char> = text.chars().collect();
            let at = usize::from(how) % changed.len();
            changed[at] = if changed[at] == '7' { '8' } else { '7' };
            Value::Text(changed.into_iter().collect())
        }
        Value::Blob(bytes) if bytes.is_empty() => Value::Blob(vec![how; 32]),
        Value::Blob(bytes) => {
            let mut changed = bytes.clone();
            let at = usize::from(how) % changed.len();
            changed[at] ^= 1;
            Value::Blob(changed)
        }
        other => panic!("no column holds {other:?}"),
    }
}

#[test]
fn any_change_of_any_column_of_any_entry_is_found() {
    let mut desk = Desk::busy();
    let connection = raw(&desk);
    desk.check_is_clean();
    let mut tried = 0;
    for table in ["entry", "sealed"] {
        for column in columns(&connection, table) {
            for seq in seqs(&connection, table) {
                let get = format!("SELECT {column} FROM {table} WHERE seq = ?1");
                let set = format!("UPDATE {table} SET {column} = ?2 WHERE seq = ?1");
                let old: Value =
                    connection.query_row(&get, [seq], |row| row.get(0)).unwrap();
                connection.execute(&set, (seq, other(&old, 0))).unwrap();
                let why = format!("{table}.{column} of {seq}");
                let said = is_found(&mut desk, None, &why);
                assert!(said.contains(&format!("entry {seq}: ")), "{why}: {said}");
                connection.execute(&set, (seq, old)).unwrap();
                tried += 1;
            }
        }
    }
    desk.check_is_clean();
    assert!(tried > 200, "{tried}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn any_slip_in_a_kept_text_is_found(how in any::<u8>(), column in 0..26_usize) {
        let mut desk = Desk::busy();
        let connection = raw(&desk);
        let mut all: Vec<(&str, String)> = Vec::new();
        for table in ["entry", "sealed"] {
            all.extend(columns(&connection, table).into_iter().map(|name| (table, name)));
        }
        let (table, column) = &all[column % all.len()];
        let get = format!("SELECT {column} FROM {table} WHERE seq = 2");
        let set = format!("UPDATE {table} SET {column} = ?1 WHERE seq = 2");
        let old: Value = connection.query_row(&get, [], |row| row.get(0)).unwrap();
        connection.execute(&set, [other(&old, how)]).unwrap();
        is_found(&mut desk, None, column);
    }
}

#[test]
fn a_deleted_entry_is_found_wherever_it_was() {
    let known = known(&Desk::busy());
    for seq in 1..=known.seq {
        let mut desk = Desk::busy();
        let head = desk.ledger.head().unwrap().unwrap().short();
        let connection = raw(&desk);
        for table in ["sealed", "entry"] {
            connection
                .execute(&format!("DELETE FROM {table} WHERE seq = ?1"), [seq])
                .unwrap();
        }
        let said = is_found(&mut desk, Some(head), "a deleted entry");
        if seq == known.seq {
            assert!(said.contains("is not in the ledger, which ends at"), "{said}");
        } else {
            let gap = format!("entry {}: entry {seq} is missing before it", seq + 1);
            assert!(said.contains(&gap), "{said}");
        }
    }
}

#[test]
fn two_entries_that_changed_places_are_found() {
    let mut desk = Desk::busy();
    let connection = raw(&desk);
    let mut swap = |one: i64, two: i64| {
        for table in ["entry", "sealed"] {
            for (from, to) in [(one, -1), (two, one), (-1, two)] {
                let sql = format!("UPDATE {table} SET seq = ?2 WHERE seq = ?1");
                connection.execute(&sql, (from, to)).unwrap();
            }
        }
        let said = is_found(&mut desk, None, "two entries that changed places");
        assert!(said.contains(&format!("entry {one}: its hash")), "{said}");
        for table in ["entry", "sealed"] {
            for (from, to) in [(one, -1), (two, one), (-1, two)] {
                let sql = format!("UPDATE {table} SET seq = ?2 WHERE seq = ?1");
                connection.execute(&sql, (from, to)).unwrap();
            }
        }
    };
    swap(1, 2);
    swap(2, 5);
    swap(6, 7);
    desk.check_is_clean();
}

#[test]
fn a_tail_that_was_cut_off_shows_with_a_printed_head_only() {
    let mut desk = Desk::busy();
    let known = known(&desk);
    let connection = raw(&desk);
    for table in ["sealed", "entry"] {
        let sql = format!("DELETE FROM {table} WHERE seq > ?1");
        connection.execute(&sql, [known.seq - 2]).unwrap();
    }
    desk.check_is_clean();
    let said = is_found(&mut desk, Some(known), "a tail cut off");
    let end = known.seq - 2;
    assert_eq!(
        said,
        format!("the printed head {known} is not in the ledger, which ends at {end}")
    );
}

#[test]
fn a_ledger_written_anew_shows_with_a_printed_head() {
    let known = known(&Desk::busy());
    let mut anew = Desk::busy();
    anew.check_is_clean();
    let said = is_found(&mut anew, Some(known), "a chain made anew");
    assert!(said.contains(&format!("the printed head is {known}, here it is")), "{said}");
    let own = anew.ledger.head().unwrap().unwrap().short();
    assert!(anew.ledger.check(Some(own)).is_ok());
}

#[test]
fn an_older_head_is_still_in_the_chain() {
    let mut desk = Desk::busy();
    let known = known(&desk);
    desk.make(10, &["HB-20500"]);
    assert!(desk.ledger.check(Some(known)).is_ok());
}

#[test]
fn a_sealed_part_that_vanished_is_found() {
    let mut desk = Desk::busy();
    raw(&desk).execute("DELETE FROM sealed WHERE seq = 2", []).unwrap();
    let said = is_found(&mut desk, None, "a sealed part gone");
    let gone = "entry 2: its sealed part is gone, and no entry says it was forgotten";
    assert_eq!(said, gone);
}

#[test]
fn a_sealed_part_that_came_from_nowhere_is_found() {
    let mut desk = Desk::busy();
    let sql = "INSERT INTO sealed SELECT 99, family, given, born, salt, input_digest,
               revised_from, reason, documents, order_text FROM sealed WHERE seq = 2";
    raw(&desk).execute(sql, []).unwrap();
    let said = is_found(&mut desk, None, "a sealed part too many");
    assert_eq!(said, "entry 99: there is a sealed part and no entry");
}

#[test]
fn all_that_is_wrong_is_listed() {
    let mut desk = Desk::busy();
    let connection = raw(&desk);
    connection
        .execute_batch(
            "UPDATE entry SET who = x'ff' || who WHERE seq = 1;
             UPDATE entry SET kind = 'lost' WHERE seq = 3;
             UPDATE entry SET counter = 7 WHERE seq = 6;
             UPDATE entry SET codes = 'HB-20418-1Z' WHERE seq = 8;",
        )
        .unwrap();
    let said = is_found(&mut desk, None, "four changes");
    assert!(said.contains("entry 1: it cannot be read"), "{said}");
    assert!(said.contains("`lost` is no kind of entry"), "{said}");
    assert!(said.contains("entry 6: its counter is 7 and not 1"), "{said}");
    assert!(said.contains("entry 8: `HB-20418-1Z` is no code"), "{said}");
}

#[test]
fn the_program_itself_cannot_change_an_entry() {
    let desk = Desk::busy();
    let connection = Connection::open(&desk.path).unwrap();
    for sql in [
        "UPDATE entry SET who = 'x' WHERE seq = 1",
        "DELETE FROM entry WHERE seq = 1",
        "UPDATE sealed SET family = 'x' WHERE seq = 1",
    ] {
        let error = connection.execute(sql, []).unwrap_err().to_string();
        assert!(error.contains("an entry of the ledger is never"), "{error}");
    }
}

#[test]
fn an_order_that_is_made_a_second_time_is_found() {
    let mut desk = Desk::new();
    desk.make(0, &["HB-20417"]);
    let connection = raw(&desk);
    connection
        .execute_batch(
            "INSERT INTO entry SELECT 2, kind, order_number, at, who, run, part, counter,
               slots, program, protocol, zone_data, stock, lab_digest, codes, detail,
               commitment, hash FROM entry WHERE seq = 1;",
        )
        .unwrap();
    let said = is_found(&mut desk, None, "a kit made twice");
    assert!(said.contains("entry 2: order HB-20417 is made a second time"), "{said}");
}
