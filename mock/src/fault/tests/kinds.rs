//! Faults as people write them.

use serde_json::{Value, json};

use crate::fault::{Fault, ScopedFault};

fn read(value: Value) -> Result<ScopedFault, String> {
    let scoped: ScopedFault = serde_json::from_value(value).map_err(|error| error.to_string())?;
    scoped.check().map_err(|error| error.to_string())?;
    Ok(scoped)
}

/// Every fault with every key.
const ALL: &str = include_str!("every-fault.json");

fn all() -> Vec<Value> {
    serde_json::from_str(ALL).unwrap()
}

#[test]
fn every_fault_is_read_as_it_is_written_and_says_what_is_wrong() {
    let mut told = String::new();
    for value in all() {
        let fault: Fault = serde_json::from_value(value.clone()).unwrap();
        let written = serde_json::to_value(&fault).unwrap();
        assert_eq!(serde_json::from_value::<Fault>(written).unwrap(), fault);
        told.push_str(&format!("{}: {fault}\n", fault.name()));
    }
    insta::assert_snapshot!(told);
}

#[test]
fn the_list_of_every_fault_leaves_none_out() {
    let schema = serde_json::to_value(schemars::schema_for!(Fault)).unwrap();
    let mut known: Vec<String> = schema["oneOf"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|one| {
            let names = one["enum"].as_array().cloned().unwrap_or_default();
            let constant = one.get("const").cloned();
            let tables = one["properties"].as_object().cloned().unwrap_or_default();
            let tables: Vec<Value> = tables.keys().map(|name| json!(name)).collect();
            names.into_iter().chain(constant).chain(tables)
        })
        .map(|name| name.as_str().unwrap().to_owned())
        .collect();
    let mut listed: Vec<String> = all()
        .into_iter()
        .map(|value| serde_json::from_value::<Fault>(value).unwrap().name())
        .collect();
    known.sort();
    known.dedup();
    listed.sort();
    listed.dedup();
    assert_eq!(listed, known);
}

#[test]
fn a_bare_name_does_where_nothing_is_needed() {
    for name in [
        "refuse",
        "reset",
        "garbage",
        "drip",
        "interim",
        "close-idle",
    ] {
        let bare: Fault = serde_json::from_value(json!(name)).unwrap();
        assert_eq!(bare.name(), name);
    }
    let toml: ScopedFault = toml::from_str("fault = \"reset\"\nscope = { times = 2 }").unwrap();
    assert_eq!(toml.fault, Fault::reset_at(crate::fault::Position::Start));
    assert_eq!(toml.scope.times, Some(2));
}

#[test]
fn what_cannot_be_is_refused_with_a_reason() {
    let mut told = String::new();
    for value in [
        json!({ "fault": "explode" }),
        json!({ "fault": "status" }),
        json!({ "fault": { "status": { "code": 199 } } }),
        json!({ "fault": { "status": { "code": 600 } } }),
        json!({ "fault": { "redirect": { "to": "/elsewhere" } } }),
        json!({ "fault": { "redirect": { "to": "http://198.51.100.7", "code": 304 } } }),
        json!({ "fault": { "interim": { "code": 101 } } }),
        json!({ "fault": { "interim": { "code": 200 } } }),
        json!({ "fault": { "interim": { "times": 0 } } }),
        json!({ "fault": { "bandwidth": { "bytes-per-second": 0 } } }),
        json!({ "fault": { "huge-header": { "bytes": 16_777_217 } } }),
        json!({ "fault": { "latency": { "of": 3 } } }),
        json!({ "fault": { "stream-closed": { "code": 1006 } } }),
        json!({ "fault": { "stream-closed": { "code": 999 } } }),
        json!({ "fault": { "reset": { "at": "middle" } } }),
        json!({ "fault": { "reset": { "after": 3 } } }),
        json!({ "fault": { "clock-skew": { "ahead-s": 1e10 } } }),
        json!({ "fault": "refuse", "scope": { "times": 3 } }),
        json!({ "fault": "refuse", "scope": { "route": "/printer" } }),
        json!({ "fault": "silent", "scope": { "route": "/printer" } }),
        json!({ "fault": "half-open", "scope": { "probability": 0.5 } }),
        json!({ "fault": "silent-stream", "scope": { "times": 1 } }),
        json!({ "fault": "reset", "scope": { "route": "printer" } }),
        json!({ "fault": "reset", "scope": { "route": "/heaters/{" } }),
        json!({ "fault": "reset", "scope": { "probability": 0.0 } }),
        json!({ "fault": "reset", "scope": { "probability": 1.5 } }),
        json!({ "fault": "reset", "scope": { "lasts": "soon" } }),
        json!({ "fault": "reset", "scope": { "count": 3 } }),
        json!({ "fault": "reset", "route": "/printer" }),
        json!({ "scope": {} }),
    ] {
        let error = read(value.clone()).expect_err(&value.to_string());
        told.push_str(&format!("{value}\n    {error}\n"));
    }
    insta::assert_snapshot!(told);
}

#[test]
fn a_scope_is_told_in_words() {
    let told = |value| read(value).unwrap().to_string();
    assert_eq!(
        told(json!({ "fault": "refuse" })),
        "connections are refused"
    );
    assert_eq!(
        told(json!({
            "fault": { "reset": { "at": { "body-byte": 12 } } },
            "scope": {
                "route": "/printer", "method": "GET", "connection": 3, "skip": 1, "times": 2,
                "probability": 0.25, "after": "1m", "lasts": "90s",
            },
        })),
        "connections are reset after 12 bytes of the body (of /printer, of GET, on connection 3, \
         after 1 that pass, 2 times, with probability 0.25, from 1m on, for 1m 30s)"
    );
}
