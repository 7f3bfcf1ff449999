//! Orders from exports: tables in their encodings and formats.

mod common;

use std::fmt::Write as _;
use std::io::{Cursor, Write as _};
use std::path::Path;

use common::{LAB, today};
use kitwright::fault::{Fault, Source};
use kitwright::import::{self, Row};
use kitwright::imposition::Placing;
use kitwright::lab::{Lab, read_lab};
use kitwright::medicine::Medicines;
use kitwright::order::{Names, Order, read_order};
use kitwright::words::languages;
use kitwright::workshop::Workshop;
use proptest::prelude::*;

/// The columns of these tests, but those of their doses.
const COLUMNS: &str = r#"
[columns]
order = "No."
family = "Family"
given = "Given"
born = "Born"
weight = "Weight"
start = "Start"
dinner = "Dinner"
fluid_limit = "Fluid limit"
default_protocol = "four-card"
ignore = ["Remarks"]
"#;

const HEADER: &str = "No.,Family,Given,Born,Weight,Start,Dinner,Fluid limit\n";

fn lab(columns: &str) -> Lab {
    read_lab(&Source::new("lab.toml", format!("{LAB}{columns}")), &languages())
        .unwrap_or_else(|faults| panic!("{}", plain(&faults)))
}

fn plain(faults: &[Fault]) -> String {
    faults.iter().map(|fault| fault.plain() + "\n").collect()
}

fn read(name: &str, bytes: &[u8], columns: &str) -> Result<Vec<Row>, Vec<Fault>> {
    import::read(Path::new(name), bytes, &lab(columns).columns)
}

#[track_caller]
fn rows(name: &str, bytes: &[u8], columns: &str) -> Vec<Row> {
    read(name, bytes, columns).unwrap_or_else(|faults| panic!("{}", plain(&faults)))
}

fn order(row: &Row) -> Result<Order, Vec<Fault>> {
    row.and_then(|source| {
        read_order(source, &lab(""), Medicines::builtin(), &Names::builtin(), today())
    })
}

/// One row under [`HEADER`], its order or its faults as text.
fn one(cells: &str, more: &str) -> Result<Order, String> {
    let table = format!("{HEADER}{cells}\n");
    let columns = format!("{COLUMNS}{more}");
    let rows = rows("orders.csv", table.as_bytes(), &columns);
    assert_eq!(rows.len(), 1, "{table}");
    order(&rows[0]).map_err(|faults| plain(&faults))
}

#[test]
fn a_row_becomes_the_text_of_an_order_file() {
    let table = "\
order,family,given,born,weight,start,zone,lunch,dinner,provider_name,provider_phone,\
dose_rules,pregnant,dose1_medicine,dose1_form,dose1_times,dose2_medicine,dose2_form,\
dose2_times,dose2_timing\n\
HB-30101,Achterberg,\"Willa \"\"Bill\"\"\",1979-04-17,148 lbs,2026-12-02,,,6:00 pm,\
Dr. Ines Halloran,555-0117,Agreed,no,,,,estradiol,Gel,7:30 AM; 9:00 PM,ask\n";
    let rows = rows(
        "exports/orders.csv",
        table.as_bytes(),
        "[columns]\ndefault_protocol = \"four-card\"",
    );
    assert_eq!(
        rows[0].source.text,
        r#"order = "HB-30101"
protocol = "four-card"
start = 2026-12-02

[patient]
family = "Achterberg"
given = 'Willa "Bill"'
born = 1979-04-17
weight = "148 lb"

[routine]
dinner = 18:00

[provider]
name = "Dr. Ines Halloran"
phone = "555-0117"
dose_rules = "agreed"

[health]
pregnant = false

[[dose]]
medicine = "estradiol"
form = "gel"
times = [07:30, 21:00]
timing = "ask"
"#
    );
    assert_eq!(rows[0].faults, []);
    assert_eq!(rows[0].number.as_deref(), Some("HB-30101"));
    order(&rows[0]).unwrap();
}

#[test]
fn the_same_order_has_the_same_text_wherever_it_stands() {
    let cells = "1991-02-09,61 kg,2026-12-03,20:00,no";
    let row = format!("HB-30103,Escamilla,Rocio,{cells}\n");
    let today = format!("{HEADER}{row}");
    let tomorrow = format!("\n{HEADER}HB-30104,A,B,{cells}\n{row}");
    let first = &rows("monday.csv", today.as_bytes(), COLUMNS)[0];
    let second = &rows("tuesday.tsv", tomorrow.as_bytes(), COLUMNS)[1];
    assert_eq!(first.source.text, second.source.text);
    assert_eq!(first.source.name, "monday.csv, row 2");
    assert_eq!(second.source.name, "tuesday.tsv, row 4");
}

#[test]
fn faults_are_shown_by_row_and_column_with_the_cells_text() {
    let table = format!(
        "{HEADER}HB-30101,Achterberg,Willa,4/17/1979,148,2026-12-02,5:15,no\n\
         HB-30102,,Elias,1958-11-30,201 lb,2026-12-02,17:15,maybe\n\
         HB-30103,Escamilla,Rocio,1991-02-09,9 lb,2026-12-02,17:15,no\n"
    );
    let rows = rows("orders.csv", table.as_bytes(), COLUMNS);
    let faults: Vec<Fault> =
        rows.iter().flat_map(|row| order(row).unwrap_err()).collect();
    assert_eq!(
        plain(&faults),
        "\
error: `4/17/1979` can be read as more than one date
--> orders.csv, row 2, column \"Born\"
 = note: it reads `4/17/1979`
 = help: write it as year-month-day, such as 1984-03-09; or say in [columns] of \
lab.toml what the export does: date_format = \"day first\", \"month first\" or \"year \
first\"
error: the weight `148` has no unit
--> orders.csv, row 2, column \"Weight\"
 = note: it reads `148`
 = help: write the number, a space and lb or kg, such as 150 lb; or say in [columns] of \
lab.toml which it is: weight_unit = \"lb\" or \"kg\"
error: `5:15` can be in the morning or the evening
--> orders.csv, row 2, column \"Dinner\"
 = note: it reads `5:15`
 = help: write it on the 24-hour clock with two figures for the hour, such as 07:15, or \
with am or pm, such as 5:15 pm
error: the order has no `family`
--> orders.csv, row 3, column \"Family\"
 = note: it is empty
 = help: fill the cell in
error: `maybe` is neither yes nor no
--> orders.csv, row 3, column \"Fluid limit\"
 = note: it reads `maybe`
 = help: write yes or no; find out which where it is not known
error: the weight 9 lb is outside 20 to 700 lb
--> orders.csv, row 4, column \"Weight\"
 = note: it reads `9 lb`
 = help: check the number and its unit, lb or kg
"
    );
}

/// Encodings as the WHATWG Encoding Standard names them; quoting by RFC 4180.
#[test]
fn every_encoding_separator_and_line_break_gives_the_same_order() {
    let table = format!(
        "{HEADER}HB-30103,Escamilla,\"Rocío, Ana\",1991-02-09,61.2 kg,2026-12-03,20:00,no\n"
    );
    let utf16 = |bytes: fn(u16) -> [u8; 2]| -> Vec<u8> {
        "\u{FEFF}".chars().chain(table.chars()).flat_map(|c| bytes(c as u16)).collect()
    };
    let latin: Vec<u8> = table.chars().map(|c| c as u8).collect();
    let with = |separator: &str| {
        table
            .replace(',', separator)
            .replace(&format!("Rocío{separator}"), "Rocío,")
            .into_bytes()
    };
    let want = rows("orders.csv", table.as_bytes(), COLUMNS)[0].source.text.clone();
    assert!(want.contains("given = \"Rocío, Ana\""), "{want}");
    for name in ["windows-1252", "latin1", " CP1252 "] {
        let columns = format!("{COLUMNS}encoding = \"{name}\"");
        assert_eq!(rows("orders.csv", &latin, &columns)[0].source.text, want, "{name}");
    }
    for (why, bytes) in [
        ("UTF-8 with a byte order mark", format!("\u{FEFF}{table}").into_bytes()),
        ("UTF-16, little end first", utf16(u16::to_le_bytes)),
        ("UTF-16, big end first", utf16(u16::to_be_bytes)),
        ("semicolons", with(";")),
        ("tabs", with("\t")),
        ("CR LF", table.replace('\n', "\r\n").into_bytes()),
        ("CR", table.replace('\n', "\r").into_bytes()),
        ("no break at the end", table.trim_end().as_bytes().to_vec()),
        ("empty rows at the end", format!("{table},,,,,,,\n\n").into_bytes()),
    ] {
        let rows = rows("orders.csv", &bytes, COLUMNS);
        assert_eq!(rows.len(), 1, "{why}");
        assert_eq!(rows[0].source.text, want, "{why}");
    }
}

