//! One line a check, under its area's heading.

use super::super::legible::legible;
use super::super::{CheckReport, Verdict};
use super::Look;
use crate::check::{Area, Check};

/// Writes the lines one by one, as the checks come in.
#[derive(Debug)]
pub struct Lines {
    look: Look,
    id_width: usize,
    area: Option<Area>,
}

impl Lines {
    /// Makes room for the ids of these checks.
    pub fn of(checks: &[Check], look: Look) -> Self {
        Self {
            look,
            id_width: checks.iter().map(|check| check.id.len()).max().unwrap_or(0),
            area: None,
        }
    }

    /// Writes one check's verdict, after a heading where an area begins.
    pub fn next(&mut self, check: &CheckReport) -> String {
        let mut text = String::new();
        if self.area.replace(check.area) != Some(check.area) {
            text.push_str(&format!("\n{}\n", self.look.bold(check.area.word())));
        }
        let verdict = check.verdict();
        let words = match verdict {
            Verdict::Passed | Verdict::Mended => check.note.as_str(),
            Verdict::Skipped => check.reason.as_str(),
            _ => check.requirement.as_str(),
        };
        // A column of 8 for the word, and two spaces after each column.
        let used = 8 + 2 + self.id_width + 2;
        let words = self.look.cut(&legible(words), used);
        let line = format!(
            "{}  {:width$}  {words}",
            self.look.verdict(verdict),
            check.id,
            width = self.id_width
        );
        text + line.trim_end() + "\n"
    }
}
