//! How a text is written.

use std::fmt::Write;

/// Writes a text without its quotation marks.
///
/// # Source
/// RFC 8259 section 7: any character may be escaped; one beyond the basic plane is a pair of
/// surrogates.
pub(super) fn escaped(text: &str, letters: bool, non_ascii: bool) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            '\u{8}' => out.push_str("\\b"),
            '\u{c}' => out.push_str("\\f"),
            _ if character < ' '
                || (letters && character.is_ascii_alphabetic())
                || (non_ascii && !character.is_ascii()) =>
            {
                for unit in character.encode_utf16(&mut [0; 2]) {
                    // Writing to a string cannot fail.
                    let _ = write!(out, "\\u{unit:04x}");
                }
            }
            _ => out.push(character),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: RFC 8259 section 7, the G clef as "\uD834\uDD1E".
    #[test]
    fn escapes_what_it_is_asked_to_and_what_it_must() {
        let text = "a\u{1}\"\u{e9}\u{1d11e}";
        for (letters, non_ascii, written) in [
            (false, false, "a\\u0001\\\"\u{e9}\u{1d11e}"),
            (true, false, "\\u0061\\u0001\\\"\u{e9}\u{1d11e}"),
            (false, true, "a\\u0001\\\"\\u00e9\\ud834\\udd1e"),
        ] {
            assert_eq!(escaped(text, letters, non_ascii), written);
        }
    }
}
