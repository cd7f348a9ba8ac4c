//! `docs/dialects.md` is right: its example, what the example answers, and its tables.

use std::sync::Arc;

use http::{HeaderMap, Method};

use crate::dialect::{Access, Answer, Dialect, DialectFile, Request, Routed, sample};
use crate::scenario::Scenario;
use crate::sim::Simulation;

use super::every::moment;

const PAGE: &str = include_str!("../../../../docs/dialects.md");

/// The files with the keys of the language, each with the page that has tables of them.
const KEYS: [(&str, &str, &str); 7] = [
    (include_str!("../file/mod.rs"), "dialects.md", PAGE),
    (include_str!("../file/auth.rs"), "dialects.md", PAGE),
    (include_str!("../file/route.rs"), "dialects.md", PAGE),
    (
        include_str!("../file/push.rs"),
        "dialect-push.md",
        include_str!("../../../../docs/dialect-push.md"),
    ),
    (
        include_str!("../file/http.rs"),
        "dialect-http.md",
        include_str!("../../../../docs/dialect-http.md"),
    ),
    (
        include_str!("../file/mqtt.rs"),
        "dialect-publishing.md",
        include_str!("../../../../docs/dialect-publishing.md"),
    ),
    (
        include_str!("../file/announce.rs"),
        "dialect-publishing.md",
        include_str!("../../../../docs/dialect-publishing.md"),
    ),
];

fn finished_file() -> DialectFile {
    let (_, rest) = PAGE.split_once("## The finished file").unwrap();
    let (_, rest) = rest.split_once("```toml\n").unwrap();
    let (example, _) = rest.split_once("```").unwrap();
    DialectFile::parse("shed.toml", example).unwrap_or_else(|error| panic!("{error}"))
}

/// Gives what the host says to a request at a moment of the scenario `printing`.
fn answer(dialect: &Dialect, method: &Method, path: &str, at_s: f64, key: &str) -> Answer {
    let scenario = Scenario::builtin("printing").unwrap().unwrap();
    let mut simulation = Simulation::new(Arc::new(scenario), 1);
    let truth = simulation.truth_at(moment(at_s));
    let mut headers = HeaderMap::new();
    headers.insert("shed-key", key.parse().unwrap());
    let request = Request {
        method,
        path,
        query: None,
        headers: &headers,
        body: b"",
    };
    match dialect.route(&request, &Access::by_key("KEY")) {
        Routed::Body(matched) => dialect.render_answer(&matched, &truth),
        Routed::Command(matched) => {
            let order = dialect.order(&matched, &request, &truth).unwrap();
            if dialect.missing(&matched, &truth).unwrap().is_some() {
                return dialect.render_answer(&matched, &truth);
            }
            match simulation.command(moment(at_s), order.command) {
                Ok(()) => dialect.render_answer(&matched, &simulation.truth_at(moment(at_s))),
                Err(refused) => dialect.refused(&matched, &refused, &truth).unwrap(),
            }
        }
        Routed::Answer(answer) => answer,
        other => panic!("{other:?}"),
    }
}

fn text(answer: &Answer) -> String {
    String::from_utf8(answer.body.to_vec()).unwrap()
}

#[test]
fn the_worked_example_answers_as_the_page_shows() {
    let file = finished_file();
    let mut shown = 0;
    for block in PAGE.split("```text\n$ curl ").skip(1) {
        let (command, rest) = block.split_once('\n').unwrap();
        let body = rest.lines().next().unwrap();
        let (_, target) = command.split_once("$HOST").unwrap();
        let (path, when) = target.split_once("    # while it ").unwrap();
        let at_s = match when {
            "prints" => 7200.0,
            "rests" => 0.0,
            other => panic!("{other}"),
        };
        let method = match command.contains("-X POST") {
            true => Method::POST,
            false => Method::GET,
        };
        let answer = answer(file.first(), &method, path, at_s, "KEY");
        assert_eq!(text(&answer), body, "{command}");
        shown += 1;
    }
    assert_eq!(shown, 5);
}

#[test]
fn the_steps_are_a_file_too_and_a_slip_is_told_as_the_page_shows() {
    let (steps, _) = PAGE.split_once("## The finished file").unwrap();
    let blocks = steps.split("```toml\n").skip(1);
    let blocks: Vec<&str> = blocks
        .map(|block| block.split_once("```").unwrap().0)
        .collect();
    let text = blocks.join("\n");
    DialectFile::parse("shed.toml", &text).unwrap();
    let slip = text.replace("up_time_seconds", "up_time_second");
    let error = DialectFile::parse("shed.toml", &slip).unwrap_err();
    assert!(PAGE.contains(&format!("coldbed: {error}\n")), "{error}");
}

#[test]
fn the_worked_example_refuses_as_the_page_says() {
    let file = finished_file();
    let refused = answer(file.first(), &Method::GET, "/status", 0.0, "wrong");
    assert_eq!(
        (refused.status.as_u16(), &*text(&refused)),
        (403, "{\"oops\":\"Forbidden\"}")
    );
    assert!(PAGE.contains("answers 403 and `{\"oops\":\"Forbidden\"}`"));
}

#[test]
fn the_update_of_the_worked_example_renames_a_member() {
    let file = finished_file();
    let updated = &file.versions()[1];
    let task = text(&answer(updated, &Method::GET, "/task", 7200.0, "KEY"));
    assert!(
        task.starts_with("{\"name\":\"tool-tray\",") && task.ends_with("\"layer\":26}"),
        "{task}"
    );
}

/// Gives the keys of the raw types, as a file writes them.
fn keys(source: &str) -> Vec<String> {
    let mut keys = Vec::new();
    let field = "pub(in crate::dialect) ";
    for line in source.lines() {
        let Some(rest) = line.trim().strip_prefix(field) else {
            continue;
        };
        let Some((name, _)) = rest.split_once(':') else {
            continue;
        };
        if !rest.contains("::{") && !name.contains(' ') {
            // `match` and `as` are words of Rust.
            keys.push(match name {
                "matches" => "match".to_owned(),
                "names" => "as".to_owned(),
                name => name.replace('_', "-"),
            });
        }
    }
    keys
}

#[test]
fn every_key_is_in_the_page() {
    let mut count = 0;
    for (source, name, page) in KEYS {
        for key in keys(source) {
            count += 1;
            let forms = [
                format!("`{key}`"),
                format!("`[{key}"),
                format!("`[[{key}"),
                format!("{{ {key} ="),
                format!("\n{key} = "),
                format!(".{key}]"),
            ];
            assert!(
                forms.iter().any(|form| page.contains(form)),
                "docs/{name} lacks `{key}`"
            );
        }
    }
    assert!(count > 100, "only {count} keys were found");
}

#[test]
fn every_name_that_expressions_see_is_in_the_page() {
    fn walk(value: &serde_json::Value, inside: &str) {
        for (name, value) in value.as_object().into_iter().flatten() {
            // The heaters' names are the scenario's.
            assert!(
                inside == "heaters" || PAGE.contains(&format!("`{name}`")),
                "{name}"
            );
            walk(value, name);
        }
    }
    let truth = &sample::samples()[4].truth;
    walk(&serde_json::to_value(truth).unwrap(), "");
}
