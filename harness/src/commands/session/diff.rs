//! `coldbed session diff`.

use std::fmt::Write as _;
use std::io::Write as _;

use coldbed_session::diff::{Difference, diff};

use super::{session_file, width};
use crate::cli::SessionDiffArgs;
use crate::commands::Failure;
use crate::exit_code::Outcome;

pub(super) fn differences(args: &SessionDiffArgs) -> Result<Outcome, Failure> {
    let (first, second) = (
        session_file::read(&args.first)?,
        session_file::read(&args.second)?,
    );
    let all = diff(&first, &second);
    let text = match args.json {
        true => serde_json::to_string_pretty(&all)
            .map(|text| text + "\n")
            .map_err(|error| Failure::new(Outcome::OwnFault, error))?,
        false => table(&all, width()),
    };
    // A reader that has seen enough closes the pipe.
    let _ = std::io::stdout().write_all(text.as_bytes());
    Ok(match all.is_empty() {
        true => Outcome::Done,
        false => Outcome::Violated,
    })
}

/// Writes the differences by route, each with what was and what is.
fn table(all: &[Difference], width: usize) -> String {
    let mut text = String::new();
    let place_of = |one: &Difference| match one.place.is_empty() {
        true => "(the route)".to_owned(),
        false => one.place.clone(),
    };
    for of_route in all.chunk_by(|one, other| one.route == other.route) {
        let places = of_route.iter().map(|one| place_of(one).chars().count());
        let places = places.max().unwrap_or(0).min(width / 3);
        // Writing to a string cannot fail, here and below.
        let _ = writeln!(text, "{}", of_route[0].route);
        for one in of_route {
            let side = |side: &Option<String>| match side.as_deref() {
                None | Some("") => "-".to_owned(),
                Some(words) => words.to_owned(),
            };
            let line = format!(
                "  {:places$}  {:18}  {} -> {}",
                place_of(one),
                one.what.word(),
                side(&one.first),
                side(&one.second)
            );
            let _ = writeln!(text, "{}", cut(&plain(&line), width));
        }
    }
    let _ = match all.len() {
        0 => writeln!(text, "no differences"),
        1 => writeln!(text, "1 difference"),
        count => writeln!(text, "{count} differences"),
    };
    text
}

/// Leaves out what could steer a terminal.
fn plain(text: &str) -> String {
    let letters = text.chars();
    letters
        .map(|letter| {
            if letter.is_control() {
                '\u{fffd}'
            } else {
                letter
            }
        })
        .collect()
}

fn cut(line: &str, width: usize) -> String {
    match line.char_indices().nth(width) {
        None => line.to_owned(),
        Some(_) => line
            .chars()
            .take(width.saturating_sub(1))
            .chain(['…'])
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use coldbed_session::diff::What;

    use super::*;

    #[test]
    fn differences_are_told_by_route_in_lines_that_fit() {
        let one = |place: &str, what, first: Option<&str>, second: Option<&str>| Difference {
            route: "GET /status".to_owned(),
            place: place.to_owned(),
            what,
            first: first.map(str::to_owned),
            second: second.map(str::to_owned),
        };
        let all = [
            one("", What::Statuses, Some("200"), Some("200, 503")),
            one("/nozzle/is", What::Decimals, Some("1"), Some("0")),
            one(
                "/condition",
                What::Words,
                Some("free, \u{1b}[2Jmaking"),
                Some("at work, somewhere else, at rest, out of order"),
            ),
            one("/fan", What::Member, None, Some("number")),
        ];
        insta::assert_snapshot!(table(&all, 72));
        insta::assert_snapshot!(table(&[], 72), @"no differences");
    }
}
