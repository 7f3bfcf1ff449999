//! One letter, one text, one row at a time out of its place.

use super::*;

const SIZE: f64 = 4.0;
/// What every letter here is wide.
const STEP: f64 = 2.0;

/// `text` on its line from `x` on, in millimetres.
fn line(text: &str, x: f64, y: f64) -> Vec<Glyph> {
    let letter = |(index, c): (usize, char)| {
        let x = x + STEP * index as f64;
        Glyph {
            text: c.into(),
            area: Area { left: x, top: y - 1.0, right: x + STEP, bottom: y },
            origin: (x, y),
            advance: STEP,
            size: SIZE,
            turn: Turn::Upright,
            starts_run: index == 0,
            blank: c == ' ',
            is_heard: true,
        }
    };
    text.chars().enumerate().map(letter).collect()
}

fn page(lines: Vec<Vec<Glyph>>) -> Page {
    let glyphs = lines.concat();
    Page { width: 200.0, height: 200.0, glyphs, ..Page::default() }
}

/// What is said of `pages`, the first of which is page 3.
fn said(pages: &[Page], flow: &Flow) -> String {
    let setting = Setting { first: 3, least: SIZE / MM_PER_PT - 0.5, is_heard: true };
    let mut reader = Reader::new(setting, pages, Drawings::of(pages), |_, _| true);
    let lost = reader.compare(flow).err();
    let (found, _) = reader.finish();
    let all = found.into_iter().chain(lost);
    all.map(|it| format!("{}: {}", it.page, it.what)).collect::<Vec<_>>().join("; ")
}

fn texts<'a>(all: &[&'a str]) -> Vec<Flow<'a>> {
    all.iter().map(|one| text(*one)).collect()
}

/// Each case changes the letters of two lines, "go to" above "bed", one text.
#[test]
fn the_letters_of_a_text_follow_each_other() {
    type Change = fn(&mut Vec<Glyph>);
    let cases: [(&str, Change, &str); 19] = [
        ("nothing", |_| {}, ""),
        ("a kern", |all| all[1].origin.0 += 0.9, ""),
        ("a gap", |all| all[1].origin.0 += 1.1, "letters that do not follow"),
        ("an overlap", |all| all[1].origin.0 -= 1.1, "letters that do not follow"),
        ("a letter lower", |all| all[1].origin.1 += 0.2, "letters that do not follow"),
        ("a near line", |all| shift(&mut all[5..], 0.0, -1.4), ""),
        ("too near", |all| shift(&mut all[5..], 0.0, -1.7), "letters that do not follow"),
        ("a far line", |all| shift(&mut all[5..], 0.0, 2.9), ""),
        ("too far", |all| shift(&mut all[5..], 0.0, 3.1), "letters that do not follow"),
        ("a line above", |all| shift(&mut all[5..], 0.0, -10.0), "do not follow"),
        ("a line in", |all| shift(&mut all[5..], 9.9, 0.0), ""),
        ("past the end", |all| shift(&mut all[5..], 10.1, 0.0), "do not follow"),
        ("no space", |all| close(all, 2), "a space too many or too few"),
        ("ink for a space", |all| all[2].blank = false, "has ink for a space"),
        ("no ink", |all| all[1].blank = true, "or none for a letter"),
        ("larger", |all| all[4].size *= 1.02, "is set in type of several sizes"),
        ("smaller", |all| resize(all, 0.8), "is set in 9.1 pt, less than 10.8"),
        ("turned", |all| all[0].turn = Turn::Half, "does not stand upright"),
        ("silent", |all| all[7].is_heard = false, "is printed and not read out"),
    ];
    for (why, change, expected) in cases {
        let mut all = [line("go to", 20.0, 50.0), line("bed", 20.0, 55.0)].concat();
        change(&mut all);
        let said = said(&[page(vec![all])], &text("go to bed"));
        assert_eq!(said.is_empty(), expected.is_empty(), "{why}: {said}");
        assert!(said.contains(expected), "{why}: {said}");
    }
}

fn shift(glyphs: &mut [Glyph], x: f64, y: f64) {
    for glyph in glyphs {
        glyph.origin = (glyph.origin.0 + x, glyph.origin.1 + y);
    }
}

/// Takes a letter out, and closes the gap.
fn close(glyphs: &mut Vec<Glyph>, at: usize) {
    glyphs.remove(at);
    shift(&mut glyphs[at..4], -STEP, 0.0);
}

fn resize(glyphs: &mut [Glyph], by: f64) {
    glyphs.iter_mut().for_each(|glyph| glyph.size *= by);
}

