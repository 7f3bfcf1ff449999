//! The documents of a kit, placed by hand. Distances are those of the templates.

use std::rc::Rc;

use crate::data::{
    Card, Checklist, Entry, Fluids, Paper, Part, Sheet, Slip, Step, Timeline,
};
use crate::page::{Drawing, Flow, HAIR, HEAVY, LEFT, MM, RULE, Shape};
use crate::text::Style::{Bold, Mono, Regular};
use crate::text::{CAP, EM, LEADING, Run, Style, tall, wrap};
use crate::timeline;

/// Size of the pages, and their shapes.
pub type Pages<'a> = ((f32, f32), Vec<Vec<Shape<'a>>>);

type Cell<'t> = (&'t str, Style);

const SECTION: f32 = 14.4;
const TITLE: f32 = 21.0;
const LOGO_HEIGHT: f32 = 16.8;

pub fn paper<'a>(data: &'a Paper, fonts: &crate::text::Fonts) -> Pages<'a> {
    let mut flow = Flow::new(&data.page, fonts);
    sheet(&mut flow, &data.sheet);
    flow.new_page();
    fluids(&mut flow, &data.fluids);
    flow.new_page();
    checklist(&mut flow, &data.checklist);
    flow.new_page();
    card(&mut flow, &data.card);
    (flow.size, flow.finish(&data.page))
}

// ----------------------------------------------------------------------- pieces

fn heading(page: &mut Drawing, y: f32, text: &str, size: f32) -> f32 {
    page.text(LEFT, y + CAP * size, size, Bold, text);
    y + CAP * size
}

fn lines(flow: &mut Flow, text: &str, style: Style) {
    between(flow, 6.0, text, style);
}

fn between(flow: &mut Flow, gap: f32, text: &str, style: Style) {
    let area = flow.area;
    flow.add_between(gap, gap, |page, y| page.para(LEFT, y, area, &[(text, style)]));
}

/// A heading and what stays with it on one page.
fn section<'a, 'f>(
    flow: &mut Flow<'a, 'f>,
    title: &str,
    mut body: impl FnMut(&mut Drawing<'a, 'f>, f32) -> f32,
) {
    flow.add_between(8.4, 8.4, |page, y| {
        let y = heading(page, y, title, SECTION) + 7.2;
        body(page, y)
    });
}

fn who(flow: &mut Flow, entries: &[Entry]) {
    let area = flow.area;
    flow.add(|page, y| {
        let high = 4.0 * MM + 2.0 * CAP * EM + 3.6;
        page.frame(LEFT, y, area, high, RULE);
        let label_y = y + 2.0 * MM + CAP * EM;
        let value_y = label_y + CAP * EM + 3.6;
        let mut right = LEFT + area - 3.0 * MM;
        for (index, entry) in entries.iter().enumerate().rev() {
            let label = page.fonts.shape(&entry.label, Regular);
            let value = page.fonts.shape(&entry.value, Bold);
            let x = if index == 0 {
                LEFT + 3.0 * MM
            } else {
                right -= label.width(EM).max(value.width(EM));
                right
            };
            page.run(x, label_y, EM, label);
            page.run(x, value_y, EM, value);
            right -= 6.0 * MM;
        }
        y + high
    });
}

fn title_line(flow: &mut Flow, title: &str, beside: &str, size: f32) {
    let area = flow.area;
    flow.add(|page, y| {
        let base = heading(page, y, title, TITLE);
        page.right(LEFT + area, base, size, Bold, beside);
        base
    });
}

/// How a table's cells are set.
struct Face {
    inset: (f32, f32),
    centre: bool,
    /// The least height inside of rows below the first.
    pen: f32,
}

