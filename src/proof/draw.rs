//! Runs the drawing operators of a page and notes what they draw.
//!
//! Knows the operators that pages of ours can have and refuses any other (ISO
//! 32000-1:2008, annex A, from memory). `hayro` reads the same pages in the tests
//! and for `--proof raster`, and must come to the same.

mod geometry;
mod operand;
mod state;

use std::rc::Rc;

use hayro::kurbo::{Affine, Rect};

use super::code::Grid;
use super::file::{Lexer, Token};
use super::font::Font;
use super::page::{Drawing, Glyph, MM_PER_PT, Page, Picture, Shade};
pub(super) use geometry::turn_of_text;
use geometry::{area, is_level, least_scale, scale, transformed, turn};
use operand::{Mark, Needs, Operand, named, number};
use state::{Path, Run, State, reach};

/// What a name among the operators stands for.
#[derive(Default)]
pub(super) struct Resources<'f> {
    pub fonts: Vec<(Vec<u8>, Rc<Font<'f>>)>,
    pub colors: Vec<(Vec<u8>, Color)>,
    /// Whether what is drawn in this state is opaque.
    pub states: Vec<(Vec<u8>, bool)>,
    pub objects: Vec<(Vec<u8>, Rc<Drawable<'f>>)>,
}

/// What can be drawn by its name.
pub(super) enum Drawable<'f> {
    /// An image: its modules, or why it has none, in words that follow "the image".
    Image(Result<Grid, String>),
    Form(Form<'f>),
}

/// A drawing within a drawing.
pub(super) struct Form<'f> {
    pub bytes: Vec<u8>,
    pub matrix: Affine,
    pub bounds: Rect,
    pub resources: Rc<Resources<'f>>,
    /// Whether it is drawn as if each part were drawn by itself.
    pub is_plain: bool,
}

/// A kind of colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Color {
    /// Of this many parts, all 0 for black.
    Light(usize),
    /// Anything else: no text of ours has it.
    Other,
}

impl Color {
    /// Nearly black is a part of at most a quarter, as on a photocopy.
    fn shade(self, parts: &[f64]) -> Shade {
        match self {
            Self::Light(count) if parts.len() != count => Shade::Other,
            Self::Light(_) if parts.iter().all(|part| *part <= 0.25) => Shade::Dark,
            Self::Light(_) if parts.iter().all(|part| *part >= 1.0) => Shade::White,
            _ => Shade::Other,
        }
    }
}

/// How many operators may still be run.
pub(super) struct Budget {
    pub on_the_page: usize,
    pub in_all: usize,
}

impl Budget {
    fn spend(&mut self) -> Result<(), Refused> {
        let left = (self.on_the_page.checked_sub(1), self.in_all.checked_sub(1));
        let (Some(on_the_page), Some(in_all)) = left else {
            return Err("has too many operators".to_owned());
        };
        (self.on_the_page, self.in_all) = (on_the_page, in_all);
        Ok(())
    }
}

/// How deep operands may lie in each other, states be saved, and forms be drawn.
const DEEPEST_OPERAND: usize = 8;
const MOST_SAVED: usize = 64;
const DEEPEST_FORM: usize = 8;

/// The most operands of one operator; a line of text has some hundred.
const MOST_OPERANDS: usize = 20_000;

/// The longest gap of a broken line, in the units of its drawing.
const MOST_GAP_MM: f64 = 4.3;

/// The shortest dash of a broken line that has no round ends, in millimetres.
const LEAST_DASH_MM: f64 = 0.25;

/// How far beyond a corner of a line its tip may reach, in half widths of the line.
const MOST_MITER: f64 = 10.0;

/// The least width of a line that is there for everybody, in millimetres.
const LEAST_WIDTH_MM: f64 = 0.15;

/// Width of a line, in millimetres, from which on it hides what it runs through.
const THIN_MM: f64 = 0.5;

/// The most faults that are noted of a page.
const MOST_FAULTS: usize = 5;

