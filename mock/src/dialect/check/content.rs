//! What a body is made from, as written -> checked [`ContentTemplate`].

use std::io::Read as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use bytes::Bytes;
use http::StatusCode;

use super::reader::Reader;
use crate::dialect::compile::Compiler;
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file::{self, Text};
use crate::dialect::route::ContentTemplate;
use crate::dialect::text_body::TextTemplate;

/// The largest file that a route can serve.
///
/// Chosen: a picture of the print bed from a small camera has a few hundred kilobytes.
const MAX_FILE_BYTES: u64 = 16 << 20;

/// Checks what a body is made from. There is none exactly where the status has none.
///
/// # Source
/// RFC 9110 section 15.3.5 (204) and section 15.3.6 (205).
///
/// # Errors
/// The first thing that is wrong with it.
pub(super) fn check(
    reader: &Reader<'_>,
    field: &str,
    start: usize,
    raw: &file::Route,
    status: StatusCode,
    compiler: &mut Compiler<'_>,
) -> Result<Option<ContentTemplate>, DialectError> {
    let given: Vec<(&str, &Text)> = [
        ("body", &raw.body),
        ("text", &raw.text),
        ("base64", &raw.base64),
        ("file", &raw.file),
    ]
    .into_iter()
    .filter_map(|(name, text)| Some((name, text.as_ref()?)))
    .collect();
    let bodiless = status == StatusCode::NO_CONTENT || status == StatusCode::RESET_CONTENT;
    let [(name, written)] = given[..] else {
        if let [_, (_, second), ..] = given[..] {
            let problem = DialectProblem::OneOf {
                choices: "`body`, `text`, `base64`, `file`",
            };
            return Err(reader.error(second.span().start, field, problem));
        }
        if bodiless {
            return Ok(None);
        }
        return Err(reader.error(start, field, DialectProblem::Missing { what: "`body`" }));
    };
    if bodiless {
        let problem = DialectProblem::Both {
            one: "a body",
            other: "a status that has none",
        };
        return Err(reader.error(written.span().start, field, problem));
    }
    let place = format!("{field}.{name}");
    let source = reader.source(&place, written);
    Ok(Some(match name {
        "body" => ContentTemplate::Json(reader.located(compiler.compile(&source))?),
        "text" => ContentTemplate::Text(reader.located(TextTemplate::compile(&source))?),
        "base64" => ContentTemplate::Bytes(decoded(reader, &place, written)?),
        _ => ContentTemplate::Bytes(read(reader, &place, written)?),
    }))
}

/// Reads base64 (RFC 4648 section 4), line ends allowed.
fn decoded(reader: &Reader<'_>, field: &str, written: &Text) -> Result<Bytes, DialectError> {
    let compact: String = written.get_ref().split_whitespace().collect();
    STANDARD.decode(compact).map(Bytes::from).map_err(|error| {
        let problem = DialectProblem::NotAllowed {
            value: written.get_ref().chars().take(20).collect(),
            allowed: format!("base64 (RFC 4648 section 4): {error}"),
            hint: None,
        };
        reader.error(written.span().start, field, problem)
    })
}

fn read(reader: &Reader<'_>, field: &str, written: &Text) -> Result<Bytes, DialectError> {
    let name = written.get_ref();
    let path = match reader.file.rsplit_once('/') {
        Some((folder, _)) if !name.starts_with('/') => format!("{folder}/{name}"),
        _ => name.clone(),
    };
    let wrong = |message: String| {
        let problem = DialectProblem::File {
            path: path.clone(),
            message,
        };
        Err(reader.error(written.span().start, field, problem))
    };
    let mut bytes = Vec::new();
    let all = reader
        .files
        .open(&path)
        .and_then(|file| file.take(MAX_FILE_BYTES + 1).read_to_end(&mut bytes));
    match all {
        Err(error) => wrong(error.to_string()),
        Ok(length) if length as u64 > MAX_FILE_BYTES => {
            wrong(format!("it is larger than {MAX_FILE_BYTES} bytes"))
        }
        Ok(_) => Ok(Bytes::from(bytes)),
    }
}
