//! The ledger: what it takes and refuses, that no change goes unnoticed, that
//! processes do not get in each other's way, and that what is forgotten is gone.
//! `tests/outside/ledger.py` checks the chain once more, without this code.

#[path = "ledger/commands.rs"]
mod commands;
#[path = "ledger/desk.rs"]
mod desk;
#[path = "ledger/files.rs"]
mod files;
#[path = "ledger/processes.rs"]
mod processes;
#[path = "ledger/retention.rs"]
mod retention;
#[path = "ledger/tamper.rs"]
mod tamper;

use kitwright::ledger::{Again, Kind, RunCounts, What};

use desk::{Desk, basis, changed, document, faults_of, kit, reprint, stamp};

/// Writes a ledger with entries of every kind for the outside check, to the file
/// that the environment names.
#[test]
#[ignore = "run by the checks by outside readers, with a file in the environment"]
fn a_ledger_for_the_outside_check() {
    let Ok(file) = std::env::var("KITWRIGHT_TEST_LEDGER") else { return };
    let mut desk = Desk::busy();
    desk.ledger
        .forget(&stamp(2000), kitwright::ledger::Which::Before(stamp(500).at))
        .unwrap();
    let kits = [kit("HB-30000", "Lindqvist")];
    desk.ledger.record_kits(&stamp(2001), &kits, Again::Refuse).unwrap();
    let sheet = reprint(&desk.ledger, "HB-30000", What::Sheet, "smudged");
    desk.ledger.record_reprint(&stamp(2002), &sheet, |_| Ok(vec![])).unwrap();
    let other = changed(&kits[0], "06:30", "07:00");
    desk.ledger
        .record_revision(
            &stamp(2003),
            &other,
            &basis(&desk.ledger, &other.order),
            "later",
            |_| Ok(vec![]),
        )
        .unwrap();
    let Desk { ledger, path, folder: _folder } = desk;
    drop(ledger);
    std::fs::copy(path, file).unwrap();
}

#[test]
fn a_kit_reads_back_as_it_was_recorded() {
    let mut desk = Desk::new();
    let new = kit("HB-20417", "Okonkwo-Reyes");
    let stamp = stamp(0).in_run("autumn", 3);
    let recorded = desk
        .ledger
        .record_kits(&stamp, std::slice::from_ref(&new), Again::Refuse)
        .unwrap();
    assert_eq!((recorded[0].kind, recorded[0].counter), (Kind::Made, 0));
    assert_eq!(desk.ledger.head().unwrap(), Some(recorded[0].head));

    let stored = desk.ledger.kit("HB-20417").unwrap().unwrap();
    let person = stored.person.unwrap();
    assert_eq!(person.order_text, new.source.text);
    assert_eq!((person.family, person.born), (new.family, "1984-03-09".into()));
    assert_eq!(stored.codes, new.codes);
    assert_eq!(stored.made_at, "2026-11-25T14:00:00Z");
    assert_eq!((stored.run, stored.made_by), ("autumn".into(), "R. Adeyemi".into()));
    let trail = desk.ledger.history("HB-20417").unwrap();
    assert_eq!(trail[0].sealed.as_ref().unwrap().documents(), new.documents);
    assert_eq!(desk.ledger.parts("autumn").unwrap(), [3]);
    assert_eq!(desk.ledger.kit("HB-99999").unwrap(), None);
    desk.check_is_clean();
}

#[test]
fn another_text_under_a_number_is_refused_and_both_are_shown() {
    let mut desk = Desk::new();
    desk.make(0, &["HB-20417"]);
    let before = desk.ledger.head().unwrap();
    let other = changed(&kit("HB-20417", "Okonkwo-Reyes"), "150 lb", "160 lb");
    let kits = [kit("HB-20500", "Lindqvist"), other.clone()];
    let faults = desk.ledger.record_kits(&stamp(9), &kits, Again::Record).unwrap_err();
    assert_eq!(
        faults_of(&faults),
        "order HB-20417 was made on 2026-11-25T14:00:00Z from another text"
    );
    let shown = faults[0].plain();
    assert!(shown.contains("8 - weight = \"150 lb\""), "{shown}");
    assert!(shown.contains("8 + weight = \"160 lb\""), "{shown}");
    assert!(shown.contains("HB-20417.toml:1:"), "{shown}");
    assert_eq!(desk.ledger.head().unwrap(), before, "the batch was not recorded in part");
    assert_eq!(desk.ledger.kit("HB-20500").unwrap(), None);

    desk.ledger
        .record_revision(
            &stamp(10),
            &other,
            &basis(&desk.ledger, &other.order),
            "a slip",
            |_| Ok(vec![]),
        )
        .unwrap();
    let old = [kit("HB-20417", "Okonkwo-Reyes")];
    let faults = desk.ledger.record_kits(&stamp(11), &old, Again::Record).unwrap_err();
    assert!(faults[0].what.ends_with("from another text (revision 1)"), "{faults:?}");
}