/// A table with rules. A share of 0 is a column as wide as it must be.
fn table(
    page: &mut Drawing,
    (x, mut y): (f32, f32),
    area: f32,
    rows: &[Vec<Cell>],
    shares: &[f32],
    face: &Face,
) -> f32 {
    let shaped: Vec<Vec<Rc<Run>>> = rows.iter().map(|row| page.runs(row)).collect();
    let (inset_x, inset_y) = face.inset;
    let mut widths = vec![0.0; shares.len()];
    for (index, _) in shares.iter().enumerate().filter(|(_, share)| **share == 0.0) {
        let widest = shaped.iter().map(|row| row[index].width(EM)).fold(0.0, f32::max);
        widths[index] = 2.0 * inset_x + widest;
    }
    let (left, total): (f32, f32) =
        (area - widths.iter().sum::<f32>(), shares.iter().sum());
    for (width, share) in widths.iter_mut().zip(shares).filter(|(_, share)| **share > 0.0)
    {
        *width = left * share / total;
    }
    let top = y;
    let mut edges = vec![y];
    for (number, row) in shaped.iter().enumerate() {
        let cells: Vec<_> = row
            .iter()
            .zip(&widths)
            .map(|(run, width)| {
                wrap(std::slice::from_ref(run), EM, width - 2.0 * inset_x)
            })
            .collect();
        let most = cells.iter().map(Vec::len).max().unwrap_or(1);
        let mut high = tall(most, EM, LEADING);
        if number > 0 {
            high = high.max(face.pen);
        }
        high += 2.0 * inset_y;
        let mut cell_x = x;
        for (cell, width) in cells.into_iter().zip(&widths) {
            let mut base = y + (high - tall(cell.len(), EM, LEADING)) / 2.0 + CAP * EM;
            for line in cell {
                for piece in line {
                    let mut at = cell_x + inset_x + piece.x;
                    if face.centre {
                        at += (width - 2.0 * inset_x - piece.width(EM)) / 2.0;
                    }
                    let (run, glyphs) = (piece.run, piece.glyphs);
                    page.shapes.push(Shape::Text {
                        x: at,
                        y: base,
                        size: EM,
                        run,
                        glyphs,
                    });
                }
                base += CAP * EM + LEADING;
            }
            cell_x += width;
        }
        y += high;
        edges.push(y);
    }
    for edge in edges {
        page.line((x, edge), (x + area, edge), HAIR);
    }
    let mut edge = x;
    page.line((edge, top), (edge, y), HAIR);
    for width in widths {
        edge += width;
        page.line((edge, top), (edge, y), HAIR);
    }
    y
}

fn dashes(page: &mut Drawing, x: f32, mut y: f32, room: f32, lines: &[String]) -> f32 {
    for line in lines {
        let at = y + CAP * EM - 0.35 * EM;
        page.line((x, at), (x + 2.0 * MM, at), RULE);
        let (x, room) = (x + 4.0 * MM, room - 4.0 * MM);
        y = page.para(x, y, room, &[(line, Regular)]) + 0.34 * EM;
    }
    y - 0.34 * EM
}

fn tick(page: &mut Drawing, x: f32, y: f32) {
    page.frame(x, y, 4.0 * MM, 4.0 * MM, RULE);
}

fn ticks(page: &mut Drawing, mut y: f32, area: f32, lines: &[String]) -> f32 {
    let room = area - 7.0 * MM;
    for line in lines {
        let runs = page.runs(&[(line, Regular)]);
        let text = tall(wrap(&runs, EM, room).len(), EM, LEADING);
        let high = text.max(4.0 * MM);
        tick(page, LEFT, y + (high - 4.0 * MM) / 2.0);
        page.para(LEFT + 7.0 * MM, y + (high - text) / 2.0, room, &[(line, Regular)]);
        y += high + EM;
    }
    y - EM
}

fn card_ticks(
    page: &mut Drawing,
    mut y: f32,
    area: f32,
    cards: &[Entry],
    size: f32,
    gap: f32,
) -> f32 {
    let half = (area - 10.0 * MM) / 2.0;
    for card in cards {
        tick(page, LEFT, y);
        let middle = y + 2.0 * MM;
        page.text(LEFT + 7.0 * MM, middle + CAP * EM / 2.0, EM, Regular, &card.label);
        let x = LEFT + 10.0 * MM + half;
        page.text(x, middle + CAP * size / 2.0, size, Mono, &card.value);
        y += 4.0 * MM + gap;
    }
    y - gap
}

/// A label and a line to write on. Gives its baseline, at which it ends.
fn write(page: &mut Drawing, x: f32, base: f32, room: f32, text: &str) -> f32 {
    let taken = if text.is_empty() { 0.0 } else { page.text(x, base, EM, Regular, text) };
    page.line((x + taken + 2.0 * MM, base + 1.0), (x + room, base + 1.0), HAIR);
    base
}

fn write_pairs(flow: &mut Flow, labels: &[String]) {
    let half = (flow.area - 6.0 * MM) / 2.0;
    flow.add(|page, y| {
        let mut base = y + 0.7 * EM;
        for (index, text) in labels.iter().enumerate() {
            if index > 0 && index % 2 == 0 {
                base += 1.75 * EM;
            }
            write(page, LEFT + (index % 2) as f32 * (half + 6.0 * MM), base, half, text);
        }
        base
    });
}

