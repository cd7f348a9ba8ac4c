use serde_json::json;

use super::*;

fn add() -> AddMember {
    AddMember {
        member: "b".to_owned(),
        value: json!([1]),
    }
}

#[test]
fn a_drift_is_in_force_while_its_guard_lives_and_each_change_counts() {
    let board = DriftBoard::default();
    let apply = || {
        let mut body = json!({"a": 1});
        (board.apply(&mut body), body)
    };
    let guard = board.raise(Drift::of("/a", ReplaceByNull));
    let second = board.raise(Drift::of("", add()));
    assert_eq!(board.generation(), 2);
    assert_eq!(
        apply(),
        (
            vec!["replace-by-null".to_owned(), "add-member".to_owned()],
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
fn spells_what_is_left_after_the_shape_has_changed() {
    let board = DriftBoard::default();
    let mut body = json!({"a": 1});
    assert_eq!(board.spell(&body), None);
    let _shape = board.raise(Drift::of("", add()));
    assert_eq!(
        board.spell(&body),
        None,
        "nothing in force is of that stage"
    );
    let _point = board.raise(Drift::of("/b", DecimalPoint));
    assert_eq!(board.spell(&body), None, "nothing in force fits");
    board.apply(&mut body);
    let text = |bytes: Option<Vec<u8>>| String::from_utf8(bytes.unwrap()).unwrap();
    assert_eq!(text(board.spell(&body)), r#"{"a":1,"b":[1.0]}"#);
    let _exponent = board.raise(Drift::of("/a", ExponentNumbers));
    let cut = board.raise(Drift::of("", Truncated { bytes: 9 }));
    assert_eq!(text(board.spell(&body)), r#"{"a":1e0,"#);
    let _mark = board.raise(Drift::of("", ByteOrderMark));
    assert_eq!(text(board.spell(&body)), "\u{feff}{\"a\":1e0,");
    drop(cut);
    assert_eq!(text(board.spell(&body)), "\u{feff}{\"a\":1e0,\"b\":[1.0]}");
}

#[test]
fn the_form_is_that_of_all_drifts_in_force_together() {
    let board = DriftBoard::default();
    let names = |case| Drift::of("", FieldNames { case });
    assert_eq!(board.form(), FormChange::default());
    let _shape = board.raise(Drift::of("/a", ReplaceByNull));
    let gzip = board.raise(Drift::of("", Gzip));
    let _upper = board.raise(names(FieldCase::Upper));
    let _elsewhere = board.raise(Drift::of("/a", Chunked));
    let wanted = FormChange {
        gzip: true,
        chunked: false,
        field_case: Some(FieldCase::Upper),
    };
    assert_eq!(board.form(), wanted, "a place in the body has no form");
    drop(gzip);
    let title = board.raise(names(FieldCase::Title));
    let _chunked = board.raise(Drift::of("", Chunked));
    let wanted = FormChange {
        gzip: false,
        chunked: true,
        field_case: Some(FieldCase::Title),
    };
    assert_eq!(board.form(), wanted, "the later letter case holds");
    drop(title);
    assert_eq!(board.form().field_case, Some(FieldCase::Upper));
}
