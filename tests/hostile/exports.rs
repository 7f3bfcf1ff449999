//! Exports: tables, workbooks and bundles that are more than they seem.

use std::fmt::Write as _;
use std::io::{Cursor, Write as _};

use zip::write::SimpleFileOptions;

use crate::bench::{Bench, Ended};
use crate::common::LAB;

const COLUMNS: &str = "[columns]\norder = \"No.\"\nfamily = \"Family\"\ngiven = \"Given\"\n\
                       born = \"Born\"\ndefault_protocol = \"four-card\"\n";
const HEADER: &str = "No.,Family,Given,Born\n";

fn planned(why: &str, name: &str, bytes: impl AsRef<[u8]>) -> Ended {
    let bench = Bench::new();
    bench.write("lab.toml", format!("{LAB}{COLUMNS}"));
    bench.write(name, bytes);
    bench.plan(why, name)
}

fn table(count: usize, number: impl Fn(usize) -> String) -> String {
    let mut text = HEADER.to_owned();
    for index in 0..count {
        writeln!(text, "{},Lund,Bo,1984-03-09", number(index)).unwrap();
    }
    text
}

#[test]
fn a_million_orders_in_one_file_are_refused_at_once() {
    planned("a million", "orders.csv", table(1_000_000, |n| format!("HB-{n}"))).refused(
        &["orders.csv", "more than 100000 rows of orders", "fewer orders at once"],
    );
    planned("too large", "orders.csv", vec![b'x'; 65 * 1024 * 1024])
        .refused(&["orders.csv is larger than 65536 kB"]);
    planned("blank rows", "orders.csv", HEADER.to_owned() + &"\n".repeat(5_000_000))
        .refused(&["orders.csv holds no order"]);
    planned("commas", "orders.csv", HEADER.to_owned() + &",".repeat(5_000_000))
        .with(1, &[]);
    planned("quotes", "orders.csv", HEADER.to_owned() + &"\"\"".repeat(5_000_000))
        .with(1, &[]);
}

/// Of each the other must be found, and not by looking at all of them.
#[test]
fn a_number_that_stands_in_every_row_is_refused_in_each() {
    let ended =
        planned("one number", "orders.csv", table(20_000, |_| "HB-20417".to_owned()));
    ended.refused(&["the order number HB-20417 stands in orders.csv, row 3, too"]);
}

#[test]
fn cells_that_no_order_has_are_refused_by_row_and_column() {
    for (why, row, says) in [
        (
            "ten megabytes",
            format!("HB-1001,{},Bo,1984-03-09", "W".repeat(10_000_000)),
            "a cell has 10000000 characters",
        ),
        ("a formula", "HB-1001,\"=HYPERLINK(\"\"x\"\")\",Bo,1984-03-09".into(), ""),
        ("a path", "../../HB-1001,Lund,Bo,1984-03-09".into(), "is not an order number"),
        ("a device", "COM1,Lund,Bo,1984-03-09".into(), "`COM1` is the name of a device"),
        ("year 1", "HB-1001,Lund,Bo,0001-01-01".into(), "more than 130 years ago"),
        ("year 99999", "HB-1001,Lund,Bo,99999-01-01".into(), "Born"),
        ("invisible", "HB-1001,Lu\u{202E}nd,Bo,1984-03-09".into(), "U+202E"),
        (
            "marks",
            format!("HB-1001,L{},Bo,1984-03-09", "\u{0300}".repeat(3_000)),
            "marks on one letter",
        ),
        ("NUL", "HB-1001,Lu\0nd,Bo,1984-03-09".into(), "bytes of zero"),
        (
            "more cells",
            format!("HB-1001{}", ",x".repeat(100_000)),
            "the row has 100001 cells",
        ),
        ("an open quote", "HB-1001,\"Lund,Bo,1984-03-09".into(), "is never closed"),
        ("TOML", "HB-1001,\"\"\" \nprotocol = \"\"x\"\"\",Bo,1984-03-09".into(), "row"),
    ] {
        let ended = planned(why, "orders.csv", format!("{HEADER}{row}\n"));
        // What a spreadsheet takes for a formula is a name here.
        let code = i32::from(why != "a formula");
        ended.with(code, &[says]);
    }
}

