//! Takes the bytes of a PDF apart: its objects, and nothing that they mean.
//!
//! Much stricter than ISO 32000 asks: every byte must belong to an object, a
//! table or a trailer, and each table must name each object at its place. A file
//! that is read here is read alike by every reader, and nothing in it can run in
//! circles or nest without end. What kitwright writes is like that; object
//! streams, filters but one, and encryption are not.

mod lexer;

use std::borrow::Cow;
use std::io::Read;

use flate2::read::ZlibDecoder;

use lexer::ENDS_WORD;
pub(super) use lexer::{Lexer, Token, text_of};

/// The most objects of a file; those of a hundred kits are far fewer.
const MOST_OBJECTS: usize = 1_000_000;

/// How deep arrays and dictionaries may lie in each other. Trees of a document are
/// made of references, so what lies within one object is flat.
const DEEPEST: usize = 16;

/// The most parts of a file, each with a table: the typesetter's, and the one that
/// has the print settings, with room for a few more.
const MOST_PARTS: usize = 8;

/// A value; a reference is the number of an object.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Value<'a> {
    Null,
    Bool(bool),
    Number(f64),
    Text(Cow<'a, [u8]>),
    Name(Cow<'a, [u8]>),
    Array(Vec<Self>),
    Dict(Dict<'a>),
    Ref(usize),
}

/// A dictionary; no key stands in it twice.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Dict<'a>(Vec<(Cow<'a, [u8]>, Value<'a>)>);

impl<'a> Dict<'a> {
    /// The value of `key` as it stands there.
    pub fn get(&self, key: &str) -> Option<&Value<'a>> {
        self.0.iter().find(|(name, _)| **name == *key.as_bytes()).map(|(_, value)| value)
    }

    /// Whether the value of `key` is the name `wanted`.
    pub fn is(&self, key: &str, wanted: &str) -> bool {
        matches!(self.get(key), Some(Value::Name(name)) if **name == *wanted.as_bytes())
    }

    /// A key that stands in it twice: readers differ about which they believe.
    fn twice(&self) -> Option<String> {
        let mut keys: Vec<&[u8]> = self.0.iter().map(|(key, _)| &**key).collect();
        keys.sort_unstable();
        let pair = keys.windows(2).find(|pair| pair[0] == pair[1])?;
        Some(String::from_utf8_lossy(pair[0]).into_owned())
    }

    /// The keys that are not known, as a message shows them.
    pub fn keys_but(
        &self,
        is_known: impl Fn(&[u8]) -> bool,
    ) -> impl Iterator<Item = String> {
        let keys = self.entries().map(|(key, _)| key);
        keys.filter(move |key| !is_known(key)).map(|key| {
            let key: String = String::from_utf8_lossy(key).chars().take(40).collect();
            key.escape_debug().to_string()
        })
    }

    pub fn entries(&self) -> impl Iterator<Item = (&[u8], &Value<'a>)> {
        self.0.iter().map(|(key, value)| (&**key, value))
    }
}

/// A numbered object, and the bytes of its stream, if it is one.
#[derive(Debug)]
pub(super) struct Object<'a> {
    pub value: Value<'a>,
    pub data: Option<&'a [u8]>,
}

/// Where an object's value begins and ends, and the bytes of its stream.
#[derive(Debug, Clone, Copy)]
struct Place<'a> {
    at: usize,
    end: usize,
    data: Option<&'a [u8]>,
}

/// A PDF taken apart.
#[derive(Debug)]
pub(super) struct File<'a> {
    bytes: &'a [u8],
    /// Of each object, by number.
    places: Vec<Option<Place<'a>>>,
    trailer: Dict<'a>,
}

impl<'a> File<'a> {
    /// Takes `bytes` apart.
    ///
    /// # Errors
    ///
    /// What is not as in a file that kitwright writes, and at which byte.
    pub fn open(bytes: &'a [u8]) -> Result<Self, String> {
        let mut lexer = Lexer::new(bytes);
        lexer.file().map_err(|what| {
            format!("this is no PDF as kitwright writes it: {what}, at byte {}", lexer.at)
        })
    }

    /// How many bytes it has.
    pub fn size(&self) -> usize {
        self.bytes.len()
    }

    /// One more than the highest number of an object.
    pub fn objects(&self) -> usize {
        self.places.len()
    }

