//! What was there before and after.

use serde_json::json;

use super::*;

fn shown(pointer: &str, change: impl Into<Change>, body: &str) -> String {
    let body: Value = serde_json::from_str(body).unwrap();
    let drift = Drift::of(pointer, change);
    drift.effect(&body).unwrap().to_string()
}

#[test]
fn a_change_of_the_shape_shows_the_value_at_its_place() {
    let body = r#"{"a":{"x":210},"b":[1]}"#;
    let to = "y".to_owned();
    let append = AppendElement { value: json!(2) };
    assert_eq!(shown("/a/x", NumberAsText, body), r#"210 -> "210""#);
    assert_eq!(
        shown("/a/x", RenameMember { to }, body),
        r#"{"x":210} -> {"y":210}"#
    );
    let to = "/c".to_owned();
    assert_eq!(
        shown("/a/x", MoveMember { to }, body),
        r#"{"a":{"x":210},"b":[1]} -> {"a":{},"b":[1],"c":210}"#
    );
    assert_eq!(shown("/a/x", RemoveMember, body), "210 -> nothing");
    assert_eq!(shown("/b", append, body), "[1] -> [1,2]");
}

#[test]
fn a_change_of_the_spelling_shows_the_bytes_of_its_place_or_of_the_body() {
    let body = r#"{"a":{"x":"y"},"b":[100,1]}"#;
    assert_eq!(shown("/b", ExponentNumbers, body), "[100,1] -> [1e2,1e0]");
    assert_eq!(shown("/a/x", InvalidUtf8, body), r#""y" -> "y\xff""#);
    let place = SurrogatePlace::Name;
    let half = SurrogateHalf::High;
    assert_eq!(
        shown("/a/x", LoneSurrogate { half, place }, body),
        r#"{"x":"y"} -> {"x\ud800":"y"}"#
    );
    let cut = Truncated { bytes: 5 };
    assert_eq!(shown("/a", cut, r#"{"a":1}"#), r#"{"a":1} -> {"a":"#);
    let empty = shown("/a", EmptyBody, r#"{"a":1}"#);
    assert_eq!(empty, r#"{"a":1} -> no bytes"#);
    assert_eq!(shown("", ByteOrderMark, "1"), r"1 -> \u{feff}1");
    let duplicate = DuplicateMember {
        member: "x".to_owned(),
        value: json!(2),
        position: Position::Last,
    };
    assert_eq!(
        shown("/a", duplicate, r#"{"a":{"x":1}}"#),
        r#"{"x":1} -> {"x":1,"x":2}"#
    );
}

#[test]
fn a_change_of_the_form_shows_a_field() {
    assert_eq!(shown("", Gzip, "1"), "nothing -> Content-Encoding: gzip");
    let case = FieldCase::Title;
    assert_eq!(
        shown("", FieldNames { case }, "1"),
        "content-type: application/json -> Content-Type: application/json"
    );
}

#[test]
fn what_is_long_is_shown_around_the_first_other_character() {
    let effect = Effect {
        before: Some(format!("{}b{}", "a".repeat(50), "a".repeat(49)).into_bytes()),
        after: Some(b"a".repeat(100)),
    };
    assert_eq!(
        effect.excerpts(24),
        ["…aaaaaaaaaaaabaaaaaaaaaaa…", "…aaaaaaaaaaaaaaaaaaaaaaaa…"]
    );
    let at_the_end = Effect {
        before: Some(b"a".repeat(100)),
        after: Some([b"a".repeat(100), b"b".to_vec()].concat()),
    };
    assert_eq!(at_the_end.excerpts(5), ["…aaaaa", "…aaaab"]);
}

#[test]
fn a_drift_that_does_not_fit_has_no_effect() {
    let body = json!({"a": 1});
    for (drift, why) in [
        (
            Drift::of("/b", RemoveMember),
            "the body has nothing at `/b`",
        ),
        (Drift::of("/a", InvalidUtf8), "`/a` is not a text"),
        (
            Drift::of("/a", Gzip),
            "the change is of the whole answer and has no place in it such as `/a`",
        ),
    ] {
        assert_eq!(drift.effect(&body).unwrap_err().to_string(), why);
    }
}