#[test]
fn bundles_without_end_are_refused() {
    let deep = 100_000;
    let head = "{\"resourceType\":\"Bundle\",\"type\":\"collection\",\"entry\":";
    let around = |inner: &str| format!("{head}[{{\"resource\":{inner}}}]}}");
    for (why, text) in [
        ("lists", "[".repeat(deep)),
        ("objects", "{\"a\":".repeat(deep)),
        ("in the bundle", around(&"[".repeat(deep))),
        ("closed", around(&format!("{}{}", "[".repeat(deep), "]".repeat(deep)))),
        ("a number", around(&"9".repeat(deep))),
        ("a power", around("1e999999999")),
        ("half a letter", around("\"\\ud800\"")),
        ("twins", around("{\"id\":\"a\",\"id\":\"b\"}")),
        ("no entries", format!("{head}{{}}}}")),
        ("many entries", format!("{head}[{}0]}}", "0,".repeat(200_000))),
        ("empty", String::new()),
        ("a mark", "\u{FEFF}".into()),
    ] {
        planned(why, "orders.json", text).refused(&["orders.json"]);
    }
    planned("large", "orders.json", vec![b' '; 17 * 1024 * 1024])
        .refused(&["orders.json", "the file has 17408 kB, more than 16384"]);
    // A ring of references ends.
    let ring = format!(
        "{head}[{{\"fullUrl\":\"a\",\"resource\":{{\"resourceType\":\"ServiceRequest\",\
         \"id\":\"1\",\"subject\":{{\"reference\":\"a\"}},\"basedOn\":[{{\"reference\":\
         \"a\"}}]}}}}]}}"
    );
    planned("a ring", "orders.json", ring).refused(&["orders.json"]);
}

// ------------------------------------------------------------------- workbooks

const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const OFFICE: &str =
    "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const PACKAGE: &str = "http://schemas.openxmlformats.org/package/2006";

/// The parts of a workbook with one sheet (ECMA-376), whose XML is `sheet`.
fn parts(sheet: &str, strings: &str) -> Vec<(String, String)> {
    let own = |name: &str, text: String| (name.to_owned(), text);
    vec![
        own("[Content_Types].xml", format!("<Types xmlns=\"{PACKAGE}/content-types\"/>")),
        own(
            "_rels/.rels",
            format!(
                "<Relationships xmlns=\"{PACKAGE}/relationships\"><Relationship Id=\"r1\" \
                 Type=\"{OFFICE}/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>"
            ),
        ),
        own(
            "xl/workbook.xml",
            format!(
                "<workbook xmlns=\"{MAIN}\" xmlns:r=\"{OFFICE}\"><sheets><sheet name=\"S\" \
                 sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>"
            ),
        ),
        own(
            "xl/_rels/workbook.xml.rels",
            format!(
                "<Relationships xmlns=\"{PACKAGE}/relationships\"><Relationship Id=\"r1\" \
                 Type=\"{OFFICE}/worksheet\" Target=\"worksheets/sheet1.xml\"/><Relationship \
                 Id=\"r2\" Type=\"{OFFICE}/sharedStrings\" Target=\"sharedStrings.xml\"/>\
                 </Relationships>"
            ),
        ),
        own("xl/sharedStrings.xml", format!("<sst xmlns=\"{MAIN}\"{strings}</sst>")),
        own(
            "xl/worksheets/sheet1.xml",
            format!("<worksheet xmlns=\"{MAIN}\">{sheet}</worksheet>"),
        ),
    ]
}

fn packed(parts: &[(String, String)]) -> zip::ZipWriter<Cursor<Vec<u8>>> {
    let mut out = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in parts {
        out.start_file(name.as_str(), SimpleFileOptions::default()).unwrap();
        out.write_all(text.as_bytes()).unwrap();
    }
    out
}

fn book(sheet: &str, strings: &str) -> Vec<u8> {
    packed(&parts(sheet, strings)).finish().unwrap().into_inner()
}

fn inline(place: &str, text: &str) -> String {
    format!("<c r=\"{place}\" t=\"inlineStr\"><is><t>{text}</t></is></c>")
}