#[test]
fn lines_that_differ_and_look_alike_are_shown_in_numbers() {
    let mut desk = Desk::new();
    let composed = changed(&kit("HB-20417", "Ruiz"), "Marisol", "Ren\u{e9}e");
    desk.ledger
        .record_kits(&stamp(0), std::slice::from_ref(&composed), Again::Refuse)
        .unwrap();
    let other = changed(&composed, "Ren\u{e9}e", "Rene\u{301}e");
    let faults = desk.ledger.record_kits(&stamp(9), &[other], Again::Record).unwrap_err();
    let shown = faults[0].plain();
    assert!(shown.contains("6 - given = \"Ren<U+00E9>e\""), "{shown}");
    assert!(shown.contains("6 + given = \"Rene<U+0301>e\""), "{shown}");
    // What can be told apart is shown as it is.
    let other = changed(&composed, "Ren\u{e9}e", "Ren\u{e8}");
    let faults = desk.ledger.record_kits(&stamp(9), &[other], Again::Record).unwrap_err();
    let shown = faults[0].plain();
    assert!(shown.contains("6 + given = \"Ren\u{e8}\""), "{shown}");
}

#[test]
fn the_same_text_again_is_the_callers_to_allow() {
    let mut desk = Desk::new();
    let kits = [kit("HB-20417", "Okonkwo-Reyes")];
    desk.ledger.record_kits(&stamp(0), &kits, Again::Refuse).unwrap();
    let faults = desk.ledger.record_kits(&stamp(1), &kits, Again::Refuse).unwrap_err();
    assert_eq!(
        faults_of(&faults),
        "order HB-20417 was made on 2026-11-25T14:00:00Z from the same text"
    );
    assert!(faults[0].help.contains("kitwright reprint HB-20417"), "{faults:?}");
    for counter in 1..=3 {
        let recorded = desk.ledger.record_kits(&stamp(2), &kits, Again::Record).unwrap();
        let got = (recorded[0].kind, recorded[0].counter);
        assert_eq!(got, (Kind::MadeAgain, counter));
    }
    let stored = desk.ledger.kit("HB-20417").unwrap().unwrap();
    assert_eq!(stored.made_again, 3);
    assert!(stored.person.is_some());
    desk.check_is_clean();
}

#[test]
fn all_faults_of_a_batch_come_out_at_once() {
    let mut desk = Desk::new();
    desk.make(0, &["HB-20417", "HB-20418"]);
    let mut wrong_code = kit("HB-20419", "Sørbø");
    wrong_code.codes[1] = "HB-20418-15".into();
    let mut again = kit("HB-20420", "Halloran");
    again.codes.clear();
    let kits = [wrong_code, again.clone(), again];
    let stamp_of_nobody = kitwright::ledger::Stamp { who: " ".into(), ..stamp(1) };
    let faults = desk.ledger.record_kits(&stamp_of_nobody, &kits, Again::Refuse);
    assert_eq!(
        faults_of(&faults.unwrap_err()),
        "no who is given\n\
         `HB-20418-15` is no code of order HB-20419\n\
         order HB-20420 has no specimen code\n\
         order HB-20420 has no specimen code\n\
         the order number HB-20420 stands in HB-20420.toml already"
    );
    let kits = [
        changed(&kit("HB-20417", "Sørbø"), "150", "151"),
        changed(&kit("HB-20418", "Sørbø"), "150", "151"),
    ];
    let faults = desk.ledger.record_kits(&stamp(1), &kits, Again::Refuse).unwrap_err();
    assert_eq!(faults.len(), 2, "{faults:?}");
}

