use serde_json::json;

use super::*;

fn drift(pointer: &str, change: impl Into<Change>) -> Drift {
    Drift {
        name: "sample".to_owned(),
        pointer: pointer.to_owned(),
        change: change.into(),
        class: DriftClass::Breaking,
    }
}

fn add(member: &str) -> AddMember {
    AddMember {
        member: member.to_owned(),
        value: json!([1]),
    }
}

#[test]
fn adds_a_member_after_the_others() {
    let mut body = json!({"a": {"z": 1}, "b": 2});
    let drift = drift("/a", add("extra"));
    assert_eq!(drift.apply(&mut body), Ok(()));
    assert_eq!(body.to_string(), r#"{"a":{"z":1,"extra":[1]},"b":2}"#);
    assert_eq!(
        drift.explain(),
        "/a has one more member, `extra`, with the value [1]"
    );
}

#[test]
fn replaces_a_value_by_null_and_keeps_its_place() {
    let mut body = json!({"a": {"x/y": 1}, "b": 2});
    let drift = drift("/a/x~1y", ReplaceByNull);
    assert_eq!(drift.apply(&mut body), Ok(()));
    assert_eq!(body.to_string(), r#"{"a":{"x/y":null},"b":2}"#);
    assert_eq!(drift.explain(), "/a/x~1y is null");
}

#[test]
fn a_drift_that_does_not_fit_leaves_the_body_alone() {
    for (drift, miss) in [
        (drift("/c", ReplaceByNull), "the body has nothing at `/c`"),
        (drift("/a", add("x")), "`/a` is not an object"),
        (drift("", add("a")), "`` has a member `a` already"),
    ] {
        let mut body = json!({"a": 1});
        assert_eq!(drift.apply(&mut body).unwrap_err().to_string(), miss);
        assert_eq!(body, json!({"a": 1}));
    }
}

#[test]
fn a_drift_is_in_force_while_its_guard_lives_and_each_change_counts() {
    let board = DriftBoard::default();
    let apply = || {
        let mut body = json!({"a": 1});
        (board.apply(&mut body), body)
    };
    let guard = board.raise(drift("/a", ReplaceByNull));
    let second = board.raise(drift("", add("b")));
    assert_eq!(board.generation(), 2);
    assert_eq!(
        apply(),
        (
            vec!["sample".to_owned(), "sample".to_owned()],
            json!({"a": null, "b": [1]})
        )
    );
    drop(guard);
    assert_eq!(apply().1, json!({"a": 1, "b": [1]}));
    drop(second);
    assert_eq!(apply(), (vec![], json!({"a": 1})));
    assert_eq!(board.generation(), 4);
}

#[test]
fn is_written_and_read_back_as_data() {
    for change in [Change::from(add("x")), ReplaceByNull.into()] {
        let drift = drift("/a", change);
        let text = serde_json::to_string(&drift).unwrap();
        assert_eq!(
            serde_json::from_str::<Drift>(&text).unwrap(),
            drift,
            "{text}"
        );
    }
}