/// What a page shows whose box is `media`, in points, and whose operators are
/// `bytes`.
///
/// # Errors
///
/// What of the operators is not to be run.
pub(super) fn page(
    media: Rect,
    bytes: &[u8],
    resources: &Resources,
    budget: &mut Budget,
) -> Result<Page, String> {
    let k = MM_PER_PT;
    let page =
        Page { width: media.width() * k, height: media.height() * k, ..Page::default() };
    let to_page = Affine::new([k, 0.0, 0.0, -k, -media.x0 * k, media.y1 * k]);
    let mut painter = Painter { page, budget, mark: None, scratch: Vec::new() };
    painter.run(bytes, resources, State::of(to_page), 0)?;
    let mut page = painter.page;
    page.find_touched();
    Ok(page)
}

struct Painter<'p> {
    page: Page,
    budget: &'p mut Budget,
    /// What is being marked, with its number if it has one.
    mark: Option<Option<usize>>,
    /// Bytes of a text that is shown.
    scratch: Vec<u8>,
}

/// What stands in the way of running operators.
type Refused = String;

impl Painter<'_> {
    /// Runs `bytes`, a page or a form that lies `depth` deep.
    fn run<'f>(
        &mut self,
        bytes: &[u8],
        resources: &Resources<'f>,
        state: State<'f>,
        depth: usize,
    ) -> Result<(), Refused> {
        let mut lexer = Lexer::new(bytes);
        let mut run = Run {
            state,
            saved: Vec::new(),
            path: Path::default(),
            text: Affine::IDENTITY,
            line: Affine::IDENTITY,
            in_text: false,
        };
        let mut operands: Vec<Operand> = Vec::new();
        // What closes each, and how many values stand in it.
        let mut open: Vec<(u8, usize)> = Vec::new();
        let mut start = 0;
        while let Some(token) = lexer.token()? {
            let here = || bytes[start..lexer.at].trim_ascii_start();
            match (open.last_mut(), &token) {
                // Another reader ends the page where keys and values are not in turn.
                (Some((b'>', count)), Token::Close(_)) if *count % 2 != 0 => {
                    return Err("has a dictionary with a key and no value".to_owned());
                }
                (_, Token::Close(_)) | (None, _) => {}
                (Some((b'>', count)), token)
                    if *count % 2 == 0 && !matches!(token, Token::Name) =>
                {
                    return Err("has a dictionary with a key that is no name".to_owned());
                }
                (Some((_, count)), _) => *count += 1,
            }
            match token {
                Token::Word(b"true" | b"false" | b"null") => operands.push(Operand::Word),
                Token::Word(_) if !open.is_empty() => {
                    return Err("has an operator within an operand".to_owned());
                }
                Token::Word(word) => {
                    self.budget.spend()?;
                    self.operator(word, &operands, resources, &mut run, depth)?;
                    operands.clear();
                }
                Token::Open(end) => {
                    open.push((end, 0));
                    operands.push(Operand::Open);
                }
                Token::Close(end) if open.pop().map(|(end, _)| end) != Some(end) => {
                    let end = char::from(end);
                    return Err(format!("closes with `{end}` what is not open"));
                }
                Token::Close(_) => operands.push(Operand::Close),
                Token::Text => operands.push(Operand::Text(here())),
                Token::Name if here().contains(&b'#') => {
                    return Err("has a name that is written in figures".to_owned());
                }
                Token::Name => operands.push(Operand::Name(&here()[1..])),
                Token::Number => operands.push(Operand::Number(number(here())?)),
            }
            if open.len() > DEEPEST_OPERAND || operands.len() > MOST_OPERANDS {
                return Err("has too many operands".to_owned());
            }
            start = lexer.at;
        }
        if open.is_empty() { Ok(()) } else { Err("ends within an operand".to_owned()) }
    }

    fn operator<'f>(
        &mut self,
        word: &[u8],
        operands: &[Operand],
        resources: &Resources<'f>,
        run: &mut Run<'f>,
        depth: usize,
    ) -> Result<(), Refused> {
        run.stands_right(word)?;
        let needs = Needs { word, operands };
        let state = &mut run.state;
        match word {
            b"q" => {
                if run.saved.len() == MOST_SAVED {
                    return Err(format!("saves its state more than {MOST_SAVED} times"));
                }
                run.saved.push(state.clone());
            }
            b"Q" => {
                run.state = run.saved.pop().ok_or("restores a state it never saved")?;
            }
            b"cm" => state.to_page *= Affine::new(needs.numbers()?),
            b"w" => [state.line_width] = needs.numbers()?,
            b"M" => [state.miter_limit] = needs.numbers()?,
            b"gs" => state.is_opaque &= *needs.named(&resources.states)?,
            b"d" => {
                let (lengths, begin) = needs.dashes()?;
                state.is_broken = !lengths.is_empty();
                state.dash = lengths.first().copied().unwrap_or_default();
                // A dash, a gap and where to begin: of others nobody knows the ink.
                state.gap = match lengths.len() {
                    ..=2 => lengths.into_iter().fold(begin, f64::max),
                    _ => f64::MAX,
                };
            }
            b"J" => state.has_round_ends = needs.numbers()? == [1.0],
            b"j" | b"i" => _ = needs.numbers::<1>()?,
            b"BDC" | b"BMC" => {
                if self.mark.is_some() {
                    return Err("has marks within each other".to_owned());
                }
                let mark = Mark::of(operands)?;
                if mark.number.is_some() {
                    if depth > 0 || mark.number != Some(self.page.marked) {
                        return Err("has marks that are not numbered in order".to_owned());
                    }
                    self.page.marked += 1;
                }
                self.page.heard.extend(mark.heard.map(|words| (mark.number, words)));
                self.page.languages.extend(mark.language);
                self.mark = Some(mark.number);
            }
            b"EMC" => self.mark = None,

            b"m" | b"l" | b"c" | b"v" | b"y" | b"h" | b"re" => run.construct(&needs)?,
            b"W" | b"W*" => run.path.is_clip = true,
            b"S" | b"s" | b"f" | b"F" | b"f*" | b"B" | b"B*" | b"b" | b"b*" | b"n" => {
                let path = std::mem::take(&mut run.path);
                self.paint(word, &path, &mut run.state);
            }
            b"sh" => {
                let whole = Rect::new(0.0, 0.0, self.page.width, self.page.height);
                let place = state.clip.map_or(whole, |clip| clip.bounds);
                self.mark(place);
                self.page.covers.push((area(place), usize::MAX));
                if !self.is_full() {
                    // Of a logo it is accounted for, and anywhere else of nothing.
                    self.page.drawings.push(Drawing {
                        area: area(place),
                        width: 0.0,
                        is_broken: false,
                        shade: Shade::Dark,
                        is_level: true,
                        is_outline: true,
                        is_sound: false,
                    });
                }
            }

            b"g" | b"rg" | b"k" | b"cs" | b"sc" | b"scn" => {
                color(&needs, resources, &mut state.fill, &mut state.fill_shade)?;
            }
            b"G" | b"RG" | b"K" | b"CS" | b"SC" | b"SCN" => {
                color(&needs, resources, &mut state.stroke, &mut state.stroke_shade)?;
            }

            b"BT" => {
                (run.text, run.line) = (Affine::IDENTITY, Affine::IDENTITY);
                run.in_text = true;
            }
            b"ET" => run.in_text = false,
            b"Tf" => {
                let [Operand::Name(name), Operand::Number(size)] = operands else {
                    return Err(needs.wrong());
                };
                state.font = Some(named(&resources.fonts, name)?.clone());
                state.size = *size;
            }
            b"Tr" => {
                let [mode] = needs.numbers()?;
                if mode != 0.0 {
                    return Err(format!("shows text in mode {mode}, and not filled"));
                }
            }
            b"Tc" => [state.letter_space] = needs.numbers()?,
            // Between words of fonts with codes of one byte, which ours are not.
            b"Tw" => {}
            b"Tz" => state.scale = needs.numbers::<1>()?[0] / 100.0,
            b"TL" => [state.leading] = needs.numbers()?,
            b"Ts" => [state.rise] = needs.numbers()?,
            b"Tm" => {
                run.line = Affine::new(needs.numbers()?);
                run.text = run.line;
            }
            b"Td" | b"TD" => {
                let [x, y] = needs.numbers()?;
                if word == b"TD" {
                    state.leading = -y;
                }
                run.next_line(x, y);
            }
            b"T*" => run.next_line(0.0, -run.state.leading),
            b"Tj" | b"'" => {
                let [Operand::Text(_)] = operands else { return Err(needs.wrong()) };
                if word == b"'" {
                    run.next_line(0.0, -run.state.leading);
                }
                self.show(operands, run)?;
            }
            b"TJ" => {
                let [Operand::Open, items @ .., Operand::Close] = operands else {
                    return Err(needs.wrong());
                };
                self.show(items, run)?;
            }

            b"Do" => match &**needs.named(&resources.objects)? {
                Drawable::Image(grid) => self.image(state, grid),
                Drawable::Form(form) => self.form(form, state, depth)?,
            },
            other => {
                let other: String =
                    String::from_utf8_lossy(other).chars().take(20).collect();
                let other = other.escape_debug();
                return Err(format!("has the operator `{other}`, as none of ours has"));
            }
        }
        Ok(())
    }

    fn is_full(&self) -> bool {
        self.page.is_full()
    }

    fn fault(&mut self, what: String) {
        if self.page.faults.len() < MOST_FAULTS {
            self.page.faults.push(what);
        }
    }

    /// Something that nothing may be read through.
    fn mark(&mut self, place: Rect) {
        if !self.is_full() {
            self.page.marks.push(area(place));
        }
    }

    /// Draws a path, and cuts to it what is drawn next if that was asked for.
    fn paint(&mut self, word: &[u8], path: &Path, state: &mut State) {
        let Some(bounds) = path.bounds else { return };
        let is_filled = matches!(word[0].to_ascii_lowercase(), b'f' | b'b');
        let has_line = matches!(word[0].to_ascii_lowercase(), b's' | b'b');
        if (is_filled || has_line) && !self.is_full() {
            let drawn = area(bounds);
            self.page.shapes.push(drawn);
            let width = state.line_width.abs() * scale(state.to_page);
            self.page.drawings.push(Drawing {
                area: drawn,
                width: if has_line { width } else { 0.0 },
                is_broken: has_line && state.is_broken,
                shade: match (state.is_opaque, has_line) {
                    (false, _) => Shade::Other,
                    (true, true) => state.stroke_shade,
                    (true, false) => state.fill_shade,
                },
                is_level: path.is_straight() || path.is_rectangle(),
                is_outline: path.is_outline(),
                is_sound: (!has_line || !is_filled && has_ink(state, path))
                    && state.clip.is_none_or(|clip| clip.holds(bounds)),
            });
            if is_filled {
                self.page.fills.push(drawn);
                let hides_later =
                    if state.fill_shade == Shade::Dark { usize::MAX } else { 0 };
                self.page.covers.push((drawn, hides_later.max(self.page.glyphs.len())));
            }
            let reach = if has_line { reach(path, state) } else { 0.0 };
            self.mark(bounds.inflate(reach, reach));
            let sides = match path.is_straight() {
                true => std::slice::from_ref(&bounds),
                false => path.sides(),
            };
            for side in sides.iter().filter(|_| has_line) {
                let line = area(side.inflate(width / 2.0, width / 2.0));
                // Text that a thin line of a table runs down through can still be read.
                if side.width() > side.height() || width > THIN_MM {
                    self.page.covers.push((line, usize::MAX));
                }
            }
        }
        if path.is_clip {
            state.clip_to(bounds, path.is_rectangle());
        }
    }

    /// Shows the texts among `operands`, all of one run.
    fn show(&mut self, operands: &[Operand], run: &mut Run) -> Result<(), Refused> {
        let font = run.state.font.clone().ok_or("shows text without a font")?;
        let mut starts_run = true;
        for operand in operands {
            match operand {
                Operand::Number(by) => {
                    let state = &run.state;
                    run.advance(-by / 1000.0 * state.size * state.scale);
                }
                Operand::Text(text) => {
                    let mut bytes = std::mem::take(&mut self.scratch);
                    bytes.clear();
                    let told = super::file::text_of(text, &mut bytes);
                    let shown = told
                        .and_then(|()| self.text(&bytes, &font, run, &mut starts_run));
                    self.scratch = bytes;
                    shown?;
                }
                _ => {
                    return Err("shows what is no text".to_owned());
                }
            }
        }
        Ok(())
    }

    /// Shows one text: codes of two bytes.
    fn text(
        &mut self,
        bytes: &[u8],
        font: &Font,
        run: &mut Run,
        starts_run: &mut bool,
    ) -> Result<(), Refused> {
        if !bytes.len().is_multiple_of(2) {
            return Err("shows half of a code".to_owned());
        }
        let size = run.state.size / 1000.0;
        for pair in bytes.chunks_exact(2) {
            if self.is_full() {
                return Ok(());
            }
            let drawn = font.drawn(u16::from_be_bytes([pair[0], pair[1]]));
            let state = &run.state;
            let [a, b, c, d, e, f] = (state.to_page * run.text).as_coeffs();
            let (wide, high) = (size * state.scale, size);
            let to_page = Affine::new([
                a * wide,
                b * wide,
                c * high,
                d * high,
                c * state.rise + e,
                d * state.rise + f,
            ]);
            let advance = (drawn.advance * size + state.letter_space) * state.scale;
            self.glyph(drawn, to_page, &run.state, *starts_run);
            *starts_run = false;
            run.advance(advance);
        }
        Ok(())
    }

    fn glyph(
        &mut self,
        drawn: super::font::Drawn,
        to_page: Affine,
        state: &State,
        starts_run: bool,
    ) {
        let place = transformed(to_page, drawn.bounds);
        let blank = drawn.is_blank();
        if !drawn.is_ours {
            let text = &drawn.text;
            self.fault(format!("what reads as \"{text}\" prints as something else"));
        }
        if !blank {
            let what = if state.fill_shade != Shade::Dark {
                "is not black"
            } else if !state.is_opaque {
                "is not opaque"
            } else if state.clip.is_some_and(|clip| !clip.holds(place)) {
                "is cut"
            } else {
                ""
            };
            if !what.is_empty() {
                self.fault(format!("the character \"{}\" {what}", drawn.text));
            }
        }
        // Who reads a photocopy does not see it, nor what is cut away.
        if state.fill_shade != Shade::Dark {
            self.mark(place);
            return;
        }
        if state.clip.is_some_and(|clip| !clip.bounds.contains(place.center())) {
            return;
        }
        let [a, b, c, d, x, y] = to_page.as_coeffs();
        self.page.glyphs.push(Glyph {
            text: drawn.text,
            area: area(place),
            origin: (x, y),
            advance: drawn.advance * a.abs(),
            size: d.abs() * 1000.0,
            turn: turn_of_text([a, b, c, d]),
            starts_run,
            blank,
            is_heard: self.mark.flatten().is_some(),
        });
    }

    /// Draws an image on the unit square.
    fn image(&mut self, state: &State, grid: &Result<Grid, String>) {
        if self.is_full() {
            return;
        }
        let place = transformed(state.to_page, Rect::new(0.0, 0.0, 1.0, 1.0));
        let grid = if !state.is_opaque {
            Err("is not opaque".to_owned())
        } else if state.clip.is_some_and(|clip| !clip.holds(place)) {
            Err("is cut".to_owned())
        } else {
            grid.clone()
        };
        self.page.images.push(area(place));
        self.page.covers.push((area(place), self.page.glyphs.len()));
        let turn = turn(state.to_page);
        let mark = self.mark.flatten();
        self.page.pictures.push(Picture { turn, mark, touched_by: None, grid });
    }

    fn form<'f>(
        &mut self,
        form: &Form<'f>,
        state: &State<'f>,
        depth: usize,
    ) -> Result<(), Refused> {
        if depth == DEEPEST_FORM {
            return Err(format!("draws forms more than {DEEPEST_FORM} deep"));
        }
        let mut state = state.clone();
        state.to_page *= form.matrix;
        state.is_opaque &= form.is_plain;
        let bounds = transformed(state.to_page, form.bounds);
        state.clip_to(bounds, is_level(state.to_page));
        self.run(&form.bytes, &form.resources, state, depth + 1)
    }
}

