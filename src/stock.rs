//! Label stock: the geometry of die-cut sheets and rolls, as data.
//!
//! Takes the TOML files in `templates/stock/` or one of the user's own, gives a
//! [`Stock`] whose cells all lie on its page. Names describe geometry.

use std::sync::Arc;

use crate::fault::{Fault, Source};
use crate::fields::{Fields, Found, read_file};
use crate::order::Paper;

/// Stocks built in, in the order in which they are listed.
const BUILTIN: &[(&str, &str)] = &[
    ("letter-2x5", include_str!("../templates/stock/letter-2x5.toml")),
    ("letter-2x7", include_str!("../templates/stock/letter-2x7.toml")),
    ("letter-3x10", include_str!("../templates/stock/letter-3x10.toml")),
    ("letter-4x10", include_str!("../templates/stock/letter-4x10.toml")),
    ("a4-2x7", include_str!("../templates/stock/a4-2x7.toml")),
    ("a4-3x7", include_str!("../templates/stock/a4-3x7.toml")),
    ("roll-102x51", include_str!("../templates/stock/roll-102x51.toml")),
    ("roll-76x51", include_str!("../templates/stock/roll-76x51.toml")),
];

/// The smallest label that holds its content, in micrometres.
pub const SMALLEST: (Length, Length) = (Length(50_000), Length(25_000));

/// A length in whole micrometres, thousandths of a millimetre.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Length(i64);

impl Length {
    pub const fn from_um(um: i64) -> Self {
        Self(um)
    }

    pub fn um(self) -> i64 {
        self.0
    }

    pub fn to_mm(self) -> f64 {
        self.0 as f64 / 1000.0
    }
}

/// The page that labels are printed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Medium {
    Sheet(Paper),
    /// One label is one page.
    Roll,
}

/// One label stock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stock {
    pub name: String,
    pub medium: Medium,
    pub columns: u32,
    pub rows: u32,
    pub label_width: Length,
    pub label_height: Length,
    pub pitch_x: Length,
    pub pitch_y: Length,
    pub left: Length,
    pub top: Length,
    /// Kept free inside each label's edge.
    pub inset: Length,
}

/// One cell: its page and its top left corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cell {
    pub page: usize,
    pub x: Length,
    pub y: Length,
}

impl Stock {
    /// Width and height of the page.
    pub fn page_size(&self) -> (Length, Length) {
        match self.medium {
            Medium::Sheet(Paper::Letter) => (Length(215_900), Length(279_400)),
            Medium::Sheet(Paper::A4) => (Length(210_000), Length(297_000)),
            Medium::Roll => (self.label_width, self.label_height),
        }
    }

    pub fn cells_per_page(&self) -> usize {
        (self.columns * self.rows) as usize
    }

    /// The cell of the label number `index`, from 0: row by row, page by page.
    pub fn cell(&self, index: usize) -> Cell {
        let on_page = index % self.cells_per_page();
        let column = (on_page % self.columns as usize) as i64;
        let row = (on_page / self.columns as usize) as i64;
        Cell {
            page: index / self.cells_per_page(),
            x: Length(self.left.0 + column * self.pitch_x.0),
            y: Length(self.top.0 + row * self.pitch_y.0),
        }
    }

    /// What the stock is, in words: for lists and packing slips.
    pub fn describe(&self) -> String {
        let (width, height) = (self.label_width.to_mm(), self.label_height.to_mm());
        match self.medium {
            Medium::Roll => format!("roll of labels {width} x {height} mm"),
            Medium::Sheet(paper) => {
                let paper = if paper == Paper::Letter { "Letter" } else { "A4" };
                format!(
                    "{paper} sheet, {} x {} labels of {width} x {height} mm",
                    self.columns, self.rows
                )
            }
        }
    }

    /// Refuses a stock whose labels are too small for what goes on them.
    ///
    /// # Errors
    ///
    /// A fault that names the smallest stock that fits.
    pub fn check_size(&self) -> Result<(), Fault> {
        let (width, height) = SMALLEST;
        if self.label_width >= width && self.label_height >= height {
            return Ok(());
        }
        let smallest = builtin_names()
            .into_iter()
            .filter_map(builtin)
            .filter(|stock| stock.label_width >= width && stock.label_height >= height)
            .min_by_key(|stock| stock.label_width.0 * stock.label_height.0)
            .map_or_else(String::new, |stock| {
                format!("; the smallest that fits is {}", stock.name)
            });
        Err(Fault::new(
            format!(
                "the labels of {} are {} x {} mm, too small for a card label",
                self.name,
                self.label_width.to_mm(),
                self.label_height.to_mm()
            ),
            format!("a label needs {} x {} mm{smallest}", width.to_mm(), height.to_mm()),
        ))
    }
}

/// Names of the stocks built in.
pub fn builtin_names() -> Vec<&'static str> {
    BUILTIN.iter().map(|(name, _)| *name).collect()
}

/// The stock called `name`.
pub fn builtin(name: &str) -> Option<Stock> {
    let (name, text) = BUILTIN.iter().find(|(known, _)| *known == name)?;
    let source = Source::new(format!("templates/stock/{name}.toml"), *text);
    read_stock(&source).ok()
}

/// The stock used for `paper` where nobody asks for another.
pub fn default_for(paper: Paper) -> &'static str {
    match paper {
        Paper::Letter => "letter-2x5",
        Paper::A4 => "a4-2x7",
    }
}

