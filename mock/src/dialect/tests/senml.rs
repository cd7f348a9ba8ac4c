//! The dialect `senml` held to RFC 8428 by a resolver of its own.

use proptest::prelude::*;
use serde_json::{Map, Value, json};

use super::every::{DIALECTS, TRUTHS, everything};
use super::shown_at;
use crate::dialect::{Dialect, sample};
use crate::sim::Truth;

/// Is a record with the base fields put in.
#[derive(Debug, Clone, PartialEq)]
struct Resolved {
    name: String,
    unit: Option<String>,
    time: f64,
    value: Value,
}

/// The labels that hold a value (section 4.2), and those that a record may have besides.
const VALUES: [&str; 4] = ["v", "vs", "vb", "vd"];
const OTHERS: [&str; 10] = ["bn", "bt", "bu", "bv", "bs", "bver", "n", "u", "t", "ut"];

/// From here on a time is one since 1970; below it counts from now (section 4.5.3, from memory).
const ABSOLUTE: f64 = 268_435_456.0;

/// Resolves a pack (section 4.6): base fields hold for their record and all after it.
///
/// # Errors
/// What is against the RFC.
fn resolve(pack: &Value) -> Result<Vec<Resolved>, String> {
    let records = pack.as_array().ok_or("a pack is an array")?;
    if records.is_empty() {
        return Err("a pack has a record".to_owned());
    }
    let mut base = Map::new();
    records
        .iter()
        .map(|record| {
            let record = record.as_object().ok_or("a record is an object")?;
            for (label, value) in record {
                let known = VALUES.contains(&label.as_str()) || OTHERS.contains(&label.as_str());
                // Section 4.4: labels that end in `_` are the ones a reader must know.
                if !known {
                    return Err(format!("{label} is no label"));
                }
                if label.starts_with('b') {
                    base.insert(label.clone(), value.clone());
                }
            }
            one(record, &base)
        })
        .collect()
}

fn one(record: &Map<String, Value>, base: &Map<String, Value>) -> Result<Resolved, String> {
    let text = |from: &Map<String, Value>, label: &str| match from.get(label) {
        None => Ok(None),
        Some(Value::String(text)) => Ok(Some(text.clone())),
        Some(other) => Err(format!("{label} is {other}")),
    };
    let number = |from: &Map<String, Value>, label: &str| match from.get(label) {
        None => Ok(0.0),
        Some(value) => value.as_f64().ok_or(format!("{label} is {value}")),
    };
    let name = text(base, "bn")?.unwrap_or_default() + &text(record, "n")?.unwrap_or_default();
    if !is_name(&name) {
        return Err(format!("`{name}` is no name"));
    }
    let mut values = VALUES
        .iter()
        .filter_map(|label| Some((*label, record.get(*label)?)));
    let (Some((label, value)), None) = (values.next(), values.next()) else {
        return Err(format!("{name} has no value, or several"));
    };
    let fits = match label {
        "v" => value.is_number(),
        "vb" => value.is_boolean(),
        _ => value.is_string(),
    };
    if !fits {
        return Err(format!("{name}: {label} is {value}"));
    }
    let value = match label {
        "v" => json!(number(record, "v")? + number(base, "bv")?),
        _ => value.clone(),
    };
    let unit = text(record, "u")?.or(text(base, "bu")?);
    Ok(Resolved {
        name,
        unit,
        time: number(record, "t")? + number(base, "bt")?,
        value,
    })
}

/// Tells whether a name keeps to the rule of section 4.5.1: A-Z a-z 0-9 - : . / _, a letter or a digit
/// first.
fn is_name(name: &str) -> bool {
    let allowed = |byte: u8| byte.is_ascii_alphanumeric() || b"-:./_".contains(&byte);
    name.starts_with(|first: char| first.is_ascii_alphanumeric()) && name.bytes().all(allowed)
}

fn resolved(pack: &Value) -> Vec<Resolved> {
    resolve(pack).unwrap_or_else(|wrong| panic!("{wrong}: {pack}"))
}

fn record(name: &str, unit: Option<&str>, time: f64, value: impl Into<Value>) -> Resolved {
    Resolved {
        name: name.to_owned(),
        unit: unit.map(str::to_owned),
        time,
        value: value.into(),
    }
}

