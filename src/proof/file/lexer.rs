//! Reads the bytes of a PDF, or of a page's operators, from front to back.

use std::borrow::Cow;

use super::{DEEPEST, Dict, File, MOST_OBJECTS, MOST_PARTS, Place, Value};

/// Reads the parts of a file, or of a stream, one after the other.
pub(in crate::proof) struct Lexer<'a> {
    pub bytes: &'a [u8],
    pub at: usize,
}

const fn is_space(byte: u8) -> bool {
    matches!(byte, 0 | b'\t' | b'\n' | 12 | b'\r' | b' ')
}

const fn is_delimiter(byte: u8) -> bool {
    matches!(byte, b'(' | b')' | b'<' | b'>' | b'[' | b']' | b'{' | b'}' | b'/' | b'%')
}

/// Of each byte, whether a word ends before it.
pub(super) const ENDS_WORD: [bool; 256] = {
    let mut ends = [false; 256];
    let mut byte = 0;
    while byte < 256 {
        ends[byte] = is_space(byte as u8) || is_delimiter(byte as u8);
        byte += 1;
    }
    ends
};

/// What a stream of bytes is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::proof) enum Token<'a> {
    /// An array or a dictionary begins that this closes.
    Open(u8),
    Close(u8),
    Text,
    Name,
    Number,
    /// Anything else: an operator, `true`, `R`.
    Word(&'a [u8]),
}

/// A cross-reference table: number and place of each object in it.
type Table = Vec<(usize, usize)>;

