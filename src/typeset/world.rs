//! What the typesetter can see: templates, fonts and the data of one order.

use std::sync::Arc;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

use super::Template;
use crate::fault::Fault;
use crate::proof::FontBytes;

/// Templates built in: path and text.
const TEMPLATES: &[(&str, &str)] = &[
    ("/theme.typ", include_str!("../../templates/theme.typ")),
    ("/parts.typ", include_str!("../../templates/parts.typ")),
    ("/timeline.typ", include_str!("../../templates/timeline.typ")),
    ("/paper.typ", include_str!("../../templates/paper.typ")),
    ("/sheet.typ", include_str!("../../templates/sheet.typ")),
    ("/fluids.typ", include_str!("../../templates/fluids.typ")),
    ("/checklist.typ", include_str!("../../templates/checklist.typ")),
    ("/card.typ", include_str!("../../templates/card.typ")),
    ("/feet.typ", include_str!("../../templates/feet.typ")),
    ("/labels.typ", include_str!("../../templates/labels.typ")),
    ("/slip.typ", include_str!("../../templates/slip.typ")),
    ("/cover.typ", include_str!("../../templates/cover.typ")),
    ("/ruler.typ", include_str!("../../templates/ruler.typ")),
];

const FONTS: &[&[u8]] = &[
    include_bytes!("../../fonts/AtkinsonHyperlegibleNext-Regular.ttf"),
    include_bytes!("../../fonts/AtkinsonHyperlegibleNext-Bold.ttf"),
    include_bytes!("../../fonts/AtkinsonHyperlegibleMono-Bold.ttf"),
];

const DATA: &str = "/data.json";
const LOGO: &str = "/logo.svg";
const MODULES: &str = "/modules.bin";
/// Names of the families beyond the built-in ones.
const FAMILIES: &str = "/families.json";

impl Template {
    fn path(self) -> &'static str {
        match self {
            Self::Paper => "/paper.typ",
            Self::Labels => "/labels.typ",
            Self::Feet => "/feet.typ",
            Self::Cover => "/cover.typ",
            Self::Slip => "/slip.typ",
            Self::Ruler => "/ruler.typ",
        }
    }
}

/// Templates and fonts, made ready once and shared by all orders of a thread.
///
/// The paths are the same for every order: the typesetter numbers each new path
/// with 16 bits for as long as the program runs.
#[derive(Clone)]
pub struct Press {
    shared: Arc<Shared>,
}

struct Shared {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
    /// Names of the families that text falls back on, after the main one, as
    /// JSON.
    more_families: Bytes,
    families: FileId,
    sources: Vec<(FileId, Source)>,
    data: FileId,
    logo: FileId,
    modules: FileId,
}

impl Press {
    /// Makes templates and fonts ready; `more_fonts` are font files for names
    /// in other scripts.
    ///
    /// # Errors
    ///
    /// A fault for a file that holds no font.
    pub fn new(more_fonts: Vec<(String, Vec<u8>)>) -> Result<Self, Vec<Fault>> {
        let mut fonts: Vec<Font> =
            FONTS.iter().flat_map(|bytes| Font::iter(Bytes::new(*bytes))).collect();
        let mut more_families: Vec<String> = Vec::new();
        let mut faults = Vec::new();
        for (name, bytes) in more_fonts {
            let found: Vec<Font> = Font::iter(Bytes::new(bytes)).collect();
            if found.is_empty() {
                faults.push(Fault::new(
                    format!("{name} is not a font"),
                    "give a folder of OpenType or TrueType files",
                ));
            }
            for font in found {
                let family = font.info().family.as_str().to_owned();
                if !more_families.contains(&family) {
                    more_families.push(family);
                }
                fonts.push(font);
            }
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let sources = TEMPLATES
            .iter()
            .map(|(path, text)| {
                let id = file_id(path);
                (id, Source::new(id, (*text).to_owned()))
            })
            .collect();
        Ok(Self {
            shared: Arc::new(Shared {
                library: LazyHash::new(Library::default()),
                book: LazyHash::new(FontBook::from_fonts(&fonts)),
                fonts,
                more_families: Bytes::new(
                    serde_json::to_vec(&more_families).unwrap_or_default(),
                ),
                families: file_id(FAMILIES),
                sources,
                data: file_id(DATA),
                logo: file_id(LOGO),
                modules: file_id(MODULES),
            }),
        })
    }

    /// The first character of `text` that no font has.
    pub fn missing_glyph(&self, text: &str) -> Option<char> {
        text.chars().find(|c| {
            !c.is_whitespace()
                && !self
                    .shared
                    .fonts
                    .iter()
                    // The monospaced face is for codes and never for names.
                    .filter(|font| !font.info().family.as_str().contains("Mono"))
                    .any(|font| font.info().coverage.contains(u32::from(*c)))
        })
    }

    /// The files of its fonts, each with the number of a font in it.
    pub fn font_files(&self) -> impl Iterator<Item = (FontBytes, u32)> {
        let fonts = self.shared.fonts.iter();
        fonts.map(|font| (Arc::new(font.data().clone()) as FontBytes, font.index()))
    }

    pub(super) fn job(
        &self,
        template: Template,
        json: Vec<u8>,
        image: Option<&[u8]>,
    ) -> Job {
        Job {
            shared: self.shared.clone(),
            main: file_id(template.path()),
            data: Bytes::new(json),
            image: image.map(|image| Bytes::new(image.to_vec())),
        }
    }
}

/// One document.
pub(super) struct Job {
    shared: Arc<Shared>,
    main: FileId,
    data: Bytes,
    image: Option<Bytes>,
}

impl World for Job {
    fn library(&self) -> &LazyHash<Library> {
        &self.shared.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &self.shared.book
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        self.shared
            .sources
            .iter()
            .find(|(known, _)| *known == id)
            .map(|(_, source)| source.clone())
            .ok_or_else(|| not_found(id))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        if id == self.shared.data {
            return Ok(self.data.clone());
        }
        if id == self.shared.families {
            return Ok(self.shared.more_families.clone());
        }
        let known = id == self.shared.logo || id == self.shared.modules;
        let image = self.image.clone().filter(|_| known);
        image.ok_or_else(|| not_found(id))
    }

    fn font(&self, index: usize) -> Option<Font> {
        self.shared.fonts.get(index).cloned()
    }

    /// No date: the same order gives the same bytes on any day.
    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}

fn not_found(id: FileId) -> FileError {
    FileError::NotFound(id.vpath().get_with_slash().into())
}

fn file_id(path: &str) -> FileId {
    let path = VirtualPath::new(path).expect("a path of ours is sound");
    RootedPath::new(VirtualRoot::Project, path).intern()
}
