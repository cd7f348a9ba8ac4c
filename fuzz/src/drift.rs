//! A drift and a body.

use coldbed_mock::drift::{Change, Drift, DriftClass, corpus};
use serde_json::Value;

/// The longest text that a drift is let write, in bytes: what is longer is no other and slow.
const MOST_WRITTEN: u64 = 64 * 1024;

/// Changes a body, both read from JSON: the drift in the first line, the body after it. What misses
/// leaves the body as it was, what changes it can be taken back, and a compatible spelling says the
/// same.
///
/// # Panics
/// One of these does not hold.
pub fn target(bytes: &[u8]) {
    let Some((first, rest)) = super::text(bytes).and_then(|text| text.split_once('\n')) else {
        return;
    };
    let (Ok(drift), Ok(body)) = (
        serde_json::from_str::<Drift>(first),
        serde_json::from_str::<Value>(rest),
    ) else {
        return;
    };
    if writes(&drift.change) > MOST_WRITTEN {
        return;
    }
    assert!(!drift.explain().is_empty());
    let told = serde_json::to_string(&drift).expect("a drift is JSON");
    let again: Drift = serde_json::from_str(&told).expect("its own JSON is read");
    assert_eq!(again.explain(), drift.explain());
    check_shape(&drift, &body);
    check_spelling(&drift, &body);
}

/// Tells how much a change adds to a body, in bytes or levels.
fn writes(change: &Change) -> u64 {
    match change {
        Change::Pad(pad) => pad.bytes.into(),
        Change::Deep(deep) => deep.levels.into(),
        Change::DeepenUnknown(deepen) => deepen.levels.into(),
        _ => 0,
    }
}

fn check_shape(drift: &Drift, before: &Value) {
    let mut body = before.clone();
    if drift.apply(&mut body).is_err() {
        assert_eq!(body.to_string(), before.to_string());
        assert_eq!(drift.inverse(before), None);
        return;
    }
    let written = body.to_string();
    // The parser goes 128 levels deep, which a drift may add to.
    if let Err(error) = serde_json::from_str::<Value>(&written) {
        assert!(error.to_string().starts_with("recursion limit"), "{error}");
    }
    if let Some(undo) = drift.inverse(before) {
        assert!(undo.apply(&mut body).is_ok(), "{}", undo.explain());
        assert_eq!(body.to_string(), before.to_string(), "{}", undo.explain());
    }
}

fn check_spelling(drift: &Drift, body: &Value) {
    let Ok(spelled) = drift.spell(body) else {
        return;
    };
    let class = Drift::of(drift.pointer.clone(), drift.change.clone()).class;
    if class == DriftClass::Compatible {
        let parsed: Value = serde_json::from_slice(&spelled).expect("a compatible body is JSON");
        // A text of the corpus is a further member, so the body is not the same but has it all.
        let adds = matches!(drift.change, Change::Corpus(_));
        let told = String::from_utf8_lossy(&spelled);
        assert!(adds || same(&parsed, body), "{told}");
    }
}

/// Tells whether two values are equal, numbers as IEEE doubles within two units in the last place:
/// the parser used is fast, not exact.
fn same(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Number(one), Value::Number(other)) => match (one.as_f64(), other.as_f64()) {
            (Some(one), Some(other)) => {
                (one - other).abs() <= 2.0 * f64::EPSILON * one.abs() + f64::MIN_POSITIVE
            }
            _ => false,
        },
        (Value::Array(one), Value::Array(other)) => {
            one.len() == other.len() && one.iter().zip(other).all(|(one, other)| same(one, other))
        }
        (Value::Object(one), Value::Object(other)) => {
            one.len() == other.len()
                && one
                    .iter()
                    .zip(other)
                    .all(|((name, one), (known, other))| name == known && same(one, other))
        }
        _ => one == other,
    }
}

/// Gives a drift of each kind for a body that all find their place in.
pub fn seeds() -> Vec<Vec<u8>> {
    const BODY: &str = r#"{"heaters":{"extruder":{"actual-celsius":209.5,"target-celsius":210}},"list":[1,-0.0,1e300,"é\u0001"],"state":null,"name":"a\"b","digits":"7","given":{"extra":1}}"#;
    // The place of the kinds that do not care for an object.
    let place = |name: &str| match name {
        "append-element" | "prepend-element" => "/list",
        "number-as-text" | "scale" | "not-a-number" | "huge-number" | "exponent-numbers"
        | "decimal-point" => "/heaters/extruder/actual-celsius",
        "text-as-number" => "/digits",
        "duplicate-member" => "/given",
        "lone-surrogate" | "invalid-utf8" | "non-ascii-escaped" => "/name",
        "remove-member" | "rename-member" | "replace-by-null" | "replace-value" | "move-member" => {
            "/heaters/extruder"
        }
        _ => "",
    };
    let given = serde_json::json!({
        "member": "extra", "value": [1], "levels": 3, "to": "/extra", "bytes": 5, "factor": 1.8,
        "offset": 32.0, "position": "first", "text": "1e999", "spaces": 2, "blank": "tab",
        "case": "upper", "entry": corpus()[0].id, "half": "low",
    });
    let drifts = Change::names().into_iter().flat_map(|name| {
        let bare = drift_of(&name, place(&name), Value::Null);
        [bare, fitted(&name, place(&name), &given)]
    });
    drifts
        .filter(|drift| serde_json::from_value::<Drift>(drift.clone()).is_ok())
        .map(|drift| format!("{drift}\n{BODY}").into_bytes())
        .collect()
}

fn drift_of(name: &str, pointer: &str, settings: Value) -> Value {
    let change = match settings {
        Value::Null => Value::from(name),
        settings => serde_json::json!({ name: settings }),
    };
    serde_json::json!({
        "name": name, "pointer": pointer, "change": change, "class": "breaking",
    })
}

/// Gives a drift with those of all settings that its kind has: it refuses the others by name.
fn fitted(name: &str, pointer: &str, given: &Value) -> Value {
    let mut settings = given.clone();
    loop {
        let drift = drift_of(name, pointer, settings.clone());
        let refused = serde_json::from_value::<Drift>(drift.clone()).err();
        let unknown = refused.and_then(|error| {
            let told = error.to_string();
            let after = told.split_once("unknown field `")?.1;
            Some(after.split_once('`')?.0.to_owned())
        });
        let removed = unknown.and_then(|name| settings.as_object_mut()?.remove(&name));
        if removed.is_none() {
            return drift;
        }
    }
}
