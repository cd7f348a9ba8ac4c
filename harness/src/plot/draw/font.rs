//! The font that goes with the program: how wide text is, and what fits.

use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

/// The family's name.
pub(in crate::plot) const FAMILY: &str = "Noto Sans";
/// What an SVG asks for: the measured font first, then what is about as wide.
pub(super) const FAMILIES: &str = "Noto Sans, Helvetica, Arial, sans-serif";

/// A browser without the family takes another one; the widest in common use needs so much more.
const SLACK: f64 = 1.15;

/// Is a way to set text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Face {
    pub(super) px: f64,
    pub(super) bold: bool,
}

impl Face {
    pub(super) const TITLE: Self = Self::new(18.0, true);
    pub(super) const HEADING: Self = Self::new(13.0, true);
    pub(super) const BODY: Self = Self::new(13.0, false);
    pub(super) const SMALL: Self = Self::new(12.0, false);

    const fn new(px: f64, bold: bool) -> Self {
        Self { px, bold }
    }

    const fn bytes(self) -> &'static [u8] {
        if self.bold {
            notosans::BOLD_TTF
        } else {
            notosans::REGULAR_TTF
        }
    }

    /// Gives the room a line of text may take, in pixels; a little more than it takes in this font.
    pub(super) fn width(self, text: &str) -> f64 {
        let half = self.px / 2.0;
        // A font that cannot be read would be a defect of the package; half an em is a usual mean.
        let Ok(font) = FontRef::new(self.bytes()) else {
            return text.chars().map(|_| half).sum::<f64>() * SLACK;
        };
        #[expect(clippy::cast_possible_truncation, reason = "a font size")]
        let metrics = font.glyph_metrics(Size::new(self.px as f32), LocationRef::default());
        let signs = font.charmap();
        let advance = |sign: char| {
            let glyph = signs.map(sign).unwrap_or_default();
            metrics.advance_width(glyph).map_or(half, f64::from)
        };
        text.chars().map(advance).sum::<f64>() * SLACK
    }

    /// Shortens a line to a width, with an ellipsis where something was left out.
    pub(super) fn fit(self, text: &str, width: f64) -> String {
        if self.width(text) <= width {
            return text.to_owned();
        }
        let mut kept: Vec<char> = text.chars().collect();
        while kept.pop().is_some() {
            let short = kept.iter().collect::<String>().trim_end().to_owned() + "…";
            if self.width(&short) <= width {
                return short;
            }
        }
        "…".to_owned()
    }

    /// Breaks text at its spaces into lines of a width, at most `lines`; the last one is shortened
    /// if need be.
    pub(super) fn wrap(self, text: &str, width: f64, lines: usize) -> Vec<String> {
        let mut done: Vec<String> = Vec::new();
        let mut line = String::new();
        for word in text.split_whitespace() {
            let longer = if line.is_empty() {
                word.to_owned()
            } else {
                format!("{line} {word}")
            };
            let is_last = done.len() + 1 >= lines;
            if is_last || line.is_empty() || self.width(&longer) <= width {
                line = longer;
            } else {
                done.push(std::mem::replace(&mut line, word.to_owned()));
            }
        }
        done.push(line);
        done.iter().map(|line| self.fit(line, width)).collect()
    }
}

/// Finds the first sign that the font of the PNG cannot show. The SVG leaves the font to the viewer.
pub fn missing_sign(text: &str) -> Option<char> {
    let font = FontRef::new(notosans::REGULAR_TTF).ok()?;
    let signs = font.charmap();
    text.chars()
        .find(|sign| !sign.is_whitespace() && signs.map(*sign).is_none())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_letters_take_more_room_than_narrow_ones_and_bold_more_than_regular() {
        assert!(Face::BODY.width("MMMM") > 2.0 * Face::BODY.width("iiii"));
        assert!(Face::HEADING.width("platform") > Face::BODY.width("platform"));
    }

    #[test]
    fn a_shortened_line_fits_and_says_that_it_was_shortened() {
        let text = "the extruder's element breaks while it heats up";
        let short = Face::BODY.fit(text, 120.0);
        assert!(
            short.ends_with('…') && Face::BODY.width(&short) <= 120.0,
            "{short}"
        );
        assert_eq!(Face::BODY.fit("short", 120.0), "short");
    }

    #[test]
    fn a_long_title_breaks_between_words_and_loses_only_what_is_too_much() {
        let title = "one two three four five six seven eight nine ten";
        let whole = Face::TITLE.wrap(title, 260.0, 9);
        assert!(whole.len() > 1 && whole.join(" ") == title, "{whole:?}");
        let cut = Face::TITLE.wrap(title, 160.0, 2);
        assert_eq!(cut.len(), 2);
        assert!(cut[1].ends_with('…'), "{cut:?}");
    }

    #[test]
    fn the_signs_every_plot_uses_are_in_the_font() {
        assert_eq!(missing_sign("Temperature, °C · … %"), None);
        assert_eq!(missing_sign("tool 木"), Some('木'));
    }
}
