//! Text that others wrote, made fit to be shown.

/// Writes control signs and what turns the direction of writing as escapes, so that a line stays a
/// line and a terminal does nothing.
pub(super) fn legible(text: &str) -> String {
    text.chars()
        .fold(String::with_capacity(text.len()), |mut shown, sign| {
            if is_plain(sign) {
                shown.push(sign);
            } else {
                shown.extend(sign.escape_default());
            }
            shown
        })
}

/// As [`legible`], but line ends stay.
pub(super) fn legible_lines(text: &str) -> String {
    let lines = text.split('\n').map(legible);
    lines.collect::<Vec<_>>().join("\n")
}

/// Writes bytes as text: line ends stay, what is no text is written as `\xNN`.
pub(super) fn legible_bytes(bytes: &[u8]) -> String {
    let mut shown = String::with_capacity(bytes.len());
    for chunk in bytes.utf8_chunks() {
        for sign in chunk.valid().chars() {
            match sign {
                '\n' => shown.push('\n'),
                // A line end of HTTP; told by the page's head, not by a sign at each line.
                '\r' => {}
                sign if is_plain(sign) => shown.push(sign),
                sign => shown.extend(sign.escape_default()),
            }
        }
        for byte in chunk.invalid() {
            shown.push_str(&format!("\\x{byte:02x}"));
        }
    }
    shown
}

/// Cuts a text to so many signs, the last of them an ellipsis where something was cut.
pub(super) fn shortened(text: &str, signs: usize) -> String {
    if text.chars().count() <= signs {
        return text.to_owned();
    }
    let kept = text.chars().take(signs.saturating_sub(1));
    let kept: String = kept.collect();
    format!("{}…", kept.trim_end())
}

/// U+202A to U+202E and U+2066 to U+2069 turn the direction of writing (Unicode Standard Annex 9),
/// U+FFFE and U+FFFF are no characters, and XML has no place for them (XML 1.0 section 2.2).
fn is_plain(sign: char) -> bool {
    let turns = matches!(sign, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let is_none = matches!(sign, '\u{fffe}' | '\u{ffff}');
    let is_line_end = matches!(sign, '\u{2028}' | '\u{2029}');
    !(sign.is_control() || turns || is_none || is_line_end)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn control_signs_are_told_and_not_done() {
        assert_eq!(legible("a\u{1b}[2J\nb"), "a\\u{1b}[2J\\nb");
        assert_eq!(legible("grün \u{202e}x"), "grün \\u{202e}x");
    }

    #[test]
    fn bytes_that_are_no_text_are_told_one_by_one() {
        assert_eq!(legible_bytes(b"a\r\nb\xff\x00"), "a\nb\\xff\\u{0}");
    }

    #[test]
    fn a_cut_text_says_that_it_is_cut() {
        assert_eq!(shortened("abc", 3), "abc");
        assert_eq!(shortened("ab cd", 4), "ab…");
    }
}