    /// The object with this number; it is taken apart each time it is asked for.
    ///
    /// # Errors
    ///
    /// That it is not there, or what of it is not as it should be.
    pub fn object(&self, number: usize) -> Result<Object<'a>, String> {
        let place = self.places.get(number).copied().flatten();
        let place = place.ok_or_else(|| format!("there is no object {number}"))?;
        let mut lexer = Lexer { bytes: self.bytes, at: place.at };
        let value =
            lexer.value(0).map_err(|what| format!("the object {number}: {what}"))?;
        Ok(Object { value, data: place.data })
    }

    /// `value`, or the value of the object that it refers to.
    ///
    /// # Errors
    ///
    /// As [`File::object`]; that it refers to another reference.
    pub fn resolve(&self, value: &Value<'a>) -> Result<Value<'a>, String> {
        let Value::Ref(number) = value else { return Ok(value.clone()) };
        match self.object(*number)?.value {
            Value::Ref(_) => Err(format!("the object {number} is a reference")),
            value => Ok(value),
        }
    }

    /// The dictionary that is the value of `key`, or what that refers to.
    ///
    /// # Errors
    ///
    /// As [`File::resolve`]; that it is something else.
    pub fn dict(&self, dict: &Dict<'a>, key: &str) -> Result<Option<Dict<'a>>, String> {
        match dict.get(key).map(|value| self.resolve(value)).transpose()? {
            None => Ok(None),
            Some(Value::Dict(found)) => Ok(Some(found)),
            Some(_) => Err(format!("/{key} is no dictionary")),
        }
    }

    /// The list that is the value of `key`, or what that refers to, if it is one.
    ///
    /// # Errors
    ///
    /// As [`File::resolve`].
    pub fn list(
        &self,
        dict: &Dict<'a>,
        key: &str,
    ) -> Result<Option<Vec<Value<'a>>>, String> {
        match dict.get(key).map(|value| self.resolve(value)).transpose()? {
            Some(Value::Array(list)) => Ok(Some(list)),
            _ => Ok(None),
        }
    }

    /// What every other object can be reached from.
    ///
    /// # Errors
    ///
    /// As [`File::dict`]; that there is none.
    pub fn catalog(&self) -> Result<Dict<'a>, String> {
        self.dict(&self.trailer, "Root")?.ok_or_else(|| "there is no catalog".to_owned())
    }

    /// What the file says about itself.
    ///
    /// # Errors
    ///
    /// As [`File::dict`].
    pub fn info(&self) -> Result<Dict<'a>, String> {
        Ok(self.dict(&self.trailer, "Info")?.unwrap_or_default())
    }

    /// The dictionaries that have one of `keys`, streams left out.
    ///
    /// # Errors
    ///
    /// As [`File::object`].
    pub fn dicts_with(&self, keys: &[&str]) -> Result<Vec<Dict<'a>>, String> {
        let mut found = Vec::new();
        for (number, place) in self.places.iter().enumerate() {
            let plain = place.filter(|place| place.data.is_none());
            if !plain
                .is_some_and(|place| self.names(place).any(|name| may_be(name, keys)))
            {
                continue;
            }
            if let Value::Dict(dict) = self.object(number)?.value
                && keys.iter().any(|key| dict.get(key).is_some())
            {
                found.push(dict);
            }
        }
        Ok(found)
    }

    /// What follows each slash of an object's value.
    fn names(&self, place: Place<'a>) -> impl Iterator<Item = &'a [u8]> {
        let bytes = &self.bytes[place.at..place.end];
        memchr::memchr_iter(b'/', bytes).map(|slash| {
            let rest = &bytes[slash + 1..];
            let end = rest.iter().position(|byte| ENDS_WORD[usize::from(*byte)]);
            &rest[..end.unwrap_or(rest.len())]
        })
    }
}

impl<'a> Object<'a> {
    /// The dictionary, of the stream if it is one.
    pub fn dict(&self) -> Option<&Dict<'a>> {
        match &self.value {
            Value::Dict(dict) => Some(dict),
            _ => None,
        }
    }

    /// The bytes of the stream, unpacked to `most` bytes or fewer.
    ///
    /// # Errors
    ///
    /// Why they cannot be had, in words that follow a name.
    pub fn unpacked(&self, most: usize) -> Result<Cow<'a, [u8]>, String> {
        let (Some(dict), Some(data)) = (self.dict(), self.data) else {
            return Err("has no content".to_owned());
        };
        let is_packed = match dict.get("Filter") {
            None => false,
            Some(Value::Name(name)) if **name == *b"FlateDecode" => true,
            Some(Value::Array(names)) => match &names[..] {
                [] => false,
                [Value::Name(name)] if **name == *b"FlateDecode" => true,
                _ => return Err("is packed in a way that kitwright does not".to_owned()),
            },
            Some(_) => {
                return Err("is packed in a way that kitwright does not".to_owned());
            }
        };
        if dict.get("DecodeParms").is_some() || dict.get("F").is_some() {
            return Err("is packed in a way that kitwright does not".to_owned());
        }
        if !is_packed {
            let size = data.len();
            let fits = size <= most;
            return fits
                .then_some(Cow::Borrowed(data))
                .ok_or_else(|| format!("has {size} bytes, more than {most}"));
        }
        let mut bytes = Vec::new();
        let read = ZlibDecoder::new(data).take(most as u64 + 1).read_to_end(&mut bytes);
        let why = match read {
            Ok(_) if bytes.len() <= most => return Ok(Cow::Owned(bytes)),
            Ok(_) => "there are more".to_owned(),
            Err(error) => error.to_string(),
        };
        Err(format!("cannot be unpacked to {most} bytes or fewer: {why}"))
    }
}

/// Whether a name, as it is written, can be one of `keys`: it may be given in figures.
fn may_be(name: &[u8], keys: &[&str]) -> bool {
    name.contains(&b'#') || keys.iter().any(|key| key.as_bytes() == name)
}

/// A text string (ISO 32000-2:2020, 7.9.2.2, from memory): UTF-16 or UTF-8 after its
/// mark. Of other codes ours have only those of ASCII.
pub(super) fn decoded(bytes: &[u8]) -> String {
    match bytes {
        [0xFE, 0xFF, pairs @ ..] => {
            let pairs = pairs.chunks(2);
            let units =
                pairs.map(|pair| pair.iter().fold(0, |all, b| all << 8 | u16::from(*b)));
            char::decode_utf16(units).map(|c| c.unwrap_or('\u{FFFD}')).collect()
        }
        [0xEF, 0xBB, 0xBF, text @ ..] => String::from_utf8_lossy(text).into_owned(),
        _ => String::from_utf8_lossy(bytes).into_owned(),
    }
}
