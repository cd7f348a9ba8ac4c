//! The forms in which a key may stand in a text.

use base64::engine::general_purpose::{STANDARD_NO_PAD, URL_SAFE_NO_PAD};

/// Knows the texts in which a key is readable.
#[derive(Debug)]
pub(super) struct KeyForms {
    plain: String,
    /// What base64 makes of it, wherever it begins among the bytes that are encoded.
    base64: Vec<String>,
}

/// Longer texts are cut in a report (own choice).
const SHOWN: usize = 200;

impl KeyForms {
    /// Takes the forms of a key.
    pub(super) fn of(key: &str) -> Self {
        let engines = [STANDARD_NO_PAD, URL_SAFE_NO_PAD];
        let mut base64: Vec<String> = engines
            .iter()
            .flat_map(|engine| (0..3).map(move |before| inner(engine, key, before)))
            // A key of a few bytes is too short to be told from chance.
            .filter(|form| form.len() >= 6)
            .collect();
        base64.sort_unstable();
        base64.dedup();
        Self {
            plain: key.to_owned(),
            base64,
        }
    }

    /// Gives the text with `KEY` in place of the key if it is there, plainly, percent-encoded or in
    /// base64. A report must not repeat it either.
    pub(super) fn found_in(&self, text: &str) -> Option<String> {
        if self.plain.is_empty() {
            return None;
        }
        let decoded = percent_encoding::percent_decode_str(text).decode_utf8_lossy();
        let mut shown = text.to_owned();
        if decoded.contains(&self.plain) {
            shown = decoded.replace(&self.plain, "KEY");
        }
        for form in &self.base64 {
            shown = shown.replace(form, "KEY in base64");
        }
        (shown != text).then(|| shown.chars().take(SHOWN).collect())
    }
}

/// Gives the letters of base64 that depend on the key alone if so many bytes, modulo 3, come before
/// it.
fn inner(engine: &impl base64::Engine, key: &str, before: usize) -> String {
    let bytes = [&vec![0; before], key.as_bytes()].concat();
    let encoded = engine.encode(&bytes);
    // Letters of 6 bits: of those at the two ends some bits belong to what stands beside it.
    let from = (8 * before).div_ceil(6);
    let until = 8 * bytes.len() / 6;
    encoded.get(from..until).unwrap_or_default().to_owned()
}

#[cfg(test)]
mod tests {
    use base64::Engine as _;

    use super::*;

    const KEY: &str = "key-of-a-printer/17";

    #[test]
    fn a_key_is_found_in_each_form_and_never_shown() {
        let forms = KeyForms::of(KEY);
        let mut texts = vec![format!("a {KEY} b"), "key%2Dof-a-printer%2F17".to_owned()];
        for before in ["", "u", "us", "user", "user:"] {
            texts.push(STANDARD_NO_PAD.encode(format!("{before}{KEY}")));
            texts.push(URL_SAFE_NO_PAD.encode(format!("{before}{KEY}more")));
        }
        for text in texts {
            let shown = forms.found_in(&text).expect(&text);
            assert!(shown.contains("KEY") && !shown.contains(KEY), "{shown}");
        }
    }

    #[test]
    fn another_text_is_no_key() {
        let forms = KeyForms::of(KEY);
        for text in ["", "key-of-a-printer", "Bearer KEY", "a2V5LW9mLWE="] {
            assert_eq!(forms.found_in(text), None, "{text}");
        }
        assert_eq!(KeyForms::of("").found_in("anything"), None);
    }
}