/// Whether a line that is drawn in this state along `path` leaves ink all along it,
/// and none beyond its corners.
fn has_ink(state: &State, path: &Path) -> bool {
    let has_tips = state.miter_limit > MOST_MITER && !path.is_straight();
    let least = least_scale(state.to_page);
    let is_whole = !state.is_broken
        || state.gap * scale(state.to_page) <= MOST_GAP_MM
            && (state.has_round_ends || state.dash * least >= LEAST_DASH_MM);
    is_whole && !has_tips && state.line_width.abs() * least >= LEAST_WIDTH_MM
}

/// Sets a colour, or the kind of colours to come.
fn color(
    needs: &Needs,
    resources: &Resources,
    color: &mut Color,
    shade: &mut Shade,
) -> Result<(), Refused> {
    match needs.word {
        b"cs" | b"CS" => {
            let [Operand::Name(name)] = needs.operands else { return Err(needs.wrong()) };
            *color = match *name {
                b"DeviceGray" => Color::Light(1),
                b"DeviceRGB" => Color::Light(3),
                b"DeviceCMYK" | b"Pattern" => Color::Other,
                name => *named(&resources.colors, name)?,
            };
            // Each kind begins with black.
            *shade = if *color == Color::Other { Shade::Other } else { Shade::Dark };
            return Ok(());
        }
        b"g" | b"G" => *color = Color::Light(1),
        b"rg" | b"RG" => *color = Color::Light(3),
        b"k" | b"K" => *color = Color::Other,
        _ => {}
    }
    let mut parts = Vec::new();
    for operand in needs.operands {
        match operand {
            Operand::Number(part) => parts.push(*part),
            // A pattern.
            Operand::Name(_) => *color = Color::Other,
            _ => return Err(needs.wrong()),
        }
    }
    *shade = color.shade(&parts);
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proof::page::{Area, Turn};

    /// A page of 200 x 100 points that `bytes` draw.
    fn drawn(bytes: &str) -> Result<Page, String> {
        let mut budget = Budget { on_the_page: 1000, in_all: 1000 };
        let grid = Grid { side: 1, dark: vec![true] };
        let image = Rc::new(Drawable::Image(Ok(grid)));
        let resources = Resources {
            objects: vec![(b"x0".to_vec(), image)],
            colors: vec![(b"c0".to_vec(), Color::Light(3))],
            states: vec![(b"g0".to_vec(), false)],
            ..Resources::default()
        };
        let media = Rect::new(0.0, 0.0, 200.0, 100.0);
        page(media, bytes.as_bytes(), &resources, &mut budget)
    }

    fn points(area: &Area) -> [f64; 4] {
        let point = |mm: f64| (mm / MM_PER_PT * 1000.0).round() / 1000.0;
        [point(area.left), point(area.top), point(area.right), point(area.bottom)]
    }

    #[test]
    fn shapes_stand_where_the_matrix_puts_them() {
        let page = drawn("q 2 0 0 2 10 20 cm 1 2 3 4 re f Q 5 5 m 9 5 l S").unwrap();
        let shapes: Vec<_> = page.shapes.iter().map(points).collect();
        assert_eq!(shapes, [[12.0, 68.0, 18.0, 76.0], [5.0, 95.0, 9.0, 95.0]]);
        assert_eq!(page.fills.len(), 1);
        let curve = drawn("0 0 m 0 40 100 40 100 0 c S").unwrap();
        // The top of a curve between control points at 40 is three quarters of that.
        assert_eq!(points(&curve.shapes[0]), [0.0, 70.0, 100.0, 100.0]);
    }

    #[test]
    fn the_width_of_a_line_is_marked() {
        let page = drawn("4 w 50 50 m 90 50 l S").unwrap();
        assert_eq!(points(&page.shapes[0]), [50.0, 50.0, 90.0, 50.0]);
        assert_eq!(points(&page.marks[0]), [47.0, 47.0, 93.0, 53.0]);
    }

    #[test]
    fn an_image_tells_how_it_stands_and_whether_it_is_whole() {
        let image = |bytes: &str| {
            let page = drawn(bytes).unwrap();
            let Picture { turn, grid, .. } = page.pictures[0].clone();
            (turn, grid.map(|grid| grid.side))
        };
        let upright = "q 30 0 0 30 50 50 cm /x0 Do Q";
        assert_eq!(image(upright), (Turn::Upright, Ok(1)));
        assert_eq!(image("q -30 0 0 -30 50 50 cm /x0 Do Q"), (Turn::Half, Ok(1)));
        assert_eq!(image("q 0 30 -30 0 50 50 cm /x0 Do Q"), (Turn::Other, Ok(1)));
        assert_eq!(image("q 30 0 0 -30 50 50 cm /x0 Do Q"), (Turn::Other, Ok(1)));
        let cut = "50 50 10 10 re W n 30 0 0 30 50 50 cm /x0 Do";
        assert_eq!(image(cut), (Turn::Upright, Err("is cut".to_owned())));
        let within = "40 40 50 50 re W n 30 0 0 30 50 50 cm /x0 Do";
        assert_eq!(image(within), (Turn::Upright, Ok(1)));
        let round = "40 40 m 40 90 90 90 90 40 c W n 30 0 0 30 50 50 cm /x0 Do";
        assert_eq!(image(round), (Turn::Upright, Err("is cut".to_owned())));
        let faint = format!("/g0 gs {upright}");
        assert_eq!(image(&faint), (Turn::Upright, Err("is not opaque".to_owned())));
        let touched = drawn(&format!("{upright} 80 60 m 90 60 l S")).unwrap();
        assert_eq!(touched.pictures[0].touched_by.as_deref(), Some("a shape"));
    }

    #[test]
    fn what_is_not_to_be_run_is_named() {
        for (bytes, wanted) in [
            ("[[[[[[[[[1]]]]]]]]] TJ", "has too many operands"),
            ("[1 2", "ends within an operand"),
            ("[1 >> TJ", "closes with `>` what is not open"),
            ("(abc", "has a text without an end"),
            ("3 Tr", "shows text in mode 3, and not filled"),
            ("1 0 d0", "has the operator `d0`, as none of ours has"),
            ("1 2 m 3 l", "has `l` with other operands than it takes"),
            ("1.2.3 w", "has a number that cannot be read"),
            ("Q", "restores a state it never saved"),
            ("/x7 Do", "uses /x7, which its resources do not have"),
            ("BT (ab) Tj", "shows text without a font"),
            ("(ab) Tj", "has the operator `Tj` outside of a text"),
            ("BT q", "has the operator `q` within a text"),
            ("BI /W 1 /H 1 ID 0 EI", "has the operator `BI`, as none of ours has"),
            ("1 } f", "has a stray `}`"),
        ] {
            assert_eq!(drawn(bytes).unwrap_err(), wanted, "{bytes}");
        }
        assert_eq!(
            drawn(&"q ".repeat(65)).unwrap_err(),
            "saves its state more than 64 times"
        );
        assert_eq!(drawn(&"n ".repeat(1001)).unwrap_err(), "has too many operators");
    }

    #[test]
    fn a_colour_is_dark_or_white_if_every_part_is() {
        for (operators, shade) in [
            ("", Shade::Dark),
            ("0 g", Shade::Dark),
            ("1 g", Shade::White),
            ("/c0 cs", Shade::Dark),
            ("/c0 cs 0 0 0 scn", Shade::Dark),
            ("/c0 cs 1 1 1 scn", Shade::White),
            ("/c0 cs 1 1 0.9 scn", Shade::Other),
            ("/c0 cs 0 0 0.3 scn", Shade::Other),
            ("/c0 cs 0 scn", Shade::Other),
            ("0 0 0 1 k", Shade::Other),
            ("/Pattern cs", Shade::Other),
        ] {
            let mut fill = (Color::Light(1), Shade::Dark);
            let resources = Resources {
                colors: vec![(b"c0".to_vec(), Color::Light(3))],
                ..Resources::default()
            };
            let mut operands = Vec::new();
            for word in operators.split_whitespace() {
                match (word.strip_prefix('/'), word.parse()) {
                    (Some(name), _) => operands.push(Operand::Name(name.as_bytes())),
                    (_, Ok(number)) => operands.push(Operand::Number(number)),
                    _ => {
                        let needs = Needs { word: word.as_bytes(), operands: &operands };
                        color(&needs, &resources, &mut fill.0, &mut fill.1).unwrap();
                        operands.clear();
                    }
                }
            }
            assert_eq!(fill.1, shade, "{operators}");
        }
    }
}
