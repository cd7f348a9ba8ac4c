use super::super::terminal::{Lines, Look, details, heading, list, skips, summary};
use super::*;

fn text(width: usize, colour: bool) -> String {
    let look = Look::new(width, colour);
    let results = results("phase\u{1b}[31m printing");
    let report = report(&results);
    let known: Vec<Check> = results.iter().map(|result| result.check).collect();
    let mut lines = Lines::of(&known, look);
    let mut text = heading(&head(), known.len(), look);
    text.extend(report.checks.iter().map(|check| lines.next(check)));
    text + &details(&report.checks, look) + &skips(&report.checks, look) + &summary(report.counts)
}

#[test]
fn a_terminal_of_80_columns_gets_lines_that_fit() {
    let text = text(80, false);
    assert!(text.lines().all(|line| line.chars().count() <= 80));
    insta::assert_snapshot!(text);
}

#[test]
fn a_terminal_of_120_columns_gets_lines_of_100() {
    let text = text(120, false);
    let longest = text.lines().map(|line| line.chars().count()).max();
    assert!(longest.is_some_and(|longest| (90..=100).contains(&longest)));
    insta::assert_snapshot!(text);
}

#[test]
fn colours_change_nothing_of_the_words() {
    let coloured = text(80, true);
    insta::assert_snapshot!(coloured.replace('\u{1b}', "ESC"));
    let mut plain = String::new();
    let mut rest = coloured.as_str();
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        plain.push_str(before);
        rest = after.split_once('m').unwrap().1;
    }
    assert_eq!(plain + rest, text(80, false));
}

#[test]
fn the_list_has_level_id_and_requirement_under_the_areas() {
    let checks: Vec<Check> = results("").iter().map(|result| result.check).collect();
    let text = list(&checks, Look::new(80, false));
    assert!(text.lines().all(|line| line.chars().count() <= 80));
    insta::assert_snapshot!(text);
}

#[test]
fn a_broken_should_fails_nothing_and_a_broken_must_does() {
    let results = results("");
    let is_failure = |kept: &dyn Fn(&CheckReport) -> bool| {
        let checks = checks(&results).into_iter().filter(|check| kept(check));
        head().with(checks.collect()).is_failure()
    };
    assert!(is_failure(&|_| true));
    assert!(!is_failure(&|check| check.outcome != OutcomeWord::Failed));
    assert!(is_failure(&|check| check.outcome == OutcomeWord::Failed));
}