/// The rows of one sound order, with `more` after its cells.
fn sheet(more: &str) -> String {
    let row = |number: u32, texts: [&str; 4], more: &str| {
        let cells: String = ["A", "B", "C", "D"]
            .iter()
            .zip(texts)
            .map(|(column, text)| inline(&format!("{column}{number}"), text))
            .collect();
        format!("<row r=\"{number}\">{cells}{more}</row>")
    };
    format!(
        "<sheetData>{}{}</sheetData>",
        row(1, ["No.", "Family", "Given", "Born"], ""),
        row(2, ["HB-1001", "Lund", "Bo", "1984-03-09"], more)
    )
}

const STRINGS: &str = "><si><t>x</t></si>";

#[test]
fn a_workbook_that_unpacks_without_end_is_refused() {
    planned("a sound one", "o.xlsx", book(&sheet(""), STRINGS)).with(0, &["HB-1001"]);

    // 1 MB that unpacks to 1 GB: deflate (RFC 1951) packs zeros 1032 to 1.
    let mut out = packed(&parts(&sheet(""), STRINGS));
    out.start_file("xl/media/x", SimpleFileOptions::default()).unwrap();
    let zeros = vec![0; 1024 * 1024];
    for _ in 0..1024 {
        out.write_all(&zeros).unwrap();
    }
    let bomb = out.finish().unwrap().into_inner();
    assert!(bomb.len() < 2 * 1024 * 1024, "{}", bomb.len());
    planned("a bomb", "o.xlsx", &bomb).refused(&["unpacks to more than 256 MB"]);

    let mut out = packed(&parts(&sheet(""), STRINGS));
    for index in 0..12_000 {
        out.start_file(format!("x/{index}"), SimpleFileOptions::default()).unwrap();
    }
    let many = out.finish().unwrap().into_inner();
    planned("many parts", "o.xlsx", many).refused(&["parts, more than 10000"]);

    let inner = book(&sheet(""), STRINGS);
    let mut out = packed(&[]);
    out.start_file("o.xlsx", SimpleFileOptions::default()).unwrap();
    out.write_all(&inner).unwrap();
    planned("nested", "o.xlsx", out.finish().unwrap().into_inner()).refused(&["o.xlsx"]);
}

/// Where `what` begins in `bytes`.
fn find(bytes: &[u8], what: &[u8]) -> usize {
    bytes.windows(what.len()).position(|window| window == what).unwrap()
}

/// Offsets of the headers are those of the ZIP file format specification
/// (APPNOTE.TXT), sections 4.3.7, 4.3.12 and 4.3.16.
#[test]
fn a_workbook_whose_directory_lies_is_refused() {
    let sound = book(&sheet(""), STRINGS);
    let central = find(&sound, b"PK\x01\x02");
    let end = find(&sound, b"PK\x05\x06");
    let mut lies: Vec<(&str, Vec<u8>)> = Vec::new();
    let mut lie = |why, at: usize, bytes: &[u8]| {
        let mut other = sound.clone();
        other[at..at + bytes.len()].copy_from_slice(bytes);
        lies.push((why, other));
    };
    lie("a small size", central + 24, &[1, 0, 0, 0]);
    lie("a large size", central + 24, &[0xFE, 0xFF, 0xFF, 0xFF]);
    lie("a large packed size", central + 20, &[0xFE, 0xFF, 0xFF, 0xFF]);
    lie("a place after the end", central + 42, &[0xFE, 0xFF, 0xFF, 0x7F]);
    lie("another sum", central + 16, &[1, 2, 3, 4]);
    lie("another method", central + 10, &[99, 0]);
    lie("locked", central + 8, &[1, 0]);
    lie("more entries", end + 8, &[0xFF, 0xFF, 0xFF, 0xFF]);
    lie("a directory elsewhere", end + 16, &[0xFF, 0xFF, 0xFF, 0x7F]);
    lies.push(("cut off", sound[..sound.len() / 2].to_vec()));
    lies.push(("no end", sound[..end].to_vec()));
    lies.push(("empty", Vec::new()));
    for (why, bytes) in lies {
        let ended = planned(why, "o.xlsx", bytes);
        assert!(matches!(ended.code, Some(0 | 1)), "{why}: {}", ended.said);
        if ended.code == Some(1) {
            ended.refused(&["o.xlsx"]);
        }
    }
    // Sixty entries for one part of 20 MB.
    let mut out = packed(&[]);
    out.start_file("x", SimpleFileOptions::default()).unwrap();
    out.write_all(&vec![0; 20 * 1024 * 1024]).unwrap();
    let one = out.finish().unwrap().into_inner();
    let (central, end) = (find(&one, b"PK\x01\x02"), find(&one, b"PK\x05\x06"));
    let entry = one[central..end].to_vec();
    let mut many = one[..central].to_vec();
    for index in 0..60_u8 {
        let mut entry = entry.clone();
        entry[46] = b'0' + index;
        many.extend(entry);
    }
    let size = u32::try_from(many.len() - central).unwrap();
    let mut tail = one[end..].to_vec();
    tail[8..10].copy_from_slice(&60_u16.to_le_bytes());
    tail[10..12].copy_from_slice(&60_u16.to_le_bytes());
    tail[12..16].copy_from_slice(&size.to_le_bytes());
    many.extend(tail);
    planned("one part many times", "o.xlsx", many).refused(&["o.xlsx"]);
}

