//! What holds for every truth and for every text.

use std::sync::{Arc, LazyLock};

use indexmap::IndexMap;
use proptest::prelude::*;

use super::{shown_at, with_body};
use crate::dialect::{Dialect, sample};
use crate::sim::{HeaterTruth, Truth};

const PLAIN: &str = include_str!("../../../dialects/plain.toml");

/// What expressions are made of, with the numbers that arithmetic and slices are likely to trip over.
const WORDS: &[&str] = &[
    "job",
    "heaters",
    "phase",
    "at",
    "printer.reasons",
    "words",
    "range",
    "dict",
    "'a'",
    "'ä'",
    "0",
    "1",
    "-1",
    "2.5",
    "1e308",
    "9223372036854775807",
    "99999999999999999999",
    "none",
    "true",
    "|",
    "items",
    "sort",
    "first",
    "last",
    "sum",
    "min",
    "join",
    "round",
    "whole",
    "batch",
    "slice",
    "replace",
    "length",
    "reverse",
    "indent",
    "tojson",
    "int",
    "abs",
    "(",
    ")",
    "[",
    "]",
    "{",
    "}",
    ":",
    ",",
    ".",
    "+",
    "-",
    "*",
    "**",
    "/",
    "//",
    "%",
    "~",
    "==",
    "<",
    "in",
    "is",
    "not",
    "and",
    "defined",
    "divisibleby",
    "if",
    "else",
];

static DIALECT: LazyLock<Arc<Dialect>> = LazyLock::new(|| Dialect::builtin("plain").unwrap());

/// Any float, with those that no JSON can write.
fn float() -> impl Strategy<Value = f64> {
    prop_oneof![
        any::<f64>(),
        -50.0..400.0,
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(f64::NEG_INFINITY),
        Just(-0.0)
    ]
}

prop_compose! {
    fn heater()(actual_celsius in prop::option::of(float()), target_celsius in float(), on: bool) -> HeaterTruth {
        let mut heater = sample::samples()[0].truth.heaters["extruder"].clone();
        heater.actual_celsius = actual_celsius;
        heater.target_celsius = target_celsius;
        heater.on = on;
        heater
    }
}

prop_compose! {
    fn truth()(
        base in 0..sample::samples().len(),
        heaters in prop::collection::vec((any::<String>(), heater()), 0..4),
        reasons in prop::collection::vec(any::<String>(), 0..3),
        name in any::<String>(),
        up_time_seconds: u64,
        numbers in (float(), float(), prop::option::of(float())),
    ) -> Truth {
        let mut truth = sample::samples()[base].truth.clone();
        truth.heaters = IndexMap::from_iter(heaters);
        truth.printer.reasons = reasons;
        truth.printer.up_time_seconds = up_time_seconds;
        if let Some(job) = &mut truth.job {
            job.name = name;
            (job.progress_percent, job.elapsed_seconds, job.remaining_seconds) = numbers;
        }
        truth
    }
}

proptest! {
    #[test]
    fn every_truth_has_a_body_of_valid_json_with_its_names_and_numbers(truth in truth()) {
        let answer = DIALECT.render_answer(&shown_at(&DIALECT, "/printer"), &truth);
        prop_assert_eq!(answer.status, 200);
        let body: serde_json::Value = serde_json::from_slice(&answer.body).unwrap();
        for (name, heater) in &truth.heaters {
            let shown = &body["heaters"][name]["actual-celsius"];
            if heater.actual_celsius.is_some_and(f64::is_finite) {
                prop_assert!(shown.is_f64(), "{:?} is {}", heater.actual_celsius, shown);
            } else {
                prop_assert!(shown.is_null(), "{:?} is {}", heater.actual_celsius, shown);
            }
        }
        prop_assert_eq!(body["heaters"].as_object().unwrap().len(), truth.heaters.len());
        prop_assert_eq!(&body["printer-up-time"], truth.printer.up_time_seconds);
        match &truth.job {
            None => prop_assert!(body["job"].is_null()),
            Some(job) => prop_assert_eq!(&body["job"]["job-name"], &job.name),
        }
    }

    #[test]
    fn no_text_makes_the_reader_panic(text in any::<String>()) {
        let _ = Dialect::parse("any", &text);
    }

    #[test]
    fn no_change_of_a_good_file_makes_the_reader_panic(
        begin in 0..PLAIN.len(),
        length in 0_usize..60,
        put in "[\\PC\\n\"'{}%|~/\\[\\]]{0,12}",
    ) {
        let end = (begin + length).min(PLAIN.len());
        prop_assume!(PLAIN.is_char_boundary(begin) && PLAIN.is_char_boundary(end));
        let text = format!("{}{put}{}", &PLAIN[..begin], &PLAIN[end..]);
        let _ = Dialect::parse("changed", &text);
    }

    #[test]
    fn no_string_in_a_body_makes_the_reader_panic(
        key in "(\\{%|\\{\\{|%\\}|\\}\\}| |if|for|in|with|=|a|,|'|\\PC){0,12}",
        leaf in "(\\{%|\\{\\{|%\\}|\\}\\}| |job|\\.|\\||\\[|\\]|'|-|[0-9]|\\PC){0,12}",
    ) {
        let body = serde_json::json!({ key: leaf }).to_string();
        if !body.contains("'''") {
            let _ = Dialect::parse("any", &with_body(&body));
        }
    }

    #[test]
    fn no_expression_makes_the_reader_panic(
        words in prop::collection::vec(prop::sample::select(WORDS), 1..10),
    ) {
        let body = serde_json::json!(format!("{{{{ {} }}}}", words.join(" "))).to_string();
        let _ = Dialect::parse("any", &with_body(&body));
    }

    #[test]
    fn every_path_has_an_answer_or_a_route(path in "/[\\x21-\\x7e]{0,20}") {
        let _ = super::route(&DIALECT, &http::Method::GET, &path);
    }
}
