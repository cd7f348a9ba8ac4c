//! How an answer is carried: changes of its form, and none of its body.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Says what is other about the way answers are carried. The default is nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct FormChange {
    /// Whether bodies are compressed for clients that ask for it (RFC 9110 section 12.5.3).
    pub gzip: bool,
    /// Whether bodies come in chunks (RFC 9112 section 7.1).
    pub chunked: bool,
    /// How field names are written, where it is another way: see [`recase`].
    pub field_case: Option<FieldCase>,
}

impl FormChange {
    /// Gives both changes together; where they disagree, the later one holds.
    #[must_use]
    pub fn and(self, later: Self) -> Self {
        Self {
            gzip: self.gzip || later.gzip,
            chunked: self.chunked || later.chunked,
            field_case: later.field_case.or(self.field_case),
        }
    }
}

/// Says in which letters a field name is written.
///
/// # Source
/// RFC 9110 section 5.1: to a client they are all the same name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum FieldCase {
    /// `content-type`
    Lower,
    /// `Content-Type`
    Title,
    /// `CONTENT-TYPE`
    Upper,
}

impl FieldCase {
    fn write(self, name: &[u8], out: &mut Vec<u8>) {
        let mut begins = true;
        out.extend(name.iter().map(|letter| {
            let upper = match self {
                Self::Lower => false,
                Self::Title => begins,
                Self::Upper => true,
            };
            begins = *letter == b'-';
            if upper {
                letter.to_ascii_uppercase()
            } else {
                letter.to_ascii_lowercase()
            }
        }));
    }
}

/// Writes the field names of a response's head in other letters. The status line, the values, lines
/// that are no field and whatever comes after the empty line stay as they are.
///
/// `head` is one whole head from its status line on; lines end with LF, with or without CR. Of a head
/// that is cut inside a name, that last line stays as it is.
///
/// # Source
/// RFC 9112 section 2.1 (the form of a message), section 5 (name, colon, value), section 5.2 (a line
/// that begins with white space goes on with the value before it), section 2.2 (a lone LF).
#[must_use]
pub fn recase(head: &[u8], case: FieldCase) -> Vec<u8> {
    let mut out = Vec::with_capacity(head.len());
    let mut rest = head;
    let mut is_first = true;
    while let Some(end) = rest.iter().position(|byte| *byte == b'\n') {
        let (line, after) = rest.split_at(end + 1);
        if matches!(line, b"\n" | b"\r\n") && !is_first {
            break;
        }
        write_line(line, is_first, case, &mut out);
        is_first = false;
        rest = after;
        if !rest.contains(&b'\n') {
            write_line(rest, is_first, case, &mut out);
            return out;
        }
    }
    out.extend(rest);
    out
}

fn write_line(line: &[u8], is_first: bool, case: FieldCase, out: &mut Vec<u8>) {
    let goes_on = line.starts_with(b" ") || line.starts_with(b"\t");
    match line.iter().position(|byte| *byte == b':') {
        Some(colon) if !is_first && !goes_on => {
            case.write(&line[..colon], out);
            out.extend(&line[colon..]);
        }
        _ => out.extend(line),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const HEAD: &str = "HTTP/1.1 200 OK: Fine\r\ncontent-TYPE: Text/Plain\r\nETag:\"Ab:C\"\r\n \
                        Folded: On\r\nx--y-:\r\n\r\nBody: Stays\r\nA: B\n";

    fn recased(head: &str, case: FieldCase) -> String {
        String::from_utf8(recase(head.as_bytes(), case)).unwrap()
    }

    // Source: RFC 9110 section 5.1, RFC 9112 sections 5 and 5.2.
    #[test]
    fn only_the_names_of_a_heads_fields_change() {
        for (case, fields) in [
            (FieldCase::Lower, ["content-type:", "etag:", "x--y-:"]),
            (FieldCase::Title, ["Content-Type:", "Etag:", "X--Y-:"]),
            (FieldCase::Upper, ["CONTENT-TYPE:", "ETAG:", "X--Y-:"]),
        ] {
            let [content_type, tag, odd] = fields;
            let wanted = HEAD
                .replace("content-TYPE:", content_type)
                .replace("ETag:", tag)
                .replace("x--y-:", odd);
            assert_eq!(recased(HEAD, case), wanted);
        }
    }

    #[test]
    fn a_head_without_its_empty_line_is_read_to_its_end() {
        let case = FieldCase::Upper;
        assert_eq!(
            recased("HTTP/1.1 200 OK\na: b\nc: d", case),
            "HTTP/1.1 200 OK\nA: b\nC: d"
        );
        assert_eq!(
            recased("HTTP/1.1 200 OK\na: b\nc", case),
            "HTTP/1.1 200 OK\nA: b\nc"
        );
        assert_eq!(recased("http/1.1: x", case), "http/1.1: x");
        assert_eq!(recased("", case), "");
    }

    fn case() -> impl Strategy<Value = FieldCase> {
        prop_oneof![
            Just(FieldCase::Lower),
            Just(FieldCase::Title),
            Just(FieldCase::Upper)
        ]
    }

    proptest! {
        #[test]
        fn any_bytes_keep_their_length_and_all_but_the_case_of_letters(
            head in "[a-cA-C:\r\n\t 0é-]{0,60}", case in case(),
        ) {
            let out = recase(head.as_bytes(), case);
            prop_assert!(out.eq_ignore_ascii_case(head.as_bytes()));
            prop_assert_eq!(recase(&out, case), out);
        }

        #[test]
        fn a_reader_of_heads_finds_the_same_fields(
            fields in prop::collection::vec(("[A-Za-z][A-Za-z0-9-]{0,9}", "[!-~]{0,12}"), 0..8),
            body in "[ -~\r\n]{0,20}", case in case(),
        ) {
            let mut head = "HTTP/1.1 200 OK\r\n".to_owned();
            for (name, value) in &fields {
                head.push_str(&format!("{name}: {value}\r\n"));
            }
            head.push_str("\r\n");
            let end = head.len();
            head.push_str(&body);
            let out = recase(head.as_bytes(), case);
            prop_assert_eq!(&out[end..], body.as_bytes());
            let text = String::from_utf8(out[..end].to_vec()).unwrap();
            let read: Vec<(&str, &str)> = text
                .split("\r\n")
                .skip(1)
                .filter_map(|line| line.split_once(": "))
                .collect();
            prop_assert_eq!(read.len(), fields.len());
            for ((name, value), (known, same)) in read.iter().zip(&fields) {
                prop_assert!(name.eq_ignore_ascii_case(known));
                prop_assert_eq!(value, same);
                let upper = name.bytes().any(|letter| letter.is_ascii_uppercase());
                let lower = name.bytes().any(|letter| letter.is_ascii_lowercase());
                match case {
                    FieldCase::Lower => prop_assert!(!upper),
                    FieldCase::Upper => prop_assert!(!lower),
                    FieldCase::Title => prop_assert!(name.as_bytes()[0].is_ascii_uppercase()),
                }
            }
        }
    }
}
