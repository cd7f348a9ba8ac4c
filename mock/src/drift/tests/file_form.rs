//! Drifts as files have them.

use serde_json::json;

use super::*;

fn read(text: &str) -> Result<Drift, String> {
    toml::from_str(text).map_err(|error: toml::de::Error| error.message().to_owned())
}

#[test]
fn a_change_is_its_name_or_a_table_with_its_parameters() {
    let scale = Scale {
        factor: 0.01,
        offset: 0.0,
    };
    let low = LoneSurrogate {
        half: SurrogateHalf::Low,
        place: SurrogatePlace::Text,
    };
    let value = json!({"word": "resting", "since": 3});
    for (change, wanted) in [
        ("'replace-by-null'", ReplaceByNull.into()),
        ("{ replace-by-null = {} }", ReplaceByNull.into()),
        ("{ scale = { factor = 0.01 } }", Change::from(scale)),
        ("'lone-surrogate'", LoneSurrogate::default().into()),
        ("{ lone-surrogate = {} }", LoneSurrogate::default().into()),
        ("{ lone-surrogate = { half = 'low' } }", low.into()),
        (
            "{ replace-value = { value = { word = 'resting', since = 3 } } }",
            ReplaceValue { value }.into(),
        ),
    ] {
        let text = format!("pointer = '/job/progress'\nchange = {change}\n");
        let drift = Drift::of("/job/progress", wanted);
        assert_eq!(read(&text), Ok(drift), "{text}");
    }
}

#[test]
fn name_and_class_are_the_kinds_unless_they_are_given_and_the_place_is_the_body() {
    let text = "change = 'remove-member'\npointer = '/a'\nname = 'no nozzle'\nclass = 'compatible'";
    let drift = read(text).unwrap();
    assert_eq!(drift.name, "no nozzle");
    assert_eq!(drift.class, DriftClass::Compatible);
    assert_eq!(read("change = 'empty-body'"), Ok(Drift::of("", EmptyBody)));
}

#[test]
fn what_is_wrong_is_said_with_its_name() {
    for (text, why) in [
        ("pointer = '/a'", "missing field `change`"),
        (
            "change = 'empty-body'\nplace = '/a'",
            "unknown field `place`, expected one of `pointer`, `change`, `name`, `class`",
        ),
        (
            "change = 'empty-body'\nclass = 'harmless'",
            "unknown variant `harmless`, expected one of `compatible`, `breaking`, `hostile`",
        ),
        (
            "change = 'replace-by-nul'",
            "there is no change `replace-by-nul` (did you mean `replace-by-null`?)",
        ),
        (
            "change = 'x'",
            "there is no change `x` (docs/drifts.md lists them)",
        ),
        (
            "change = { frobnicate = {} }",
            "there is no change `frobnicate` (docs/drifts.md lists them)",
        ),
        ("change = 'scale'", "missing field `factor`"),
        (
            "change = { scale = { factor = 2.0, ofset = 1.0 } }",
            "unknown field `ofset`, expected `factor` or `offset`",
        ),
        (
            "change = { replace-by-null = { value = 1 } }",
            "unknown field `value`, there are no fields",
        ),
        (
            "change = { remove-member = {}, empty-body = {} }",
            "one drift makes one change, and has `remove-member` and `empty-body`",
        ),
        ("change = {}", "the change has no name"),
        (
            "change = 3",
            "invalid type: integer `3`, expected the name of a change, or a table with it and its \
             parameters",
        ),
        (
            "change = { scale = 2.0 }",
            "invalid type: floating point `2.0`, expected a table of parameters",
        ),
        (
            "change = { scale = { factor = nan } }",
            "`NaN` is not a JSON number",
        ),
        (
            "change = { huge-number = { text = '1e' } }",
            "`1e` is not a JSON number",
        ),
        (
            "change = { pad = { member = 'x', bytes = 100000000 } }",
            "100000000 bytes are more than the 33554432 that a drift makes",
        ),
        (
            "change = { corpus = { entry = 'x' } }",
            "the corpus has no entry `x`",
        ),
        (
            "pointer = 'a'\nchange = 'remove-member'",
            "`a` is no JSON Pointer (it is empty or begins with `/`, and `~` is `~0`)",
        ),
        (
            "pointer = '/a'\nchange = { move-member = { to = 'b' } }",
            "`b` is no JSON Pointer (it is empty or begins with `/`, and `~` is `~0`)",
        ),
        (
            "pointer = '/a'\nchange = 'gzip'",
            "the change is of the whole answer and has no place in it such as `/a`",
        ),
    ] {
        assert_eq!(read(text), Err(why.to_owned()), "{text}");
    }
}
