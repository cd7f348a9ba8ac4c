use std::collections::BTreeMap;

use proptest::prelude::*;
use roxmltree::{Document, ParsingOptions};

use super::*;

fn page(line: &str) -> String {
    let results = results(line);
    super::super::html::html(&report(&results), &results).unwrap()
}

fn parsed(page: &str) -> Document<'_> {
    let options = ParsingOptions {
        allow_dtd: true,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(page, options).unwrap()
}

/// Counts the elements by name.
fn elements(document: &Document<'_>) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    let elements = document.descendants().filter(roxmltree::Node::is_element);
    for element in elements {
        *counts
            .entry(element.tag_name().name().to_owned())
            .or_default() += 1;
    }
    counts
}

fn texts(document: &Document<'_>) -> String {
    let texts = document.descendants().filter(roxmltree::Node::is_text);
    texts.filter_map(|node| node.text()).collect()
}

#[test]
fn the_same_runs_give_the_same_page() {
    assert_eq!(page("a"), page("a"));
}

#[test]
fn markup_in_a_line_of_the_watcher_is_text() {
    let page = page("<b>&lt;job</b> {{ 7 * 7 }}");
    let document = parsed(&page);
    assert!(texts(&document).contains("<b>&lt;job</b> {{ 7 * 7 }}"));
    assert!(!elements(&document).contains_key("b"));
}

#[test]
fn the_page_names_nothing_outside_itself() {
    let page = page("a");
    let document = parsed(&page);
    for element in document.descendants().filter(roxmltree::Node::is_element) {
        for attribute in element.attributes() {
            let is_link = matches!(
                attribute.name(),
                "href" | "src" | "srcset" | "action" | "data"
            );
            let is_inside = attribute.value().starts_with('#');
            assert!(!is_link || is_inside, "{attribute:?}");
        }
    }
    // What names the SVG elements is no address to ask.
    let rest = page.replace("http://www.w3.org/2000/svg", "");
    for word in ["http:", "https:", "url(", "@import", "<link", "fetch("] {
        assert!(!rest.contains(word), "{word}");
    }
}

#[test]
fn every_link_leads_to_something_on_the_page_and_every_id_is_there_once() {
    let page = page("a");
    let document = parsed(&page);
    let mut ids: Vec<&str> = document
        .descendants()
        .filter_map(|node| node.attribute("id"))
        .collect();
    for link in document
        .descendants()
        .filter_map(|node| node.attribute("href"))
    {
        assert!(ids.contains(&link.trim_start_matches('#')), "{link}");
    }
    for label in document
        .descendants()
        .filter_map(|node| node.attribute("aria-labelledby"))
    {
        assert!(ids.contains(&label), "{label}");
    }
    let count = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), count);
}

#[test]
fn what_is_not_seen_is_told() {
    let page = page("a");
    let document = parsed(&page);
    let named = |name: &'static str| {
        document
            .descendants()
            .filter(move |node| node.has_tag_name(name))
    };
    for head in named("th") {
        assert!(head.attribute("scope").is_some(), "{head:?}");
    }
    let svg = |node: &roxmltree::Node<'_, '_>| node.tag_name().name() == "svg";
    let plots: Vec<_> = document
        .descendants()
        .filter(svg)
        .filter(|svg| svg.attribute("role") == Some("img"))
        .collect();
    // Two of the many subjects, one of each other check.
    assert_eq!(plots.len(), 4);
    for plot in plots {
        let title = plot
            .children()
            .find(|node| node.tag_name().name() == "title");
        let words = plot
            .children()
            .find(|node| node.tag_name().name() == "desc")
            .unwrap();
        assert!(title.is_some());
        let words = words.text().unwrap();
        assert!(words.contains("phase claimed: heating"), "{words}");
        assert!(
            words.contains("extruder target, °C: served from"),
            "{words}"
        );
    }
    assert_eq!(named("main").count(), 1);
    assert_eq!(named("h1").count(), 1);
    assert_eq!(named("html").next().unwrap().attribute("lang"), Some("en"));
}

#[test]
fn bytes_that_are_cut_say_how_many_are_not_shown() {
    let page = page("a");
    // 2000 signs, `{"note":"` and `"}` round them, and a zero byte.
    assert!(page.contains("512 of 2012 bytes are not shown"));
}

#[test]
fn a_fault_a_drift_and_a_trial_are_on_the_plot() {
    let page = page("a");
    for words in [
        "fault: every answer is 503",
        "drift: a number is written as text",
        "trial: a number as text at a",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(page.contains("class=\"band fault\"") && page.contains("class=\"band drift\""));
    assert!(page.contains("class=\"untold\""));
}

#[test]
fn a_report_without_anything_broken_is_a_page_too() {
    let results = [passed(
        check("phase-told", Area::Telling, Level::Must),
        "fine",
    )];
    let page = super::super::html::html(&report(&results), &results).unwrap();
    let document = parsed(&page);
    assert!(texts(&document).contains("The watcher keeps every must"));
    assert!(!texts(&document).contains("What was broken"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]
    #[test]
    fn whatever_was_written_the_page_has_the_same_elements(odd in odd_text()) {
        // Something plain with as many signs, so that the same words have room.
        let odd = format!("x{odd}");
        let odd_page = page(&odd);
        let document = parsed(&odd_page);
        let plain_page = page("x");
        let (mut odd, mut plain) = (elements(&document), elements(&parsed(&plain_page)));
        // A word that has no room on its strip is told in the strip's title alone.
        odd.remove("text");
        plain.remove("text");
        prop_assert_eq!(odd, plain);
    }
}