fn write_line(flow: &mut Flow, text: &str) {
    let area = flow.area;
    flow.add_between(1.05 * EM, 1.05 * EM, |page, y| {
        write(page, LEFT, y + 0.7 * EM, area, text)
    });
}

fn boxed(page: &mut Drawing, y: f32, area: f32, text: &str, size: f32) -> f32 {
    let (x, room) = (LEFT + 3.0 * MM, area - 6.0 * MM);
    let end =
        page.para_of(x, y + 3.0 * MM, room, &[(text, Bold)], size, LEADING) + 3.0 * MM;
    page.frame(LEFT, y, area, end - y, HEAVY);
    end
}

// ------------------------------------------------------------ instruction sheet

fn sheet<'a>(flow: &mut Flow<'a, '_>, data: &'a Sheet) {
    let area = flow.area;
    flow.add(|page, y| {
        page.shapes.push(Shape::Logo { x: LEFT, y });
        let x = LEFT + 2.0 * LOGO_HEIGHT + 2.0 * MM;
        page.text(x, y + (LOGO_HEIGHT + CAP * EM) / 2.0, EM, Regular, &data.lab);
        y + LOGO_HEIGHT
    });
    flow.skip(0.4 * EM);
    title_line(flow, &data.title, &data.start, SECTION);
    who(flow, &data.who);
    flow.add_between(8.4, 6.0, |page, y| first(page, y, area, data));
    for line in &data.before {
        flow.add(|page, y| {
            let (x, room) = (LEFT + 3.0 * MM, area - 3.0 * MM);
            let end = page.para(x, y + MM, room, &[(line, Regular)]) + MM;
            page.line((LEFT, y), (LEFT, end), HEAVY);
            end
        });
    }
    let drawn: &Timeline = &data.timeline;
    flow.add(|page, y| timeline::draw(page, y, area, drawn));
    lines(flow, &data.remember, Bold);
    for part in &data.parts {
        steps(flow, part);
    }
    section(flow, &data.how.title, |page, mut y| {
        for line in &data.how.lines {
            let number = page.text(LEFT, y + CAP * EM, EM, Bold, &line.label);
            let indent = number + 2.5 * MM;
            let text = [(line.value.as_str(), Regular)];
            y = page.para(LEFT + indent, y, area - indent, &text) + 0.34 * EM;
        }
        y - 0.34 * EM
    });
    medicines(flow, data);
    section(flow, &data.wrong.title, |page, y| {
        dashes(page, LEFT, y, area, &data.wrong.lines)
    });
    repeats(flow, data);
    section(flow, &data.care.title, |page, y| {
        dashes(page, LEFT, y, area, &data.care.lines)
    });
    section(flow, &data.call.title, |page, mut y| {
        for line in &data.call.lines {
            y = page.para(LEFT, y, area, &[(line, Regular)]) + 0.3 * EM;
        }
        y - 0.3 * EM
    });
}

fn first(page: &mut Drawing, y: f32, area: f32, data: &Sheet) -> f32 {
    let (last, others) = data.first.lines.split_last().expect("a line");
    let others = others.join(" ");
    let texts =
        [(data.first.title.as_str(), Bold), (others.as_str(), Regular), (last, Bold)];
    let (x, room) = (LEFT + 3.0 * MM, area - 6.0 * MM);
    let end = page.para_of(x, y + 2.0 * MM, room, &texts, EM, 0.4 * EM) + 2.0 * MM;
    page.frame(LEFT, y, area, end - y, HEAVY);
    end
}

fn steps(flow: &mut Flow, part: &Part) {
    let area = flow.area;
    section(flow, &part.heading, |page, mut y| {
        for step in &part.steps {
            if let Some(day) = &step.day {
                y = page.para(LEFT, y, area, &[(day, Bold)]) + 0.55 * EM;
            }
            y = step_row(page, y, area, step) + 0.55 * EM;
        }
        y - 0.55 * EM
    });
}

