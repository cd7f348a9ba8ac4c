//! The head of a message.

use crate::format::{Framing, Spoken};

/// The most fields of a head.
///
/// Chosen: printers' hosts and small clients send a dozen.
const MAX_FIELDS: usize = 128;

/// The longest head in bytes; what is longer is no HTTP here.
pub const MAX_HEAD_BYTES: usize = 64 << 10;

/// Is the head of a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RequestHead {
    /// The method.
    pub method: String,
    /// The request target.
    pub target: String,
    /// The version.
    pub version: Spoken,
    /// The fields in their order, names as written.
    pub fields: Fields,
}

/// Is the head of an answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AnswerHead {
    /// The status code.
    pub status: u16,
    /// The reason phrase.
    pub reason: String,
    /// The version.
    pub version: Spoken,
    /// The fields in their order, names as written.
    pub fields: Fields,
}

/// Are fields in their order.
pub type Fields = Vec<(String, String)>;

/// Says that bytes are no HTTP/1 message.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("no HTTP/1.1 message (RFC 9112): {0}")]
pub struct NotHttp(pub String);

/// Reads the head of a request; `None` while it is not whole. Gives it with its length in bytes.
///
/// # Errors
/// [`NotHttp`].
pub fn request(bytes: &[u8]) -> Result<Option<(RequestHead, usize)>, NotHttp> {
    let mut fields = [httparse::EMPTY_HEADER; MAX_FIELDS];
    let mut head = httparse::Request::new(&mut fields);
    let Some(length) = whole(head.parse(bytes), bytes)? else {
        return Ok(None);
    };
    let read = RequestHead {
        method: head.method.unwrap_or_default().to_owned(),
        target: head.path.unwrap_or_default().to_owned(),
        version: version(head.version),
        fields: owned(head.headers),
    };
    Ok(Some((read, length)))
}

/// Reads the head of an answer; `None` while it is not whole. Gives it with its length in bytes.
///
/// # Errors
/// [`NotHttp`].
pub fn answer(bytes: &[u8]) -> Result<Option<(AnswerHead, usize)>, NotHttp> {
    let mut fields = [httparse::EMPTY_HEADER; MAX_FIELDS];
    let mut head = httparse::Response::new(&mut fields);
    let Some(length) = whole(head.parse(bytes), bytes)? else {
        return Ok(None);
    };
    let read = AnswerHead {
        status: head.code.unwrap_or_default(),
        reason: head.reason.unwrap_or_default().to_owned(),
        version: version(head.version),
        fields: owned(head.headers),
    };
    Ok(Some((read, length)))
}

fn whole(parsed: httparse::Result<usize>, bytes: &[u8]) -> Result<Option<usize>, NotHttp> {
    match parsed {
        Ok(httparse::Status::Complete(length)) => Ok(Some(length)),
        Ok(httparse::Status::Partial) if bytes.len() > MAX_HEAD_BYTES => Err(NotHttp(format!(
            "its head is longer than {MAX_HEAD_BYTES} bytes"
        ))),
        Ok(httparse::Status::Partial) => Ok(None),
        Err(error) => Err(NotHttp(error.to_string())),
    }
}

fn version(minor: Option<u8>) -> Spoken {
    match minor {
        Some(0) => Spoken::Http10,
        _ => Spoken::Http11,
    }
}

fn owned(fields: &[httparse::Header<'_>]) -> Fields {
    let text = |bytes: &[u8]| match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        // RFC 9110 section 5.5: other bytes are opaque, once ISO 8859-1.
        Err(_opaque) => bytes.iter().map(|&byte| char::from(byte)).collect(),
    };
    fields
        .iter()
        .map(|field| (field.name.to_owned(), text(field.value)))
        .collect()
}

/// Gives the first value of a field, its name in any case.
pub fn field<'a>(fields: &'a Fields, name: &str) -> Option<&'a str> {
    let found = fields
        .iter()
        .find(|(known, _)| known.eq_ignore_ascii_case(name));
    found.map(|(_, value)| value.as_str())
}

/// Tells whether a list field has a word, in any case, in any of its lines.
pub fn has_word(fields: &Fields, name: &str, word: &str) -> bool {
    fields
        .iter()
        .filter(|(known, _)| known.eq_ignore_ascii_case(name))
        .flat_map(|(_, value)| value.split(','))
        .any(|known| known.trim().eq_ignore_ascii_case(word))
}

impl RequestHead {
    /// Says how its content's end is known (RFC 9112 section 6.3).
    ///
    /// # Errors
    /// [`NotHttp`] if its length is no number.
    pub fn framing(&self) -> Result<(Framing, u64), NotHttp> {
        if has_word(&self.fields, "transfer-encoding", "chunked") {
            return Ok((Framing::Chunked, 0));
        }
        match length(&self.fields)? {
            Some(length) => Ok((Framing::Length, length)),
            None => Ok((Framing::None, 0)),
        }
    }
}

impl AnswerHead {
    /// Says how its content's end is known, by the method it answers (RFC 9112 section 6.3).
    ///
    /// # Errors
    /// [`NotHttp`] if its length is no number.
    pub fn framing(&self, method: &str) -> Result<(Framing, u64), NotHttp> {
        if method == "HEAD" || self.status < 200 || matches!(self.status, 204 | 304) {
            return Ok((Framing::None, 0));
        }
        if has_word(&self.fields, "transfer-encoding", "chunked") {
            return Ok((Framing::Chunked, 0));
        }
        match length(&self.fields)? {
            Some(length) => Ok((Framing::Length, length)),
            None => Ok((Framing::Close, 0)),
        }
    }

    /// Tells whether the connection is over after it (RFC 9112 section 9.3).
    pub fn closes(&self) -> bool {
        match self.version {
            Spoken::Http10 => !has_word(&self.fields, "connection", "keep-alive"),
            Spoken::Http11 => has_word(&self.fields, "connection", "close"),
        }
    }
}

fn length(fields: &Fields) -> Result<Option<u64>, NotHttp> {
    let Some(text) = field(fields, "content-length") else {
        return Ok(None);
    };
    // RFC 9110 section 8.6: the same length several times is one.
    let mut lengths = text.split(',').map(str::trim);
    let first = lengths.next().unwrap_or_default();
    let is_number = !first.is_empty() && first.bytes().all(|byte| byte.is_ascii_digit());
    match first.parse() {
        Ok(length) if is_number && lengths.all(|other| other == first) => Ok(Some(length)),
        _ => Err(NotHttp(format!("its length `{text}` is no number"))),
    }
}
