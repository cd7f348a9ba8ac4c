//! The page for users: `docs/checks.md` is fresh and says all of the catalogue.

use super::{Area, Check, Field, catalogue};

const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/checks.md");

/// What is between these two lines is made here; the rest of the page is written by hand.
const BEGIN: &str = "<!-- made by a test from here -->\n";
const END: &str = "<!-- to here -->\n";

fn made() -> String {
    let checks = catalogue();
    let mut text =
        String::from("\n## Areas\n\n| area | checks | what they are about |\n|---|---|---|\n");
    let areas = Area::ALL.map(|area| {
        let checks = checks.iter().filter(|check| check.area == area);
        (area, checks.collect::<Vec<_>>())
    });
    let areas = areas.iter().filter(|(_, checks)| !checks.is_empty());
    for (area, checks) in areas.clone() {
        let word = area.word();
        text.push_str(&format!(
            "| [{word}](#{word}) | {} | {} |\n",
            checks.len(),
            area.about()
        ));
    }
    for (area, checks) in areas {
        text.push_str(&format!("\n## {}\n", area.word()));
        text.extend(checks.iter().map(|check| entry(check)));
    }
    text + "\n"
}

fn entry(check: &Check) -> String {
    let needs = match check.needs {
        Field::Nothing => "nothing: it is about what it asks".to_owned(),
        Field::Anything => "anything".to_owned(),
        field => format!("`{}`", field.word()),
    };
    let facts = [
        ("level", check.level.word().to_owned()),
        ("source", escaped(check.source)),
        ("provoked", escaped(check.provoked)),
        ("judged", escaped(check.judged)),
        ("scenario", format!("`{}`", check.scenario)),
        ("the watcher reports", needs),
    ];
    let rows = facts.map(|(name, value)| format!("- {name}: {value}\n"));
    format!(
        "\n### {}\n\n{}.\n\n{}",
        check.id,
        escaped(&sentence(check.requirement)),
        rows.concat()
    )
}

fn sentence(text: &str) -> String {
    let mut signs = text.chars();
    signs.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(signs).collect()
    })
}

/// Keeps a text what it is where it would be markup.
fn escaped(text: &str) -> String {
    text.replace('<', "\\<")
        .replace('*', "\\*")
        .replace('|', "\\|")
}

#[test]
fn the_page_of_checks_says_what_the_catalogue_does() {
    let page = std::fs::read_to_string(PAGE).unwrap();
    let (before, rest) = page.split_once(BEGIN).unwrap();
    let (_, after) = rest.split_once(END).unwrap();
    let fresh = format!("{before}{BEGIN}{}{END}{after}", made());
    if std::env::var_os("COLDBED_REFRESH").is_some() {
        std::fs::write(PAGE, &fresh).unwrap();
    }
    let kept = std::fs::read_to_string(PAGE).unwrap();
    assert!(
        kept == fresh,
        "docs/checks.md is not fresh; refresh it with\n\
         COLDBED_REFRESH=1 cargo test -p coldbed the_page_of_checks_says_what_the_catalogue_does"
    );
}

#[test]
fn every_check_has_one_heading_on_the_page() {
    let page = made();
    for check in catalogue() {
        let heading = format!("\n### {}\n", check.id);
        assert_eq!(page.matches(&heading).count(), 1, "{}", check.id);
    }
}