fn step_row(page: &mut Drawing, y: f32, area: f32, step: &Step) -> f32 {
    let (column, size) = (27.0 * MM, 1.1 * EM);
    let time = page.runs(&[(&step.time, Bold)]);
    let mut base = y;
    for line in wrap(&time, size, column) {
        base += CAP * size;
        for piece in line {
            let x = LEFT + column - piece.width(size);
            let (run, glyphs) = (piece.run, piece.glyphs);
            page.shapes.push(Shape::Text { x, y: base, size, run, glyphs });
        }
        base += LEADING;
    }
    let end = base - LEADING;
    let (x, room) = (LEFT + column + 3.0 * MM, area - column - 3.0 * MM);
    let Some(card) = &step.card else {
        let text = [&[step.action.clone()], &step.more[..]].concat().join(" ");
        return page.para_of(x, y, room, &[(&text, Regular)], EM, 0.4 * EM).max(end);
    };
    let (wide, high, number) = (7.5 * MM, 8.5 * MM, 1.6 * EM);
    page.shapes.push(Shape::Box { x, y, w: wide, h: high, stroke: HEAVY, radius: MM });
    if !card.is_empty() {
        let run = page.fonts.shape(card, Bold);
        let left = x + (wide - run.width(number)) / 2.0;
        page.run(left, y + (high + CAP * number) / 2.0, number, run);
    }
    let room = room - wide - 2.0 * MM;
    let mut texts: Vec<Vec<Rc<Run>>> = vec![page.runs(&[(&step.action, Bold)])];
    for (index, more) in step.more.iter().enumerate() {
        let run = page.fonts.shape(more, Regular);
        if index == 0 {
            texts[0].push(run);
        } else {
            texts.push(vec![run]);
        }
    }
    let broken: Vec<_> = texts.iter().flat_map(|runs| wrap(runs, EM, room)).collect();
    let text_high = tall(broken.len(), EM, 0.4 * EM);
    let both = high.max(text_high);
    let mut base = y + (both - text_high) / 2.0;
    for line in broken {
        base += CAP * EM;
        for piece in line {
            let x = x + wide + 2.0 * MM + piece.x;
            let (run, glyphs) = (piece.run, piece.glyphs);
            page.shapes.push(Shape::Text { x, y: base, size: EM, run, glyphs });
        }
        base += 0.4 * EM;
    }
    end.max(y + both)
}

fn medicines(flow: &mut Flow, data: &Sheet) {
    let (area, medicines) = (flow.area, &data.medicines);
    flow.add_between(12.96, 6.0, |page, y| {
        let y = heading(page, y, &medicines.title, SECTION) + 7.2;
        page.para(LEFT, y, area, &[(&medicines.rule, Bold)])
    });
    if !medicines.rows.is_empty() {
        let mut rows = vec![header(&medicines.columns)];
        rows.extend(medicines.rows.iter().map(|row| {
            [&row.medicine, &row.usual, &row.before, &row.after]
                .map(|text| (text.as_str(), Regular))
                .to_vec()
        }));
        let face = Face { inset: (1.6 * MM, 0.27 * EM), centre: false, pen: 0.0 };
        let shares = [1.1, 0.0, 1.0, 1.0];
        flow.add(|page, y| table(page, (LEFT, y), area, &rows, &shares, &face));
    }
    for note in &medicines.notes {
        between(flow, 4.08, note, Regular);
    }
}

fn header(columns: &[String]) -> Vec<Cell<'_>> {
    columns.iter().map(|column| (column.as_str(), Bold)).collect()
}

fn repeats(flow: &mut Flow, data: &Sheet) {
    let (area, repeats) = (flow.area, &data.repeats);
    let mut rows = vec![header(&repeats.columns)];
    rows.extend(repeats.rows.iter().map(|row| {
        vec![
            (row.card.as_str(), Bold),
            (&row.day, Regular),
            (&row.empty, Regular),
            (&row.stop, Regular),
            (&row.collect, Bold),
        ]
    }));
    let face = Face { inset: (1.2 * MM, 0.27 * EM), centre: false, pen: 0.0 };
    let shares = [0.0, 0.0, 1.0, 1.0, 1.4];
    section(flow, &repeats.title, |page, y| {
        table(page, (LEFT, y), area, &rows, &shares, &face)
    });
    for note in &repeats.notes {
        between(flow, 4.08, note, Regular);
    }
}

// ----------------------------------------------------------------- drinks table

