//! The bytes of a recorded answer.

use bytes::{BufMut, Bytes, BytesMut};

use crate::format::{Body, End, Framing, Piece, Spoken};
use crate::model::{Answer, Content};

/// The most bytes that are made up for a body that the file does not have.
///
/// Chosen: more than any status body, and few enough to make at once.
pub const MADE_UP_LIMIT_BYTES: usize = 64 << 20;

impl Answer {
    /// Gives the bytes of the answer's head, with the blank line after it.
    pub fn head_bytes(&self) -> Bytes {
        head(self.version, self.status, &self.reason, &self.fields)
    }

    /// Gives all bytes that came of an answer that is no stream, from the status line on; those of the
    /// head alone for a stream.
    ///
    /// Of an answer that was cut they are as many as [`Content::Whole`]'s pieces say; one that is complete
    /// needs none.
    pub fn bytes(&self) -> Bytes {
        let Content::Whole {
            body,
            chunks,
            pieces,
            raw,
        } = &self.content
        else {
            return self.head_bytes();
        };
        if let Some(raw) = raw {
            return raw.bytes(MADE_UP_LIMIT_BYTES);
        }
        let mut bytes = BytesMut::from(self.head_bytes());
        bytes.put(framed(self.framing, chunks, body));
        let arrived: u64 = pieces.iter().map(|piece| piece.bytes).sum();
        let is_whole = matches!(self.ended, Some((_, End::Complete)));
        if !is_whole {
            bytes.truncate(usize::try_from(arrived).unwrap_or(usize::MAX));
        }
        bytes.freeze()
    }

    /// Puts other content in the place of what a whole answer had: length and framing are made to fit,
    /// and all of it arrives when the first byte of the old content did.
    pub fn set_body(&mut self, new: Body) {
        let head_length = self.head_bytes().len() as u64;
        let Content::Whole { pieces, .. } = &self.content else {
            return;
        };
        let mut before = 0;
        let first = pieces.iter().find(|piece| {
            before += piece.bytes;
            before > head_length
        });
        let after_seconds = first
            .or(pieces.last())
            .map(|piece| piece.after_seconds)
            .unwrap_or_default();
        for (name, value) in &mut self.fields {
            if name.eq_ignore_ascii_case("content-length") {
                *value = new.len().to_string();
            }
        }
        let chunks = match self.framing {
            Framing::Chunked if !new.is_empty() => vec![new.len()],
            _ => Vec::new(),
        };
        let whole = self.head_bytes().len() + framed(self.framing, &chunks, &new).len();
        self.content = Content::Whole {
            body: new,
            chunks,
            pieces: vec![Piece {
                after_seconds,
                bytes: whole as u64,
            }],
            raw: None,
        };
    }
}

/// Gives the bytes of a head as they are usually written (RFC 9112 sections 4 and 5).
pub fn head(version: Spoken, status: u16, reason: &str, fields: &[(String, String)]) -> Bytes {
    let mut text = format!("{} {status:03} {reason}\r\n", version.name());
    for (name, value) in fields {
        text.push_str(name);
        text.push_str(": ");
        text.push_str(value);
        text.push_str("\r\n");
    }
    text.push_str("\r\n");
    Bytes::from(text)
}

/// Gives content with its framing (RFC 9112 section 7.1): chunks of the sizes given, and the last of 0.
///
/// Where content is short of what the chunks say it was cut, and nothing comes after it.
pub fn framed(framing: Framing, chunks: &[u64], body: &Body) -> Bytes {
    let content = body.bytes(MADE_UP_LIMIT_BYTES);
    match framing {
        Framing::None => Bytes::new(),
        Framing::Length | Framing::Close => content,
        Framing::Chunked => {
            let mut rest = content;
            let mut bytes = BytesMut::new();
            for size in chunks {
                bytes.put(format!("{size:x}\r\n").as_bytes());
                let length = usize::try_from(*size).unwrap_or(usize::MAX).min(rest.len());
                bytes.put(rest.split_to(length));
                if (length as u64) < *size {
                    return bytes.freeze();
                }
                bytes.put(&b"\r\n"[..]);
            }
            bytes.put(&b"0\r\n\r\n"[..]);
            bytes.freeze()
        }
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    fn answer(framing: Framing, chunks: &[u64], body: &str, bytes: u64) -> Answer {
        Answer {
            status: 200,
            reason: "OK".to_owned(),
            version: Spoken::Http11,
            fields: vec![("Content-Length".to_owned(), "11".to_owned())],
            framing,
            content: Content::Whole {
                body: body.into(),
                chunks: chunks.to_vec(),
                pieces: vec![Piece {
                    after_seconds: Duration::from_millis(5),
                    bytes,
                }],
                raw: None,
            },
            ended: Some((Duration::from_secs(1), End::Complete)),
        }
    }

    #[test]
    fn an_answer_that_was_cut_is_as_short_as_it_was() {
        let mut cut = answer(Framing::Length, &[], "{\"progress", 45);
        cut.ended = Some((Duration::from_secs(1), End::Reset));
        assert_eq!(
            cut.bytes(),
            "HTTP/1.1 200 OK\r\nContent-Length: 11\r\n\r\n{\"prog"
        );
    }

    #[test]
    fn chunks_are_as_long_as_they_were_rfc_9112_s7_1() {
        let whole = answer(Framing::Chunked, &[6, 5], "hello world", 1000);
        assert!(
            whole
                .bytes()
                .ends_with(b"\r\n\r\n6\r\nhello \r\n5\r\nworld\r\n0\r\n\r\n")
        );
        let cut = answer(Framing::Chunked, &[6, 5], "hello wo", 1000);
        assert!(cut.bytes().ends_with(b"\r\n\r\n6\r\nhello \r\n5\r\nwo"));
    }

    #[test]
    fn other_content_fits_its_length() {
        let mut changed = answer(Framing::Length, &[], "hello world", 51);
        changed.set_body("{}".into());
        assert_eq!(
            changed.bytes(),
            "HTTP/1.1 200 OK\r\nContent-Length: 2\r\n\r\n{}"
        );
    }
}