#[test]
fn a_part_that_is_given_again_is_not_recorded_again() {
    let mut desk = Desk::new();
    let kits = [kit("HB-20417", "Okonkwo-Reyes"), kit("HB-20418", "Lindqvist")];
    let part = stamp(0).in_run("autumn", 1);
    let first = desk.ledger.record_kits(&part, &kits, Again::Refuse).unwrap();
    let head = desk.ledger.head().unwrap();
    let second = desk.ledger.record_kits(&part, &kits, Again::Refuse).unwrap();
    assert!(first.iter().all(|r| r.fresh) && second.iter().all(|r| !r.fresh));
    assert_eq!(
        first.iter().map(|r| r.head).collect::<Vec<_>>(),
        second.iter().map(|r| r.head).collect::<Vec<_>>()
    );
    assert_eq!(desk.ledger.head().unwrap(), head);

    for (why, kits) in [
        ("one is missing", vec![kits[0].clone()]),
        ("one is new", vec![kits[0].clone(), kits[1].clone(), kit("HB-1000", "Sørbø")]),
        ("one is changed", vec![kits[0].clone(), changed(&kits[1], "150", "151")]),
    ] {
        let faults = desk.ledger.record_kits(&part, &kits, Again::Record).unwrap_err();
        assert_eq!(faults.len(), 1, "{why}: {faults:?}");
        assert!(faults[0].what.starts_with("part 1 of the run autumn was recorded"));
    }
    assert_eq!(desk.ledger.head().unwrap(), head);
}

#[test]
fn a_run_ends_once() {
    let mut desk = Desk::new();
    let run = stamp(5).in_run("autumn", 0);
    let counts = RunCounts { made: 40, held: 2, wrong: 1 };
    let files = [document("run.pdf", 5)];
    let first = desk.ledger.record_run(&run, counts, &files).unwrap();
    let second = desk.ledger.record_run(&run, counts, &files).unwrap();
    assert_eq!((first.head, first.fresh, second.fresh), (second.head, true, false));
    let other = RunCounts { made: 41, ..counts };
    let faults = desk.ledger.record_run(&run, other, &files).unwrap_err();
    assert_eq!(
        faults_of(&faults),
        "the run autumn ended on 2026-11-25T14:00:05Z already, with made 40 held 2 wrong 1, \
         and not with made 41 held 2 wrong 1"
    );
    assert!(
        desk.ledger.record_run(&stamp(5), counts, &files).is_err(),
        "no run is named"
    );
}

#[test]
fn reprint_numbers_rise_and_one_that_failed_is_given_again() {
    let mut desk = Desk::new();
    desk.make(0, &["HB-20417"]);
    let mut number = |what, works: bool| {
        let reprint = reprint(&desk.ledger, "HB-20417", what, "smudged");
        let mut given = 0;
        let recorded = desk.ledger.record_reprint(&stamp(1), &reprint, |number| {
            given = number;
            let broken =
                kitwright::fault::Fault::new("the font is gone", "bring it back");
            if works { Ok(vec![document("labels.pdf", 1)]) } else { Err(vec![broken]) }
        });
        assert_eq!(recorded.is_ok(), works);
        assert!(recorded.is_err() || recorded.is_ok_and(|r| r.counter == given));
        given
    };
    assert_eq!(number(What::Sheet, true), 1);
    assert_eq!(number(What::Sheet, false), 2);
    assert_eq!(number(What::Sheet, true), 2);
    assert_eq!(number(What::Labels(Some(3)), true), 1);
    assert_eq!(number(What::Labels(Some(3)), true), 2);
    assert_eq!(number(What::Labels(Some(1)), true), 1);
    assert_eq!(number(What::Labels(None), true), 3, "more than any label bears");
    assert_eq!(number(What::Labels(Some(1)), true), 4);
    let stored = desk.ledger.kit("HB-20417").unwrap().unwrap();
    assert_eq!((stored.reprints, stored.relabels[&1], stored.relabels[&2]), (2, 4, 3));
    desk.check_is_clean();
}

