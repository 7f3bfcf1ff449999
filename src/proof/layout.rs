//! What the documents look like: their texts in the order in which they are read,
//! how they stand to each other, and what is drawn beside them.
//!
//! Said here a second time, beside the templates, so that a template cannot set a
//! time beside another step and have it pass.

use super::flow::{Flow, Mark, Table, joined, text};
use super::timeline::{Row, Segment, Station, Timeline};
use crate::document::{Cover, Entry, Label, PackingSlip, PageSetting, PaperDocuments};

/// How much larger than in standard print the timeline is drawn.
const LARGE: f64 = 1.5;

/// The instruction sheet.
pub(super) fn sheet(data: &PaperDocuments) -> Flow<'_> {
    let (sheet, large) = (&data.sheet, data.page.large);
    let mut parts = vec![
        text(&sheet.lab),
        title_line(&sheet.title, &sheet.start, large),
        who(&sheet.who),
        joined(
            std::iter::once(&sheet.first.title).chain(&sheet.first.lines).map(|it| &**it),
        )
        .with(Mark::Frame),
    ];
    parts.extend(sheet.before.iter().map(|line| text(line).with(Mark::Bar)));
    let stations = sheet.timeline.stations.iter().map(|station| Station {
        time: &station.time,
        label: station.label.as_deref(),
        card: station.card.as_deref(),
    });
    let segments = sheet
        .timeline
        .segments
        .iter()
        .map(|segment| Segment { kind: segment.kind, label: segment.label.as_deref() });
    parts.push(timeline(stations.collect(), segments.collect(), large));
    parts.push(text(&sheet.remember));
    for part in &sheet.parts {
        parts.push(text(&part.heading));
        for step in &part.steps {
            parts.extend(step.day.as_deref().map(text));
            let lines = std::iter::once(&step.action).chain(&step.more);
            let words = joined(lines.map(|line| &**line));
            let time = text(&step.time);
            parts.push(Flow::Across(match step.card.as_deref() {
                None => vec![time, words],
                // The spare card has no number.
                Some("") => vec![time, words.with(Mark::Card)],
                Some(card) => vec![time, text(card).with(Mark::Frame), words],
            }));
        }
    }
    parts.push(text(&sheet.how.title));
    parts.extend(sheet.how.lines.iter().map(beside));
    let medicines = &sheet.medicines;
    parts.extend([text(&medicines.title), text(&medicines.rule)]);
    if !medicines.rows.is_empty() {
        let rows = medicines.rows.iter();
        let rows = rows
            .map(|row| cells([&row.medicine, &row.usual, &row.before, &row.after]))
            .collect();
        parts.push(grid(&medicines.columns, rows));
    }
    for one in &medicines.apart {
        parts.push(text(&one.medicine));
        parts.extend(one.lines.iter().map(beside));
    }
    parts.extend(medicines.notes.iter().map(text));
    parts.push(text(&sheet.wrong.title));
    parts.extend(sheet.wrong.lines.iter().map(dash));
    let repeats = &sheet.repeats;
    parts.push(text(&repeats.title));
    let rows = repeats.rows.iter();
    let rows = rows
        .map(|row| cells([&row.card, &row.day, &row.empty, &row.stop, &row.collect]))
        .collect();
    parts.push(grid(&repeats.columns, rows));
    parts.extend(repeats.notes.iter().map(text));
    parts.push(text(&sheet.care.title));
    parts.extend(sheet.care.lines.iter().map(dash));
    parts.push(text(&sheet.call.title));
    parts.extend(sheet.call.lines.iter().map(text));
    Flow::Down(parts)
}

/// In large print what follows the night has a row of its own.
fn timeline<'a>(
    mut stations: Vec<Station<'a>>,
    mut segments: Vec<Segment<'a>>,
    large: bool,
) -> Flow<'a> {
    let scale = if large { LARGE } else { 1.0 };
    let night = segments.iter().position(|segment| segment.kind == "sleep");
    let mut rows = Vec::new();
    if let (true, Some(night)) = (large, night) {
        let after = (stations.split_off(night + 1), segments.split_off(night + 1));
        rows.push(Row { stations, segments, scale });
        (stations, segments) = after;
    }
    rows.push(Row { stations, segments, scale });
    Flow::Timeline(Timeline { rows })
}

