//! Reads the pages of a PDF, if it is built as ours are.
//!
//! A PDF can hold far more than paper needs: programs, forms, notes, layers,
//! fonts that are drawings, images that unpack to gigabytes. Each of these could
//! make what is read differ from what is printed, or keep the reader busy for
//! ever. None of them is in a file of ours, so whatever is not known to be is
//! refused: keys are allowed by name, and sizes and counts are bounded before
//! anything is unpacked or drawn.

mod gate;

use std::borrow::Cow;
use std::collections::{HashMap, HashSet};
use std::rc::Rc;
use std::sync::Arc;

use hayro::kurbo::{Affine, Rect};
use sha2::{Digest, Sha256};

use super::code::Grid;
use super::draw::{self, Budget, Color, Drawable, Form, Resources};
use super::faces::Faces;
use super::file::{Dict, File, Object, Value};
use super::font::{Font, Fonts};
use super::page::{MOST_OF_ALL, Page};
use super::{Difference, code};
use gate::{
    DESCENDANT, FONT, FORM, Gate, IMAGE, PAGE, RESOURCES, SOFT_MASK, STATE, is_of_logos,
};

/// The most bytes that any one stream may unpack to.
const MOST_OF_ONE: usize = 16 * 1024 * 1024;

/// The most bytes that all streams of a file may unpack to: for each byte of it,
/// beside, and in all. Ours come to one for each byte, and to eight in a large run.
const MOST_A_BYTE: usize = 16;
const MOST_BESIDE: usize = 4 * 1024 * 1024;
const MOST_UNPACKED: usize = 256 * 1024 * 1024;

/// How many bytes one byte can unpack to (RFC 1951: 258 bytes in two bits).
const MOST_DEFLATED: usize = 1032;

/// The most operators of one page, and of all; a full page has 3,000.
const MOST_OPERATORS_A_PAGE: usize = 200_000;
const MOST_OPERATORS: usize = 10_000_000;

/// The most pixels to a side of an image: a photograph in a logo can have as many
/// (ITU-T T.81, B.2.2).
const MOST_PIXELS: usize = 65_535;

/// How deep pages, and drawn objects, may lie in each other.
const DEEPEST: usize = 8;

/// SHA-256 of the profiles that the typesetter gives colours: of grey, whose one
/// part is 0 for black, and sRGB. Another could make black of any figure.
const PROFILES: &[(&str, usize)] = &[
    ("00c0f94e09127520a17dc0e1d9264b5702081d96dbdb1549ee88e3631ce42a9d", 1),
    ("c56e1685d888f5edb92fe07f2750f387f8fe8e91b32ff8fb0b56bfbbb9458353", 3),
];

/// Reads the pages of a file; `may_have_logo` says whether they can bear drawings
/// that are not ours. `bytes` are those of the file. Its fonts are held against
/// `faces`, if there are some.
///
/// # Errors
///
/// Everything that keeps the pages from being read, with its page.
pub(super) fn read(
    file: &File,
    bytes: &[u8],
    may_have_logo: bool,
    faces: Option<&Arc<Faces>>,
) -> Result<Vec<Page>, Vec<Difference>> {
    let whole = |why| vec![Difference::new(0, why)];
    let mut gate = Gate::new(file, may_have_logo);
    let pages = gate.pages();
    let pages = pages.map_err(|why| vec![Difference::new(gate.twice, why)])?;
    let pdf = code::open(bytes).map_err(whole)?;
    let mut reader = Reader {
        gate,
        faces,
        fonts: Fonts::of(pdf.xref()),
        left: MOST_UNPACKED.min(file.size() * MOST_A_BYTE + MOST_BESIDE),
        left_of_fonts: MOST_UNPACKED,
        loaded_fonts: HashMap::new(),
        loaded_objects: HashMap::new(),
        loading: HashSet::new(),
        loaded_resources: HashMap::new(),
        profiles: HashMap::new(),
    };
    let (mut read, mut found) = (Vec::new(), Vec::new());
    let mut budget = Budget { on_the_page: 0, in_all: MOST_OPERATORS };
    let mut left = MOST_OF_ALL;
    for (number, (object, page)) in (1..).zip(pages) {
        budget.on_the_page = MOST_OPERATORS_A_PAGE;
        match reader.page(&page, &mut budget) {
            Ok(page) if page.is_full() || page.things() > left => {
                found.push(Difference::new(number, "too much is drawn on the page"));
                break;
            }
            Ok(page) => {
                left -= page.things();
                read.push(Page { object, ..page });
            }
            Err(why) => found.push(Difference::new(number, why)),
        }
    }
    if found.is_empty() { Ok(read) } else { Err(found) }
}