#[test]
fn a_reprint_of_nothing_or_for_no_reason_is_refused() {
    let mut desk = Desk::new();
    desk.make(0, &["HB-20417"]);
    #[track_caller]
    fn refused(desk: &mut Desk, order: &str, what: What, reason: &str, says: &str) {
        let reprint = reprint(&desk.ledger, order, what, reason);
        let faults = desk
            .ledger
            .record_reprint(&stamp(1), &reprint, |_| panic!("nothing is to be set"))
            .unwrap_err();
        assert_eq!(faults_of(&faults), says);
    }
    let unknown = "order HB-9999 is not in the ledger";
    refused(&mut desk, "HB-9999", What::Sheet, "smudged", unknown);
    refused(&mut desk, "HB-20417", What::Sheet, "  ", "no reason is given");
    let both = "no reason is given\norder HB-20417 has no slot 7";
    refused(&mut desk, "HB-20417", What::Labels(Some(7)), "", both);
}

#[test]
fn a_revision_brings_a_new_text_and_keeps_the_counters() {
    let mut desk = Desk::new();
    let first = kit("HB-20417", "Okonkwo-Reyes");
    desk.make(0, &["HB-20417"]);
    let sheet = reprint(&desk.ledger, "HB-20417", What::Sheet, "wet");
    desk.ledger.record_reprint(&stamp(1), &sheet, |_| Ok(vec![])).unwrap();
    let second = changed(&first, "06:30", "07:00");
    let set = |number| Ok(vec![document(&format!("revision-{number}.pdf"), 2)]);
    let recorded = desk.ledger.record_revision(
        &stamp(2),
        &second,
        &basis(&desk.ledger, &second.order),
        "wakes later",
        set,
    );
    assert_eq!(recorded.unwrap().counter, 1);
    let stored = desk.ledger.kit("HB-20417").unwrap().unwrap();
    assert_eq!(stored.person.unwrap().order_text, second.source.text);
    assert_eq!((stored.revision, stored.reprints), (1, 1));
    let trail = desk.ledger.history("HB-20417").unwrap();
    let sealed = trail[2].sealed.as_ref().unwrap();
    assert_eq!(sealed.revised_from, trail[0].sealed.as_ref().unwrap().input_digest);

    let same = desk
        .ledger
        .record_revision(
            &stamp(3),
            &second,
            &basis(&desk.ledger, &second.order),
            "again",
            set,
        )
        .unwrap_err();
    assert_eq!(
        faults_of(&same),
        "order HB-20417 has this text already: nothing is revised"
    );
    desk.check_is_clean();
}

#[test]
fn a_clock_that_goes_back_is_noted_and_no_fault() {
    let mut desk = Desk::new();
    desk.make(60, &["HB-20417"]);
    desk.make(0, &["HB-20418"]);
    let checked = desk.ledger.check(None).unwrap();
    assert_eq!(
        checked.notes,
        ["entry 2 is of 2026-11-25T14:00:00Z, before the entry before it, \
          2026-11-25T14:01:00Z: the clock went back"]
    );
}

