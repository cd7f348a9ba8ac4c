//! From an archive to a session.

use std::collections::{BTreeMap, HashMap};
use std::time::Duration;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use bytes::Bytes;
use http::Uri;
use jiff::Timestamp;

use super::types::{Archive, Entry, Timings};
use crate::format::{
    Body, ClosedBy, End, Framing, LONGEST, Line, Piece, ReadError, SessionFile, Spoken,
};
use crate::model::{Answer, Connection, Content, Exchange, Outcome, Request, Session};

/// Is a session that was read from an archive.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// The session.
    pub session: Session,
    /// Exchanges with other origins, which were left out, by origin.
    pub left_out: BTreeMap<String, usize>,
}

/// Says why an archive is none, or cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// It is no archive.
    #[error("no HTTP Archive (version 1.2), at {place}")]
    Form {
        /// Where.
        place: String,
        /// What is wrong.
        #[source]
        source: serde_json::Error,
    },
    /// A moment is none.
    #[error("entry {entry}: `{text}` is no moment (RFC 3339)")]
    Moment {
        /// Which entry, from 0.
        entry: usize,
        /// What it says.
        text: String,
    },
    /// A URL is none.
    #[error("entry {entry}: `{text}` is no URL")]
    Url {
        /// Which entry, from 0.
        entry: usize,
        /// What it says.
        text: String,
    },
    /// A time is none that a session can have.
    #[error("the entry of {moment} ends more than 100 years after the first began")]
    TooLong {
        /// When the entry began.
        moment: String,
    },
    /// There is no exchange with the host.
    #[error("there is no exchange with {origin} [there are some with: {others}]")]
    Nobody {
        /// The origin that was asked for.
        origin: String,
        /// The ones that there are.
        others: String,
    },
    /// There is no entry at all.
    #[error("the archive has no entry")]
    Empty,
    /// What was written here is not as it was.
    #[error("what `coldbed` wrote into the archive cannot be read any more")]
    Own(#[source] ReadError),
}

/// Reads an archive. Of several origins the one asked for is taken, or the one with most entries.
///
/// # Errors
/// [`ImportError`].
pub fn import(text: &str, origin: Option<&str>) -> Result<Imported, ImportError> {
    let reader = &mut serde_json::Deserializer::from_str(text);
    let archive: Archive =
        serde_path_to_error::deserialize(reader).map_err(|error| ImportError::Form {
            place: error.path().to_string(),
            source: error.into_inner(),
        })?;
    if !archive.log.own.is_empty() {
        return own(&archive);
    }
    let entries = sorted(&archive)?;
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    for entry in &entries {
        *counts.entry(entry.origin.clone()).or_default() += 1;
    }
    let most = counts
        .iter()
        .max_by_key(|(_, count)| **count)
        .map(|(origin, _)| origin.clone());
    let wanted = origin
        .map(str::to_owned)
        .or(most)
        .ok_or(ImportError::Empty)?;
    if counts.remove(&wanted).is_none() {
        let others: Vec<String> = counts.into_keys().collect();
        return Err(ImportError::Nobody {
            origin: wanted,
            others: others.join(", "),
        });
    }
    let mine: Vec<&Placed<'_>> = entries
        .iter()
        .filter(|entry| entry.origin == wanted)
        .collect();
    let session = session(&mine, wanted);
    let too_long = |exchange: &Exchange| {
        let first_byte = exchange.answer().and_then(|answer| match &answer.content {
            Content::Whole { pieces, .. } => pieces.first(),
            Content::Stream { .. } => None,
        });
        let first_byte = first_byte.map_or(Duration::ZERO, |piece| piece.after_seconds);
        exchange.last_moment().max(first_byte) > LONGEST
    };
    if let Some(index) = session.exchanges.iter().position(too_long) {
        return Err(ImportError::TooLong {
            moment: mine[index].at.to_string(),
        });
    }
    Ok(Imported {
        session,
        left_out: counts,
    })
}

/// Reads an archive that was written here.
fn own(archive: &Archive) -> Result<Imported, ImportError> {
    let log = &archive.log;
    let mut lines: Vec<String> = log.own.iter().map(|line| format!("{line}\n")).collect();
    lines.extend(
        log.entries
            .iter()
            .flat_map(|entry| &entry.own)
            .map(|line| format!("{line}\n")),
    );
    // As in a file: connections are opened before anything happens on them.
    lines.sort_by_key(|line| {
        let line: Option<Line> = serde_json::from_str(line).ok();
        (
            line.as_ref().and_then(Line::at),
            line.map_or(u8::MAX, |line| line.rank()),
        )
    });
    let read = SessionFile::read(&lines.concat()).map_err(ImportError::Own)?;
    Ok(Imported {
        session: read.session,
        left_out: BTreeMap::new(),
    })
}

/// Is an entry with its place and time.
struct Placed<'a> {
    entry: &'a Entry,
    origin: String,
    target: String,
    at: Timestamp,
}

fn sorted(archive: &Archive) -> Result<Vec<Placed<'_>>, ImportError> {
    let mut entries = Vec::new();
    for (index, entry) in archive.log.entries.iter().enumerate() {
        let text = &entry.started_date_time;
        let at = text.parse().map_err(|_| ImportError::Moment {
            entry: index,
            text: text.clone(),
        })?;
        let url = || ImportError::Url {
            entry: index,
            text: entry.request.url.clone(),
        };
        let uri: Uri = entry
            .request
            .url
            .split('#')
            .next()
            .unwrap_or_default()
            .parse()
            .map_err(|_| url())?;
        let (Some(scheme), Some(authority)) = (uri.scheme_str(), uri.authority()) else {
            return Err(url());
        };
        entries.push(Placed {
            entry,
            origin: format!("{scheme}://{authority}"),
            target: uri
                .path_and_query()
                .map_or("/", |target| target.as_str())
                .to_owned(),
            at,
        });
    }
    entries.sort_by_key(|placed| placed.at);
    Ok(entries)
}

