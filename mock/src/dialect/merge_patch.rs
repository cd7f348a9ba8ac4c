//! What has changed between two JSON values, as a JSON Merge Patch.
//!
//! # Source
//! RFC 7396 (which took the place of RFC 7386 and differs from it in no rule).
//!
//! # What such a patch cannot say
//! In a patch null means "remove this member" (section 1), so no patch sets a member to null: the
//! format is for values that make no use of null (section 1, last but one paragraph). Where a
//! member becomes null, the patch has null there, and a client that applies it has no such member
//! afterwards. A client that takes a missing member and one that is null for the same sees no
//! difference; one that does not is to be shown full messages. Arrays are replaced whole
//! (section 1, last paragraph).

use serde_json::{Map, Value};

/// Gives the patch that makes `after` of `before`; `None` when there is nothing to change.
pub(crate) fn diff(before: &Value, after: &Value) -> Option<Value> {
    match (before, after) {
        _ if before == after => None,
        (Value::Object(before), Value::Object(after)) => {
            Some(Value::Object(members(before, after)))
        }
        _ => Some(after.clone()),
    }
}

fn members(before: &Map<String, Value>, after: &Map<String, Value>) -> Map<String, Value> {
    let mut patch = Map::new();
    for (name, value) in after {
        let change = match before.get(name) {
            Some(old) => diff(old, value),
            None => Some(value.clone()),
        };
        if let Some(change) = change {
            patch.insert(name.clone(), change);
        }
    }
    for name in before.keys() {
        if !after.contains_key(name) {
            patch.insert(name.clone(), Value::Null);
        }
    }
    patch
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::json;

    use super::*;

    /// Applies a patch with a reader of patches that is not ours.
    fn merged(before: &Value, patch: Option<Value>) -> Value {
        let mut value = before.clone();
        if let Some(patch) = patch {
            json_patch::merge(&mut value, &patch);
        }
        value
    }

    /// The examples: original, patch, result.
    ///
    /// # Source
    /// RFC 7396 appendix A.
    fn appendix_a() -> Vec<(Value, Value, Value)> {
        vec![
            (json!({"a": "b"}), json!({"a": "c"}), json!({"a": "c"})),
            (
                json!({"a": "b"}),
                json!({"b": "c"}),
                json!({"a": "b", "b": "c"}),
            ),
            (json!({"a": "b"}), json!({"a": null}), json!({})),
            (
                json!({"a": "b", "b": "c"}),
                json!({"a": null}),
                json!({"b": "c"}),
            ),
            (json!({"a": ["b"]}), json!({"a": "c"}), json!({"a": "c"})),
            (json!({"a": "c"}), json!({"a": ["b"]}), json!({"a": ["b"]})),
            (
                json!({"a": {"b": "c"}}),
                json!({"a": {"b": "d", "c": null}}),
                json!({"a": {"b": "d"}}),
            ),
            (
                json!({"a": [{"b": "c"}]}),
                json!({"a": [1]}),
                json!({"a": [1]}),
            ),
            (json!(["a", "b"]), json!(["c", "d"]), json!(["c", "d"])),
            (json!({"a": "b"}), json!(["c"]), json!(["c"])),
            (json!({"a": "foo"}), Value::Null, Value::Null),
            (json!({"a": "foo"}), json!("bar"), json!("bar")),
            (
                json!({"e": null}),
                json!({"a": 1}),
                json!({"e": null, "a": 1}),
            ),
            (
                json!([1, 2]),
                json!({"a": "b", "c": null}),
                json!({"a": "b"}),
            ),
            (
                json!({}),
                json!({"a": {"bb": {"ccc": null}}}),
                json!({"a": {"bb": {}}}),
            ),
        ]
    }

    #[test]
    fn a_patch_leads_to_the_results_of_rfc_7396_appendix_a() {
        for (original, patch, result) in appendix_a() {
            // The reference itself is held to the examples first.
            assert_eq!(merged(&original, Some(patch)), result, "{original}");
            let ours = diff(&original, &result);
            assert_eq!(merged(&original, ours.clone()), result, "{ours:?}");
        }
    }

    #[test]
    fn a_patch_says_no_more_than_the_examples_that_say_only_what_changes() {
        // The others hold a removal of something that is not there.
        for index in [0, 1, 2, 3, 4, 5, 7, 8, 9, 10, 11, 12] {
            let (original, patch, result) = appendix_a().swap_remove(index);
            assert_eq!(diff(&original, &result), Some(patch));
        }
    }

    #[test]
    fn a_member_that_becomes_null_is_null_in_the_patch_and_gone_when_applied() {
        let patch = diff(&json!({"a": 1, "b": 2}), &json!({"a": null, "b": 2}));
        assert_eq!(patch, Some(json!({"a": null})));
        assert_eq!(merged(&json!({"a": 1, "b": 2}), patch), json!({"b": 2}));
    }

    #[test]
    fn equal_values_need_no_patch() {
        for value in [json!({"a": {"b": [1, null]}}), json!(null), json!([1])] {
            assert_eq!(diff(&value, &value.clone()), None);
        }
    }

    /// Makes values without null in objects: the values the format is for.
    fn value() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            any::<bool>().prop_map(Value::from),
            (0..4_i64).prop_map(Value::from),
            "[ab]{0,2}".prop_map(Value::from),
        ];
        leaf.prop_recursive(4, 40, 4, |inner| {
            let element = prop_oneof![inner.clone(), Just(Value::Null)];
            prop_oneof![
                // Null in an array is no removal, unless an object is round it again.
                prop::collection::vec(element, 0..3).prop_map(Value::from),
                // Few names, so that the two values often share some.
                prop::collection::vec(("[abcd]", inner), 0..4)
                    .prop_map(|members| Value::Object(members.into_iter().collect())),
            ]
        })
    }

    proptest! {
        #[test]
        fn the_patch_makes_the_one_value_of_the_other(before in value(), after in value()) {
            prop_assert_eq!(merged(&before, diff(&before, &after)), after);
        }
    }
}