/// Reads one stock.
///
/// # Errors
///
/// Every fault of the file; cells that overlap or leave the page are faults.
pub fn read_stock(source: &Arc<Source>) -> Result<Stock, Vec<Fault>> {
    read_file(source, stock)
}

fn stock(top: &Fields) -> Option<Stock> {
    top.text("source");
    let name = top.require("name", "\"letter-2x5\"", top.text_up_to("name", 60));
    let medium = top.require(
        "medium",
        "\"letter\"",
        top.choice(
            "medium",
            &[
                ("letter", Medium::Sheet(Paper::Letter)),
                ("a4", Medium::Sheet(Paper::A4)),
                ("roll", Medium::Roll),
            ],
        ),
    );
    let count = |key| top.number(key, 1..=40).map_or(1, |number| number.value as u32);
    let (columns, rows) = (count("columns"), count("rows"));
    let width = length(top, "label_width", 10_000..=300_000);
    let width = top.require("label_width", "101.6", width);
    let height = length(top, "label_height", 5_000..=300_000);
    let height = top.require("label_height", "50.8", height);
    let pitch_x = length(top, "pitch_x", 10_000..=300_000);
    let pitch_y = length(top, "pitch_y", 5_000..=300_000);
    let left = length(top, "left", 0..=100_000);
    let upper = length(top, "top", 0..=100_000);
    let inset = length(top, "inset", 500..=10_000);
    let (width, height) = (width?, height?);
    let or = |length: Option<Found<Length>>, default: Length| {
        length.map_or(default, |length| length.value)
    };
    let stock = Stock {
        name: name?.value,
        medium: medium?.value,
        columns,
        rows,
        pitch_x: or(pitch_x, width.value),
        pitch_y: or(pitch_y, height.value),
        left: or(left, Length(0)),
        top: or(upper, Length(0)),
        inset: or(inset, Length(1_500)),
        label_width: width.value,
        label_height: height.value,
    };
    for (what, help) in geometry_faults(&stock) {
        top.fault(Fault::new(what, help).at(
            top.source,
            width.span.clone(),
            "label_width",
        ));
    }
    Some(stock)
}

fn length(
    fields: &Fields,
    key: &str,
    range: std::ops::RangeInclusive<i64>,
) -> Option<Found<Length>> {
    fields.thousandths(key, range).map(|found| found.map(Length))
}

fn geometry_faults(stock: &Stock) -> Vec<(String, &'static str)> {
    let mut faults = Vec::new();
    let (page_width, page_height) = stock.page_size();
    let right = stock.left.0
        + (i64::from(stock.columns) - 1) * stock.pitch_x.0
        + stock.label_width.0;
    let bottom = stock.top.0
        + (i64::from(stock.rows) - 1) * stock.pitch_y.0
        + stock.label_height.0;
    if right > page_width.0 || bottom > page_height.0 {
        faults.push((
            format!(
                "the labels reach to {} x {} mm on a page of {} x {} mm",
                Length(right).to_mm(),
                Length(bottom).to_mm(),
                page_width.to_mm(),
                page_height.to_mm()
            ),
            "check left, top, pitch, columns and rows; lengths are in millimetres",
        ));
    }
    if stock.columns > 1 && stock.pitch_x < stock.label_width
        || stock.rows > 1 && stock.pitch_y < stock.label_height
    {
        faults.push((
            "the pitch is smaller than the label, so labels would overlap".to_owned(),
            "the pitch counts from one label's edge to the same edge of the next",
        ));
    }
    if stock.medium == Medium::Roll && stock.cells_per_page() != 1 {
        faults.push((
            "a roll has one label to a page".to_owned(),
            "leave out columns and rows",
        ));
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Geometries of Debian's `glabels-data` 3.4.1: left margins, pitches and
    /// label add up to the width of the paper. In that data three layouts agree
    /// to 0.1 mm; Letter 2 x 5 is 0.3 mm over and A4 3 x 7 is 1.0 mm over, as its
    /// makers' tolerances allow.
    #[test]
    fn builtin_sheets_add_up_to_the_width_of_their_paper() {
        for name in builtin_names() {
            let stock = builtin(name).unwrap_or_else(|| panic!("{name} cannot be read"));
            assert_eq!(stock.name, name);
            if stock.medium == Medium::Roll {
                continue;
            }
            let used = 2 * stock.left.0
                + (i64::from(stock.columns) - 1) * stock.pitch_x.0
                + stock.label_width.0;
            let (width, _) = stock.page_size();
            let slack = match name {
                "a4-3x7" => 1_050,
                "letter-2x5" => 350,
                _ => 150,
            };
            assert!((used - width.0).abs() <= slack, "{name}: {used} of {}", width.0);
        }
    }

    #[test]
    fn every_builtin_stock_holds_a_card_label() {
        for stock in builtin_names().into_iter().filter_map(builtin) {
            assert_eq!(stock.check_size(), Ok(()));
        }
    }

    #[test]
    fn a_label_that_is_too_small_names_the_smallest_that_fits() {
        let mut stock = builtin("letter-3x10").unwrap();
        stock.label_height = Length(12_700);
        let fault = stock.check_size().unwrap_err();
        assert!(fault.help.contains("letter-4x10"), "{}", fault.help);
    }
}
