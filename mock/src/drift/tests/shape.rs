use serde_json::{Value, json};

use super::*;

fn text(text: &str) -> String {
    text.to_owned()
}

/// Checks a drift that fits: what the body is then, and the sentence.
#[track_caller]
fn fits(pointer: &str, change: impl Into<Change>, before: &str, after: &str, sentence: &str) {
    let drift = Drift::of(pointer, change);
    let mut body: Value = serde_json::from_str(before).unwrap();
    assert_eq!(drift.apply(&mut body), Ok(()));
    assert_eq!(body.to_string(), after);
    assert_eq!(drift.explain(), format!("{sentence}."));
}

/// Checks that a drift does not fit, says why, and changes nothing.
#[track_caller]
fn misses(pointer: &str, change: impl Into<Change>, before: &str, why: &str) {
    let drift = Drift::of(pointer, change);
    let mut body: Value = serde_json::from_str(before).unwrap();
    assert_eq!(drift.apply(&mut body).unwrap_err().to_string(), why);
    assert_eq!(body.to_string(), before);
    assert_eq!(drift.inverse(&body), None);
}

#[test]
fn adds_a_member_after_the_others() {
    let add = |member| AddMember {
        member: text(member),
        value: json!([1]),
    };
    fits(
        "/a",
        add("extra"),
        r#"{"a":{"z":1},"b":2}"#,
        r#"{"a":{"z":1,"extra":[1]},"b":2}"#,
        "/a has one more member, `extra`, with the value [1]",
    );
    misses("/a", add("x"), r#"{"a":1}"#, "`/a` is not an object");
    misses("", add("a"), r#"{"a":1}"#, "`` has a member `a` already");
}

#[test]
fn replaces_a_value_and_keeps_its_place() {
    fits(
        "/a/x~1y",
        ReplaceByNull,
        r#"{"a":{"x/y":1},"b":2}"#,
        r#"{"a":{"x/y":null},"b":2}"#,
        "/a/x~1y is null",
    );
    let value = json!("resting");
    let replace = ReplaceValue { value };
    fits(
        "/0",
        replace.clone(),
        r#"["idle",2]"#,
        r#"["resting",2]"#,
        "/0 has the value \"resting\"",
    );
    misses("/c", ReplaceByNull, "{}", "the body has nothing at `/c`");
    misses("/2", replace, "[1,2]", "the body has nothing at `/2`");
}

#[test]
fn renames_a_member_and_keeps_its_place() {
    let rename = RenameMember { to: text("c") };
    fits(
        "/x/a",
        rename.clone(),
        r#"{"x":{"a":1,"b":2}}"#,
        r#"{"x":{"c":1,"b":2}}"#,
        "/x/a has another name, `c`",
    );
    let taken = "`/a` has a member `c` already";
    misses("/a", rename.clone(), r#"{"a":1,"c":2}"#, taken);
    let element = "`/0` is not a member of an object";
    misses("/0", rename.clone(), "[1]", element);
    misses("", rename.clone(), "{}", "`` is not a member of an object");
    misses("/a", rename, "{}", "the body has nothing at `/a`");
}

#[test]
fn removes_a_member_and_leaves_the_order_of_the_others() {
    fits(
        "/a",
        RemoveMember,
        r#"{"a":1,"b":2,"c":3}"#,
        r#"{"b":2,"c":3}"#,
        "/a is missing",
    );
    let element = "`/0` is not a member of an object";
    misses("/0", RemoveMember, "[1]", element);
}

#[test]
fn moves_a_member_to_an_object_that_is_there() {
    let to = |to| MoveMember { to: text(to) };
    fits(
        "/a/x",
        to("/b/0/y"),
        r#"{"a":{"x":1,"z":2},"b":[{}]}"#,
        r#"{"a":{"z":2},"b":[{"y":1}]}"#,
        "/a/x has moved to /b/0/y",
    );
    let body = r#"{"a":{"x":1},"b":[2]}"#;
    for (target, why) in [
        ("/c/y", "the body has nothing at `/c`"),
        ("/b/0", "`/b` is not an object"),
        ("/b", "`` has a member `b` already"),
        ("/a", "`` has a member `a` already"),
        ("/a/x/y", "`/a` cannot be moved into itself, to `/a/x/y`"),
        ("", "`` is not a member of an object"),
    ] {
        misses("/a", to(target), body, why);
    }
    misses(
        "/b/0",
        to("/c"),
        body,
        "`/b/0` is not a member of an object",
    );
}

#[test]
fn makes_a_text_of_a_number_and_a_number_of_a_text() {
    fits(
        "/a",
        NumberAsText,
        r#"{"a":21.5}"#,
        r#"{"a":"21.5"}"#,
        "/a is a text with the number in it",
    );
    misses("/a", NumberAsText, r#"{"a":"1"}"#, "`/a` is not a number");
    fits(
        "/a",
        TextAsNumber,
        r#"{"a":"21"}"#,
        r#"{"a":21}"#,
        "/a is the number that was a text",
    );
    for body in [r#"{"a":"idle"}"#, r#"{"a":"021"}"#, r#"{"a":1}"#] {
        let why = "`/a` is not a text with a number in it";
        misses("/a", TextAsNumber, body, why);
    }
}

#[test]
fn gives_a_number_in_another_unit() {
    let scale = |factor, offset| Scale { factor, offset };
    fits(
        "/0",
        scale(0.01, 0.0),
        "[50]",
        "[0.5]",
        "/0 is 0.01 times what it was",
    );
    fits(
        "/0",
        scale(1000.0, 0.0),
        "[210]",
        "[210000]",
        "/0 is 1000 times what it was",
    );
    fits(
        "/0",
        scale(1.8, 32.0),
        "[20.5]",
        "[68.9]",
        "/0 is 1.8 times what it was, plus 32",
    );
    misses("/0", scale(2.0, 0.0), "[null]", "`/0` is not a number");
    let infinite = "`inf` is not a JSON number";
    misses("/0", scale(1e300, 0.0), "[1e+300]", infinite);
}

#[test]
fn makes_an_array_of_an_object_and_an_object_of_a_value() {
    fits(
        "/a",
        ObjectAsArray,
        r#"{"a":{"x":1,"y":[2]}}"#,
        r#"{"a":[1,[2]]}"#,
        "/a is an array of its members' values",
    );
    misses("", ObjectAsArray, "[1]", "`` is not an object");
    let member = text("value");
    let wrap = ValueAsObject { member };
    fits(
        "/0",
        wrap.clone(),
        "[210]",
        r#"[{"value":210}]"#,
        "/0 is an object with the value as its member `value`",
    );
    misses("/1", wrap, "[210]", "the body has nothing at `/1`");
}

#[test]
fn adds_an_element_at_either_end() {
    let value = json!(0);
    let append = AppendElement { value };
    fits(
        "/a",
        append.clone(),
        r#"{"a":[1,2]}"#,
        r#"{"a":[1,2,0]}"#,
        "/a has one more element at its end, 0",
    );
    misses("", append, r#"{"a":1}"#, "`` is not an array");
    let value = json!(0);
    let prepend = PrependElement { value };
    fits(
        "",
        prepend.clone(),
        "[1,2]",
        "[0,1,2]",
        "the whole body has another first element, 0",
    );
    misses("", prepend, "1", "`` is not an array");
}

#[test]
fn gives_the_members_in_another_order() {
    fits(
        "",
        ReverseMembers,
        r#"{"b":1,"a":{"y":1,"x":2},"c":3}"#,
        r#"{"c":3,"a":{"y":1,"x":2},"b":1}"#,
        "the whole body has its members in the opposite order",
    );
    fits(
        "",
        SortMembers,
        r#"{"b":1,"a":{"y":1,"x":2},"c":3}"#,
        r#"{"a":{"y":1,"x":2},"b":1,"c":3}"#,
        "the whole body has its members ordered by name",
    );
    misses("", ReverseMembers, "[2,1]", "`` is not an object");
    misses("", SortMembers, "[2,1]", "`` is not an object");
}

#[test]
fn adds_a_deep_or_a_long_member_within_limits() {
    let deepen = |levels| DeepenUnknown {
        member: text("deep"),
        levels,
    };
    fits(
        "",
        deepen(3),
        "{}",
        r#"{"deep":[[[]]]}"#,
        "the whole body has one more member, `deep`, with 3 arrays within each other",
    );
    fits(
        "",
        deepen(0),
        "{}",
        r#"{"deep":null}"#,
        "the whole body has one more member, `deep`, with 0 arrays within each other",
    );
    let too_deep = "65 levels are more than the 64 that a drift makes";
    misses("", deepen(65), "{}", too_deep);
    let pad = |bytes| Pad {
        member: text("pad"),
        bytes,
    };
    fits(
        "",
        pad(4),
        "{}",
        r#"{"pad":"xxxx"}"#,
        "the whole body has one more member, `pad`, with a text of 4 bytes",
    );
    let too_long = "33554433 bytes are more than the 33554432 that a drift makes";
    misses("", pad((32 << 20) + 1), "{}", too_long);
    misses("", pad(1), r#"{"pad":1}"#, "`` has a member `pad` already");
}

#[test]
fn an_inverse_is_what_a_person_would_do() {
    let body = json!({"a": {"x": 1}, "b": {}});
    let rename = Drift::of("/a", RenameMember { to: text("c") });
    let undo = rename.inverse(&body).unwrap();
    assert_eq!(undo.name, "undo-rename-member");
    assert_eq!(undo.explain(), "/c has another name, `a`.");
    let moved = Drift::of("/a/x", MoveMember { to: text("/a/y") });
    assert_eq!(
        moved.inverse(&body).unwrap().explain(),
        r#"/a has the value {"x":1}."#
    );
    let pad = Pad {
        member: text("p/q"),
        bytes: 1,
    };
    let undo = Drift::of("/b", pad).inverse(&body).unwrap();
    assert_eq!(undo.explain(), "/b/p~1q is missing.");
    assert_eq!(Drift::of("", DecimalPoint).inverse(&body), None);
}
