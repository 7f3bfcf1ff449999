//! Typesets document data: JSON and templates in, PDF bytes out.
//!
//! Takes plain data and lays it out with the templates built into the program.
//! Opens no file, asks for no date, and decides nothing: what is printed is
//! what the data says.

mod laid;
mod viewer;
mod world;

use std::sync::atomic::{AtomicUsize, Ordering};

use serde::Serialize;
use typst::diag::{Severity, SourceDiagnostic};
use typst::foundations::{Datetime, Smart};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

pub use laid::{Laid, Part};
pub use viewer::Sides;
pub use world::Press;

use crate::fault::Fault;

/// The day on which this version of the sheets was released. PDF/A-3 wants a
/// date on its attachment, and a clock would make the same order give other
/// bytes.
const RELEASED: (i32, u8, u8) = (2026, 11, 25);

/// Stack in bytes of a thread that makes or proves documents: they nest deeper than a
/// thread's usual 2 MB are sure to hold.
pub const STACK: usize = 32 * 1024 * 1024;

/// A document template.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Template {
    /// The paper of one kit, without the feet of its pages.
    Paper,
    /// The feet of the pages of a kit or of a run sheet.
    Feet,
    Labels,
    /// The run sheet, without the feet of its pages.
    Cover,
    /// One packing slip, without the foot of its page.
    Slip,
    Ruler,
}

/// What a PDF says about itself, beside its pages.
#[derive(Debug, Clone)]
pub struct About {
    /// Stable identity; the same content has the same.
    pub identity: String,
    pub title: String,
    pub sides: Sides,
}

/// Lays out `data` with `template`. `image` is what the paper has for a logo, as SVG,
/// or the labels for the modules of their QR codes.
///
/// # Errors
///
/// A fault for everything the typesetter complains of, warnings included: a
/// text that does not fit, a glyph that no font has.
pub fn lay_out(
    press: &Press,
    template: Template,
    data: &impl Serialize,
    image: Option<&[u8]>,
) -> Result<Laid, Vec<Fault>> {
    let json = serde_json::to_vec(data).map_err(|error| {
        vec![Fault::new(
            format!("the data of a document cannot be written: {error}"),
            "this is a mistake in the program; please report it",
        )]
    })?;
    // Feet are small and go with the pages they are for.
    let _forget = (template != Template::Feet).then_some(Forget);
    let compiled = typst::compile::<PagedDocument>(&press.job(template, json, image));
    if let Some(warning) = compiled.warnings.first() {
        return Err(vec![complaint(warning)]);
    }
    let document = compiled
        .output
        .map_err(|errors| errors.iter().map(complaint).collect::<Vec<_>>())?;
    Ok(Laid::new(&document))
}

impl Laid {
    /// The pages as a PDF.
    ///
    /// # Errors
    ///
    /// A fault for everything that PDF/UA-1 and PDF/A-3a forbid.
    pub fn export(mut self, about: &About) -> Result<Vec<u8>, Vec<Fault>> {
        let (year, month, day) = RELEASED;
        self.info.title = Some(about.title.as_str().into());
        self.info.date = Smart::Custom(Datetime::from_ymd(year, month, day));
        let document = PagedDocument::new(self.pages.into(), self.info);
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
        viewer::with_preferences(bytes, about.sides)
    }
}

/// Lays out `data` and makes it a PDF.
///
/// # Errors
///
/// As [`lay_out`] and [`Laid::export`].
pub fn typeset(
    press: &Press,
    template: Template,
    data: &impl Serialize,
    image: Option<&[u8]>,
    about: &About,
) -> Result<Vec<u8>, Vec<Fault>> {
    lay_out(press, template, data, image)?.export(about)
}

/// For how many layouts at most what was laid out is remembered after it was last needed.
/// A kit takes two of them, of its paper and its slip: it shares most of its words
/// with the kits before it, and often a time.
const REMEMBERED: usize = 16;

/// After every so many layouts what was not needed meanwhile is let go. All that is
/// remembered is gone through for it: after each layout, that took a tenth of a run.
const FORGETS: usize = 8;

/// Evicts memoised results when dropped, however a layout ends.
struct Forget;

impl Drop for Forget {
    fn drop(&mut self) {
        static LAYOUTS: AtomicUsize = AtomicUsize::new(1);
        if LAYOUTS.fetch_add(1, Ordering::Relaxed).is_multiple_of(FORGETS) {
            typst::comemo::evict(REMEMBERED / FORGETS - 1);
        }
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