#[test]
fn kits_are_found_by_what_is_in_hand() {
    let mut desk = Desk::new();
    let kits = [kit("HB-20417", "Okonkwo-Reyes"), kit("HB-20418", "Núñez")];
    desk.ledger.record_kits(&stamp(0), &kits, Again::Refuse).unwrap();
    let renamed = changed(&kit("HB-20418", "Halloran"), "1984-03-09", "1985-03-09");
    let renamed =
        kitwright::ledger::NewKit { born: "1985-03-09".parse().unwrap(), ..renamed };
    #[track_caller]
    fn finds(desk: &Desk, text: &str, orders: &[&str]) {
        let found =
            desk.ledger.find(text).unwrap_or_else(|fault| panic!("{}", fault.what));
        let got: Vec<&str> = found.iter().map(|found| found.kit.order.as_str()).collect();
        assert_eq!(got, orders, "{text}");
    }
    #[track_caller]
    fn misses(desk: &Desk, text: &str, what: &str, help: &str) {
        let fault = desk.ledger.find(text).unwrap_err();
        assert_eq!(fault.what, what);
        assert!(fault.help.contains(help), "{}", fault.help);
    }
    finds(&desk, "HB-20417", &["HB-20417"]);
    finds(&desk, " hb-20417 ", &["HB-20417"]);
    finds(&desk, "hb-204 17-15", &["HB-20417"]);
    assert_eq!(desk.ledger.find("HB-20417-15").unwrap()[0].slot, Some(1));
    finds(&desk, "nunez", &["HB-20418"]);
    finds(&desk, "NUÑ, mar", &["HB-20418"]);
    finds(&desk, "reyes", &["HB-20417"]);
    finds(&desk, "1984-03-09", &["HB-20417", "HB-20418"]);
    finds(&desk, "19840309", &["HB-20417", "HB-20418"]);
    let wrong = "`HB-20417-16` is not a code: the check character is wrong";
    misses(&desk, "hb-20417-16", wrong, "did you mean HB-20417-15");
    let swapped = "`HB-24017-15` is not a code: the check character is wrong";
    misses(&desk, "HB-24017-15", swapped, "did you mean HB-20417-15?");
    let nothing = "nothing in the ledger fits `Quill`";
    misses(&desk, "Quill", nothing, "an order number, a code");
    misses(&desk, "", "nothing in the ledger fits ``", "an order number, a code");
    misses(&desk, "' OR 1=1 --", "nothing in the ledger fits `' OR 1=1 --`", "code");

    desk.ledger
        .record_revision(
            &stamp(2),
            &renamed,
            &basis(&desk.ledger, &renamed.order),
            "married",
            |_| Ok(vec![]),
        )
        .unwrap();
    finds(&desk, "halloran", &["HB-20418"]);
    finds(&desk, "1985-03-09", &["HB-20418"]);
    finds(&desk, "1984-03-09", &["HB-20417"]);
    misses(&desk, "nunez", "nothing in the ledger fits `nunez`", "order number");
}

#[test]
fn papers_planned_before_a_revision_are_refused_after_it() {
    let mut desk = Desk::new();
    let first = kit("HB-20417", "Okonkwo-Reyes");
    desk.make(0, &["HB-20417"]);
    let planned = basis(&desk.ledger, "HB-20417");
    let stale: Vec<_> = [What::Sheet, What::Labels(None), What::Labels(Some(2))]
        .map(|what| reprint(&desk.ledger, "HB-20417", what, "smudged"))
        .into();
    // Other papers change nothing of what was planned.
    desk.ledger.record_reprint(&stamp(1), &stale[0], |_| Ok(vec![])).unwrap();
    desk.ledger.record_reprint(&stamp(1), &stale[0], |_| Ok(vec![])).unwrap();
    let wakes = changed(&first, "06:30", "07:00");
    desk.ledger
        .record_revision(&stamp(2), &wakes, &planned, "later", |_| Ok(vec![]))
        .unwrap();
    let trail = desk.ledger.history("HB-20417").unwrap();
    let says = "the order HB-20417 was changed meanwhile: this is of the order as first \
                made, and the ledger has revision 1";
    for reprint in &stale {
        let refused = desk
            .ledger
            .record_reprint(&stamp(3), reprint, |_| panic!("nothing is to be set"))
            .unwrap_err();
        assert_eq!(faults_of(&refused), says);
        assert!(refused[0].help.contains("give the command again"), "{refused:?}");
    }
    let weight = changed(&first, "150 lb", "160 lb");
    let refused = desk
        .ledger
        .record_revision(&stamp(3), &weight, &planned, "heavier", |_| {
            panic!("nothing is to be set")
        })
        .unwrap_err();
    assert_eq!(faults_of(&refused), says, "it would lose the first revision");
    assert_eq!(desk.ledger.history("HB-20417").unwrap(), trail, "nothing is recorded");
    // A kit made again bears the newest revision, or is not made.
    let again = |ledger: &mut kitwright::ledger::Ledger, revision| {
        let kit = kitwright::ledger::NewKit { revision, ..wakes.clone() };
        ledger.record_kits(&stamp(4), &[kit], Again::Record)
    };
    let refused = again(&mut desk.ledger, 0).unwrap_err();
    assert_eq!(faults_of(&refused), says);
    assert_eq!(again(&mut desk.ledger, 1).unwrap()[0].kind, Kind::MadeAgain);
    desk.check_is_clean();
}