/// Why something is refused.
type Refused = String;

/// Loads what pages are drawn with, each thing once.
struct Reader<'f, 'a> {
    gate: Gate<'f, 'a>,
    /// The program's own fonts, if what is read is held against them.
    faces: Option<&'f Arc<Faces>>,
    fonts: Fonts<'f>,
    /// Bytes that may still be unpacked.
    left: usize,
    /// Bytes that fonts may still come to, at worst.
    left_of_fonts: usize,
    loaded_fonts: HashMap<usize, Rc<Font<'f>>>,
    loaded_objects: HashMap<usize, Rc<Drawable<'f>>>,
    /// Forms that are being loaded.
    loading: HashSet<usize>,
    loaded_resources: HashMap<usize, Rc<Resources<'f>>>,
    /// How many parts the colours of a profile have.
    profiles: HashMap<usize, usize>,
}

impl<'f, 'a> Reader<'f, 'a> {
    fn page(&mut self, page: &Dict<'a>, budget: &mut Budget) -> Result<Page, Refused> {
        if !page.is("Type", "Page") {
            return Err("the page is of another type".to_owned());
        }
        self.gate.keys(page, &PAGE, "the page")?;
        // Readers take a page without a width or a height for one of another size.
        let media = rectangle(page.get("MediaBox"))
            .filter(|media| media.width() >= 1.0 && media.height() >= 1.0)
            .ok_or("the page has no size")?;
        let resources = self.resources(page, 0)?;
        let parts = match page.get("Contents") {
            Some(part @ Value::Ref(_)) => std::slice::from_ref(part),
            Some(Value::Array(parts)) => parts,
            _ => return Err("the page has no /Contents".to_owned()),
        };
        let mut all = Cow::Borrowed(&b""[..]);
        for part in parts {
            let Value::Ref(number) = part else {
                return Err("a part of the page is no reference".to_owned());
            };
            let object = self.gate.file.object(*number)?;
            let bytes = self.unpacked(&object, "its drawing")?;
            if all.is_empty() {
                all = bytes;
            } else {
                // No operand of one part goes on in the next.
                all.to_mut().push(b'\n');
                all.to_mut().extend_from_slice(&bytes);
            }
        }
        draw::page(media, &all, &resources, budget)
            .map_err(|why| format!("its drawing {why}"))
    }