/// A table with one family name, as bytes of some encoding, in row 3.
fn with_family(family: &[u8]) -> Vec<u8> {
    let cells = "1991-02-09,61 kg,2026-12-03,20:00,no";
    let before = format!("{HEADER}HB-30101,\"A\nB\",C,{cells}\nHB-30102,");
    let after = format!(",C,{cells}\n");
    [before.as_bytes(), family, after.as_bytes()].concat()
}

/// The family name that is read, or the faults.
fn family(bytes: &[u8], encoding: &str) -> Result<String, String> {
    let columns = match encoding {
        "" => COLUMNS.to_owned(),
        name => format!("{COLUMNS}encoding = \"{name}\""),
    };
    let rows = read("o.csv", bytes, &columns).map_err(|faults| plain(&faults))?;
    let row = rows.get(1).ok_or("there is no second row")?;
    order(row).map(|order| order.patient.family).map_err(|faults| plain(&faults))
}

/// The bytes of the names are those that Python 3.11 writes (`str.encode`, cp1250 and
/// cp1253; 0xAA is no character of cp1253).
#[test]
fn the_encoding_of_a_table_is_said_and_never_guessed() {
    let polish = with_family(b"Go\xB3\xEAbiak");
    assert_eq!(
        family(&polish, "").unwrap_err(),
        "\
error: the file is not text in UTF-8: the byte 0xB3 stands after `HB-30102,Go`
--> o.csv, line 4
 = help: save it again as CSV in UTF-8; or find out in which encoding the other system \
writes it and name that in [columns] of lab.toml, such as encoding = \"windows-1250\" in \
Central or \"windows-1252\" in Western Europe
"
    );
    assert_eq!(family(&polish, "windows-1250").unwrap(), "Gołębiak");
    assert!(family(&polish, "utf-8").unwrap_err().contains("UTF-8, as lab.toml says"));
    let greek = family(&with_family(b"\xC1\xAA"), "windows-1253").unwrap_err();
    assert!(greek.contains("the byte 0xAA stands after `HB-30102,Α`"), "{greek}");
    let mark = format!("{HEADER}HB-1,A 5\",\r\n\r\nHB-2,").into_bytes();
    let lone = family(&[&mark, &b"\xB3"[..]].concat(), "").unwrap_err();
    assert!(lone.contains("--> o.csv, line 4\n"), "a mark that opens nothing: {lone}");
}

/// "GÓŁKA" as Python 3.11 writes it in cp1250 is valid UTF-8 for another name.
#[test]
fn a_table_that_makes_two_texts_is_refused() {
    let twofold = with_family(b"G\xD3\xA3KA");
    assert_eq!(
        family(&twofold, "windows-1250").unwrap_err(),
        "\
error: the file can be read in two ways: `\u{4E3}` in UTF-8 is `ÓŁ` in windows-1250
--> o.csv, line 4
 = help: if it is UTF-8, take `encoding` out of [columns] of lab.toml; if it is \
windows-1250, save it again as CSV in UTF-8
"
    );
    let utf8 = with_family("Gołębiak".as_bytes());
    assert_eq!(family(&utf8, "").unwrap(), "Gołębiak");
    assert_eq!(family(&utf8, "utf-8").unwrap(), "Gołębiak");
    for (encoding, what) in [
        ("windows-1250", "the file can be read in two ways"),
        ("windows-1252", "the file can be read in two ways"),
        ("utf-16le", "the file is not in UTF-16LE, as lab.toml says"),
        ("utf-16be", "the file is not in UTF-16BE, as lab.toml says"),
    ] {
        let found = family(&utf8, encoding).unwrap_err();
        assert!(found.contains(what), "{encoding}: {found}");
        // The mark says which it is.
        let marked = ["\u{FEFF}".as_bytes(), &utf8].concat();
        assert_eq!(family(&marked, encoding).unwrap(), "Gołębiak", "{encoding}");
    }
    assert_eq!(family(&with_family(b"Lund"), "windows-1250").unwrap(), "Lund");
}

#[test]
fn utf_16_without_a_byte_order_mark_is_read_where_it_is_said() {
    let text = String::from_utf8(with_family("Gołębiak".as_bytes())).unwrap();
    let wide: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert_eq!(family(&wide, "utf-16le").unwrap(), "Gołębiak");
    for encoding in ["", "windows-1250", "utf-16be"] {
        family(&wide, encoding).expect_err(encoding);
    }
    let cut = family(&wide[..wide.len() - 1], "utf-16le").unwrap_err();
    assert!(cut.contains("the file is not text in UTF-16LE"), "{cut}");
}

#[test]
fn rows_are_numbered_as_a_spreadsheet_shows_them() {
    let cells = "1991-02-09,61 kg,2026-12-03,20:00,no";
    for end in ["\n", "\r\n", "\r"] {
        let table = format!(
            "\n{HEADER}\n,,,,,,,\nHB-30101,\"A\nB\n\nC\",X,{cells}\n\n\n\
             HB-30102,D,E,{cells}\n"
        )
        .replace('\n', end);
        let rows = rows("o.csv", table.as_bytes(), COLUMNS);
        let names: Vec<&str> = rows.iter().map(|row| row.source.name.as_str()).collect();
        assert_eq!(names, ["o.csv, row 5", "o.csv, row 8"], "{end:?}");
    }
}

#[test]
fn a_wrong_row_does_not_keep_the_others_back() {
    let cells = "1991-02-09,61 kg,2026-12-03,20:00,no";
    let table = format!(
        "{HEADER}HB-30101,A,B,{cells}\nHB-30102,A,B,C,{cells}\nHB-30103,A,B\n\
         HB-30104,The \"Rose\",B,{cells}\nHB-30105,A,B,{cells}\n"
    );
    let rows = rows("o.csv", table.as_bytes(), COLUMNS);
    let found: Vec<String> = rows
        .iter()
        .map(|row| order(row).map_or_else(|faults| faults[0].what.clone(), |o| o.number))
        .collect();
    assert_eq!(
        found,
        [
            "HB-30101",
            "the row has 9 cells and the header has 8",
            "the row has 3 cells and the header has 8",
            "a quotation mark stands inside a cell without quotes",
            "HB-30105",
        ]
    );
}

#[track_caller]
fn refused(bytes: &[u8], columns: &str, what: &str) {
    let faults = read("orders.csv", bytes, columns).expect_err(what);
    let all: Vec<&str> = faults.iter().map(|fault| fault.what.as_str()).collect();
    assert!(all.contains(&what), "{all:?} lacks {what}");
}

/// RFC 4180, section 2, rules 5 to 7.
#[test]
fn quotes_that_could_swallow_an_order_are_refused() {
    let cells = "1991-02-09,61 kg,2026-12-03,20:00,no";
    refused(
        format!("{HEADER}HB-30101,\"A,B,{cells}\nHB-30102,A,B,{cells}\n").as_bytes(),
        COLUMNS,
        "a quotation mark is never closed",
    );
    refused(
        format!("{HEADER}HB-30101,\"A,B,{cells}\nHB-30102,\"A\",B,{cells}\n").as_bytes(),
        COLUMNS,
        "a cell in quotes goes on after its closing quotation mark",
    );
    // Two stray marks that close each other, in a column that is passed over.
    let header = HEADER.replace("\n", ",Remarks\n");
    let rows_of = |notes: [&str; 3]| {
        let row = |(n, note)| format!("HB-3010{n},A,B,{cells},{note}\n");
        format!("{header}{}", (1..).zip(notes).map(row).collect::<String>())
    };
    refused(
        rows_of(["\"fragile", "", "urgent\""]).as_bytes(),
        COLUMNS,
        "a cell in quotes seems to go on over other rows of the table",
    );
    let last = rows_of(["", "\"fragile", "urgent\""]);
    refused(
        last.trim_end().as_bytes(),
        COLUMNS,
        "a cell in quotes seems to go on over other rows of the table",
    );
    // In the midst of a row, where what is left of two makes a whole one.
    let middle = format!(
        "{header}HB-30101,A,\"B 1,{cells},\nHB-30102,C,see note\",{cells},\n\
         HB-30103,E,F,{cells},\n"
    );
    for text in [middle.clone(), middle.replace('\n', "\r")] {
        refused(
            text.as_bytes(),
            COLUMNS,
            "a cell in quotes seems to go on over other rows of the table",
        );
    }
    // An address in an early column goes on in a second line.
    let early = format!(
        "Remarks,{HEADER}\"1, Quay Street, Flat 2\nHarbor Bend, CO, USA\",HB-30101,A,B,{cells}\n"
    );
    assert_eq!(rows("o.csv", early.as_bytes(), COLUMNS).len(), 1);
    // A header of two lines is in nobody's way, whatever separates it from the next.
    for (mark, end) in [(",", "\n"), (";", "\r\n"), ("\t", "\r")] {
        let header = HEADER.replace("No.", "\"Order\nno.\"");
        let table = format!("\n{header}HB-30101,A,B,{cells}\n");
        let table = table.replace(',', mark).replace('\n', end);
        let columns = COLUMNS.replace("No.", "Order no.");
        assert_eq!(rows("o.csv", table.as_bytes(), &columns).len(), 1, "{mark:?}");
    }
    let fine = rows_of(["\"a, b,\nc, d, e\"", "", ""]);
    assert_eq!(rows("o.csv", fine.as_bytes(), COLUMNS).len(), 3);
}