#[test]
fn the_resolver_reads_the_worked_examples_rfc_8428_s5_1() {
    // Source: RFC 8428, the sections named; the spelling of the examples is from memory.
    // Section 5.1.1.
    assert_eq!(
        resolved(&json!([{"n": "urn:dev:ow:10e2073a01080063", "u": "Cel", "v": 23.1}])),
        [record(
            "urn:dev:ow:10e2073a01080063",
            Some("Cel"),
            0.0,
            23.1
        )]
    );
    // Section 5.1.2, the first one.
    assert_eq!(
        resolved(&json!([
            {"bn": "urn:dev:ow:10e2073a01080063:", "n": "voltage", "u": "V", "v": 120.1},
            {"n": "current", "u": "A", "v": 1.2}
        ])),
        [
            record("urn:dev:ow:10e2073a01080063:voltage", Some("V"), 0.0, 120.1),
            record("urn:dev:ow:10e2073a01080063:current", Some("A"), 0.0, 1.2)
        ]
    );
    // Section 5.1.2, the second one; resolved in section 5.1.4 in the same way.
    let pack = json!([
        {"bn": "urn:dev:ow:10e2073a0108006:", "bt": 1.276_020_076_001e9, "bu": "A", "bver": 5,
         "n": "voltage", "u": "V", "v": 120.1},
        {"n": "current", "t": -5, "v": 1.2},
        {"n": "current", "t": -4, "v": 1.3},
        {"n": "current", "t": -3, "v": 1.4},
        {"n": "current", "t": -2, "v": 1.5},
        {"n": "current", "t": -1, "v": 1.6},
        {"n": "current", "v": 1.7}
    ]);
    let now = 1.276_020_076_001e9;
    let mut expected = vec![record(
        "urn:dev:ow:10e2073a0108006:voltage",
        Some("V"),
        now,
        120.1,
    )];
    for (before, amperes) in [
        (5.0, 1.2),
        (4.0, 1.3),
        (3.0, 1.4),
        (2.0, 1.5),
        (1.0, 1.6),
        (0.0, 1.7),
    ] {
        let current = "urn:dev:ow:10e2073a0108006:current";
        expected.push(record(current, Some("A"), now - before, amperes));
    }
    assert_eq!(resolved(&pack), expected);
}

#[test]
fn the_resolver_reads_every_kind_of_value_and_a_second_base_name_rfc_8428_s5_1() {
    // Source: as above. Section 5.1.5: each kind of value.
    let pack = json!([
        {"bn": "urn:dev:ow:10e2073a01080063:", "n": "temp", "u": "Cel", "v": 23.1},
        {"n": "label", "vs": "Machine Room"},
        {"n": "open", "vb": false},
        {"n": "nfc-reader", "vd": "aGkgCg"}
    ]);
    let values: Vec<Value> = resolved(&pack).into_iter().map(|one| one.value).collect();
    assert_eq!(
        values,
        [
            json!(23.1),
            json!("Machine Room"),
            json!(false),
            json!("aGkgCg")
        ]
    );
    // Section 5.1.6: a second base name, and the base time of the first record still holds.
    let pack = json!([
        {"bn": "2001:db8::2/", "bt": 1.320_078_429e9, "n": "temperature", "u": "Cel", "v": 25.2},
        {"n": "humidity", "u": "%RH", "v": 30},
        {"bn": "2001:db8::1/", "n": "temperature", "u": "Cel", "v": 12.3},
        {"n": "humidity", "u": "%RH", "v": 67}
    ]);
    let all = resolved(&pack);
    assert_eq!(
        all[3],
        record("2001:db8::1/humidity", Some("%RH"), 1.320_078_429e9, 67.0)
    );
}

#[test]
fn the_resolver_refuses_what_the_rfc_does() {
    for pack in [
        json!({"n": "a", "v": 1}),
        json!([]),
        json!([{"n": "a"}]),
        json!([{"n": "a", "v": null}]),
        json!([{"n": "a", "v": "1"}]),
        json!([{"n": "a", "v": 1, "vs": "1"}]),
        json!([{"n": "a b", "v": 1}]),
        json!([{"n": "ä", "v": 1}]),
        json!([{"n": "_a", "v": 1}]),
        json!([{"v": 1}]),
        json!([{"n": "a", "vb": "true"}]),
        json!([{"n": "a", "must_": 1, "v": 1}]),
    ] {
        assert!(resolve(&pack).is_err(), "{pack}");
    }
}

fn senml() -> &'static Dialect {
    DIALECTS
        .iter()
        .find(|dialect| dialect.name() == "senml")
        .unwrap()
}

/// Units that our packs use, all of them of the registry of section 12.1 (`m`, `s`, `W`, `count`, `/`
/// and `Cel`, from memory).
const UNITS: [&str; 6] = ["m", "s", "W", "count", "/", "Cel"];

/// Gives every pack at a truth, by its request.
fn packs(truth: &Truth) -> Vec<(String, Value)> {
    let values: Vec<String> = truth.heaters.keys().cloned().collect();
    let values: Vec<&str> = values.iter().map(String::as_str).collect();
    everything(senml(), truth, &values)
        .into_iter()
        .filter(|said| said.answer.status == 200)
        .map(|said| {
            let body = serde_json::from_slice(&said.answer.body).unwrap();
            (said.request, body)
        })
        .collect()
}