    /// The bytes of a stream.
    fn unpacked(
        &mut self,
        object: &Object<'a>,
        what: &str,
    ) -> Result<Cow<'a, [u8]>, Refused> {
        let most = self.left.min(MOST_OF_ONE);
        let bytes = object.unpacked(most).map_err(|why| format!("{what} {why}"))?;
        self.left -= bytes.len();
        Ok(bytes)
    }

    /// That a stream, which another unpacks, cannot come to too much.
    fn unpacks(&mut self, value: Option<&Value<'a>>, what: &str) -> Result<(), Refused> {
        let Some(Value::Ref(number)) = value else {
            return Err(format!("{what} is not there"));
        };
        let object = self.gate.file.object(*number)?;
        let packed = object.data.map_or(0, <[u8]>::len);
        // As long as even the worst is not much, it need not be tried.
        let worst = packed * MOST_DEFLATED;
        let is_known = object.dict().is_some_and(|dict| {
            dict.get("Filter").is_none() || dict.is("Filter", "FlateDecode")
        });
        let size = if is_known && worst <= self.left_of_fonts {
            worst
        } else {
            let most = self.left_of_fonts.min(MOST_OF_ONE);
            object.unpacked(most).map_err(|why| format!("{what} {why}"))?.len()
        };
        self.left_of_fonts -= size;
        Ok(())
    }

    /// What the names in `owner`'s drawing stand for.
    fn resources(
        &mut self,
        owner: &Dict<'a>,
        depth: usize,
    ) -> Result<Rc<Resources<'f>>, Refused> {
        let number = match owner.get("Resources") {
            Some(Value::Ref(number)) => Some(*number),
            _ => None,
        };
        if let Some(loaded) = number.and_then(|number| self.loaded_resources.get(&number))
        {
            return Ok(loaded.clone());
        }
        let file = self.gate.file;
        let dict = file.dict(owner, "Resources")?.unwrap_or_default();
        let loaded = Rc::new(self.load_resources(&dict, depth)?);
        if let Some(number) = number {
            self.loaded_resources.insert(number, loaded.clone());
        }
        Ok(loaded)
    }

    fn load_resources(
        &mut self,
        dict: &Dict<'a>,
        depth: usize,
    ) -> Result<Resources<'f>, Refused> {
        let file = self.gate.file;
        self.gate.keys(dict, &RESOURCES, "its resources")?;
        let named = |key: &str| file.dict(dict, key).map(Option::unwrap_or_default);
        let mut resources = Resources::default();
        for (name, font) in named("Font")?.entries() {
            resources.fonts.push((name.to_vec(), self.font(font)?));
        }
        for (name, color) in named("ColorSpace")?.entries() {
            resources.colors.push((name.to_vec(), self.color(color)?));
        }
        for (name, state) in named("ExtGState")?.entries() {
            resources.states.push((name.to_vec(), self.is_opaque(state, depth)?));
        }
        for (name, object) in named("XObject")?.entries() {
            resources.objects.push((name.to_vec(), self.drawable(object, depth)?));
        }
        for (_, pattern) in named("Pattern")?.entries() {
            self.gate.pattern(pattern)?;
        }
        for (_, shading) in named("Shading")?.entries() {
            self.gate.shading(shading)?;
        }
        Ok(resources)
    }

    /// A font: composite, embedded, with the characters it stands for.
    fn font(&mut self, value: &Value<'a>) -> Result<Rc<Font<'f>>, Refused> {
        let Value::Ref(number) = value else {
            return Err("a font is no reference".to_owned());
        };
        if let Some(font) = self.loaded_fonts.get(number) {
            return Ok(font.clone());
        }
        let file = self.gate.file;
        let object = file.object(*number)?;
        let font = object.dict().ok_or("a font is no dictionary")?;
        let name = match font.get("BaseFont") {
            Some(Value::Name(name)) => String::from_utf8_lossy(name).into_owned(),
            _ => "of the page".to_owned(),
        };
        let base: String = name.chars().take(80).collect();
        let name = format!("the font {}", base.escape_debug());
        let not_embedded = || format!("{name} is not embedded as ours are");
        if !font.is("Subtype", "Type0") || !font.is("Encoding", "Identity-H") {
            return Err(not_embedded());
        }
        self.gate.keys(font, &FONT, &name)?;
        self.unpacks(font.get("ToUnicode"), &format!("the /ToUnicode of {name}"))?;
        let Some(Value::Array(fonts)) = font.get("DescendantFonts") else {
            return Err(not_embedded());
        };
        let [font] = &fonts[..] else { return Err(not_embedded()) };
        let Value::Dict(font) = file.resolve(font)? else { return Err(not_embedded()) };
        self.gate.keys(&font, &DESCENDANT, &name)?;
        let known = ["CIDFontType0", "CIDFontType2"];
        if !known.iter().any(|known| font.is("Subtype", known)) {
            return Err(not_embedded());
        }
        if font.get("CIDToGIDMap").is_some() && !font.is("CIDToGIDMap", "Identity") {
            return Err(format!("{name} has a map of its own for its glyphs"));
        }
        self.gate.widths(&font).map_err(|why| format!("{name} {why}"))?;
        let descriptor = file.dict(&font, "FontDescriptor")?.unwrap_or_default();
        let program = descriptor.get("FontFile2").or(descriptor.get("FontFile3"));
        if program.is_none() {
            return Err(not_embedded());
        }
        self.unpacks(program, &name)?;
        let font = self.fonts.load(*number, &base, self.faces);
        let font = Rc::new(font.ok_or_else(|| format!("{name} cannot be read"))?);
        self.loaded_fonts.insert(*number, font.clone());
        Ok(font)
    }

    /// A kind of colour: of the device, or with a profile of ours.
    fn color(&mut self, value: &Value<'a>) -> Result<Color, Refused> {
        let other = || Err("a colour is of a kind that ours are not".to_owned());
        match self.gate.file.resolve(value)? {
            Value::Name(name) => match &*name {
                b"DeviceGray" => Ok(Color::Light(1)),
                b"DeviceRGB" => Ok(Color::Light(3)),
                _ => other(),
            },
            Value::Array(parts) => match &parts[..] {
                [Value::Name(name), Value::Ref(profile)] if **name == *b"ICCBased" => {
                    self.profile(*profile).map(Color::Light)
                }
                _ => other(),
            },
            _ => other(),
        }
    }

    /// How many parts the colours of a profile have.
    fn profile(&mut self, number: usize) -> Result<usize, Refused> {
        if let Some(parts) = self.profiles.get(&number) {
            return Ok(*parts);
        }
        let object = self.gate.file.object(number)?;
        let bytes = self.unpacked(&object, "the profile of a colour")?;
        let digest: String =
            Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        let known = PROFILES.iter().find(|(known, _)| *known == digest);
        let (_, parts) = known.ok_or("a colour has a profile that ours have not")?;
        let says = object.dict().and_then(|dict| dict.get("N"));
        if says != Some(&Value::Number(*parts as f64)) {
            return Err(
                "a colour has another number of parts than its profile".to_owned()
            );
        }
        // From nothing to all of it, which is what it is where nothing is said.
        let whole = [0.0, 1.0].repeat(*parts).into_iter().map(Value::Number);
        let whole = Value::Array(whole.collect());
        if object.dict().and_then(|dict| dict.get("Range")).is_some_and(|it| *it != whole)
        {
            return Err("a colour has another range than its profile".to_owned());
        }
        self.profiles.insert(number, *parts);
        Ok(*parts)
    }

    /// Whether what is drawn in a graphics state is opaque; only a logo may be not.
    fn is_opaque(&mut self, value: &Value<'a>, depth: usize) -> Result<bool, Refused> {
        let Value::Dict(state) = self.gate.file.resolve(value)? else {
            return Err("a graphics state is no dictionary".to_owned());
        };
        self.gate.keys(&state, &STATE, "a graphics state")?;
        let is_plain = |(key, value): &(&[u8], &Value)| match (*key, value) {
            (b"Type", _) => true,
            (b"CA" | b"ca", Value::Number(alpha)) => *alpha == 1.0,
            (b"BM", Value::Name(mode)) => **mode == *b"Normal",
            (b"SMask", Value::Name(mask)) => **mask == *b"None",
            _ => false,
        };
        let Some((key, value)) = state.entries().find(|entry| !is_plain(entry)) else {
            return Ok(true);
        };
        if !self.gate.may_have_logo {
            let key = String::from_utf8_lossy(key);
            return Err(format!("it is drawn with /{key}, and not opaque"));
        }
        if let (b"SMask", value) = (key, value)
            && let Value::Dict(mask) = self.gate.file.resolve(value)?
        {
            self.gate.keys(&mask, &SOFT_MASK, "a mask")?;
            let form = mask.get("G").ok_or("a mask has no form")?;
            self.drawable(form, depth)?;
        }
        Ok(false)
    }

    /// An image or a form.
    fn drawable(
        &mut self,
        value: &Value<'a>,
        depth: usize,
    ) -> Result<Rc<Drawable<'f>>, Refused> {
        let Value::Ref(number) = value else {
            return Err("a drawn object is no reference".to_owned());
        };
        if let Some(loaded) = self.loaded_objects.get(number) {
            return Ok(loaded.clone());
        }
        if depth > DEEPEST || !self.loading.insert(*number) {
            return Err("forms are drawn in each other without end".to_owned());
        }
        let object = self.gate.file.object(*number)?;
        let dict = object.dict().ok_or("a drawn object is no stream")?;
        let loaded = if dict.is("Subtype", "Image") {
            Drawable::Image(self.image(&object, dict)?)
        } else if dict.is("Subtype", "Form") {
            Drawable::Form(self.form(&object, dict, depth)?)
        } else {
            return Err("a drawn object is neither image nor form".to_owned());
        };
        self.loading.remove(number);
        let loaded = Rc::new(loaded);
        self.loaded_objects.insert(*number, loaded.clone());
        Ok(loaded)
    }

    fn form(
        &mut self,
        object: &Object<'a>,
        dict: &Dict<'a>,
        depth: usize,
    ) -> Result<Form<'f>, Refused> {
        self.gate.keys(dict, &FORM, "a form")?;
        let matrix = match numbers(dict.get("Matrix")) {
            None if dict.get("Matrix").is_none() => Affine::IDENTITY,
            Some(numbers) => Affine::new(numbers),
            None => return Err("a form has no sound matrix".to_owned()),
        };
        Ok(Form {
            bytes: self.unpacked(object, "a form")?.into_owned(),
            matrix,
            bounds: rectangle(dict.get("BBox")).ok_or("a form has no bounds")?,
            resources: self.resources(dict, depth + 1)?,
            is_plain: dict.get("Group").is_none(),
        })
    }

    /// The modules of an image, or why it has none.
    fn image(
        &mut self,
        object: &Object<'a>,
        dict: &Dict<'a>,
    ) -> Result<Result<Grid, String>, Refused> {
        self.gate.keys(dict, &IMAGE, "an image")?;
        let number = |key: &str| match dict.get(key) {
            Some(Value::Number(number)) => *number as usize,
            _ => 0,
        };
        let (width, height) = (number("Width"), number("Height"));
        if [width, height].iter().any(|side| !(1..=MOST_PIXELS).contains(side)) {
            return Err("an image has a size that ours have not".to_owned());
        }
        let is_photograph = self.gate.may_have_logo && dict.is("Filter", "DCTDecode");
        let is_known = dict.get("Filter").is_none() || dict.is("Filter", "FlateDecode");
        if !is_known && !is_photograph {
            return Err("an image is packed in a way that kitwright does not".to_owned());
        }
        // A picture in a logo is never unpacked: it is no code.
        if let Err(why) = Grid::is_size_of_one(width, height) {
            return Ok(Err(why));
        }
        if let Some((key, _)) = dict.entries().find(|(key, _)| is_of_logos(key)) {
            return Ok(Err(format!("has /{}", String::from_utf8_lossy(key))));
        }
        if is_photograph {
            return Ok(Err("is a photograph".to_owned()));
        }
        let color = dict.get("ColorSpace").ok_or("an image has no colours")?;
        let Color::Light(parts) = self.color(color)? else {
            return Ok(Err("has other colours than ours".to_owned()));
        };
        if number("BitsPerComponent") != 8 {
            return Ok(Err("has other pixels than ours".to_owned()));
        }
        let bytes = self.unpacked(object, "an image")?;
        Ok(Grid::of_pixels(&bytes, parts, width))
    }
}

/// Six numbers, or four, or however many are wanted.
fn numbers<const N: usize>(value: Option<&Value>) -> Option<[f64; N]> {
    let Some(Value::Array(values)) = value else { return None };
    let mut numbers = [0.0; N];
    if values.len() != N {
        return None;
    }
    for (number, value) in numbers.iter_mut().zip(values) {
        let Value::Number(value) = value else { return None };
        *number = *value;
    }
    Some(numbers)
}

/// A rectangle that is given by two corners.
fn rectangle(value: Option<&Value>) -> Option<Rect> {
    let [x0, y0, x1, y1] = numbers(value)?;
    let rect = Rect::new(x0.min(x1), y0.min(y1), x0.max(x1), y0.max(y1));
    (rect.width() < 20_000.0 && rect.height() < 20_000.0).then_some(rect)
}