impl<'a> Lexer<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { bytes, at: 0 }
    }

    pub fn rest(&self) -> &'a [u8] {
        &self.bytes[self.at..]
    }

    fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }

    /// Goes over white space and comments.
    fn skip_space(&mut self) {
        while let Some(byte) = self.peek() {
            if byte == b'%' {
                let line = self.rest().iter();
                self.at += line.take_while(|byte| !matches!(byte, b'\n' | b'\r')).count();
            } else if is_space(byte) {
                self.at += 1;
            } else {
                break;
            }
        }
    }

    /// Goes over the next token.
    pub fn token(&mut self) -> Result<Option<Token<'a>>, String> {
        self.skip_space();
        let start = self.at;
        let Some(byte) = self.peek() else { return Ok(None) };
        let is_double = self.bytes.get(start + 1) == Some(&byte);
        let token = match byte {
            b'(' => {
                self.skip_literal()?;
                Token::Text
            }
            b'<' if is_double => {
                self.at += 2;
                Token::Open(b'>')
            }
            b'<' => {
                let end = self.rest().iter().position(|byte| *byte == b'>');
                let end = end.ok_or("has a text without an end")?;
                // Also where nothing uses it: other readers stop at such a text.
                let is_figure = |byte: &u8| hex(*byte).is_some() || is_space(*byte);
                if !self.rest()[1..end].iter().all(is_figure) {
                    return Err(NO_FIGURES.to_owned());
                }
                self.at += end + 1;
                Token::Text
            }
            b'>' if is_double => {
                self.at += 2;
                Token::Close(b'>')
            }
            b'[' => {
                self.at += 1;
                Token::Open(b']')
            }
            b']' => {
                self.at += 1;
                Token::Close(b']')
            }
            b'/' => {
                self.skip_word(1);
                Token::Name
            }
            b'+' | b'-' | b'.' | b'0'..=b'9' => {
                self.skip_word(0);
                Token::Number
            }
            _ if is_delimiter(byte) => {
                return Err(format!("has a stray `{}`", char::from(byte)));
            }
            _ => {
                self.skip_word(0);
                Token::Word(&self.bytes[start..self.at])
            }
        };
        Ok(Some(token))
    }

    /// Goes over `word`, if it stands here and ends here.
    fn takes(&mut self, word: &str) -> bool {
        self.skip_space();
        let rest = self.rest();
        let ends = |byte: &u8| ENDS_WORD[usize::from(*byte)];
        let found =
            rest.starts_with(word.as_bytes()) && rest.get(word.len()).is_none_or(ends);
        if found {
            self.at += word.len();
        }
        found
    }

    fn expect(&mut self, word: &str) -> Result<(), String> {
        if self.takes(word) { Ok(()) } else { Err(format!("expected `{word}`")) }
    }

    /// A whole number of at most ten figures.
    fn whole(&mut self) -> Option<usize> {
        self.skip_space();
        let figures = self.rest().iter().take_while(|byte| byte.is_ascii_digit()).count();
        if !(1..=10).contains(&figures) {
            return None;
        }
        let text = &self.rest()[..figures];
        self.at += figures;
        Some(text.iter().fold(0, |number, byte| number * 10 + usize::from(byte - b'0')))
    }

    pub fn file(&mut self) -> Result<File<'a>, String> {
        if !self.bytes.starts_with(b"%PDF-") {
            return Err("it does not begin with %PDF-".to_owned());
        }
        let mut file =
            File { bytes: self.bytes, places: Vec::new(), trailer: Dict::default() };
        let mut earlier = None;
        for _ in 0..MOST_PARTS {
            let placed = self.objects(&mut file)?;
            let (table_at, trailer) = self.table(&placed)?;
            let before = match trailer.get("Prev") {
                None => None,
                Some(Value::Number(at)) => Some(*at as usize),
                Some(_) => return Err("/Prev is no number".to_owned()),
            };
            if before != earlier {
                return Err("/Prev is not the place of the table before".to_owned());
            }
            earlier = Some(table_at);
            file.trailer = trailer;
            self.skip_space();
            if self.at == self.bytes.len() {
                return Ok(file);
            }
        }
        Err(format!("it has more than {MOST_PARTS} parts"))
    }

    /// Reads the objects up to the next table: the number and the place of each.
    fn objects(&mut self, file: &mut File<'a>) -> Result<Table, String> {
        let mut placed = Table::new();
        loop {
            self.skip_space();
            let at = self.at;
            let Some(number) = self.whole() else { break };
            if number == 0 || number > MOST_OBJECTS {
                return Err(format!("no object has the number {number}"));
            }
            if self.whole() != Some(0) {
                return Err(format!("the object {number} is not of generation 0"));
            }
            self.expect("obj")?;
            let place = self.object()?;
            placed.push((number, at));
            if file.places.len() <= number {
                file.places.resize(number + 1, None);
            }
            file.places[number] = Some(place);
        }
        placed.sort_unstable();
        match placed.windows(2).find(|pair| pair[0].0 == pair[1].0) {
            Some(pair) => Err(format!("the object {} stands there twice", pair[0].0)),
            None => Ok(placed),
        }
    }

    /// Goes over what stands between `obj` and `endobj`.
    fn object(&mut self) -> Result<Place<'a>, String> {
        self.skip_space();
        let at = self.at;
        self.skip_value()?;
        let end = self.at;
        let data = if self.takes("stream") { Some(self.stream(at)?) } else { None };
        self.expect("endobj")?;
        Ok(Place { at, end, data })
    }

    /// The bytes of the stream whose dictionary stands at `dict_at`.
    fn stream(&mut self, dict_at: usize) -> Result<&'a [u8], String> {
        let dict = Lexer { bytes: self.bytes, at: dict_at }.value(0)?;
        let Value::Dict(dict) = dict else {
            return Err("a stream has no dictionary".to_owned());
        };
        let Some(Value::Number(length)) = dict.get("Length") else {
            return Err("the length of a stream does not stand in it".to_owned());
        };
        let ends = [&b"\r\n"[..], b"\n"];
        let Some(end) = ends.into_iter().find(|end| self.rest().starts_with(end)) else {
            return Err("expected a new line after `stream`".to_owned());
        };
        self.at += end.len();
        let is_whole = *length >= 0.0 && length.fract() == 0.0;
        let data = self.rest().get(..*length as usize).filter(|_| is_whole);
        let data = data.ok_or("a stream is longer than the file")?;
        self.at += data.len();
        let space = self.rest().iter().take_while(|byte| is_space(**byte)).count();
        if space > 2 || !self.takes("endstream") {
            return Err("a stream has another length than it says".to_owned());
        }
        Ok(data)
    }

    /// Goes over a value.
    fn skip_value(&mut self) -> Result<(), String> {
        let mut open = Vec::new();
        loop {
            match self.token()?.ok_or("expected a value")? {
                Token::Open(end) => open.push(end),
                Token::Close(end) if open.pop() != Some(end) => {
                    return Err(format!("`{}` closes nothing", char::from(end)));
                }
                Token::Word(b"true" | b"false" | b"null" | b"R") => {}
                Token::Word(_) => return Err("expected a value".to_owned()),
                _ => {}
            }
            if open.len() > DEEPEST {
                return Err(too_deep());
            }
            if open.is_empty() {
                return Ok(());
            }
        }
    }

    /// Reads a table and its trailer. The table must name what was `placed` since
    /// the one before, and nothing else.
    fn table(&mut self, placed: &Table) -> Result<(usize, Dict<'a>), String> {
        self.skip_space();
        let table_at = self.at;
        self.expect("xref")?;
        let mut named = Table::new();
        while let Some(first) = self.whole() {
            let count = self.whole().ok_or("expected a count in the table")?;
            for number in (first..).take(count) {
                let (Some(at), Some(_)) = (self.whole(), self.whole()) else {
                    return Err("the table has fewer lines than it says".to_owned());
                };
                if self.takes("n") {
                    named.push((number, at));
                } else if !self.takes("f") {
                    return Err("expected `n` or `f` in the table".to_owned());
                }
            }
        }
        named.sort_unstable();
        if named != *placed {
            return Err("the table does not name each object at its place".to_owned());
        }
        self.expect("trailer")?;
        let Value::Dict(trailer) = self.value(0)? else {
            return Err("the trailer is no dictionary".to_owned());
        };
        for (key, _) in trailer.entries() {
            if ![&b"Size"[..], b"Root", b"Info", b"ID", b"Prev"].contains(&key) {
                let key = String::from_utf8_lossy(key);
                return Err(format!("the trailer has /{key}"));
            }
        }
        self.expect("startxref")?;
        if self.whole() != Some(table_at) {
            return Err("`startxref` is not the place of the table".to_owned());
        }
        self.skip_white();
        if !self.rest().starts_with(b"%%EOF") {
            return Err("expected `%%EOF`".to_owned());
        }
        self.at += 5;
        Ok((table_at, trailer))
    }

    fn skip_white(&mut self) {
        self.at += self.rest().iter().take_while(|byte| is_space(**byte)).count();
    }

    /// A value that lies `depth` deep.
    pub fn value(&mut self, depth: usize) -> Result<Value<'a>, String> {
        if depth > DEEPEST {
            return Err(too_deep());
        }
        self.skip_space();
        let rest = self.rest();
        match *rest {
            [b'/', ..] => self.name().map(Value::Name),
            [b'<', b'<', ..] => self.dictionary(depth).map(Value::Dict),
            [b'(' | b'<', ..] => self.text().map(Value::Text),
            [b'[', ..] => self.array(depth).map(Value::Array),
            [b'+' | b'-' | b'.' | b'0'..=b'9', ..] => self.number_or_reference(),
            _ if self.takes("true") => Ok(Value::Bool(true)),
            _ if self.takes("false") => Ok(Value::Bool(false)),
            _ if self.takes("null") => Ok(Value::Null),
            _ => Err("expected a value".to_owned()),
        }
    }

    fn array(&mut self, depth: usize) -> Result<Vec<Value<'a>>, String> {
        self.at += 1;
        let mut values = Vec::new();
        loop {
            self.skip_space();
            if self.peek() == Some(b']') {
                self.at += 1;
                return Ok(values);
            }
            values.push(self.value(depth + 1)?);
        }
    }

    fn dictionary(&mut self, depth: usize) -> Result<Dict<'a>, String> {
        self.at += 2;
        let mut dict = Dict::default();
        loop {
            self.skip_space();
            if self.rest().starts_with(b">>") {
                self.at += 2;
                return match dict.twice() {
                    Some(key) => Err(format!("/{key} stands twice in a dictionary")),
                    None => Ok(dict),
                };
            }
            if self.peek() != Some(b'/') {
                return Err("expected a key of a dictionary".to_owned());
            }
            let key = self.name()?;
            let value = self.value(depth + 1)?;
            dict.0.push((key, value));
        }
    }

    fn name(&mut self) -> Result<Cow<'a, [u8]>, String> {
        let start = self.at + 1;
        self.skip_word(1);
        let raw = &self.bytes[start..self.at];
        if !raw.contains(&b'#') {
            return Ok(Cow::Borrowed(raw));
        }
        let mut name = Vec::new();
        let mut bytes = raw.iter().copied();
        while let Some(byte) = bytes.next() {
            if byte != b'#' {
                name.push(byte);
                continue;
            }
            let figures = [bytes.next().and_then(hex), bytes.next().and_then(hex)];
            let [Some(high), Some(low)] = figures else {
                return Err("a name has `#` without two figures".to_owned());
            };
            name.push(high * 16 + low);
        }
        Ok(Cow::Owned(name))
    }

    /// Goes over a string between parentheses, which may stand in it in pairs.
    fn skip_literal(&mut self) -> Result<(), String> {
        let mut open = 0;
        loop {
            match self.peek().ok_or("has a text without an end")? {
                b'\\' => self.at += 1,
                b'(' => open += 1,
                b')' => open -= 1,
                _ => {}
            }
            self.at += 1;
            if open == 0 {
                return Ok(());
            }
        }
    }

    /// Goes `more` bytes on, and over what follows up to white space or a delimiter.
    fn skip_word(&mut self, more: usize) {
        self.at += more;
        let rest = self.rest();
        let length = rest.iter().position(|byte| ENDS_WORD[usize::from(*byte)]);
        self.at += length.unwrap_or(rest.len());
    }

    /// A text in parentheses or, as figures, in angle brackets.
    fn text(&mut self) -> Result<Cow<'a, [u8]>, String> {
        let start = self.at;
        self.token()?;
        let token = &self.bytes[start..self.at];
        let raw = token.get(1..token.len() - 1).unwrap_or_default();
        let is_plain = !raw.iter().any(|byte| matches!(byte, b'\\' | b'\r'));
        if token[0] == b'(' && is_plain {
            return Ok(Cow::Borrowed(raw));
        }
        let mut text = Vec::new();
        text_of(token, &mut text)?;
        Ok(text.into())
    }

    fn number_or_reference(&mut self) -> Result<Value<'a>, String> {
        let start = self.at;
        if let Some(number) = self.whole() {
            let after = self.at;
            if self.peek().is_some_and(is_space)
                && self.whole() == Some(0)
                && self.takes("R")
            {
                return Ok(Value::Ref(number));
            }
            self.at = after;
        }
        self.at = start;
        let rest = self.rest();
        let is_part = |byte: &u8| matches!(byte, b'+' | b'-' | b'.' | b'0'..=b'9');
        let length = rest.iter().take_while(|byte| is_part(byte)).count();
        let text = std::str::from_utf8(&rest[..length]).unwrap_or_default();
        let number: f64 = text.parse().map_err(|_| format!("{text} is no number"))?;
        self.at += length;
        match self.peek() {
            Some(next) if !is_space(next) && !is_delimiter(next) => {
                Err("a number runs into what follows".to_owned())
            }
            _ => Ok(Value::Number(number)),
        }
    }
}