#[test]
fn every_column_is_read_or_passed_over_on_purpose() {
    let headers = |text: &str| text.as_bytes().to_vec();
    for (table, what) in [
        (HEADER.replace("Family", "Famly"), "there is no column `Family`"),
        (HEADER.replace("Family", "Famly"), "nothing says what the column `Famly` holds"),
        (HEADER.replace(",Fluid limit", ""), "there is no column `Fluid limit`"),
        (HEADER.replace("Given", "Family"), "the column `Family` stands there twice"),
        (
            HEADER.replace('\n', ",Allergies\n"),
            "nothing says what the column `Allergies` holds",
        ),
        (format!("Orders,,of this week\n{HEADER}"), "the row holds no headers of orders"),
        (String::new(), "the file is empty"),
        ("\n,,\n".into(), "the file is empty"),
    ] {
        refused(&headers(&table), COLUMNS, what);
    }
    for (header, written) in [
        ("Seen by", "\"Seen by\""),
        ("Seen by \"Bo\"", "'Seen by \"Bo\"'"),
        ("Bo's \"or\" Al's", "\"\"\"Bo's \"or\" Al's\"\"\""),
        ("Seen\n by", "\"Seen by\""),
    ] {
        let quoted = header.replace('"', "\"\"");
        let table = HEADER.replace('\n', &format!(",\"{quoted}\"\n"));
        let help = read("o.csv", table.as_bytes(), COLUMNS).unwrap_err()[0].help.clone();
        assert!(help.ends_with(&format!("ignore = [{written}]")), "{help}");
        let columns = COLUMNS.replace("\"Remarks\"", written);
        assert_eq!(rows("o.csv", table.as_bytes(), &columns).len(), 0, "{header}");
    }
    let table = HEADER.replace('\n', ",Remarks,\n");
    assert_eq!(rows("o.csv", table.as_bytes(), COLUMNS).len(), 0, "one is ignored");
    refused(
        HEADER.as_bytes(),
        &COLUMNS.replace("default_protocol = \"four-card\"\n", ""),
        "no column says which protocol the orders are for",
    );
    refused(
        b"order,family,given,born,dose1_medicine\n",
        "[columns]\ndefault_protocol = \"four-card\"",
        "there is no column `dose1_times`",
    );
    // A header in Normalization Form D is the same header (Unicode Annex 15).
    let columns = COLUMNS.replace("\"Given\"", "\"Pr\u{E9}nom\"");
    let table = HEADER.replace("Given", " Pre\u{301}nom ");
    assert_eq!(rows("o.csv", table.as_bytes(), &columns).len(), 0);
}

#[test]
fn a_time_without_its_half_beside_others_that_have_one_is_refused() {
    let columns = "[columns]\ndefault_protocol = \"four-card\"\nweight_unit = \"lb\"\n";
    let header = "order,family,given,born,fluid_limit,lunch,dinner,bedtime,wake\n";
    let whats = |times: &str| -> Vec<String> {
        let table = format!("{header}HB-30101,A,B,1991-02-09,no,{times}\n");
        let rows = rows("o.csv", table.as_bytes(), columns);
        rows[0].faults.iter().map(|fault| fault.what.clone()).collect()
    };
    let no_half = "has no am or pm, and other times beside it have";
    assert_eq!(
        whats("12:30 pm,06:00,10:30,6:30 am"),
        [format!("`06:00` {no_half}"), format!("`10:30` {no_half}")]
    );
    assert_eq!(whats("12:30,18:00,22:30,06:30"), [""; 0]);
    assert_eq!(whats("12:30 pm,18:00,22:30,6:30 am"), [""; 0], "these can be no other");

    // The doses among themselves, each by the number that it has in the order.
    let dose = |n| format!(",dose{n}_medicine,dose{n}_form,dose{n}_times");
    let header = header.replace('\n', &format!("{}{}{}\n", dose(1), dose(2), dose(3)));
    let table = format!(
        "{header}HB-30101,A,B,1991-02-09,no,,,22:30,06:30,,,,estradiol,gel,7:30 am,\
         progesterone,gel,09:00\n"
    );
    let said = plain(&rows("o.csv", table.as_bytes(), columns)[0].faults);
    assert!(said.contains(&format!("`09:00` {no_half}")), "{said}");
    assert!(said.contains("o.csv, row 2, column \"dose3_times\""), "{said}");

    // A cell of a workbook says what its format shows.
    let header: Vec<&str> = header.trim_end().split(',').take(9).collect();
    let (twelve, plain_clock) = (shown("h:mm AM/PM", "0.25"), "<s=\"2\"><v>0.25</v>");
    let whats = |lunch: &str, dinner: &str| -> Vec<String> {
        let cells = ["HB-30101", "A", "B", "1991-02-09", "no", lunch, dinner, "", ""];
        let sheet = format!(
            "<sheetData>{}{}</sheetData>",
            sheet_row(1, &header),
            sheet_row(2, &cells)
        );
        let rows = rows("o.xlsx", &workbook(&[("Orders", &sheet)], ""), columns);
        rows[0].faults.iter().map(|fault| fault.what.clone()).collect()
    };
    let wrong = [format!("`06:00` {no_half}")];
    assert_eq!(whats(&twelve, "06:00"), wrong);
    assert_eq!(whats(plain_clock, "5:15 pm"), wrong);
    assert_eq!(whats(&twelve, plain_clock), wrong);
    assert_eq!(whats(&twelve, "<s=\"2\"><v>0.75</v>"), [""; 0], "18:00");
    assert_eq!(whats(plain_clock, "06:00"), [""; 0]);
}

#[test]
fn a_header_with_another_unit_than_the_laboratorys_is_refused() {
    let columns = COLUMNS.replace("\"Weight\"", "\"Weight (kg)\"");
    assert_ne!(columns, COLUMNS);
    let table = HEADER.replace("Weight", "Weight (kg)");
    let with = |unit: &str| {
        let columns = format!("{columns}weight_unit = \"{unit}\"\n");
        read("o.csv", table.as_bytes(), &columns)
    };
    assert!(with("kg").is_ok());
    let faults = with("lb").unwrap_err();
    assert_eq!(
        faults[0].what,
        "the column `Weight (kg)` says kg, and weight_unit in lab.toml says lb"
    );
}

#[test]
fn a_header_with_another_order_of_a_date_than_the_laboratorys_is_refused() {
    let read_with = |header: &str, format: &str| {
        let columns = COLUMNS.replace("\"Born\"", &format!("\"{header}\""));
        let columns = format!("{columns}date_format = \"{format}\"\n");
        let whats = |faults: Vec<Fault>| -> String {
            faults.into_iter().map(|fault| fault.what).collect()
        };
        let table = HEADER.replace("Born", header);
        read("o.csv", table.as_bytes(), &columns).map(|_| ()).map_err(whats)
    };
    for (header, said, format) in [
        ("Born (dd/mm/yyyy)", "day first", "month first"),
        ("Born MM-DD-YY", "month first", "day first"),
        ("d.m.yyyy", "day first", "year first"),
    ] {
        let what = format!(
            "the column `{header}` says {said}, and date_format in lab.toml says {format}"
        );
        assert_eq!(read_with(header, format), Err(what));
        assert_eq!(read_with(header, said), Ok(()), "{header}");
    }
    for header in ["Born (yyyy-mm-dd)", "Born d/m", "Mmm d yyyy"] {
        assert_eq!(read_with(header, "month first"), Ok(()), "{header}");
    }
}

