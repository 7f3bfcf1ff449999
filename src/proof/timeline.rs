//! The drawing of the patient's evening, night and morning: each station has its
//! texts one above the other, stations stand in their order, and what lies between
//! two of them is drawn there.

use super::drawn::{is_across, is_frame, is_thick_across};
use super::flow::{Block, Lost, Reader, text};
use super::page::{Drawing, Shade};

/// The drawing; in large print what follows the night has a row of its own.
pub(super) struct Timeline<'a> {
    pub rows: Vec<Row<'a>>,
}

pub(super) struct Row<'a> {
    pub stations: Vec<Station<'a>>,
    /// What lies after each station; after the last only where another row follows.
    pub segments: Vec<Segment<'a>>,
    /// How much larger it is drawn than in standard print.
    pub scale: f64,
}

pub(super) struct Station<'a> {
    pub time: &'a str,
    pub label: Option<&'a str>,
    pub card: Option<&'a str>,
}

pub(super) struct Segment<'a> {
    pub kind: &'a str,
    pub label: Option<&'a str>,
}

/// How far from their middle texts may stand, in millimetres.
const OFF_MIDDLE_MM: f64 = 0.5;
const OFF_SEGMENT_MM: f64 = 2.0;

/// Width of the box around a card's number, in millimetres.
const CARD_WIDTH_MM: f64 = 8.0;

/// How far from the times their line is at most, in millimetres: a card is between.
const MOST_AWAY_MM: f64 = 25.0;

/// Height of a stretch without drinks and of any other line, in millimetres.
const THICK_MM: f64 = 2.0;
const THIN_MM: f64 = 0.6;

pub(super) fn read(
    reader: &mut Reader,
    timeline: &Timeline,
) -> Result<Option<Block>, Lost> {
    let mut whole: Option<Block> = None;
    for row in &timeline.rows {
        let Some(block) = read_row(reader, row)? else { continue };
        if let Some(before) = &whole {
            reader.down(before, &block);
        }
        whole = Some(block.after(whole));
    }
    Ok(whole)
}

fn read_row(reader: &mut Reader, row: &Row) -> Result<Option<Block>, Lost> {
    let mut words = Vec::new();
    for segment in &row.segments {
        let label = segment.label.unwrap_or_default();
        words.push(reader.read(&text(label))?);
    }
    let mut stations: Vec<Block> = Vec::new();
    let mut whole: Option<Block> = None;
    for station in &row.stations {
        // The time is the upper of its two texts, and not always read first.
        let (time, other) = match station.card {
            Some(card) => {
                let card = reader.read(&text(card))?;
                (reader.read(&text(station.time))?, card)
            }
            None => {
                let time = reader.read(&text(station.time))?;
                (time, reader.read(&text(station.label.unwrap_or_default()))?)
            }
        };
        let (Some(time), Some(other)) = (time, other) else { continue };
        reader.down(&time, &other);
        let (x, _) = time.first.centre();
        if (x - other.first.centre().0).abs() > OFF_MIDDLE_MM {
            reader.misplaced(&time, &other, "in the middle below");
        }
        if let Some(before) = stations.last()
            && x <= before.first.centre().0
        {
            reader.misplaced(before, &time, "to the right of");
        }
        if station.card.is_some() {
            take_card(reader, &other);
        }
        for block in [time.clone(), other] {
            whole = Some(block.after(whole));
        }
        stations.push(time);
    }
    lines(reader, row, &stations, &words);
    for block in words.into_iter().flatten() {
        whole = Some(match whole {
            Some(whole) => whole.after(Some(block)),
            None => block,
        });
    }
    Ok(whole)
}

/// The frame around the number of a card, and the white that keeps the line out of it.
fn take_card(reader: &mut Reader, number: &Block) {
    let inside = number.first;
    let is_around = |drawing: &Drawing| {
        let area = drawing.area;
        let is = area.surrounds(&inside) && area.right - area.left < 14.0;
        is.then_some(area.right - area.left)
    };
    let page = number.pages.0;
    let white = reader.drawings.take_any(page, |drawing| {
        is_around(drawing)
            .filter(|_| drawing.shade == Shade::White && drawing.width == 0.0)
    });
    let frame = reader
        .drawings
        .take(page, |drawing| is_around(drawing).filter(|_| is_frame(drawing)));
    if white.is_none() || frame.is_none() {
        reader.missing(number, "a frame around");
    }
}

/// The line from each station to the next, with its words above it, and a stroke at
/// each station that is no card.
fn lines(reader: &mut Reader, row: &Row, stations: &[Block], words: &[Option<Block>]) {
    if stations.len() != row.stations.len() {
        return;
    }
    let mut y = None;
    for (index, (segment, words)) in row.segments.iter().zip(words).enumerate() {
        let (station, next) = (&stations[index], stations.get(index + 1));
        let from = station.first.centre().0;
        let until = next.map(|next| next.first.centre().0);
        let near = |a: f64, b: f64| (a - b).abs() <= OFF_MIDDLE_MM;
        let is_line = |drawing: &Drawing| {
            let area = drawing.area;
            let looks_right = match segment.kind {
                "stop" => {
                    let thick = THICK_MM * row.scale;
                    is_thick_across(drawing, thick..2.0 * thick)
                }
                "sleep" => drawing.is_level && drawing.is_broken,
                _ => is_across(drawing) && drawing.width <= THIN_MM,
            };
            // Times of cards stand above the line, the others below it.
            let away = match row.stations[index].card {
                Some(_) => area.top - station.first.bottom,
                None => station.first.top - area.bottom,
            };
            let is = looks_right
                && (0.0..MOST_AWAY_MM * row.scale).contains(&away)
                && y.is_none_or(|y: f64| (area.top - y).abs() < 0.1)
                && near(area.left, from)
                && until.is_none_or(|until| near(area.right, until))
                && area.right > from;
            is.then(|| (area.left - from).abs())
        };
        let line = reader.drawings.take(station.pages.0, is_line);
        let Some(line) = line else {
            reader.missing(station, "the line of the timeline that begins at");
            continue;
        };
        y = Some(line.top);
        if let Some(words) = words {
            // The last stretch has a card at one end only: its words are between that
            // and the other end.
            let aside =
                if next.is_none() { CARD_WIDTH_MM * row.scale / 4.0 } else { 0.0 };
            let middle = (line.left + line.right) / 2.0 + aside;
            let is_there = (words.first.centre().0 - middle).abs() <= OFF_SEGMENT_MM
                && words.first.bottom < line.top;
            if !is_there {
                reader.misplaced(station, words, "after and beside");
            }
        }
    }
    for (station, block) in row.stations.iter().zip(stations) {
        if station.card.is_some() {
            continue;
        }
        let x = block.first.centre().0;
        let is_stroke = |drawing: &Drawing| {
            let area = drawing.area;
            let is = is_frame(drawing)
                && area.right - area.left < 0.01
                && (area.left - x).abs() <= OFF_MIDDLE_MM
                && y.is_none_or(|y| (area.top - y).abs() < 0.1)
                && area.bottom <= block.first.top;
            is.then(|| (area.left - x).abs())
        };
        if reader.drawings.take(block.pages.0, is_stroke).is_none() {
            reader.missing(block, "a line down to");
        }
    }
}
