//! Typesets document data: JSON and templates in, PDF bytes out.
//!
//! Takes plain data and lays it out with the templates built into the program.
//! Opens no file, asks for no date, and decides nothing: what is printed is
//! what the data says.

mod viewer;
mod world;

use serde::Serialize;
use typst::diag::{Severity, SourceDiagnostic};
use typst::foundations::{Datetime, Smart};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

pub use viewer::Sides;
pub use world::Press;

use crate::fault::Fault;

/// The day on which this version of the sheets was released. PDF/A-3 wants a
/// date on its attachment, and a clock would make the same order give other
/// bytes.
const RELEASED: (i32, u8, u8) = (2026, 11, 25);

/// A document template.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Template {
    Paper,
    Labels,
    PackingSlip,
    Ruler,
}

/// What a PDF says about itself, beside its pages.
#[derive(Debug, Clone)]
pub struct About<'a> {
    /// Stable identity; the same order has the same.
    pub identity: String,
    pub title: String,
    pub language: &'a str,
    pub sides: Sides,
    /// The order file that travels in the PDF.
    pub order: Option<&'a str>,
    /// The logo, as SVG.
    pub logo: Option<&'a [u8]>,
}

/// A finished PDF and the page each named part begins on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finished {
    pub bytes: Vec<u8>,
    pub pages: usize,
    /// Part names in order with their first pages, counted from 1.
    pub parts: Vec<(String, usize)>,
}

impl Finished {
    /// Pages from the start of `part` to the start of `next`, or to the end.
    pub fn pages_between(&self, part: &str, next: Option<&str>) -> usize {
        let start = |name: &str| self.parts.iter().find(|p| p.0 == name).map(|p| p.1);
        let end = next.and_then(start).unwrap_or(self.pages + 1);
        end.saturating_sub(start(part).unwrap_or(end))
    }
}

/// Typesets `data` with `template`.
///
/// # Errors
///
/// A fault for everything the typesetter complains of, warnings included: a
/// text that does not fit, a glyph that no font has.
pub fn typeset(
    press: &Press,
    template: Template,
    data: &impl Serialize,
    about: &About,
) -> Result<Finished, Vec<Fault>> {
    let json = serde_json::to_vec(data).map_err(|error| {
        vec![Fault::new(
            format!("the data of a document cannot be written: {error}"),
            "this is a mistake in the program; please report it",
        )]
    })?;
    let job = press.job(template, json, about);
    // Drops what the typesetter remembers of this order, however it ends.
    let _forget = Forget;
    let compiled = typst::compile::<PagedDocument>(&job);
    if let Some(warning) = compiled.warnings.first() {
        return Err(vec![complaint(warning)]);
    }
    let mut document = compiled
        .output
        .map_err(|errors| errors.iter().map(complaint).collect::<Vec<_>>())?;
    let (year, month, day) = RELEASED;
    let info = document.info_mut();
    info.title = Some(about.title.as_str().into());
    info.date = Smart::Custom(Datetime::from_ymd(year, month, day));
    let parts = world::parts(&document);
    let pages = document.pages().len();
    let standards = PdfStandards::new(&[PdfStandard::Ua_1, PdfStandard::A_3a])
        .map_err(|error| vec![internal(error.message())])?;
    let options = PdfOptions {
        ident: Smart::Custom(about.identity.clone()),
        creator: Smart::Custom(Some(
            concat!("kitwright ", env!("CARGO_PKG_VERSION")).into(),
        )),
        standards,
        ..PdfOptions::default()
    };
    let bytes = typst_pdf::pdf(&document, &options)
        .map_err(|errors| errors.iter().map(complaint).collect::<Vec<_>>())?;
    let bytes = viewer::with_preferences(bytes, about.sides)?;
    Ok(Finished { bytes, pages, parts })
}

/// Evicts memoised results when dropped, keeping those of the last few documents:
/// the next kit shares with the one before it.
struct Forget;

impl Drop for Forget {
    fn drop(&mut self) {
        comemo::evict(4);
    }
}

/// A complaint of the typesetter as a fault.
fn complaint(diagnostic: &SourceDiagnostic) -> Fault {
    let message = diagnostic.message.as_str();
    let message = message.strip_prefix("panicked with: ").unwrap_or(message);
    let message = message.trim_matches('"');
    // A template panics with "what is wrong|what would be right".
    if let Some((what, help)) = message.split_once('|') {
        return Fault::new(what, help);
    }
    let hints: Vec<&str> = diagnostic.hints.iter().map(|hint| hint.v.as_str()).collect();
    let kind = match diagnostic.severity {
        Severity::Error => "cannot typeset",
        Severity::Warning => "will not typeset with a warning",
    };
    let help = if hints.is_empty() {
        "this is a mistake in a template or in a logo; please report it".to_owned()
    } else {
        hints.join("; ")
    };
    Fault::new(format!("{kind}: {message}"), help)
}

fn internal(message: &str) -> Fault {
    Fault::new(message, "this is a mistake in the program; please report it")
}