#[test]
fn the_mistake_of_a_formula_is_no_name() {
    let cells = "HB-30101,#N/A,B,1991-02-09,61 kg,2026-12-03,20:00,no";
    assert!(one(cells, "").unwrap_err().contains("`#N/A` is the mistake of a formula"));
}

#[test]
fn headers_in_other_capitals_are_shown_as_they_are_known() {
    let table = HEADER.to_uppercase();
    let faults = read("o.csv", table.as_bytes(), COLUMNS).unwrap_err();
    let help = |what: &str| {
        let fault = faults.iter().find(|fault| fault.what == what);
        fault.unwrap_or_else(|| panic!("{what}: {faults:?}")).help.clone()
    };
    let missing = help("there is no column `Family`");
    assert!(missing.starts_with("did you mean `FAMILY`?"), "{missing}");
    let unknown = help("nothing says what the column `FAMILY` holds");
    assert!(unknown.starts_with("did you mean `Family`?"), "{unknown}");
}

#[test]
fn an_ignored_column_is_never_read() {
    let table = "order,family,given,born,protocol,dinner,dose1_medicine,dose1_form,\
        dose1_times,dose1_note\nHB-30101,A,B,1991-02-09,four-card,17:15,estradiol,gel,\
        07:30,with food\n";
    let ignore = |names: &str| {
        let columns = format!("[columns]\nignore = [{names}]");
        read("o.csv", table.as_bytes(), &columns)
    };
    let read_with = |names: &str| order(&ignore(names).unwrap()[0]).unwrap();
    assert!(read_with("").routine.dinner.is_some());
    assert_eq!(read_with("\"dinner\"").routine.dinner, None);
    assert_eq!(read_with("\"dose1_note\"").doses[0].note, None);
    let dose = r#""dose1_medicine", "dose1_form", "dose1_times", "dose1_note""#;
    assert_eq!(read_with(dose).doses.len(), 0);
    for (names, what) in [
        ("\"born\"", "the column `born` is needed and ignored"),
        ("\"dose1_times\"", "the column `dose1_times` is needed and ignored"),
        ("\"protocol\"", "no column says which protocol the orders are for"),
    ] {
        let faults = ignore(names).expect_err(what);
        assert_eq!(faults.len(), 1, "{}", plain(&faults));
        assert_eq!(faults[0].what, what);
    }
}

#[test]
fn the_columns_of_lab_toml_are_checked_like_everything_else() {
    let wrong = |columns: &str| {
        let source = Source::new("lab.toml", format!("{LAB}[columns]\n{columns}"));
        let faults = read_lab(&source, &languages()).unwrap_err();
        faults.into_iter().map(|fault| fault.what).collect::<Vec<_>>()
    };
    assert_eq!(wrong("wieght = \"W\""), ["unknown key `wieght`"]);
    assert_eq!(
        wrong("order = \"A\"\nfamily = \"B\"\ngiven = \"B\""),
        ["`[columns]` has no `born`", "the column `B` is given to `family` already",]
    );
    assert_eq!(
        wrong(
            "order = \"A\"\nfamily = \"B\"\ngiven = \"C\"\nborn = \"D\"\nignore = [\"C\"]"
        ),
        ["the column `C` is both read and ignored"]
    );
    assert_eq!(
        wrong("encoding = \"windows-125\""),
        ["the encoding `windows-125` is not known"]
    );
    assert_eq!(
        wrong("encoding = \"Shift_JIS\""),
        ["exports in the encoding `Shift_JIS` are not read"]
    );
    assert_eq!(wrong("date_format = \"us\""), ["`date_format` cannot be `us`"]);
    assert_eq!(
        wrong("[[columns.dose]]\nmedicine = \"M\"\nform = \"F\"")[..1],
        ["`[columns]` has no `order`"]
    );
}

#[track_caller]
fn born(why: &str, cell: &str, format: &str, want: Option<&str>) {
    let format = match format {
        "" => String::new(),
        format => format!("date_format = \"{format}\""),
    };
    let found = one(&format!("HB-30101,A,B,{cell},61 kg,2026-12-03,20:00,no"), &format);
    let found = found.map(|order| order.patient.born.to_string());
    assert_eq!(found.as_deref().ok(), want, "{why}: {found:?}");
}

#[test]
fn a_date_has_one_reading_or_is_refused() {
    born("ISO 8601", "1984-03-09", "", Some("1984-03-09"));
    born("ISO 8601 with midnight", "1984-03-09 00:00:00", "", Some("1984-03-09"));
    born("ISO 8601 in any format", "1984-03-09", "day first", Some("1984-03-09"));
    born("with another time", "1984-03-09 10:00:00", "", None);
    born("two readings", "3/9/1984", "", None);
    born("one reading, but which format is not said", "3/19/1984", "", None);
    born("month first", "3/9/1984", "month first", Some("1984-03-09"));
    born("day first", "3/9/1984", "day first", Some("1984-09-03"));
    born("day first with points", "03.09.1984", "day first", Some("1984-09-03"));
    born("year first", "1984/3/9", "year first", Some("1984-03-09"));
    born("the other format", "19/3/1984", "month first", None);
    born("two figures of a year", "3/9/84", "month first", None);
    born("two figures of a year", "84-03-09", "year first", None);
    born("two kinds of marks", "3/9-1984", "month first", None);
    born("no such day", "2/30/1984", "month first", None);
    born("a leap day", "2/29/1984", "month first", Some("1984-02-29"));
    born("no leap day", "2/29/1900", "month first", None);
    born("a serial number", "30750", "month first", None);
    born("words", "yesterday", "", None);
    born("far too long", &"1".repeat(300), "day first", None);
}

#[test]
fn what_is_wrong_with_a_date_is_what_is_said_of_it() {
    for (cell, format, what) in [
        ("1979-02-30", "month first", "there is no day `1979-02-30`"),
        ("1900-01-00", "month first", "there is no day `1900-01-00`"),
        ("1979-02-30", "", "there is no day `1979-02-30`"),
        ("2026-12-2", "month first", "`2026-12-2` does not have two figures for the day"),
        ("2026-1-02", "day first", "`2026-1-02` does not have two figures for the month"),
        ("2026-1-2", "", "`2026-1-2` does not have two figures for month and day"),
        (
            "1984/3/9",
            "day first",
            "`1984/3/9` begins with its year, and date_format has another order",
        ),
        ("3/9/84", "day first", "the year of `3/9/84` does not have four figures"),
        ("2/30/1984", "month first", "`2/30/1984` is no date with the month first"),
    ] {
        let columns = match format {
            "" => String::new(),
            format => format!("date_format = \"{format}\""),
        };
        let row = format!("HB-30101,A,B,{cell},61 kg,2026-12-03,20:00,no");
        let found = one(&row, &columns).unwrap_err();
        assert!(found.contains(what), "{cell} {format}: {found}");
    }
}

