use serde_json::{Value, json};

use super::*;

/// Checks a drift that fits: the bytes, and the sentence.
#[track_caller]
fn fits(pointer: &str, change: impl Into<Change>, before: &str, bytes: &[u8], sentence: &str) {
    let drift = Drift::of(pointer, change);
    let body: Value = serde_json::from_str(before).unwrap();
    let spelled = drift.spell(&body).unwrap();
    assert_eq!(
        spelled,
        bytes,
        "{:?} is not {:?}",
        String::from_utf8_lossy(&spelled),
        String::from_utf8_lossy(bytes)
    );
    assert_eq!(drift.explain(), format!("{sentence}."));
}

#[track_caller]
fn misses(pointer: &str, change: impl Into<Change>, before: &str, why: &str) {
    let drift = Drift::of(pointer, change);
    let body: Value = serde_json::from_str(before).unwrap();
    assert_eq!(drift.spell(&body).unwrap_err().to_string(), why);
    let board = DriftBoard::default();
    let _guard = board.raise(drift);
    assert_eq!(board.spell(&body), None);
}

#[test]
fn puts_white_space_between_tokens() {
    let body = r#"{"a":[1,{}],"b":[]}"#;
    fits(
        "",
        Indented { spaces: 2 },
        body,
        b"{\n  \"a\": [\n    1,\n    {}\n  ],\n  \"b\": []\n}",
        "the whole body has a line for each member, indented by 2 spaces",
    );
    let blank = Blank::Tab;
    fits(
        "/a",
        Spaced { blank },
        body,
        b"{\"a\":[\t1\t,\t{}\t],\"b\":[]}",
        "/a has a tab around every bracket, colon and comma",
    );
    misses("/c", Spaced { blank }, body, "the body has nothing at `/c`");
}

#[test]
fn writes_characters_as_escapes() {
    fits(
        "",
        EscapedNames,
        r#"{"aZ1":"é b"}"#,
        "{\"\\u0061\\u005a1\":\"é \\u0062\"}".as_bytes(),
        "the whole body has every ASCII letter of its names and texts as an escape",
    );
    fits(
        "/a",
        NonAsciiEscaped,
        r#"{"a":"é°𝄞b","é":1}"#,
        "{\"a\":\"\\u00e9\\u00b0\\ud834\\udd1eb\",\"é\":1}".as_bytes(),
        "/a has every character beyond ASCII as an escape",
    );
}

#[test]
fn writes_numbers_in_another_form_where_it_is_asked_to() {
    fits(
        "/a",
        ExponentNumbers,
        r#"{"a":{"b":[100,1.5]},"c":100}"#,
        br#"{"a":{"b":[1e2,1.5e0]},"c":100}"#,
        "/a has its numbers with an exponent, such as 1e2 for 100",
    );
    fits(
        "/a~1b",
        DecimalPoint,
        r#"{"a/b":21,"a":{"b":21}}"#,
        br#"{"a/b":21.0,"a":{"b":21}}"#,
        "/a~1b has its whole numbers with a decimal point, such as 21.0 for 21",
    );
}

