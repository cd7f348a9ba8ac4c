//! The secrets that are known, and what stands for them.

use std::collections::HashSet;

use base64::Engine as _;
use base64::engine::general_purpose::{STANDARD, STANDARD_NO_PAD, URL_SAFE_NO_PAD};
use indexmap::IndexMap;
use percent_encoding::{NON_ALPHANUMERIC, percent_decode_str, utf8_percent_encode};

/// Shorter secrets are replaced where they stand by their name only: they would be found by chance.
pub const SHORTEST: usize = 4;

/// Knows secrets.
#[derive(Debug, Default)]
pub(super) struct Secrets {
    /// By number, each with its forms.
    known: IndexMap<String, usize>,
    /// What is looked for and what stands for it, the longest first.
    forms: Vec<(Vec<u8>, Vec<u8>)>,
    /// The stand-ins that were given out: they are no secrets.
    marks: HashSet<String>,
}

impl Secrets {
    /// Takes a secret in and gives its stand-in.
    pub(super) fn stand_in(&mut self, secret: &str) -> String {
        if self.marks.contains(secret) {
            return secret.to_owned();
        }
        let next = self.known.len() + 1;
        let number = match self.known.get(secret) {
            Some(number) => *number,
            None => {
                self.known.insert(secret.to_owned(), next);
                if secret.len() >= SHORTEST {
                    self.add_forms(secret, next);
                }
                next
            }
        };
        let mark = mark(number, secret.len());
        self.marks.insert(mark.clone());
        mark
    }

    fn add_forms(&mut self, secret: &str, number: usize) {
        let mut forms = vec![secret.to_owned()];
        let encoded = utf8_percent_encode(secret, NON_ALPHANUMERIC).to_string();
        forms.push(encoded.to_lowercase());
        forms.push(encoded);
        // As clients write it: with less escaped than could be.
        forms.push(form_urlencoded::byte_serialize(secret.as_bytes()).collect());
        if let Ok(decoded) = percent_decode_str(secret).decode_utf8() {
            forms.push(decoded.into_owned());
        }
        if let Ok(quoted) = serde_json::to_string(secret) {
            forms.push(quoted[1..quoted.len() - 1].to_owned());
            forms.push(quoted[1..quoted.len() - 1].replace('/', "\\/"));
        }
        let ascii: String = secret
            .encode_utf16()
            .map(|unit| format!("\\u{unit:04x}"))
            .collect();
        forms.push(ascii);
        forms.extend([
            STANDARD.encode(secret),
            STANDARD_NO_PAD.encode(secret),
            URL_SAFE_NO_PAD.encode(secret),
        ]);
        for form in forms {
            let is_new = self.forms.iter().all(|(known, _)| known != form.as_bytes());
            if form.len() >= SHORTEST && is_new {
                let mark = mark(number, form.len()).into_bytes();
                self.forms.push((form.into_bytes(), mark));
            }
        }
        // A secret that holds another one goes first, as a whole.
        self.forms
            .sort_by_key(|(form, _)| std::cmp::Reverse(form.len()));
    }

    /// Tells whether any of them is in there.
    pub(super) fn is_in(&self, bytes: &[u8]) -> bool {
        self.forms
            .iter()
            .any(|(form, _)| find(bytes, form).is_some())
    }

    /// Replaces all of them, in place.
    pub(super) fn replace(&self, bytes: &mut [u8]) {
        for (form, mark) in &self.forms {
            let mut from = 0;
            while let Some(at) = find(&bytes[from..], form) {
                let at = from + at;
                bytes[at..at + form.len()].copy_from_slice(mark);
                from = at + form.len();
            }
        }
    }
}

fn find(bytes: &[u8], form: &[u8]) -> Option<usize> {
    bytes.windows(form.len()).position(|part| part == form)
}

/// Gives what stands for the n-th secret in so many bytes: `r1xxxx`. Valid as a token, in base64, in a
/// URL and in JSON.
fn mark(number: usize, length: usize) -> String {
    let mut mark = format!("r{number}");
    if mark.len() > length {
        return "x".repeat(length);
    }
    mark.push_str(&"x".repeat(length - mark.len()));
    mark
}

/// Gives as many digits as a number has, so that it stays one.
pub(super) fn digits(number: &str) -> String {
    number
        .chars()
        .map(|sign| if sign.is_ascii_digit() { '1' } else { sign })
        .collect()
}