#[test]
fn a_date_of_another_order_makes_the_others_doubtful() {
    let whats = |dates: &[&str], format: &str| -> Vec<String> {
        let row =
            |(n, born)| format!("HB-3010{n},A,B,{born},61 kg,2026-12-03,20:00,no\n");
        let table: String = (1..).zip(dates).map(row).collect();
        let columns = format!("{COLUMNS}date_format = \"{format}\"");
        let rows = rows("o.csv", format!("{HEADER}{table}").as_bytes(), &columns);
        let what = |row: &Row| row.faults.iter().map(|f| f.what.as_str()).collect();
        rows.iter().map(what).collect()
    };
    let doubtful = |date: &str, other: &str, row: u32| {
        format!(
            "`{date}` may have day and month the other way round, as `{other}` in o.csv, \
             row {row} has"
        )
    };
    assert_eq!(
        whats(
            &["03/04/1979", "17/04/1979", "4/4/1979", "1979-03-04", "3/17/1979"],
            "month first"
        ),
        [
            doubtful("03/04/1979", "17/04/1979", 3),
            "`17/04/1979` is no date with the month first".into(),
            String::new(),
            String::new(),
            String::new(),
        ]
    );
    for (format, other, either) in [
        ("day first", "4.17.1979", "3.4.1979"),
        ("year first", "1979/17/04", "1979/03/04"),
        ("month first", "17/04/79", "03/04/1979"),
    ] {
        assert_eq!(whats(&[other, either], format)[1], doubtful(either, other, 2));
    }
    assert_eq!(whats(&["02/30/1979", "03/04/1979"], "month first")[1], "");
    // Another column, too, and cells that a spreadsheet program made dates of.
    let cells =
        ["HB-30101", "A", "B", "17/04/1979", "150 lb", "12/3/2026", "17:15", "no"];
    let columns = format!("{COLUMNS}date_format = \"month first\"");
    let sheet = rows("o.xlsx", &book(&cells, ""), &columns);
    let said = plain(&sheet[0].faults);
    assert!(said.contains("`12/3/2026` may have day and month"), "{said}");
    assert!(said.contains("o.xlsx, row 3, column \"Start\""), "{said}");
    let cells =
        ["HB-30101", "A", "B", "<s=\"1\"><v>35981</v>", "150 lb", "17/04/2026", "", "no"];
    let sheet = rows("o.xlsx", &book(&cells, ""), &columns);
    let said = plain(&sheet[0].faults);
    assert!(said.contains("`1998-07-05` may have day and month"), "{said}");
}

#[test]
fn a_time_has_one_reading_or_is_refused() {
    for (cell, want) in [
        ("17:15", Some("17:15:00")),
        ("07:05", Some("07:05:00")),
        ("17:15:00", Some("17:15:00")),
        ("5:15 pm", Some("17:15:00")),
        ("5:15PM", Some("17:15:00")),
        ("05:15 a.m.", Some("05:15:00")),
        ("12:00 pm", Some("12:00:00")),
        ("12:30 am", Some("00:30:00")),
        ("00:00", Some("00:00:00")),
        ("5:15", None),
        ("1715", None),
        ("17.15", None),
        ("17:15:30", None),
        ("24:00", None),
        ("17:60", None),
        ("17:15 pm", None),
        ("0:15 am", None),
        ("17:5", None),
        ("5 pm", None),
        ("noon", None),
        ("0.71875", None),
        ("17:15 ", Some("17:15:00")),
        ("HS", None),
    ] {
        let found =
            one(&format!("HB-30101,A,B,1991-02-09,61 kg,2026-12-03,{cell},no"), "");
        let found =
            found.map(|order| order.routine.dinner.expect("a dinner").to_string());
        assert_eq!(found.as_deref().ok(), want, "{cell}: {found:?}");
    }
}

#[test]
fn a_weight_needs_a_unit_from_somewhere() {
    for (cell, unit, want) in [
        ("150 lb", "", Some("150 lb")),
        ("150lbs", "", Some("150 lb")),
        ("68.5 KG", "lb", Some("68.5 kg")),
        ("150", "lb", Some("150 lb")),
        ("68.5", "kg", Some("68.5 kg")),
        ("150", "", None),
        ("11 st", "", None),
        ("\"68,5 kg\"", "", None),
        ("68.5.1", "kg", None),
        ("-70", "kg", None),
        ("1e2", "kg", None),
        (".", "kg", None),
    ] {
        let more = match unit {
            "" => String::new(),
            unit => format!("weight_unit = \"{unit}\""),
        };
        let found =
            one(&format!("HB-30101,A,B,1991-02-09,{cell},2026-12-03,20:00,no"), &more);
        let found = found.map(|order| order.patient.weight.unwrap().to_string());
        assert_eq!(found.as_deref().ok(), want, "{cell}: {found:?}");
    }
}

#[test]
fn an_order_number_is_what_was_issued_or_refused() {
    for (cell, want) in [
        ("00417", Some("00417")),
        (" HB-1 ", Some("HB-1")),
        ("1E+05", None),
        ("1.2E-05", None),
        ("1E-05", None),
        ("=A1+1", None),
        ("hb-30101", None),
    ] {
        let found = one(&format!("{cell},A,B,1991-02-09,61 kg,2026-12-03,20:00,no"), "");
        assert_eq!(found.as_ref().ok().map(|o| o.number.as_str()), want, "{cell}");
    }
}

#[test]
fn rows_with_the_same_order_number_are_all_wrong() {
    let cells = "A,B,1991-02-09,61 kg,2026-12-03,20:00,no";
    let table = format!("{HEADER}HB-30101,{cells}\nHB-30102,{cells}\nHB-30101,{cells}\n");
    let rows = rows("o.csv", table.as_bytes(), COLUMNS);
    let wrong: Vec<String> = rows
        .iter()
        .map(|row| row.faults.iter().map(|fault| fault.what.as_str()).collect())
        .collect();
    assert_eq!(
        wrong,
        [
            "the order number HB-30101 stands in o.csv, row 4, too",
            "",
            "the order number HB-30101 stands in o.csv, row 2, too",
        ]
    );
}

#[test]
fn each_limit_is_a_fault_that_names_it() {
    let wide = format!("{}\n", (0..201).map(|n| format!("c{n},")).collect::<String>());
    refused(wide.as_bytes(), COLUMNS, "the table has 201 columns, more than 200");
    let mut long = HEADER.to_owned();
    for _ in 0..=100_000 {
        long.push_str("x,,,,,,,\n");
    }
    refused(long.as_bytes(), COLUMNS, "the file has more than 100000 rows of orders");
    let header = format!("{}\n", "h".repeat(2_000_000));
    let faults = read("o.csv", header.as_bytes(), "").unwrap_err();
    assert!(faults[0].what.ends_with("has 2000000 characters, more than 200"));
    let large = vec![b'a'; 64 * 1024 * 1024 + 1];
    refused(&large, COLUMNS, "the file has 65536 kB, more than 65536");
    let cell = "x".repeat(4001);
    let found = one(&format!("HB-1,{cell},B,1991-02-09,61 kg,2026-12-03,20:00,no"), "");
    let found = found.unwrap_err();
    assert!(found.contains("a cell has 4001 characters, more than 4000"), "{found}");
}

// ------------------------------------------------------------------ workbooks

/// Number formats that show something beside a value, or leave something out.
const FORMATS: [&str; 12] = [
    "0 \"kg\"",
    "0.0\\ \\l\\b",
    "0%",
    "0,",
    "[>100]0;0\" kg\"",
    "#,##0.0",
    "@\" kg\"",
    "mmm-yy",
    "d-mmm \"day\"",
    "mm:ss",
    "h:mm\" pm\"",
    "h:mm AM/PM",
];

/// A cell of a number in the format `format`, which is one of [`FORMATS`].
fn shown(format: &str, number: &str) -> String {
    let style = 5 + FORMATS.iter().position(|known| *known == format).unwrap();
    format!("<s=\"{style}\"><v>{number}</v>")
}