fn fluids(flow: &mut Flow, data: &Fluids) {
    let area = flow.area;
    flow.add_between(0.0, 10.5, |page, y| heading(page, y, &data.title, TITLE));
    who(flow, &data.who);
    lines(flow, &data.intro, Regular);
    let mut rows = vec![header(&data.columns)];
    rows.extend(
        data.rows
            .iter()
            .map(|row| vec![(row.label.as_str(), Regular), (&row.value, Bold)]),
    );
    let face = Face { inset: (1.6 * MM, 1.6 * MM), centre: false, pen: 0.0 };
    flow.add(|page, y| table(page, (LEFT, y), area, &rows, &[1.0, 1.0], &face));
    flow.add(|page, y| dashes(page, LEFT, y, area, &data.notes));
    if let Some(title) = &data.table_title {
        section(flow, title, |page, y| look_up(page, y, area, data));
    } else if let Some(text) = &data.no_table {
        flow.add(|page, y| boxed(page, y, area, text, EM));
    }
    let Some(title) = &data.changes.title else { return };
    let face = Face { inset: (MM, 0.28 * EM), centre: true, pen: 0.0 };
    section(flow, title, |page, y| {
        let tables = &data.changes.tables;
        side_by_side(page, y, area, tables.len(), 4.0 * MM, |page, index, x, wide| {
            let mut rows = vec![header(&tables[index].columns)];
            rows.extend(tables[index].rows.iter().map(|row| {
                let style = if row.planned { Bold } else { Regular };
                vec![(row.if_at.as_str(), style), (row.then_at.as_str(), style)]
            }));
            table(page, (x, y), wide, &rows, &[1.0, 1.0], &face)
        })
    });
}

fn look_up(page: &mut Drawing, mut y: f32, area: f32, data: &Fluids) -> f32 {
    if let Some(own) = &data.own {
        y = boxed(page, y, area, own, SECTION) + 6.0;
    }
    if let Some(cup) = &data.cup {
        y = page.para(LEFT, y, area, &[(cup, Regular)]) + 6.0;
    }
    let face = Face { inset: (1.6 * MM, 0.3 * EM), centre: false, pen: 0.0 };
    let tables = &data.tables;
    side_by_side(page, y, area, tables.len(), 5.0 * MM, |page, index, x, wide| {
        let mut rows = vec![header(&tables[index].columns)];
        rows.extend(tables[index].rows.iter().map(|row| {
            let style = if row.own { Bold } else { Regular };
            vec![(row.weight.as_str(), style), (row.amount.as_str(), style)]
        }));
        table(page, (x, y), wide, &rows, &[1.0, 1.2], &face)
    })
}

/// Draws pieces of one width beside each other. Gives where the longest ends.
fn side_by_side<'a, 'f>(
    page: &mut Drawing<'a, 'f>,
    y: f32,
    area: f32,
    count: usize,
    gap: f32,
    mut one: impl FnMut(&mut Drawing<'a, 'f>, usize, f32, f32) -> f32,
) -> f32 {
    let wide = (area - gap * (count - 1) as f32) / count as f32;
    let mut end = y;
    for index in 0..count {
        end = one(page, index, LEFT + index as f32 * (wide + gap), wide).max(end);
    }
    end
}

// ------------------------------------------------------- checklist, information card

fn checklist(flow: &mut Flow, data: &Checklist) {
    let area = flow.area;
    flow.add_between(0.0, 10.5, |page, y| heading(page, y, &data.title, TITLE));
    who(flow, &data.who);
    between(flow, EM, &data.intro, Bold);
    flow.add(|page, y| ticks(page, y, area, &data.items));
    section(flow, &data.cards_title, |page, y| {
        card_ticks(page, y, area, &data.cards, EM, 0.8 * EM)
    });
    section(flow, &data.address_title, |page, mut y| {
        for line in &data.address {
            y = page.para(LEFT, y, area, &[(line, Regular)]) + 0.4 * EM;
        }
        page.para(LEFT, y + 0.8 * EM, area, &[(&data.keep, Bold)])
    });
}