/// The drinks table.
pub(super) fn fluids(data: &PaperDocuments) -> Flow<'_> {
    let (fluids, large) = (&data.fluids, data.page.large);
    let rows = fluids.rows.iter().map(|row| cells([&row.label, &row.value])).collect();
    let mut parts = vec![
        text(&fluids.title),
        who(&fluids.who),
        text(&fluids.intro),
        grid(&fluids.columns, rows),
    ];
    parts.extend(fluids.notes.iter().map(dash));
    parts.extend(fluids.table_title.as_deref().map(text));
    parts.extend(fluids.own.as_deref().map(|own| text(own).with(Mark::Frame)));
    parts.extend(fluids.cup.as_deref().map(text));
    let tables = fluids.tables.iter().map(|table| {
        let rows = table.rows.iter().map(|row| {
            // The patient's own row has a frame.
            let weight = text(&row.weight);
            let weight = if row.own { weight.with(Mark::Frame) } else { weight };
            vec![weight, text(&row.amount)]
        });
        grid(&table.columns, rows.collect())
    });
    parts.push(Flow::Across(tables.collect()));
    parts.extend(fluids.no_table.as_deref().map(|why| text(why).with(Mark::Frame)));
    let changes = &fluids.changes;
    parts.extend(changes.title.as_deref().map(text));
    parts.extend(changes.note.as_deref().map(text));
    let beside = if large { 2 } else { changes.tables.len().max(1) };
    for tables in changes.tables.chunks(beside) {
        let tables = tables.iter().map(|table| {
            let rows = table.rows.iter();
            let rows = rows.map(|row| cells([&row.if_at, &row.then_at])).collect();
            grid(&table.columns, rows)
        });
        parts.push(Flow::Across(tables.collect()));
    }
    Flow::Down(parts)
}

/// The return checklist.
pub(super) fn checklist(data: &PaperDocuments) -> Flow<'_> {
    let list = &data.checklist;
    let mut parts = vec![text(&list.title), who(&list.who), text(&list.intro)];
    parts.extend(list.items.iter().map(tick));
    parts.push(text(&list.cards_title));
    parts.extend(list.cards.iter().map(tick_beside));
    parts.push(text(&list.address_title));
    parts.extend(list.address.iter().map(text));
    parts.push(text(&list.keep));
    Flow::Down(parts)
}

/// The information card.
pub(super) fn card(data: &PaperDocuments) -> Flow<'_> {
    let (card, large) = (&data.card, data.page.large);
    let mut parts = vec![title_line(&card.title, &card.intro, large), who(&card.who)];
    let known = card.known.iter();
    let known = known.map(|entry| joined([&*entry.label, &*entry.value]));
    parts.push(Flow::Wrapped(known.collect()));
    let across = if large { 1 } else { 2 };
    if let [blanks @ .., last] = &card.blanks[..] {
        parts.extend(blanks.chunks(across).map(lines_beside));
        parts.push(line(last));
    }
    let [question, yes, no] = &card.pregnant;
    parts.push(Flow::Wrapped(vec![text(question), tick(yes), tick(no)]));
    parts.push(text(&card.times_title));
    parts.push(times(data));
    parts.extend(card.night.chunks(across).map(lines_beside));
    parts.extend([line(&card.drinks), Flow::Blank, Flow::Blank]);
    parts.push(text(&card.medicines_title));
    parts.extend(card.medicines.iter().map(line));
    parts.extend([line(&card.other_medicines), Flow::Blank, line(&card.sign)]);
    parts.push(text(&card.accession).with(Mark::Frame));
    Flow::Down(parts)
}

/// The grid for what really happened. In large print number and plan share a column.
fn times(data: &PaperDocuments) -> Flow<'_> {
    let card = &data.card;
    let together = |number, plan| {
        let both = vec![text(number), text(plan)];
        if data.page.large { vec![Flow::Down(both)] } else { both }
    };
    let mut head = Vec::new();
    if let [title, code, plan, pen @ ..] = &card.columns[..] {
        head.push(text(title));
        head.extend(together(code, plan));
        head.extend(pen.iter().map(text));
    }
    let rows = card.rows.iter().map(|row| {
        let mut cells = vec![text(&row.card)];
        cells.extend(together(&row.code, &row.planned));
        cells
    });
    Flow::Table(Table { head, rows: rows.collect(), is_grid: true })
}

/// A packing slip.
pub(super) fn slip(slip: &PackingSlip) -> Flow<'_> {
    let mut parts =
        vec![Flow::Across(vec![text(&slip.title), text(&slip.notice)]), who(&slip.who)];
    parts.extend(slip.facts.iter().map(beside));
    if !slip.findings.is_empty() {
        parts.push(text(&slip.findings_title));
        let findings = slip.findings.iter().map(dash).collect();
        parts.push(Flow::Down(findings).with(Mark::Frame));
    }
    parts.push(text(&slip.contents_title));
    parts.extend(slip.contents.iter().map(tick));
    parts.extend([text(&slip.cards_title), text(&slip.tick)]);
    parts.extend(slip.cards.iter().map(tick_beside));
    parts.push(lines_beside(&slip.sign));
    Flow::Down(parts)
}