/// A workbook of sheets, each a name and the XML of its rows. `more` goes into
/// `workbookPr`. Parts and elements as in ECMA-376, part 1, section 18. Cell
/// formats: 0 General, 1 a date, 2 a time, 3 five figures, 4 a day and month, and from 5
/// on those of [`FORMATS`].
fn workbook(sheets: &[(&str, &str)], more: &str) -> Vec<u8> {
    let mut out = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let mut part = |name: &str, text: &str| {
        out.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
        out.write_all(text.as_bytes()).unwrap();
    };
    let main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    let office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    let package = "http://schemas.openxmlformats.org/package/2006";
    let (mut list, mut relations, mut types) =
        (String::new(), String::new(), String::new());
    for (index, (name, _)) in sheets.iter().enumerate() {
        let id = index + 1;
        let (name, state) = match name.strip_prefix("hidden:") {
            Some(name) => (name, " state=\"hidden\""),
            None => (*name, ""),
        };
        write!(list, "<sheet name=\"{name}\" sheetId=\"{id}\"{state} r:id=\"r{id}\"/>")
            .unwrap();
        write!(
            relations,
            "<Relationship Id=\"r{id}\" Type=\"{office}/worksheet\" \
             Target=\"worksheets/sheet{id}.xml\"/>"
        )
        .unwrap();
        write!(
            types,
            "<Override PartName=\"/xl/worksheets/sheet{id}.xml\" ContentType=\"application/\
             vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml\"/>"
        )
        .unwrap();
    }
    part(
        "[Content_Types].xml",
        &format!("<Types xmlns=\"{package}/content-types\">{types}</Types>"),
    );
    part(
        "_rels/.rels",
        &format!(
            "<Relationships xmlns=\"{package}/relationships\"><Relationship Id=\"r1\" \
             Type=\"{office}/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>"
        ),
    );
    part(
        "xl/workbook.xml",
        &format!(
            "<workbook xmlns=\"{main}\" xmlns:r=\"{office}\"><workbookPr {more}/><sheets>\
             {list}</sheets></workbook>"
        ),
    );
    part(
        "xl/_rels/workbook.xml.rels",
        &format!(
            "<Relationships xmlns=\"{package}/relationships\">{relations}<Relationship \
             Id=\"s\" Type=\"{office}/styles\" Target=\"styles.xml\"/></Relationships>"
        ),
    );
    let (mut formats, mut styles) = (String::new(), String::new());
    for (id, code) in (165..).zip(FORMATS) {
        let code = code.replace('"', "&quot;").replace('>', "&gt;");
        write!(formats, "<numFmt numFmtId=\"{id}\" formatCode=\"{code}\"/>").unwrap();
        write!(styles, "<xf numFmtId=\"{id}\"/>").unwrap();
    }
    part(
        "xl/styles.xml",
        &format!(
            "<styleSheet xmlns=\"{main}\"><numFmts><numFmt numFmtId=\"164\" \
             formatCode=\"00000\"/>{formats}</numFmts><cellXfs><xf numFmtId=\"0\"/>\
             <xf numFmtId=\"14\"/><xf numFmtId=\"20\"/><xf numFmtId=\"164\"/>\
             <xf numFmtId=\"16\"/>{styles}</cellXfs></styleSheet>"
        ),
    );
    for (index, (_, rows)) in sheets.iter().enumerate() {
        part(
            &format!("xl/worksheets/sheet{}.xml", index + 1),
            &format!("<worksheet xmlns=\"{main}\">{rows}</worksheet>"),
        );
    }
    out.finish().unwrap().into_inner()
}

/// A row of a sheet: each cell its XML content after `<c r="A1"`.
fn sheet_row(number: u32, cells: &[&str]) -> String {
    let cells: String = cells
        .iter()
        .zip('A'..='Z')
        .filter(|(cell, _)| !cell.is_empty())
        .map(|(cell, column)| match cell.strip_prefix('<') {
            Some(xml) => format!("<c r=\"{column}{number}\" {xml}</c>"),
            None => format!(
                "<c r=\"{column}{number}\" t=\"inlineStr\"><is><t>{cell}</t></is></c>"
            ),
        })
        .collect();
    format!("<row r=\"{number}\">{cells}</row>")
}

const SHEET_HEADER: [&str; 8] =
    ["No.", "Family", "Given", "Born", "Weight", "Start", "Dinner", "Fluid limit"];

/// A workbook with one order under the header.
fn book(cells: &[&str], more: &str) -> Vec<u8> {
    let rows = format!(
        "<sheetData>{}{}</sheetData>",
        sheet_row(1, &SHEET_HEADER),
        sheet_row(3, cells)
    );
    workbook(&[("Orders", &rows)], more)
}

fn one_of_book(cells: &[&str], more: &str) -> Result<Order, String> {
    let columns = format!("{COLUMNS}weight_unit = \"lb\"");
    let rows = rows("orders.xlsx", &book(cells, more), &columns);
    assert_eq!(rows[0].source.name, "orders.xlsx, row 3");
    order(&rows[0]).map_err(|faults| plain(&faults))
}

/// Serial numbers of 5 July 1998: 35981 in the 1900 date system and 34519 in the
/// 1904 one (Microsoft's support article on the two systems, from memory).
#[test]
fn cells_of_dates_times_and_numbers_are_read_as_they_are_shown() {
    for (born, more) in [
        ("<s=\"1\"><v>35981</v>", ""),
        ("<s=\"1\"><v>34519</v>", "date1904=\"1\""),
        ("1998-07-05", ""),
        ("<t=\"str\"><f>A9</f><v>1998-07-05</v>", ""),
        ("<s=\"1\"><f>A9+1</f><v>35981</v>", ""),
    ] {
        let cells = [
            "<><v>30101</v>",
            "O'Hara &amp; Co",
            "B",
            born,
            "<><v>150.5</v>",
            "2026-12-03",
            "<s=\"2\"><v>0.71875</v>",
            "<t=\"b\"><v>1</v>",
        ];
        let order = one_of_book(&cells, more).unwrap();
        assert_eq!(order.number, "30101");
        assert_eq!(order.patient.family, "O'Hara & Co");
        assert_eq!(order.patient.born.to_string(), "1998-07-05", "{born} {more}");
        assert_eq!(order.patient.weight.unwrap().to_string(), "150.5 lb");
        assert_eq!(order.routine.dinner.unwrap().to_string(), "17:15:00");
        assert_eq!(order.health.len(), 1);
    }
}

#[test]
fn cells_that_do_not_say_what_was_meant_are_refused() {
    let good = ["HB-30101", "A", "B", "1998-07-05", "150", "2026-12-03", "17:15", "no"];
    one_of_book(&good, "").unwrap();
    for (why, at, cell, what) in [
        (
            "zeros in front were lost",
            0,
            "<s=\"3\"><v>417</v>",
            "shown in the format `00000`",
        ),
        (
            "a number made a date",
            0,
            "<s=\"1\"><v>35981</v>",
            "the date or time 1998-07-05",
        ),
        ("too many figures", 0, "<><v>1e15</v>", "cannot have been issued"),
        ("a fraction", 0, "<><v>417.5</v>", "cannot have been issued"),
        ("an error", 1, "<t=\"e\"><v>#N/A</v>", "the error #N/A"),
        ("a formula without a value", 1, "<><f>B1</f>", "never worked out"),
        ("a number for a date", 3, "<><v>35981</v>", "the number 35981"),
        ("a date with a time", 3, "<s=\"1\"><v>35981.5</v>", "holds a time of day"),
        ("a date shown without its year", 3, "<s=\"4\"><v>35981</v>", "without its year"),
        ("before the false leap day", 3, "<s=\"1\"><v>60</v>", "before 1 March 1900"),
        ("no date", 3, "<s=\"1\"><v>-5</v>", "before 1 March 1900"),
        ("beyond all dates", 3, "<s=\"1\"><v>1e300</v>", "before 1 March 1900"),
        ("a number for a time", 6, "<><v>0.71875</v>", "the number 0.71875"),
        ("seconds", 6, "<s=\"2\"><v>0.7188</v>", "in whole minutes"),
        ("a day and a time", 6, "<s=\"2\"><v>35981.71875</v>", "in whole minutes"),
        ("true for a name", 1, "<t=\"b\"><v>1</v>", "true or false"),
        ("true for a weight", 4, "<t=\"b\"><v>1</v>", "true or false"),
        ("a date for yes or no", 7, "<s=\"1\"><v>35981</v>", "neither yes nor no"),
    ] {
        let mut cells = good;
        cells[at] = cell;
        let found = one_of_book(&cells, "").expect_err(why);
        assert!(found.contains(what), "{why}: {found}");
        let header = format!("column \"{}\"", SHEET_HEADER[at]);
        assert!(found.contains(&header), "{why}: {found}");
    }
}

/// 148 kg is more than twice 148 lb: what a format shows is what a person has read.
#[test]
fn a_weight_is_read_in_the_unit_that_its_format_shows_or_refused() {
    let weighs = |cell: &str, columns: &str| {
        let cells =
            ["HB-30101", "A", "B", "1998-07-05", cell, "2026-12-03", "17:15", "no"];
        let columns = format!("{COLUMNS}{columns}");
        let rows = rows("orders.xlsx", &book(&cells, ""), &columns);
        let order = order(&rows[0]).map_err(|faults| plain(&faults));
        order.map(|order| order.patient.weight.unwrap().to_string())
    };
    let (lb, kg) = ("weight_unit = \"lb\"", "weight_unit = \"kg\"");
    for (format, number, columns, want) in [
        ("0 \"kg\"", "148", kg, "148 kg"),
        ("0.0\\ \\l\\b", "148", lb, "148 lb"),
        ("#,##0.0", "148.5", lb, "148.5 lb"),
    ] {
        assert_eq!(weighs(&shown(format, number), columns).as_deref(), Ok(want));
    }
    for (format, number, columns, seen) in [
        ("0 \"kg\"", "148", lb, "with `kg`, by the format `0 \"kg\"`"),
        ("0 \"kg\"", "148", "", "with `kg`, by the format `0 \"kg\"`"),
        ("0.0\\ \\l\\b", "68", kg, "with `lb`"),
        ("0%", "1.48", lb, "with `%`, by the format `0%`"),
        ("0,", "148000", lb, "otherwise, by the format `0,`"),
        ("[>100]0;0\" kg\"", "68", lb, "otherwise"),
    ] {
        let fault = weighs(&shown(format, number), columns).expect_err(format);
        assert!(
            fault.contains(&format!("the weight {number} is shown {seen}")),
            "{fault}"
        );
        assert!(fault.contains("orders.xlsx, row 3, column \"Weight\""), "{fault}");
    }
    let style = 5 + FORMATS.iter().position(|known| *known == "@\" kg\"").unwrap();
    let text = format!("<s=\"{style}\" t=\"inlineStr\"><is><t>148</t></is>");
    let fault = weighs(&text, lb).unwrap_err();
    assert!(fault.contains("the text `148`, shown with `kg` by the format"), "{fault}");
}