fn session(entries: &[&Placed<'_>], upstream: String) -> Session {
    let mut session = Session {
        upstream: Some(upstream),
        ..Session::default()
    };
    let Some(first) = entries.first() else {
        return session;
    };
    session.recorded_at = Some(first.at.to_string());
    let mut numbers: HashMap<&str, u64> = HashMap::new();
    for (placed, number) in entries.iter().zip(1_u64..) {
        let since = placed.at.duration_since(first.at);
        let at = Duration::try_from(since).unwrap_or_default();
        let next = session.connections.len() as u64 + 1;
        let connection = match placed
            .entry
            .connection
            .as_deref()
            .filter(|name| !name.is_empty())
        {
            Some(name) => *numbers.entry(name).or_insert(next),
            None => next,
        };
        if connection == next {
            session.connections.push(Connection {
                number: next,
                opened: rounded(at),
                tls: false,
                closed: None,
            });
        }
        session
            .exchanges
            .push(exchange(placed, number, connection, rounded(at)));
    }
    for connection in &mut session.connections {
        let ends = session
            .exchanges
            .iter()
            .filter(|exchange| exchange.connection == connection.number);
        let last = ends.map(Exchange::last_moment).max();
        connection.closed = last.map(|at| (at, ClosedBy::Watcher, false));
    }
    session
}

fn exchange(placed: &Placed<'_>, number: u64, connection: u64, at: Duration) -> Exchange {
    let entry = placed.entry;
    let request = Request {
        at,
        method: entry.request.method.clone(),
        target: placed.target.clone(),
        version: spoken(&entry.request.http_version),
        fields: fields(&entry.request.headers, false),
        body: entry
            .request
            .post_data
            .as_ref()
            .map_or_else(Body::default, |data| Body::from(&data.text[..])),
    };
    let total = at.saturating_add(rounded(milliseconds(entry.time)));
    let outcome = match entry.response.status {
        // Common practice: nothing came, and nobody wrote down why.
        0 => Outcome::NoAnswer {
            at: total,
            end: End::Closed,
            received: Body::default(),
        },
        _ => Outcome::Answered(answer(entry, total)),
    };
    Exchange {
        number,
        connection,
        request,
        outcome: Some(outcome),
    }
}

fn answer(entry: &Entry, ended: Duration) -> Answer {
    let content = &entry.response.content;
    let text = content.text.as_deref().unwrap_or_default();
    let body = match content.encoding.as_deref() {
        Some("base64") => STANDARD
            .decode(text)
            .map(|bytes| Body::from(Bytes::from(bytes)))
            .unwrap_or_default(),
        _ => Body::from(text),
    };
    let mut answer = Answer {
        status: entry.response.status,
        reason: entry.response.status_text.clone(),
        version: spoken(&entry.response.http_version),
        fields: fields(&entry.response.headers, true),
        framing: match entry.request.method == "HEAD" || matches!(entry.response.status, 204 | 304)
        {
            true => Framing::None,
            false => Framing::Length,
        },
        content: Content::Whole {
            body: Body::default(),
            chunks: Vec::new(),
            pieces: Vec::new(),
            raw: None,
        },
        ended: Some((ended, End::Complete)),
    };
    if answer.framing == Framing::Length {
        answer
            .fields
            .push(("Content-Length".to_owned(), body.len().to_string()));
    }
    let waited = rounded(first_byte(&entry.timings));
    let pieces = vec![Piece {
        after_seconds: waited,
        bytes: 0,
    }];
    answer.content = Content::Whole {
        body: Body::default(),
        chunks: Vec::new(),
        pieces,
        raw: None,
    };
    answer.set_body(body);
    answer
}

/// Gives when the first byte came: after all that was before it. -1 is what does not apply.
fn first_byte(timings: &Timings) -> Duration {
    let before = [
        timings.blocked,
        timings.dns,
        timings.connect,
        timings.send,
        timings.wait,
    ];
    milliseconds(before.into_iter().filter(|time| *time > 0.0).sum())
}

fn milliseconds(time: f64) -> Duration {
    Duration::try_from_secs_f64((time / 1000.0).max(0.0)).unwrap_or_default()
}

/// Whole microseconds, as sessions have them.
fn rounded(time: Duration) -> Duration {
    Duration::from_micros(u64::try_from(time.as_micros()).unwrap_or(u64::MAX))
}

/// Content in an archive has no coding and no framing any more.
fn fields(pairs: &[super::types::Pair], is_answer: bool) -> Vec<(String, String)> {
    const GONE: [&str; 3] = ["content-length", "transfer-encoding", "content-encoding"];
    pairs
        .iter()
        // What later versions of HTTP have instead of a request line begins with a colon.
        .filter(|pair| !pair.name.starts_with(':'))
        .filter(|pair| !is_answer || !GONE.iter().any(|gone| pair.name.eq_ignore_ascii_case(gone)))
        .map(|pair| (pair.name.clone(), pair.value.replace(['\r', '\n'], " ")))
        .collect()
}

fn spoken(version: &str) -> Spoken {
    match version.to_ascii_uppercase().as_str() {
        "HTTP/1.0" => Spoken::Http10,
        _ => Spoken::Http11,
    }
}