/// The run sheet.
pub(super) fn cover(cover: &Cover) -> Flow<'_> {
    let mut parts = vec![Flow::Across(vec![text(&cover.title), text(&cover.notice)])];
    parts.extend(cover.facts.iter().map(beside));
    if !cover.left_out.lines.is_empty() {
        parts.push(text(&cover.left_out.title));
        let lines = cover.left_out.lines.iter().map(dash).collect();
        parts.push(Flow::Down(lines).with(Mark::Frame));
    }
    parts.push(text(&cover.kits_title));
    parts.push(Flow::Table(Table {
        head: cover.columns.iter().map(text).collect(),
        rows: cover
            .kits
            .iter()
            .map(|kit| cells([&kit.number, &kit.order, &kit.name, &kit.start, &kit.note]))
            .collect(),
        is_grid: false,
    }));
    Flow::Down(parts)
}

/// A label. The plan stands beside the QR code, or with the card where there is no
/// room for it.
pub(super) fn label(label: &Label) -> Flow<'_> {
    let (heading, planned) = (&label.heading, &label.planned);
    let start = || vec![text(&label.name), born(label), text(&label.code)];
    let (mut beside, mut below) = (start(), start());
    beside.extend([text(planned), text(heading), pen(label)]);
    below.extend([Flow::Wrapped(vec![text(heading), text(planned)]), pen(label)]);
    Flow::Either(vec![Flow::Down(beside), Flow::Down(below)])
}

/// A label's birth date, and the mark of a reprint.
fn born(label: &Label) -> Flow<'_> {
    let mark = label.mark.as_deref().map(|mark| text(mark).with(Mark::Frame));
    Flow::Wrapped(std::iter::once(text(&label.born)).chain(mark).collect())
}

/// What is written on a label by hand.
fn pen(label: &Label) -> Flow<'_> {
    let mut parts = vec![text(&label.collected), line(&label.date), line(&label.time)];
    parts.extend(label.half.as_deref().map(text));
    Flow::Wrapped(parts)
}

/// The foot of a page: name and page number side by side and the rest below them, or
/// all in one paragraph.
pub(super) fn foot<'a>(page: &'a PageSetting, number: &'a str) -> Flow<'a> {
    let more = std::iter::once(&page.foot_more).chain(&page.unreviewed);
    let more: Vec<&str> = more.map(String::as_str).collect();
    let apart = Flow::Down(vec![
        Flow::Across(vec![text(&page.foot), text(number)]),
        joined(more.iter().copied()),
    ]);
    let whole = joined([number, "·", &page.foot, "·"].into_iter().chain(more));
    Flow::Either(vec![apart, whole])
}

/// Name, birth date and order number: side by side, or one below the other.
fn who(entries: &[Entry]) -> Flow<'_> {
    let labels = entries.iter().map(|entry| text(&entry.label)).collect();
    let values = entries.iter().map(|entry| text(&entry.value)).collect();
    let beside = Flow::Down(vec![Flow::Across(labels), Flow::Across(values)]);
    let below = Flow::Down(entries.iter().map(self::beside).collect());
    Flow::Either(vec![beside, below]).with(Mark::Frame)
}

fn title_line<'a>(title: &'a str, beside: &'a str, large: bool) -> Flow<'a> {
    let both = vec![text(title), text(beside)];
    if large { Flow::Down(both) } else { Flow::Across(both) }
}

fn beside(entry: &Entry) -> Flow<'_> {
    Flow::Across(vec![text(&entry.label), text(&entry.value)])
}

fn tick_beside(entry: &Entry) -> Flow<'_> {
    Flow::Across(vec![tick(&entry.label), text(&entry.value)])
}

fn tick(line: &String) -> Flow<'_> {
    text(line).with(Mark::Tick)
}

fn dash(line: &String) -> Flow<'_> {
    text(line).with(Mark::Dash)
}

fn line(label: &String) -> Flow<'_> {
    text(label).with(Mark::Line)
}

fn lines_beside(labels: &[String]) -> Flow<'_> {
    Flow::Across(labels.iter().map(line).collect())
}

fn cells<const N: usize>(cells: [&String; N]) -> Vec<Flow<'_>> {
    cells.into_iter().map(text).collect()
}

fn grid<'a>(columns: &'a [String], rows: Vec<Vec<Flow<'a>>>) -> Flow<'a> {
    let head = columns.iter().map(text).collect();
    Flow::Table(Table { head, rows, is_grid: true })
}