#[test]
fn a_format_that_hides_a_part_of_a_cell_is_named() {
    let good = ["HB-30101", "A", "B", "1998-07-05", "150", "2026-12-03", "17:15", "no"];
    for (at, format, number, what) in [
        (3, "mmm-yy", "35981", "the date is shown as `mmm-yy`, without its day"),
        (3, "d-mmm \"day\"", "35981", "`d-mmm \"day\"`, without its year"),
        (6, "mm:ss", "0.71875", "17:15:00 is shown as `mm:ss`, without its hour"),
        (6, "h:mm\" pm\"", "0.25", "06:00:00 is shown as `h:mm\" pm\"`, with `pm` in it"),
        (1, "0%", "2", "the number 2 is shown in the format `0%`"),
        (7, "0%", "1", "the number 1 is shown in the format `0%`"),
    ] {
        let mut cells = good;
        let cell = shown(format, number);
        cells[at] = &cell;
        let found = one_of_book(&cells, "").expect_err(format);
        assert!(found.contains(what), "{format}: {found}");
        let header = format!("column \"{}\"", SHEET_HEADER[at]);
        assert!(found.contains(&header), "{format}: {found}");
    }
}

#[test]
fn hidden_rows_are_named_and_hidden_columns_are_not_read() {
    let good =
        ["HB-30101", "A", "B", "1998-07-05", "150 lb", "2026-12-03", "17:15", "no"];
    let row =
        |number| sheet_row(number, &good).replace("30101", &format!("3010{number}"));
    let filtered = row(3).replace("<row ", "<row hidden=\"1\" ");
    let flat = row(5).replace("<row ", "<row ht=\"0\" customHeight=\"1\" ");
    let book = |columns: &str, header: &str| {
        let rows_xml = format!(
            "{columns}<sheetData>{header}{}{filtered}{}{flat}<row r=\"6\" hidden=\"1\"/>\
             </sheetData>",
            row(2),
            row(4)
        );
        // Not the first sheet, nor the first part.
        let notes = format!("<sheetData>{}</sheetData>", sheet_row(1, &["Notes"]));
        workbook(&[("Notes", &notes), ("Orders", &rows_xml)], "")
    };
    let header = sheet_row(1, &SHEET_HEADER);
    let sound = rows("o.xlsx", &book("", &header), COLUMNS);
    let wrong: Vec<String> = sound
        .iter()
        .map(|row| row.faults.iter().map(|fault| fault.what.as_str()).collect())
        .collect();
    assert_eq!(
        wrong,
        [
            "",
            "row 3 is hidden, by hand or by a filter",
            "",
            "row 5 is hidden, by hand or by a filter"
        ]
    );
    order(&sound[0]).unwrap();
    let said = plain(&order(&sound[1]).unwrap_err());
    assert!(said.contains("o.xlsx, row 3"), "{said}");

    let hidden_header = header.replace("<row ", "<row hidden=\"true\" ");
    let weight = "<cols><col min=\"5\" max=\"5\" hidden=\"1\"/></cols>";
    let faults = read("o.xlsx", &book(weight, &hidden_header), COLUMNS).unwrap_err();
    let said = plain(&faults);
    assert!(said.contains("the column `Weight` is hidden\n--> o.xlsx, row 1"), "{said}");
    assert!(said.contains("the row with the headers is hidden"), "{said}");
    assert_eq!(faults.len(), 2, "{said}");
    // A column that is passed over or holds nothing may be hidden.
    let beyond = "<cols><col min=\"9\" max=\"16384\" hidden=\"1\"/></cols>";
    assert_eq!(rows("o.xlsx", &book(beyond, &header), COLUMNS).len(), 4);
}

#[test]
fn merged_cells_and_cells_without_a_header_make_a_row_wrong() {
    let good =
        ["HB-30101", "A", "B", "1998-07-05", "150 lb", "2026-12-03", "17:15", "no"];
    let row =
        |number| sheet_row(number, &good).replace("30101", &format!("3010{number}"));
    let beyond = row(4).replace(
        "</row>",
        "<c r=\"J4\" t=\"inlineStr\"><is><t>asthma</t></is></c></row>",
    );
    let rows_xml = format!(
        "<sheetData>{}{}{}{beyond}{}</sheetData><mergeCells count=\"1\"><mergeCell \
         ref=\"B2:B3\"/></mergeCells>",
        sheet_row(1, &SHEET_HEADER),
        row(2),
        row(3),
        row(5)
    );
    let rows = rows("o.xlsx", &workbook(&[("Orders", &rows_xml)], ""), COLUMNS);
    let wrong: Vec<String> = rows
        .iter()
        .map(|row| row.faults.iter().map(|fault| fault.what.as_str()).collect())
        .collect();
    assert_eq!(
        wrong,
        [
            "cells of row 2 are merged with others",
            "cells of row 3 are merged with others",
            "a cell after the last column holds `asthma`",
            "",
        ]
    );
}

#[test]
fn the_orders_are_on_the_one_sheet_that_has_headers_or_the_one_named() {
    let good =
        ["HB-30101", "A", "B", "1998-07-05", "150 lb", "2026-12-03", "17:15", "no"];
    let orders = |number: &str| {
        format!(
            "<sheetData>{}{}</sheetData>",
            sheet_row(1, &SHEET_HEADER),
            sheet_row(2, &good).replace("30101", number)
        )
    };
    let (first, second, third) = (orders("30101"), orders("30102"), orders("30103"));
    let notes = format!("<sheetData>{}</sheetData>", sheet_row(1, &["Notes"]));
    let sheets = [
        ("Notes", notes.as_str()),
        ("hidden:Lists", notes.as_str()),
        ("New", second.as_str()),
        ("Newer", third.as_str()),
    ];
    let number = |sheets: &[(&str, &str)], columns: &str| {
        rows("o.xlsx", &workbook(sheets, ""), columns)[0].number.clone().unwrap()
    };
    let whats = |sheets: &[(&str, &str)], columns: &str| -> Vec<String> {
        let faults = read("o.xlsx", &workbook(sheets, ""), columns).unwrap_err();
        faults.into_iter().map(|fault| fault.what).collect()
    };
    assert_eq!(number(&sheets[..3], COLUMNS), "HB-30102", "the one with the headers");
    assert_eq!(number(&sheets, &format!("{COLUMNS}sheet = \"Newer\"")), "HB-30103");
    assert_eq!(whats(&sheets, COLUMNS), ["several sheets hold orders: New, Newer"]);
    // Nor is one lost that is hidden, has a title above its headers, or lacks one.
    let titled = format!(
        "<sheetData>{}{}{}</sheetData>",
        sheet_row(1, &["Tuesday"]),
        sheet_row(2, &SHEET_HEADER),
        sheet_row(3, &good).replace("30101", "30104")
    );
    let misspelt = second.replace("Fluid limit", "Fluid limits");
    let capitals = second.replace("No.", "NO.").replace("Family", "FAMILY");
    let two_headers =
        format!("<sheetData>{}</sheetData>", sheet_row(2, &["x", "Born", "Given"]));
    let one_header = two_headers.replace("Given", "Forename");
    let wide = format!(
        "<sheetData><row r=\"1\"><c r=\"IV1\"><v>1</v></c></row>{}</sheetData>",
        sheet_row(2, &good)
    );
    for (name, other, what) in [
        ("hidden:Tuesday", &second, "has headers of orders, and is hidden"),
        ("hidden:Tuesday", &two_headers, "has headers of orders, and is hidden"),
        ("Tuesday", &titled, "has headers of orders below other rows"),
        ("Tuesday", &misspelt, "has headers of orders, and not all of them"),
        ("Tuesday", &capitals, "has headers of orders, and not all of them"),
        ("Tuesday", &two_headers, "has headers of orders, and not all of them"),
        ("Tuesday", &wide, "cannot be looked through for headers"),
    ] {
        let two = [("Monday", first.as_str()), (name, other.as_str())];
        let what = format!("beside Monday the sheet Tuesday {what}");
        assert_eq!(whats(&two, COLUMNS), [what]);
        assert_eq!(number(&two, &format!("{COLUMNS}sheet = \"Monday\"")), "HB-30101");
    }
    let two = [("Monday", first.as_str()), ("Lists", one_header.as_str())];
    assert_eq!(number(&two, COLUMNS), "HB-30101");
    assert_eq!(
        whats(&[("Notes", &notes), ("hidden:A", &first), ("hidden:B", &titled)], COLUMNS),
        [
            "beside Notes the sheet A has headers of orders, and is hidden",
            "beside Notes the sheet B has headers of orders, and is hidden"
        ]
    );
    assert_eq!(
        whats(&sheets, &format!("{COLUMNS}sheet = \"Nwer\"")),
        ["the workbook has no sheet `Nwer`"]
    );
    assert_eq!(
        whats(&vec![sheets[0]; 101], COLUMNS),
        ["the workbook has 101 sheets, more than 100"]
    );
    assert_eq!(whats(&sheets[..2], COLUMNS)[0], "the row holds no headers of orders");
}

