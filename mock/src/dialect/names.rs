//! Finds the name somebody may have meant.

/// How alike two names must be for a hint: 0 is nothing in common, 1 is equal.
///
/// Chosen by trial: `actual_celcius` finds `actual_celsius` (0.98), `heat` does not find `header`.
const ALIKE: f64 = 0.85;

/// Gives the known name closest to an unknown one, if any is close.
pub(super) fn nearest<'a>(
    unknown: &str,
    known: impl IntoIterator<Item = &'a str>,
) -> Option<String> {
    known
        .into_iter()
        .map(|name| (strsim::jaro_winkler(unknown, name), name))
        .filter(|(likeness, _)| *likeness >= ALIKE)
        .max_by(|(one, _), (other, _)| one.total_cmp(other))
        .map(|(_, name)| name.to_owned())
}

/// Tells whether one name may have been meant by the other.
pub(super) fn alike(one: &str, other: &str) -> bool {
    strsim::jaro_winkler(one, other) >= ALIKE
}

/// Gives a hint for a message of the form "unknown field `x`, expected one of `a`, `b`".
///
/// The TOML reader knows the allowed names but offers them only in its text.
pub(super) fn nearest_in_message(message: &str) -> Option<String> {
    if !message.contains("expected") {
        return None;
    }
    let mut quoted = message.split('`').skip(1).step_by(2);
    let unknown = quoted.next()?;
    nearest(unknown, quoted)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_a_misspelt_name_and_nothing_for_a_strange_one() {
        let known = ["actual_celsius", "target_celsius", "header"];
        assert_eq!(
            nearest("actual_celcius", known).as_deref(),
            Some("actual_celsius")
        );
        assert_eq!(nearest("colour", known), None);
    }

    #[test]
    fn reads_the_allowed_names_out_of_a_readers_message() {
        let message = "unknown field `metod`, expected one of `method`, `path`";
        assert_eq!(nearest_in_message(message).as_deref(), Some("method"));
        assert_eq!(nearest_in_message("no quotes, expected"), None);
    }
}
