//! How wide and how colourful a terminal is.

use std::io::IsTerminal;

use anstyle::{AnsiColor, Style};
use textwrap::core::display_width;

use super::super::Verdict;

/// Says how text is laid out and whether it is coloured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// The longest line, in columns.
    pub width: usize,
    /// Whether colours may be used; no meaning is in them alone.
    pub colour: bool,
}

impl Look {
    /// Longer lines are hard to read (own choice).
    const WIDEST: usize = 100;
    /// In less, every word would stand alone (own choice).
    const NARROWEST: usize = 48;

    /// Is right for standard output: the terminal's own width, or the widest where there is none;
    /// colours on a terminal, unless `NO_COLOR` is set.
    pub fn of_stdout() -> Self {
        let stdout = std::io::stdout();
        let size = terminal_size::terminal_size_of(&stdout);
        let is_terminal = stdout.is_terminal();
        let width = match size {
            Some((terminal_size::Width(columns), _)) if is_terminal => columns.into(),
            _ => Self::WIDEST,
        };
        let choice = anstream::AutoStream::choice(&stdout);
        Self::new(width, is_terminal && choice != anstream::ColorChoice::Never)
    }

    /// Is right for a width and with or without colours.
    pub fn new(width: usize, colour: bool) -> Self {
        Self {
            width: width.clamp(Self::NARROWEST, Self::WIDEST),
            colour,
        }
    }

    /// Writes a text in lines that are no longer than the width. The first begins with `label`, the
    /// others are indented by as much. Ends with a line's end.
    pub(super) fn wrapped(self, label: &str, text: &str) -> String {
        let indent = " ".repeat(display_width(label));
        let options = textwrap::Options::new(self.width)
            .initial_indent(label)
            .subsequent_indent(&indent);
        textwrap::fill(text, options) + "\n"
    }

    /// Cuts a text to what is left of a line after so many columns.
    pub(super) fn cut(self, text: &str, used: usize) -> String {
        let room = self.width.saturating_sub(used);
        if display_width(text) <= room {
            return text.to_owned();
        }
        let mut kept = String::new();
        for sign in text.chars() {
            kept.push(sign);
            if display_width(&kept) >= room {
                kept.pop();
                break;
            }
        }
        format!("{}…", kept.trim_end_matches([' ', ',', ';']))
    }

    pub(super) fn painted(self, style: Style, text: &str) -> String {
        match self.colour {
            true => format!("{style}{text}{style:#}"),
            false => text.to_owned(),
        }
    }

    pub(super) fn bold(self, text: &str) -> String {
        self.painted(Style::new().bold(), text)
    }

    /// Writes a verdict's word, in a column of its own.
    pub(super) fn verdict(self, verdict: Verdict) -> String {
        self.painted(style(verdict), &format!("{:8}", verdict.word()))
    }
}

fn style(verdict: Verdict) -> Style {
    let coloured = |colour: AnsiColor| Style::new().fg_color(Some(colour.into()));
    match verdict {
        Verdict::Passed => coloured(AnsiColor::Green),
        Verdict::Mended => coloured(AnsiColor::Green).bold(),
        Verdict::Failed => coloured(AnsiColor::Red).bold(),
        Verdict::Lacks => coloured(AnsiColor::Magenta),
        Verdict::Unsteady => coloured(AnsiColor::Yellow),
        Verdict::Known => coloured(AnsiColor::Cyan),
        Verdict::Skipped => Style::new().dimmed(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_longer_than_the_width_whatever_is_in_it() {
        for width in [48, 80, 100] {
            let look = Look::new(width, false);
            let text = format!(
                "{} and {} {}",
                "word ".repeat(60),
                "x".repeat(300),
                "界".repeat(90)
            );
            for line in look.wrapped("  observed  ", &text).lines() {
                assert!(display_width(line) <= width, "{width}: {line}");
            }
            assert!(display_width(&look.cut(&text, 30)) <= width - 30);
        }
    }

    #[test]
    fn a_terminal_as_wide_as_a_wall_is_not_filled_and_a_tiny_one_is_overflown() {
        assert_eq!(Look::new(400, false).width, 100);
        assert_eq!(Look::new(10, false).width, 48);
    }
}