/// A part of 300 MB packs into a third of a megabyte.
#[test]
fn a_workbook_that_unpacks_to_too_much_is_refused_before_it_is_opened() {
    let mut out = zip::ZipWriter::new(Cursor::new(book(&["HB-1"], "")));
    let mut bomb = zip::ZipWriter::new_append(
        std::mem::replace(&mut out, zip::ZipWriter::new(Cursor::new(Vec::new())))
            .finish()
            .unwrap(),
    )
    .unwrap();
    bomb.start_file("xl/media/x", zip::write::SimpleFileOptions::default()).unwrap();
    let block = vec![0; 1024 * 1024];
    for _ in 0..300 {
        bomb.write_all(&block).unwrap();
    }
    let bytes = bomb.finish().unwrap().into_inner();
    let faults = read("o.xlsx", &bytes, COLUMNS).unwrap_err();
    assert_eq!(faults[0].what, "the workbook unpacks to more than 256 MB");
}

#[test]
fn only_the_names_of_exports_are_exports() {
    for (name, export) in [
        ("a.csv", true),
        ("a.TSV", true),
        ("a.xlsx", true),
        ("a.json", true),
        ("a.toml", false),
        ("a.txt", false),
        ("-", false),
        ("csv", false),
    ] {
        assert_eq!(import::is_export(Path::new(name)), export, "{name}");
    }
}

// ------------------------------------------------------------------------ demo

#[test]
fn the_demo_exports_are_planned_row_by_row() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-orders/export");
    let mut shop = Workshop::new(None, None, today()).unwrap();
    for (file, orders, held) in
        [("orders.csv", 12, vec!["HB-30106"]), ("bundle.json", 3, vec![])]
    {
        let file = folder.join(file);
        let (items, faults) = shop.items(&[file]);
        assert!(faults.is_empty(), "{faults:?}");
        assert_eq!(items.len(), orders);
        let mut holds = Vec::new();
        for item in &items {
            let planned = shop
                .plan_item(item)
                .unwrap_or_else(|faults| panic!("{}", plain(&faults)));
            if planned.plan.holds().next().is_some() {
                holds.push(planned.order.number.clone());
            }
        }
        assert_eq!(holds, held);
    }
}

#[test]
fn a_character_that_no_font_has_is_shown_by_its_column() {
    let doses = "\"Form 1\"\ntimes = \"Times 1\"\nnote = \"Note 1\"\n";
    let columns = format!(
        "{COLUMNS}[[columns.dose]]\nmedicine = \"Medicine 1\"\nform = {doses}\
         [[columns.dose]]\nmedicine = \"Medicine 2\"\nform = {}",
        doses.replace('1', "2")
    );
    let header = HEADER.replace(
        '\n',
        ",Medicine 1,Form 1,Times 1,Note 1,Medicine 2,Form 2,Times 2,Note 2\n",
    );
    let row = |given: &str, note: &str| {
        format!(
            "{header}HB-30101,Achterberg,{given},1991-02-09,61 kg,2026-12-03,20:00,no,\
             estradiol,gel,07:30,with food,progesterone,gel,21:00,{note}\n"
        )
    };
    let mut shop = common::workshop();
    for (table, column) in
        [(row("\u{674E}", ""), "Given"), (row("B", "with food \u{674E}"), "Note 2")]
    {
        let rows = rows("o.csv", table.as_bytes(), &columns);
        let planned = shop.plan(&rows[0].source, Path::new("o.csv")).unwrap();
        let Err(faults) = shop.make(&planned, &Placing::default()) else {
            panic!("it was made")
        };
        let plain = plain(&faults);
        let place = format!("--> o.csv, row 2, column \"{column}\"\n = note: it reads");
        assert!(plain.contains(&place), "{plain}");
    }
}

// ------------------------------------------------------------------------ laws

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn no_bytes_make_a_reader_panic(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        for name in ["a.csv", "a.tsv", "a.xlsx", "a.json"] {
            let _ = read(name, &bytes, COLUMNS);
            let _ = read(name, &bytes, "");
        }
        for encoding in ["utf-8", "utf-16be", "windows-1250", "windows-1253"] {
            let _ = family(&bytes, encoding);
        }
    }

    #[test]
    fn no_table_makes_a_reader_panic(body in "(HB-1|[0-9/:.,;\"\n\t\r aE+é=-]){0,80}") {
        let table = format!("{HEADER}{body}");
        for row in read("a.csv", table.as_bytes(), COLUMNS).unwrap_or_default() {
            if let Err(faults) = order(&row) {
                plain(&faults);
            }
        }
    }

    #[test]
    fn no_cell_of_a_workbook_makes_a_reader_panic(
        cell in "(<v>|</v>|<f>|</f>|<is>|</is>|<t>|</t>|t=\"(s|str|d|e|b|n)\"|s=\"[0-9]{1,3}\"|\
                 r=\"[A-Z]{1,4}[0-9]{1,9}\"|<c |>|</c>|</row>|[0-9.eE-]{1,20}|[a-z#&;!]){0,12}",
        at in 0usize..8,
    ) {
        let mut cells = ["HB-1", "A", "B", "1998-07-05", "150", "2026-12-03", "17:15", "no"];
        let cell = format!("<{cell}");
        cells[at] = &cell;
        for row in read("a.xlsx", &book(&cells, ""), COLUMNS).unwrap_or_default() {
            if let Err(faults) = order(&row) {
                plain(&faults);
            }
        }
    }

    #[test]
    fn a_damaged_workbook_makes_no_reader_panic(
        hits in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
    ) {
        let mut bytes = book(&["HB-1", "A", "B", "1998-07-05"], "");
        for (at, byte) in hits {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        let _ = read("a.xlsx", &bytes, COLUMNS);
    }

    #[test]
    fn what_a_row_says_is_what_the_order_has(
        family in "[A-Za-zéß'\"\\\\#=\\[\\] .-]{1,30}",
        year in 1920i32..2008, month in 1u32..=12, day in 1u32..=28,
        hour in 0u32..24, minute in 0u32..60,
        weight in 70i64..400,
    ) {
        prop_assume!(!family.trim().is_empty());
        let quoted = family.replace('"', "\"\"");
        let cells = format!(
            "HB-30101,\"{quoted}\",B,{month}/{day}/{year},{weight},2026-12-03,\
             {hour:02}:{minute:02},yes"
        );
        let order =
            one(&cells, "date_format = \"month first\"\nweight_unit = \"lb\"").unwrap();
        prop_assert_eq!(order.patient.family, family.trim());
        prop_assert_eq!(
            order.patient.born.to_string(),
            format!("{year}-{month:02}-{day:02}")
        );
        prop_assert_eq!(
            order.routine.dinner.unwrap().to_string(),
            format!("{hour:02}:{minute:02}:00")
        );
        prop_assert_eq!(order.patient.weight.unwrap().to_string(), format!("{weight} lb"));
    }
}
