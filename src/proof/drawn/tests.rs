//! Each drawing at the limits of where it belongs to a text. The limits are those of our
//! templates, in millimetres.

use super::*;

/// A text from 50 to 70 and from 100 to 104.
fn text() -> Block {
    let area = Area { left: 50.0, top: 100.0, right: 70.0, bottom: 104.0 };
    Block { pages: (0, 0), first: area, last: area, end: (70.0, 103.0), glyphs: (0, 1) }
}

/// A thin dark line or frame.
fn at(left: f64, top: f64, right: f64, bottom: f64) -> Drawing {
    Drawing {
        area: Area { left, top, right, bottom },
        width: 0.3,
        is_broken: false,
        shade: Shade::Dark,
        is_level: true,
        is_outline: true,
        is_sound: true,
    }
}

fn page(drawings: &[Drawing]) -> Page {
    Page { drawings: drawings.to_vec(), ..Page::default() }
}

fn belongs(mark: Mark, drawing: Drawing) -> bool {
    let pages = [page(&[drawing])];
    Drawings::of(&pages).take_mark(mark, &text()).is_ok()
}

type Case = (&'static str, Mark, Drawing, bool);
type Change = (&'static str, fn(&mut Drawing));

#[test]
fn a_mark_belongs_to_a_text_within_its_limits() {
    use Mark::{Bar, Card, Dash, Frame, Line, Tick};
    let cases: &[Case] = &[
        ("a box 4 mm wide", Tick, at(44.0, 100.0, 48.0, 104.0), true),
        ("a box of 4.14 mm", Tick, at(44.0, 100.0, 48.14, 104.14), true),
        ("a wide box", Tick, at(43.8, 100.0, 48.0, 104.0), false),
        ("a narrow box", Tick, at(44.2, 100.0, 48.0, 104.0), false),
        ("a high box", Tick, at(44.0, 100.0, 48.0, 104.2), false),
        ("a low box", Tick, at(44.0, 100.0, 48.0, 103.8), false),
        ("a box at the text", Tick, at(45.6, 100.0, 49.6, 104.0), false),
        ("a box near the text", Tick, at(45.4, 100.0, 49.4, 104.0), true),
        ("a box far away", Tick, at(39.9, 100.0, 43.9, 104.0), false),
        ("a box less far away", Tick, at(40.1, 100.0, 44.1, 104.0), true),
        ("a box too far up", Tick, at(44.0, 96.9, 48.0, 100.9), false),
        ("a box a little up", Tick, at(44.0, 97.1, 48.0, 101.1), true),
        ("a box too far down", Tick, at(44.0, 103.1, 48.0, 107.1), false),
        ("a box a little down", Tick, at(44.0, 102.9, 48.0, 106.9), true),
        ("a line after", Line, at(70.0, 103.0, 76.0, 103.0), true),
        ("a line of 5.9 mm", Line, at(70.0, 103.0, 75.9, 103.0), false),
        ("a line in the text", Line, at(69.7, 103.0, 90.0, 103.0), false),
        ("a line that touches", Line, at(69.9, 103.0, 90.0, 103.0), true),
        ("a line far after", Line, at(76.1, 103.0, 90.0, 103.0), false),
        ("a line less far after", Line, at(75.9, 103.0, 90.0, 103.0), true),
        ("a line too high", Line, at(70.0, 101.4, 90.0, 101.4), false),
        ("a line a little high", Line, at(70.0, 101.6, 90.0, 101.6), true),
        ("a line too low", Line, at(70.0, 104.6, 90.0, 104.6), false),
        ("a line below", Line, at(50.0, 106.1, 90.0, 106.1), true),
        ("a line far below", Line, at(50.0, 117.1, 90.0, 117.1), false),
        ("a line less far below", Line, at(50.0, 116.9, 90.0, 116.9), true),
        ("a line below, to the right", Line, at(50.6, 106.1, 90.0, 106.1), false),
        ("a line that falls", Line, at(70.0, 103.0, 90.0, 103.1), false),
        ("a frame", Frame, at(48.0, 98.0, 72.0, 106.0), true),
        ("a frame that cuts", Frame, at(48.0, 101.0, 72.0, 106.0), false),
        ("a frame 9 mm higher", Frame, at(48.0, 95.0, 72.0, 108.1), false),
        ("a frame 8.9 mm higher", Frame, at(48.0, 95.0, 72.0, 107.9), true),
        ("a wide frame 19.9 mm higher", Frame, at(20.0, 90.0, 140.1, 113.9), true),
        ("a wide frame 20.1 mm higher", Frame, at(20.0, 90.0, 140.1, 114.1), false),
        ("a frame of 119.9 mm", Frame, at(20.2, 90.0, 140.1, 113.9), false),
        ("a card", Card, at(38.0, 98.0, 46.0, 107.0), true),
        ("a narrow card", Card, at(39.1, 98.0, 46.0, 107.0), false),
        ("a wide card", Card, at(31.9, 98.0, 46.0, 107.0), false),
        ("a low card", Card, at(38.0, 98.0, 46.0, 105.9), false),
        ("a high card", Card, at(38.0, 94.0, 46.0, 108.1), false),
        ("a card at the text", Card, at(41.6, 98.0, 49.6, 107.0), false),
        ("a card far away", Card, at(36.9, 98.0, 44.9, 107.0), false),
        ("a card below", Card, at(38.0, 104.1, 46.0, 113.1), false),
        ("a card a little above", Card, at(38.0, 91.1, 46.0, 100.1), true),
        ("a card above", Card, at(38.0, 90.9, 46.0, 99.9), false),
        ("a bar", Bar, at(46.0, 99.0, 46.0, 105.0), true),
        ("a bar 1.1 mm wide", Bar, at(46.0, 99.0, 47.1, 105.0), false),
        ("a bar at the text", Bar, at(49.6, 99.0, 49.6, 105.0), false),
        ("a bar far away", Bar, at(41.9, 99.0, 41.9, 105.0), false),
        ("a bar that begins late", Bar, at(46.0, 100.1, 46.0, 105.0), false),
        ("a bar that ends early", Bar, at(46.0, 99.0, 46.0, 103.9), false),
        ("a dash", Dash, at(46.0, 102.0, 48.0, 102.0), true),
        ("a long dash", Dash, at(46.0, 102.0, 48.2, 102.0), false),
        ("a short dash", Dash, at(46.2, 102.0, 48.0, 102.0), false),
        ("a dash at the text", Dash, at(47.1, 102.0, 49.1, 102.0), false),
        ("a dash far away", Dash, at(43.9, 102.0, 45.9, 102.0), false),
        ("a dash above", Dash, at(46.0, 99.4, 48.0, 99.4), false),
        ("a dash below", Dash, at(46.0, 106.1, 48.0, 106.1), false),
    ];
    for (why, mark, drawing, is) in cases {
        assert_eq!(belongs(*mark, *drawing), *is, "{why}");
        if !is {
            continue;
        }
        // Whatever it is, it is dark, whole, thin and drawn as ours are.
        let others: &[Change] = &[
            ("grey", |drawing| drawing.shade = Shade::Other),
            ("white", |drawing| drawing.shade = Shade::White),
            ("cut", |drawing| drawing.is_sound = false),
            ("broken", |drawing| drawing.is_broken = true),
            ("thick", |drawing| drawing.width = 1.5),
        ];
        for (how, change) in others {
            let mut other = *drawing;
            change(&mut other);
            assert!(!belongs(*mark, other), "{why}, but {how}");
        }
    }
    let outline = |mark, mut drawing: Drawing| {
        drawing.is_outline = false;
        belongs(mark, drawing)
    };
    assert!(!outline(Frame, at(48.0, 98.0, 72.0, 106.0)), "a frame with a bar in it");
    assert!(!outline(Card, at(38.0, 98.0, 46.0, 107.0)), "a card with a bar in it");
}

/// A text over pages has a frame on each; between them with the sides of the first.
#[test]
fn a_frame_goes_on_over_pages() {
    let block = Block { pages: (0, 2), ..text() };
    let frame = at(48.0, 98.0, 72.0, 106.0);
    let taken = |middle: Drawing, last: &[Drawing]| {
        let pages = [page(&[frame]), page(&[middle]), page(last)];
        Drawings::of(&pages).take_mark(Mark::Frame, &block).is_ok()
    };
    let middle = at(48.0, 10.0, 72.0, 250.0);
    assert!(taken(middle, &[frame]));
    assert!(!taken(at(48.2, 10.0, 72.0, 250.0), &[frame]), "another side");
    assert!(!taken(middle, &[]), "no last one");
}

#[test]
fn what_is_taken_is_taken_once_and_the_rest_is_told() {
    let boxed = at(44.0, 100.0, 48.0, 104.0);
    let pages = [page(&[boxed]), page(&[at(1.0, 2.0, 3.0, 2.0)])];
    let mut drawings = Drawings::of(&pages);
    assert!(drawings.take_mark(Mark::Tick, &text()).is_ok());
    assert!(drawings.take_mark(Mark::Tick, &text()).is_err());
    let rest = drawings.rest(5);
    assert_eq!(rest.iter().map(|it| it.page).collect::<Vec<_>>(), [6]);
}

/// A line to write on with nothing before it is the next one below, or on the next page.
#[test]
fn a_blank_line_is_the_next_one() {
    let line = |y| at(20.0, y, 121.0, y);
    let pages = [page(&[line(50.0), line(60.0), line(70.0)]), page(&[line(20.0)])];
    let mut drawings = Drawings::of(&pages);
    let mut next = |below| drawings.take_blank(0, below).map(|(page, it)| (page, it.top));
    assert_eq!(next(55.0), Some((0, 60.0)));
    assert_eq!(next(60.0), Some((0, 70.0)));
    assert_eq!(next(70.0), Some((1, 20.0)));
    assert_eq!(next(70.0), None);
    let short = [page(&[at(20.0, 60.0, 119.9, 60.0)])];
    assert!(Drawings::of(&short).take_blank(0, 50.0).is_none());
}

/// A row of a table, as one text in each of two columns.
fn row(top: f64) -> (Block, [Block; 2]) {
    let cell = |left: f64| {
        let first = Area { left, top, right: left + 10.0, bottom: top + 4.0 };
        Block { first, last: first, ..text() }
    };
    let whole = Area { left: 22.0, top, right: 72.0, bottom: top + 4.0 };
    (Block { first: whole, last: whole, ..text() }, [cell(22.0), cell(62.0)])
}

#[test]
fn the_lines_of_a_grid_are_as_long_as_the_grid_is() {
    let (rows, cells): (Vec<Block>, Vec<[Block; 2]>) =
        [row(100.0), row(110.0)].into_iter().unzip();
    let columns: Vec<Vec<Block>> = (0..2)
        .map(|column| cells.iter().map(|row| row[column].clone()).collect())
        .collect();
    let rule = |y| at(20.0, y, 80.0, y);
    let side = |x| at(x, 98.0, x, 116.0);
    let sound =
        [rule(98.0), rule(107.0), rule(116.0), side(20.0), side(50.0), side(80.0)];
    let missing = |drawings: &[Drawing]| {
        let pages = [page(drawings)];
        let found = Drawings::of(&pages).take_table(&rows, &columns, true);
        found.map(|(what, _)| what)
    };
    assert_eq!(missing(&sound), None);
    let with = |index: usize, other: Drawing| {
        let mut drawings = sound;
        drawings[index] = other;
        missing(&drawings)
    };
    let above = Some("a line of the table above");
    let below = Some("a line of the table below");
    let between = Some("the lines between the columns of the table at");
    for (why, index, other, wanted) in [
        ("12 mm above", 0, rule(88.1), between),
        ("too far above", 0, rule(87.7), above),
        ("a short line above", 0, at(22.4, 98.0, 80.0, 98.0), above),
        ("through a row", 1, rule(103.7), below),
        ("a longer line", 1, at(20.0, 107.0, 80.2, 107.0), below),
        ("a line that begins late", 1, at(20.2, 107.0, 80.0, 107.0), below),
        ("far below", 2, rule(126.3), below),
        ("12 mm below", 2, rule(125.9), between),
        ("a side further in", 3, side(20.5), between),
        ("a side elsewhere between", 4, side(40.0), None),
        ("a side in the next column", 4, side(62.4), between),
        ("a side in a text", 4, side(31.7), between),
        ("a side that ends early", 4, at(50.0, 98.0, 50.0, 115.6), between),
        ("a side that goes on", 4, at(50.0, 98.0, 50.0, 116.4), between),
        ("a side that begins early", 4, at(50.0, 97.6, 50.0, 116.0), between),
        ("a side further out", 5, side(80.4), between),
    ] {
        assert_eq!(with(index, other), wanted, "{why}");
    }
}
