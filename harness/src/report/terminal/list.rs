//! The checks with what each asks for.

use super::Look;
use crate::check::Check;

/// Lists checks, area by area: level, id, requirement.
pub fn list(checks: &[Check], look: Look) -> String {
    let width = checks.iter().map(|check| check.id.len()).max().unwrap_or(0);
    let mut text = String::new();
    for of_area in checks.chunk_by(|one, next| one.area == next.area) {
        let area = of_area[0].area;
        let gap = if text.is_empty() { "" } else { "\n" };
        let heading = look.wrapped(&format!("{}: ", area.word()), area.about());
        text.push_str(gap);
        text.push_str(&look.bold(heading.trim_end()));
        text.push('\n');
        for check in of_area {
            let label = format!("  {:6}  {:width$}  ", check.level.word(), check.id);
            text.push_str(&look.wrapped(&label, check.requirement));
        }
    }
    text
}