#[test]
fn cells_that_a_person_sees_otherwise_are_refused() {
    for (why, more, says) in [
        ("a formula", "<c r=\"E2\"><f>1+1</f></c>".to_owned(), "never worked out"),
        ("an error", "<c r=\"E2\" t=\"e\"><v>#REF!</v></c>".into(), "o.xlsx, row 2"),
        (
            "twice",
            inline("A2", "HB-1002"),
            "the rows or cells of the sheet are not in order",
        ),
        ("no column", inline("E2", "x"), "after the last column"),
        ("far right", inline("XFD2", "x"), "a cell beyond column 200"),
    ] {
        planned(why, "o.xlsx", book(&sheet(&more), STRINGS))
            .refused(&[says, "o.xlsx, row 2"]);
    }
    let merged = sheet("") + "<mergeCells><mergeCell ref=\"B2:C2\"/></mergeCells>";
    planned("merged", "o.xlsx", book(&merged, STRINGS))
        .refused(&["cells of row 2 are merged with others"]);
}

#[test]
fn a_sheet_that_says_what_cannot_be_ends_with_a_word() {
    let sound = sheet("");
    let rows: Vec<(&str, String, String)> = [
        ("its measure", format!("<dimension ref=\"A1:XFD1048576\"/>{sound}"), STRINGS),
        (
            "no measure",
            format!("<dimension ref=\"ZZZZZZZZ99999999999:A0\"/>{sound}"),
            STRINGS,
        ),
        ("a string", sheet("<c r=\"E2\" t=\"s\"><v>4294967295</v></c>"), STRINGS),
        ("a string", sheet("<c r=\"E2\" t=\"s\"><v>-1</v></c>"), STRINGS),
        ("a style", sheet("<c r=\"E2\" s=\"4294967295\"><v>1</v></c>"), STRINGS),
        ("a place", sheet("<c r=\"E99999999999\"><v>1</v></c>"), STRINGS),
        ("a place", sheet("<c r=\"\"><v>1</v></c>"), STRINGS),
        ("a place", sheet("<c r=\"2E\"><v>1</v></c>"), STRINGS),
        ("a place", sheet("<c r=\"AAAAAAAAAAAA2\"><v>1</v></c>"), STRINGS),
        ("a row", sound.replace("<row r=\"2\">", "<row r=\"4294967295\">"), STRINGS),
        ("a row", sound.replace("<row r=\"2\">", "<row r=\"0\">"), STRINGS),
        ("a row", sound.replace("<row r=\"2\">", "<row r=\"-2\">"), STRINGS),
        ("a number", sheet("<c r=\"E2\"><v>1e999</v></c>"), STRINGS),
        ("a number", sheet("<c r=\"E2\"><v>NaN</v></c>"), STRINGS),
        ("a date", sheet("<c r=\"E2\" t=\"d\"><v>99999-99-99</v></c>"), STRINGS),
        ("a kind", sheet("<c r=\"E2\" t=\"zz\"><v>1</v></c>"), STRINGS),
        ("an entity", sheet("<c r=\"E2\" t=\"str\"><v>&nobody;</v></c>"), STRINGS),
        (
            "merged",
            format!("{sound}<mergeCells><mergeCell ref=\"A0:ZZZZ9\"/></mergeCells>"),
            STRINGS,
        ),
        (
            "merged",
            format!("{sound}<mergeCells><mergeCell ref=\"C9:A1\"/></mergeCells>"),
            STRINGS,
        ),
        (
            "a formula of all",
            sheet(
                "<c r=\"E2\"><f t=\"shared\" si=\"4294967295\" \
         ref=\"A1:XFD1048576\">A1</f><v>1</v></c>",
            ),
            STRINGS,
        ),
        ("half", sound[..sound.len() / 2].to_owned(), STRINGS),
    ]
    .map(|(why, sheet, strings)| (why, sheet, strings.to_owned()))
    .into();
    for (why, sheet, strings) in &rows {
        let ended = planned(why, "o.xlsx", book(sheet, strings));
        assert!(matches!(ended.code, Some(0 | 1)), "{why} {sheet}: {}", ended.said);
        if ended.code == Some(1) {
            ended.refused(&["o.xlsx"]);
        }
    }
    // The library takes memory for as many texts as a part says it has.
    for strings in [
        " count=\"1\" uniqueCount=\"4294967295\"/>".to_owned(),
        " uniqueCount=\"18446744073709551615\"/>".into(),
        format!(" uniqueCount{0}={0}'5000001'/>", " ".repeat(100)),
        format!(" uniqueCount{0}={0}'4294967295'/>", " ".repeat(100_000)),
        format!(" a=\"{}\" uniqueCount=\"4294967295\"/>", "q".repeat(8_192 - 40)),
    ] {
        planned("texts", "o.xlsx", book(&sound, &strings)).refused(&[
            "the workbook says it has",
            "texts in its cells",
            "o.xlsx",
        ]);
    }
    let true_count = format!(" uniqueCount=\"1\"{STRINGS}");
    planned("texts", "o.xlsx", book(&sound, &true_count)).with(0, &["HB-1001"]);
    let deep = format!("{}{}", "<a>".repeat(500_000), sheet(""));
    let ended = planned("deep", "o.xlsx", book(&deep, STRINGS));
    assert!(matches!(ended.code, Some(0 | 1)), "{}", ended.said);
    let many = format!(">{}", "<si><t>x</t></si>".repeat(3_000_000));
    let ended = planned("three million strings", "o.xlsx", book(&sheet(""), &many));
    assert!(matches!(ended.code, Some(0 | 1)), "{}", ended.said);
}

