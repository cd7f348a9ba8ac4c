//! Two sessions of an invented host, before and after its software was updated.

use proptest::prelude::*;
use serde_json::{Value, json};

use super::*;
use crate::format::SessionFile;
use crate::model::Session;

/// Gives a session of these answers to `GET /status`.
fn session(bodies: &[Value]) -> Session {
    with_fields(bodies, &[("Content-Type", "application/json")], 200)
}

fn with_fields(bodies: &[Value], fields: &[(&str, &str)], status: u16) -> Session {
    let fields: Vec<[&str; 2]> = fields.iter().map(|(name, value)| [*name, *value]).collect();
    let mut lines = vec![
        json!({ "line": "session", "version": 1 }),
        json!({ "line": "connection-opened", "at-seconds": 0, "connection": 1 }),
    ];
    for (number, body) in (1_u64..).zip(bodies) {
        lines.push(
            json!({ "line": "request", "at-seconds": number, "connection": 1, "exchange": number,
            "method": "GET", "target": "/status?t=1", "fields": [] }),
        );
        lines.push(json!({ "line": "answer", "at-seconds": number, "exchange": number, "status": status,
            "reason": "", "fields": fields, "body": { "text": body.to_string() }, "framing": "length",
            "pieces": [], "end": "complete" }));
    }
    let text: String = lines.iter().map(|line| format!("{line}\n")).collect();
    SessionFile::read(&text).unwrap().session
}

/// Writes each difference in a line.
fn told(first: &Session, second: &Session) -> String {
    let line = |one: &Difference| {
        let side = |side: &Option<String>| side.clone().unwrap_or_else(|| "-".to_owned());
        format!(
            "{} {}: {} | {}",
            one.place,
            one.what.word(),
            side(&one.first),
            side(&one.second)
        )
    };
    let lines: Vec<String> = diff(first, second).iter().map(line).collect();
    lines.join("\n")
}

#[test]
fn what_merely_varies_is_no_difference() {
    let one = session(&[
        json!({"is": 21.5, "up": 10}),
        json!({"is": 215.25, "up": 20}),
    ]);
    let other = session(&[
        json!({"is": 58.5, "up": 90_000}),
        json!({"is": 60.75, "up": 90_005}),
    ]);
    assert_eq!(told(&one, &other), "/up range: 10 to 20 | 90000 to 90005");
    let near = session(&[
        json!({"is": 58.5, "up": 15}),
        json!({"is": 60.75, "up": 300}),
    ]);
    assert_eq!(told(&one, &near), "");
}

#[test]
fn each_kind_of_change_is_told_by_its_place() {
    let one = session(&[
        json!({"state": "busy", "is": 21.5, "share": 0.25, "left": 300, "name": "clip", "list": [1, 2]}),
        json!({"state": "free", "is": 22.5, "share": 0.5, "left": 200, "name": "clip", "list": [1]}),
    ]);
    let other = session(&[
        json!({"state": "working", "is": 21, "share": 25.0, "left": null, "list": [1, "two"], "fan": {"on": true}}),
        json!({"state": "free", "is": 22, "share": 50.0, "left": 190, "list": [], "fan": {"on": false}}),
    ]);
    insta::assert_snapshot!(told(&one, &other));
}

#[test]
fn routes_statuses_and_fields_are_compared_and_what_is_in_each_answer_another_is_not() {
    let body = [json!({"a": 1})];
    let one = with_fields(
        &body,
        &[
            ("Server", "one"),
            ("Date", "then"),
            ("Cache-Control", "no-cache"),
        ],
        200,
    );
    let mut other = with_fields(
        &body,
        &[("Server", "two"), ("Date", "now"), ("X-Made", "here")],
        203,
    );
    assert_eq!(
        told(&one, &other),
        " statuses: 200 | 203\ncache-control field: no-cache | -\nserver value of the field: one | two\n\
         x-made field: - | here"
    );
    other.exchanges[0].request.target = "/state".to_owned();
    assert_eq!(
        told(&one, &other),
        " route: - | 1 answers\n route: 1 answers | -"
    );
}

#[test]
fn the_form_for_programs_has_the_words_of_the_documentation() {
    let one = session(&[json!({"left": 5})]);
    let other = session(&[json!({"left": "5"})]);
    let all = serde_json::to_value(diff(&one, &other)).unwrap();
    assert_eq!(
        all,
        json!([{ "route": "GET /status", "place": "/left", "what": "types", "first": "number", "second": "text" }])
    );
}

fn body() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        (-1000_i32..1000).prop_map(Value::from),
        (0.0..300.0_f64).prop_map(Value::from),
        "[a-c]{0,2}".prop_map(Value::from),
    ];
    leaf.prop_recursive(3, 12, 3, |inner| {
        prop_oneof![
            proptest::collection::vec(inner.clone(), 0..3).prop_map(Value::from),
            proptest::collection::btree_map("[a-d/~]", inner, 0..3)
                .prop_map(|members| Value::Object(members.into_iter().collect())),
        ]
    })
}

proptest! {
    #[test]
    fn nothing_differs_from_itself_and_the_other_way_round_is_the_mirror(
        one in proptest::collection::vec(body(), 1..4),
        other in proptest::collection::vec(body(), 1..4),
    ) {
        let (one, other) = (session(&one), session(&other));
        prop_assert_eq!(diff(&one, &one), vec![]);
        let mut mirrored: Vec<Difference> = diff(&other, &one)
            .into_iter()
            .map(|difference| Difference { first: difference.second, second: difference.first, ..difference })
            .collect();
        let mut straight = diff(&one, &other);
        mirrored.sort();
        straight.sort();
        prop_assert_eq!(straight, mirrored);
    }
}