#[test]
fn a_pointer_with_a_lone_tilde_finds_its_place() {
    let body: Value = json!({"m~n": 1});
    let spelled = Drift::of("/m~n", DecimalPoint).spell(&body);
    assert_eq!(spelled.unwrap(), br#"{"m~n":1.0}"#);
}

#[test]
fn writes_a_member_twice() {
    let twice = |member: &str, position| DuplicateMember {
        member: member.to_owned(),
        value: json!(0),
        position,
    };
    let body = r#"{"x":{"a":1,"b":2}}"#;
    fits(
        "/x",
        twice("b", Position::First),
        body,
        br#"{"x":{"b":0,"a":1,"b":2}}"#,
        "/x has `b` twice, with the value 0 as its first member",
    );
    fits(
        "/x",
        twice("a", Position::Last),
        body,
        br#"{"x":{"a":1,"b":2,"a":0}}"#,
        "/x has `a` twice, with the value 0 as its last member",
    );
    let none = "the body has nothing at `/x/c`";
    misses("/x", twice("c", Position::Last), body, none);
    let scalar = "`/x/a` is not an object";
    misses("/x/a", twice("c", Position::Last), body, scalar);
}

#[test]
fn writes_what_is_no_text() {
    let lone = |half, place| LoneSurrogate { half, place };
    for (half, escape) in [
        (SurrogateHalf::High, "\\ud800"),
        (SurrogateHalf::Low, "\\udc00"),
    ] {
        let wanted = format!(r#"["a{escape}",1]"#);
        let sentence = format!("/0 has the lone escape {escape} at the end of its text");
        let change = lone(half, SurrogatePlace::Text);
        fits("/0", change, r#"["a",1]"#, wanted.as_bytes(), &sentence);
        let wanted = format!(r#"{{"x":{{"a{escape}":1,"b":2}}}}"#);
        let sentence = format!("/x/a has the lone escape {escape} at the end of its name");
        let change = lone(half, SurrogatePlace::Name);
        fits(
            "/x/a",
            change,
            r#"{"x":{"a":1,"b":2}}"#,
            wanted.as_bytes(),
            &sentence,
        );
    }
    fits(
        "/0",
        InvalidUtf8,
        r#"["a",1]"#,
        b"[\"a\xff\",1]",
        "/0 has the byte 0xFF at the end of its text",
    );
    let in_text = lone(SurrogateHalf::High, SurrogatePlace::Text);
    misses("/0", in_text, "[1]", "`/0` is not a text");
    let in_name = lone(SurrogateHalf::High, SurrogatePlace::Name);
    misses(
        "/0",
        in_name.clone(),
        "[1]",
        "`/0` is not a member of an object",
    );
    misses("", in_name, "{}", "`` is not a member of an object");
    misses("", InvalidUtf8, "[1]", "`` is not a text");
}

#[test]
fn writes_numbers_that_are_none_or_too_much() {
    fits("/0", NotANumber, "[1]", b"[NaN]", "/0 is NaN");
    misses("/0", NotANumber, "[null]", "`/0` is not a number");
    let huge = |text: &str| HugeNumber {
        text: text.to_owned(),
    };
    fits(
        "/0",
        huge("9007199254740993"),
        "[1]",
        b"[9007199254740993]",
        "/0 is the number 9007199254740993",
    );
    fits(
        "/0",
        huge("-1e400"),
        "[1]",
        b"[-1e400]",
        "/0 is the number -1e400",
    );
    misses("/0", huge("1e400"), r#"["1"]"#, "`/0` is not a number");
    for text in ["", "021", "1.", "NaN", "[1]", "1 ", " 1", "1,2", "-"] {
        let why = format!("`{text}` is not a JSON number");
        misses("/0", huge(text), "[1]", &why);
    }
}

#[test]
fn writes_a_member_too_deep_to_be_a_value() {
    let deep = |levels| Deep {
        member: "d".to_owned(),
        levels,
    };
    fits(
        "",
        deep(3),
        r#"{"a":1}"#,
        br#"{"a":1,"d":[[[]]]}"#,
        "the whole body has one more member, `d`, with 3 arrays within each other",
    );
    let spelled = Drift::of("", deep(10_000)).spell(&json!({})).unwrap();
    assert_eq!(spelled.len(), r#"{"d":}"#.len() + 2 * 10_000);
    assert!(serde_json::from_slice::<Value>(&spelled).is_err());
    misses("", deep(1), r#"{"d":1}"#, "`` has a member `d` already");
    misses("", deep(1), "[1]", "`` is not an object");
    let too_deep = "1000001 levels are more than the 1000000 that a drift makes";
    misses("", deep(1_000_001), "{}", too_deep);
}

#[test]
fn changes_the_bytes_of_bodies_that_have_the_place() {
    let body = r#"{"a":1}"#;
    fits(
        "/a",
        ByteOrderMark,
        body,
        b"\xef\xbb\xbf{\"a\":1}",
        "the body with /a begins with a byte order mark",
    );
    fits(
        "/a",
        Truncated { bytes: 4 },
        body,
        b"{\"a\"",
        "the body with /a ends after 4 bytes",
    );
    fits(
        "/a",
        Truncated { bytes: 99 },
        body,
        body.as_bytes(),
        "the body with /a ends after 99 bytes",
    );
    fits("/a", EmptyBody, body, b"", "the body with /a is empty");
    let text = "\nbye".to_owned();
    fits(
        "/a",
        TrailingText { text },
        body,
        b"{\"a\":1}\nbye",
        "the body with /a has \"\\nbye\" after its end",
    );
    for change in [
        Change::from(ByteOrderMark),
        Truncated { bytes: 4 }.into(),
        EmptyBody.into(),
    ] {
        misses("/b", change, body, "the body has nothing at `/b`");
    }
}

#[test]
fn writes_a_comma_after_the_last() {
    let sentence = "/a has a comma after its last member or element";
    fits(
        "/a",
        TrailingComma,
        r#"{"a":[1]}"#,
        br#"{"a":[1,]}"#,
        sentence,
    );
    fits(
        "/a",
        TrailingComma,
        r#"{"a":{}}"#,
        br#"{"a":{,}}"#,
        sentence,
    );
    let why = "`/a` is not an object or array";
    misses("/a", TrailingComma, r#"{"a":1}"#, why);
}

#[test]
fn writes_any_text_instead_of_a_value() {
    let text = "<p>".to_owned();
    let garbage = Garbage { text };
    fits("/0", garbage.clone(), "[1]", b"[<p>]", "/0 is \"<p>\"");
    fits(
        "",
        garbage.clone(),
        "[1]",
        b"<p>",
        "the whole body is \"<p>\"",
    );
    misses("/1", garbage, "[1]", "the body has nothing at `/1`");
}

#[test]
fn writes_a_text_of_the_corpus_in_the_place_of_a_value_or_as_one_more_member() {
    let entry = |entry: &str, member: Option<&str>| Corpus {
        entry: entry.to_owned(),
        member: member.map(str::to_owned),
    };
    let body = r#"{"a":1,"b":[2]}"#;
    fits(
        "/a",
        entry("number-leading-zero", None),
        body,
        br#"{"a":021,"b":[2]}"#,
        "/a is the text `number-leading-zero` of the corpus (RFC 8259 section 6)",
    );
    fits(
        "",
        entry("utf-8-lone-continuation", None),
        body,
        b"\"\x80\"",
        "the whole body is the text `utf-8-lone-continuation` of the corpus (RFC 8259 section 8.1)",
    );
    fits(
        "",
        entry("number-exponent", Some("c")),
        body,
        br#"{"a":1,"b":[2],"c":1e2}"#,
        "the whole body has one more member, `c`, with the text `number-exponent` of the corpus \
         (RFC 8259 section 6)",
    );
    let unknown = "the corpus has no entry `x`";
    misses("/a", entry("x", None), body, unknown);
    let element = "`/b/0` is not a member of an object";
    misses("/b/0", entry("nothing", None), body, element);
    let taken = "`` has a member `a` already";
    misses("", entry("nothing", Some("a")), body, taken);
    let array = "`/b` is not an object";
    misses("/b", entry("nothing", Some("a")), body, array);
}

#[test]
fn a_sweep_cuts_a_body_at_every_byte() {
    let body = json!({"a": "\u{e9}"});
    let sweep: Vec<(String, Vec<u8>)> = Truncated::sweep(&body)
        .map(|drift| (drift.name.clone(), drift.spell(&body).unwrap()))
        .collect();
    let whole = "{\"a\":\"\u{e9}\"}".as_bytes();
    let wanted = (0..whole.len()).map(|end| (format!("truncated-{end}"), whole[..end].to_vec()));
    assert_eq!(sweep, wanted.collect::<Vec<_>>());
}