/// Parts that point where there is nothing, as the relationships of a workbook can.
#[test]
fn a_workbook_whose_parts_lead_astray_ends_with_a_word() {
    for (from, to) in [
        ("worksheets/sheet1.xml", ""),
        ("worksheets/sheet1.xml", "/"),
        ("worksheets/sheet1.xml", "sheet1.xml"),
        ("worksheets/sheet1.xml", "../../../etc/passwd"),
        ("worksheets/sheet1.xml", "/xl/worksheets/sheet1.xml"),
        ("worksheets/sheet1.xml", "http://example.org/x.xml"),
        ("Id=\"r1\"", "Id=\"\""),
        ("sharedStrings.xml", "workbook.xml"),
        ("sheetId=\"1\"", "sheetId=\"-99999999999\""),
        ("name=\"S\"", "name=\"\""),
        ("name=\"S\"", "name=\"../../x\u{202E}\""),
        ("<sheets>", "<sheets><sheet name=\"S\" sheetId=\"1\" r:id=\"r1\"/>"),
    ] {
        let mut parts = parts(&sheet(""), STRINGS);
        for (_, text) in &mut parts[2..4] {
            *text = text.replace(from, to);
        }
        let bytes = packed(&parts).finish().unwrap().into_inner();
        let ended = planned(to, "o.xlsx", bytes);
        assert!(matches!(ended.code, Some(0 | 1)), "{from} {to}: {}", ended.said);
    }
}
