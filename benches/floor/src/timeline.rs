//! The drawn evening, night and morning; the arithmetic of `templates/timeline.typ`.

use crate::data::Timeline;
use crate::page::{Drawing, HEAVY, LEFT, MM, Shape};
use crate::text::Style::{self, Bold, Regular};
use crate::text::{CAP, EM, wrap};

const CARD: f32 = 8.0 * MM;
const CARD_HEIGHT: f32 = 9.5 * MM;
const STEP: f32 = 6.0 * MM;

/// Draws from `y` on and gives where it ends.
pub fn draw(page: &mut Drawing, y: f32, area: f32, data: &Timeline) -> f32 {
    let (stations, segments) = (&data.stations, &data.segments);
    let labels = stations.iter().filter_map(|station| station.label.as_ref());
    let margin = labels
        .map(|label| page.fonts.width(label, Regular, EM) / 2.0)
        .fold(11.0 * MM, f32::max);
    let needs: Vec<f32> = segments
        .iter()
        .map(|segment| {
            let words = segment.label.as_deref().unwrap_or_default().split(' ');
            let widths = words.map(|word| page.fonts.width(word, Regular, EM));
            CARD + 1.5 * MM + widths.fold(0.0, f32::max)
        })
        .collect();
    let total = segments.iter().map(|segment| segment.weight).sum::<f32>().max(1.0);
    let spare = (area - 2.0 * margin - needs.iter().sum::<f32>()).max(0.0);
    let mut xs = vec![LEFT + margin];
    for (need, segment) in needs.iter().zip(segments) {
        xs.push(xs[xs.len() - 1] + need + spare * segment.weight / total);
    }

    // A time that would touch the one before is lifted one step.
    let mut levels = Vec::new();
    let mut last = [(-1000.0, 0.0); 2];
    for (x, station) in xs.iter().zip(stations) {
        let side = usize::from(station.card.is_some());
        let half = page.fonts.width(&station.time, Bold, EM) / 2.0 + MM;
        let (edge, level) = last[side];
        let mine = if x - half < edge && level == 0.0 { 1.0 } else { 0.0 };
        levels.push(mine);
        last[side] = (x + half, mine);
    }
    let lifted = |cards: bool| {
        let mut pairs = levels.iter().zip(stations);
        let any = pairs.any(|(level, s)| *level == 1.0 && s.card.is_some() == cards);
        if any { STEP } else { 0.0 }
    };
    let line_y = y + lifted(true) + STEP + CARD_HEIGHT + 2.0 * MM;
    let below = stations.iter().any(|station| station.card.is_none());
    let end = line_y + if below { lifted(false) + 2.0 * STEP + MM } else { 2.0 * MM };

    for (index, segment) in segments.iter().enumerate() {
        let (from, to) = ((xs[index], line_y), (xs[index + 1], line_y));
        let (width, dash) = match segment.kind.as_str() {
            "stop" => (2.2 * MM, None),
            "sleep" => (0.9 * MM, Some([0.1 * MM, 2.2 * MM])),
            _ => (1.0, None),
        };
        page.shapes.push(Shape::Line { from, to, width, dash });
        let Some(label) = &segment.label else { continue };
        let room = to.0 - from.0 - CARD - MM;
        let runs = page.runs(&[(label, Regular)]);
        let lines = wrap(&runs, EM, room);
        let middle = from.0 + CARD / 2.0 + 0.5 * MM + room / 2.0;
        let count = lines.len() as f32;
        let mut base = line_y - 2.4 * MM - (count - 1.0) * (CAP + 0.25) * EM;
        for line in lines {
            for piece in line {
                let x = middle - piece.width(EM) / 2.0;
                let (run, glyphs) = (piece.run, piece.glyphs);
                page.shapes.push(Shape::Text { x, y: base, size: EM, run, glyphs });
            }
            base += (CAP + 0.25) * EM;
        }
    }
    for ((x, level), station) in xs.iter().zip(&levels).zip(stations) {
        if let Some(card) = &station.card {
            let top = line_y - CARD_HEIGHT - 1.4 * MM;
            let corner = x - CARD / 2.0;
            page.shapes.push(Shape::Box {
                x: corner,
                y: top,
                w: CARD,
                h: CARD_HEIGHT,
                stroke: HEAVY,
                radius: MM,
            });
            let size = 1.6 * EM;
            centred(page, *x, top + (CARD_HEIGHT - CAP * size) / 2.0, size, Bold, card);
            let above = line_y - CARD_HEIGHT - MM - STEP * (level + 1.0);
            centred(page, *x, above, EM, Bold, &station.time);
        } else {
            let drop = line_y + STEP * level;
            page.line((*x, line_y), (*x, drop + 2.0 * MM), 1.0);
            centred(page, *x, drop + 2.6 * MM, EM, Bold, &station.time);
            let label = station.label.as_deref().unwrap_or_default();
            centred(page, *x, drop + 2.0 * MM + STEP, EM, Regular, label);
        }
    }
    end
}

fn centred(page: &mut Drawing, x: f32, top: f32, size: f32, style: Style, text: &str) {
    let run = page.fonts.shape(text, style);
    page.run(x - run.width(size) / 2.0, top + CAP * size, size, run);
}