fn card(flow: &mut Flow, data: &Card) {
    let area = flow.area;
    title_line(flow, &data.title, &data.intro, EM);
    who(flow, &data.who);
    flow.skip(0.3 * EM);
    if !data.known.is_empty() {
        flow.add(|page, y| {
            let (mut x, base) = (LEFT, y + CAP * EM);
            for entry in &data.known {
                x += page.text(x, base, EM, Regular, &entry.label);
                x += page.fonts.width(" ", Regular, EM);
                x += page.text(x, base, EM, Bold, &entry.value) + 8.0 * MM;
            }
            base
        });
    }
    let (last, others) = data.blanks.split_last().expect("a blank");
    write_pairs(flow, others);
    write_line(flow, last);
    flow.add_between(0.8 * EM, 0.6 * EM, |page, y| {
        let base = y + 0.85 * 4.0 * MM;
        let mut x = LEFT;
        for (index, text) in data.pregnant.iter().enumerate() {
            if index > 0 {
                tick(page, x, y);
                x += 6.0 * MM;
            }
            let gap = if index == 0 { 4.0 * MM } else { 6.0 * MM };
            x += page.text(x, base, EM, Regular, text) + gap;
        }
        y + 4.0 * MM
    });
    let pens = data.columns.len() - 3;
    let mut rows = vec![header(&data.columns)];
    rows.extend(data.rows.iter().map(|row| {
        let mut cells: Vec<Cell> =
            vec![(&row.card, Bold), (&row.code, Mono), (&row.planned, Regular)];
        cells.extend(std::iter::repeat_n(("", Regular), pens));
        cells
    }));
    let mut shares = vec![0.0; 3];
    shares.extend(std::iter::repeat_n(1.0, pens));
    let face = Face { inset: (1.6 * MM, MM), centre: false, pen: 9.0 * MM };
    section(flow, &data.times_title, |page, y| {
        table(page, (LEFT, y), area, &rows, &shares, &face)
    });
    write_pairs(flow, &data.night);
    for text in [data.drinks.as_str(), "", ""] {
        write_line(flow, text);
    }
    flow.add_between(12.96, 7.2, |page, y| {
        heading(page, y, &data.medicines_title, SECTION)
    });
    for medicine in &data.medicines {
        write_line(flow, medicine);
    }
    for text in [&data.other_medicines, "", &data.sign] {
        write_line(flow, text);
    }
    flow.add_between(EM, EM, |page, y| {
        page.frame(LEFT, y, area, 13.0 * MM, RULE);
        page.para(LEFT + 2.5 * MM, y + 2.5 * MM, area, &[(&data.accession, Regular)]);
        y + 13.0 * MM
    });
}

// ----------------------------------------------------------------- packing slip

pub fn packing<'a>(slip: &'a Slip, fonts: &crate::text::Fonts) -> Pages<'a> {
    let mut flow = Flow::new(&slip.page, fonts);
    let area = flow.area;
    title_line(&mut flow, &slip.title, &slip.notice, EM);
    who(&mut flow, &slip.who);
    flow.skip(0.5 * EM);
    flow.add(|page, mut y| {
        let labels =
            slip.facts.iter().map(|fact| page.fonts.width(&fact.label, Regular, EM));
        let indent = labels.fold(0.0, f32::max) + 4.0 * MM;
        for fact in &slip.facts {
            page.text(LEFT, y + CAP * EM, EM, Regular, &fact.label);
            let text = [(fact.value.as_str(), Bold)];
            y = page.para(LEFT + indent, y, area - indent, &text) + 0.5 * EM;
        }
        y - 0.5 * EM
    });
    let title = |flow: &mut Flow, text: &str| {
        flow.add_between(12.96, 7.2, |page, y| heading(page, y, text, SECTION));
    };
    if !slip.findings.is_empty() {
        title(&mut flow, &slip.findings_title);
        flow.add(|page, y| {
            let (x, room) = (LEFT + 3.0 * MM, area - 6.0 * MM);
            let end = dashes(page, x, y + 3.0 * MM, room, &slip.findings) + 3.0 * MM;
            page.frame(LEFT, y, area, end - y, HEAVY);
            end
        });
    }
    title(&mut flow, &slip.contents_title);
    flow.add(|page, y| ticks(page, y, area, &slip.contents));
    section(&mut flow, &slip.cards_title, |page, y| {
        let y = page.para(LEFT, y, area, &[(&slip.tick, Regular)]) + 0.9 * EM;
        card_ticks(page, y, area, &slip.cards, 1.15 * EM, 0.9 * EM)
    });
    flow.skip(1.5 * EM);
    let half = (area - 8.0 * MM) / 2.0;
    flow.add(|page, y| {
        for (index, text) in slip.sign.iter().enumerate() {
            write(
                page,
                LEFT + index as f32 * (half + 8.0 * MM),
                y + CAP * EM,
                half,
                text,
            );
        }
        y + CAP * EM
    });
    (flow.size, flow.finish(&slip.page))
}