fn too_deep() -> String {
    format!("values lie more than {DEEPEST} deep in each other")
}

fn hex(byte: u8) -> Option<u8> {
    char::from(byte).to_digit(16).map(|figure| figure as u8)
}

/// Adds to `out` the bytes of a text that is given with its delimiters.
///
/// # Errors
///
/// What of it is no text.
pub(in crate::proof) fn text_of(token: &[u8], out: &mut Vec<u8>) -> Result<(), String> {
    match token {
        [b'(', raw @ .., b')'] => unescape(raw, out),
        [b'<', figures @ .., b'>'] => hexadecimal(figures, out),
        _ => Err("has a text without an end".to_owned()),
    }
}

const NO_FIGURES: &str = "has a text in <> with other figures";

fn hexadecimal(figures: &[u8], out: &mut Vec<u8>) -> Result<(), String> {
    let mut high = None;
    for byte in figures.iter().filter(|byte| !is_space(**byte)) {
        let figure = hex(*byte).ok_or(NO_FIGURES)?;
        match high.take() {
            None => high = Some(figure * 16),
            Some(high) => out.push(high + figure),
        }
    }
    out.extend(high);
    Ok(())
}

/// Adds a text without its escapes (ISO 32000-1:2008, table 3, from memory).
///
/// Readers differ about a code above 255: some take the bits that fit, as the standard
/// says, and others another character.
fn unescape(raw: &[u8], out: &mut Vec<u8>) -> Result<(), String> {
    let mut bytes = raw.iter().copied().peekable();
    while let Some(byte) = bytes.next() {
        if byte == b'\r' {
            bytes.next_if_eq(&b'\n');
            out.push(b'\n');
            continue;
        }
        if byte != b'\\' {
            out.push(byte);
            continue;
        }
        match bytes.next() {
            Some(b'n') => out.push(b'\n'),
            Some(b'r') => out.push(b'\r'),
            Some(b't') => out.push(b'\t'),
            Some(b'b') => out.push(8),
            Some(b'f') => out.push(12),
            Some(b'\n') | None => {}
            Some(b'\r') => {
                bytes.next_if_eq(&b'\n');
            }
            Some(first @ b'0'..=b'7') => {
                let mut code = u32::from(first - b'0');
                for _ in 0..2 {
                    let Some(next) = bytes.next_if(|byte| matches!(byte, b'0'..=b'7'))
                    else {
                        break;
                    };
                    code = code * 8 + u32::from(next - b'0');
                }
                let code = u8::try_from(code);
                out.push(code.map_err(|_| "has a text with a code above 255")?);
            }
            Some(other) => out.push(other),
        }
    }
    Ok(())
}