/// Two texts of three letters, 6 mm wide and 2.8 mm high; the first at 20 and 50 mm.
#[test]
fn texts_stand_below_each_other_or_side_by_side() {
    let down = || Flow::Down(texts(&["one", "two"]));
    let across = || Flow::Across(texts(&["one", "two"]));
    let wrapped = || Flow::Wrapped(texts(&["one", "two"]));
    for (flow, x, y, expected) in [
        (down(), 20.0, 52.8, ""),
        (down(), 60.0, 52.8, ""),
        (down(), 20.0, 52.6, "expected \"two\" below \"one\""),
        (down(), 20.0, 40.0, "expected \"two\" below \"one\""),
        (across(), 26.0, 50.0, ""),
        (across(), 60.0, 52.6, ""),
        (across(), 60.0, 47.4, ""),
        (across(), 25.8, 50.0, "expected \"two\" to the right of \"one\""),
        (across(), 14.0, 50.0, "expected \"two\" to the right of \"one\""),
        (across(), 60.0, 52.9, "expected \"two\" to the right of \"one\""),
        (across(), 60.0, 47.1, "expected \"two\" to the right of \"one\""),
        (wrapped(), 26.0, 50.0, ""),
        (wrapped(), 20.0, 55.0, ""),
        (wrapped(), 20.7, 55.0, ""),
        (wrapped(), 21.0, 55.0, "expected \"two\" beside or below \"one\""),
        (wrapped(), 20.0, 45.0, "expected \"two\" beside or below \"one\""),
    ] {
        let page = page(vec![line("one", 20.0, 50.0), line("two", x, y)]);
        let said = said(&[page], &flow);
        assert_eq!(said.is_empty(), expected.is_empty(), "{x}, {y}: {said}");
        assert!(said.contains(expected), "{x}, {y}: {said}");
    }
}

#[test]
fn on_a_later_page_a_text_is_below_and_not_beside() {
    let pages =
        [page(vec![line("one", 20.0, 50.0)]), page(vec![line("two", 60.0, 50.0)])];
    assert_eq!(said(&pages, &Flow::Down(texts(&["one", "two"]))), "");
    assert_eq!(said(&pages, &text("one two")), "");
    assert_eq!(
        said(&pages, &Flow::Across(texts(&["one", "two"]))),
        "4: expected \"two\" to the right of \"one\", found it elsewhere"
    );
}

#[test]
fn what_is_not_there_and_what_nobody_planned_is_named() {
    let pages =
        [page(vec![line("one", 20.0, 50.0)]), page(vec![line("two ", 20.0, 50.0)])];
    for (flow, expected) in [
        (text("one"), "4: found \"two\", which nobody planned"),
        (Flow::Down(texts(&["one", "ten"])), "4: expected \"ten\" next, found \"two\""),
        (
            Flow::Down(texts(&["one", "two", "ten"])),
            "4: expected \"ten\" next, found nothing",
        ),
        (Flow::Down(texts(&["one", "", "two"])), ""),
        (Flow::Down(vec![Flow::Either(texts(&["ten", "one"])), text("two")]), ""),
        (
            Flow::Down(vec![text("one"), Flow::Blank, text("two")]),
            "3: expected an empty line to write on, which is not there",
        ),
    ] {
        assert_eq!(said(&pages, &flow), expected);
    }
}

/// A table goes on below its head where the next page begins, and only there.
#[test]
fn the_head_of_a_table_stands_again_on_the_next_page_alone() {
    let row = |left, right, y| [line(left, 20.0, y), line(right, 40.0, y)];
    let table = || {
        let rows = [["8", "am"], ["9", "pm"]];
        Flow::Table(Table {
            head: texts(&["At", "Do"]),
            rows: rows.iter().map(|row| texts(row)).collect(),
            is_grid: false,
        })
    };
    let told = |pages: &[Vec<[Vec<Glyph>; 2]>]| {
        let pages: Vec<Page> = pages.iter().map(|rows| page(rows.concat())).collect();
        // Lines of tables are not drawn here.
        let said = said(&pages, &table());
        said.split("; ")
            .filter(|it| !it.contains("a line of the table"))
            .collect::<String>()
    };
    let (head, first, second) =
        (row("At", "Do", 50.0), row("8", "am", 55.0), row("9", "pm", 60.0));
    assert_eq!(told(&[vec![head.clone(), first.clone(), second.clone()]]), "");
    let over = [vec![head.clone(), first.clone()], vec![head.clone(), second.clone()]];
    assert_eq!(told(&over), "");
    let bare = [vec![head.clone(), first.clone()], vec![second.clone()]];
    assert_eq!(told(&bare), "");
    let twice = [vec![head.clone(), first.clone(), row("At", "Do", 58.0), second]];
    assert!(
        told(&twice).contains("expected \"9\" next, found \"At Do"),
        "{}",
        told(&twice)
    );
    let slipped = [vec![head, first, row("9", "pm", 52.0)]];
    assert!(told(&slipped).contains("expected \"9 pm\" below"), "{}", told(&slipped));
}