fn hold_to_the_rfc(truth: &Truth) {
    for (request, pack) in packs(truth) {
        let records = resolve(&pack).unwrap_or_else(|wrong| panic!("{request}: {wrong}: {pack}"));
        for one in &records {
            if let Some(unit) = &one.unit {
                assert!(UNITS.contains(&unit.as_str()), "{request}: {one:?}");
            }
            let clock = truth.printer.clock_unix_seconds;
            if clock >= ABSOLUTE {
                assert!(
                    one.time >= ABSOLUTE && (one.time - clock).abs() < 0.06,
                    "{one:?}"
                );
            } else {
                assert!(one.time == 0.0, "{one:?}");
            }
        }
        let mut names: Vec<&str> = records.iter().map(|one| one.name.as_str()).collect();
        let count = names.len();
        names.sort_unstable();
        names.dedup();
        assert_eq!(
            names.len(),
            count,
            "{request}: a name is there twice: {pack}"
        );
    }
}

#[test]
fn every_pack_resolves_in_every_phase_of_every_scenario() {
    for (_, truth) in TRUTHS.iter() {
        hold_to_the_rfc(truth);
    }
    for sample in sample::samples().iter().chain(&sample::edges()) {
        hold_to_the_rfc(&sample.truth);
    }
}

fn pack(truth: &Truth) -> Vec<Resolved> {
    let answer = senml().render_answer(&shown_at(senml(), "/senml"), truth);
    resolved(&serde_json::from_slice(&answer.body).unwrap())
}

fn value(records: &[Resolved], name: &str) -> Option<Value> {
    let name = format!("urn:dev:org:32473-printer:{name}");
    let found = records.iter().find(|one| one.name == name);
    found.map(|one| one.value.clone())
}

#[test]
fn the_pack_says_what_is_true_in_the_units_it_names() {
    for (_, truth) in TRUTHS.iter() {
        let records = pack(truth);
        assert_eq!(
            value(&records, "printer/state"),
            Some(json!(truth.phase.word()))
        );
        for (name, heater) in &truth.heaters {
            let shown = value(&records, &format!("heaters/{name}/actual"));
            let shown = shown.map(|value| value.as_f64().unwrap());
            match (shown, heater.actual_celsius) {
                (Some(shown), Some(actual)) => assert!((shown - actual).abs() < 0.051),
                (shown, actual) => assert_eq!(shown, actual, "{name}"),
            }
        }
        let share = value(&records, "job/progress").map(|value| value.as_f64().unwrap());
        let percent = truth.job.as_ref().map(|job| job.progress_percent);
        assert_eq!(share.is_some(), percent.is_some());
        assert!((share.unwrap_or(0.0) * 100.0 - percent.unwrap_or(0.0)).abs() < 0.0051);
        let left = truth.job.as_ref().and_then(|job| job.remaining_seconds);
        assert_eq!(value(&records, "job/remaining").is_some(), left.is_some());
    }
}

#[test]
fn a_heater_of_any_name_has_names_of_its_own_and_is_found_by_them() {
    let mut truth = sample::samples()[4].truth.clone();
    let heater = truth.heaters["extruder"].clone();
    let names = [
        "left nozzle",
        "left_nozzle",
        "left_20nozzle",
        "Düse",
        "噴嘴",
        "a/b",
        "a:b",
        "",
        "_",
    ];
    truth.heaters = names
        .iter()
        .map(|name| ((*name).to_owned(), heater.clone()))
        .collect();
    hold_to_the_rfc(&truth);
    let records = pack(&truth);
    let ends = |end: &str| {
        let count = records.iter().filter(|one| one.name.ends_with(end)).count();
        assert_eq!(count, names.len(), "{end}");
    };
    ends("/actual");
    ends("/target");
    let answer = |path: &str| senml().render_answer(&shown_at(senml(), path), &truth);
    let one = answer("/senml/heaters/D_c3_bcse/actual");
    let one = resolved(&serde_json::from_slice(&one.body).unwrap());
    assert_eq!(
        one[0].name,
        "urn:dev:org:32473-printer:heaters/D_c3_bcse/actual"
    );
    assert_eq!(one[0].value, json!(210.0));
    assert_eq!(answer("/senml/heaters/D%C3%BCse/actual").status, 404);
}

#[test]
fn a_pack_has_the_media_type_of_the_rfc() {
    // Source: RFC 8428 section 12.3.1, from memory.
    let truth = &sample::samples()[4].truth;
    let answer = senml().render_answer(&shown_at(senml(), "/senml"), truth);
    assert_eq!(answer.headers["content-type"], "application/senml+json");
}

proptest! {
    #[test]
    fn heaters_of_any_names_have_names_of_their_own(
        names in prop::collection::vec(prop_oneof![any::<String>(), "[a_ 0-9]{0,3}"], 0..5),
    ) {
        let mut truth = sample::samples()[4].truth.clone();
        let heater = truth.heaters["extruder"].clone();
        truth.heaters = names.into_iter().map(|name| (name, heater.clone())).collect();
        hold_to_the_rfc(&truth);
    }
}
