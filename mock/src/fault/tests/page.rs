//! The page about faults: made of the code, and of what a client sees, which only people know.

use serde_json::Value;

use super::super::{Fault, Probability, RoutePattern, Scope, ScopedFault, Span, Unit};
use crate::scenario::Scenario;

const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/faults.md");
const BEGIN: &str = "<!-- made of the code: begin -->\n";
const END: &str = "<!-- made of the code: end -->\n";

/// Is what the page says of a fault besides what the code does.
struct Row {
    fault: &'static str,
    /// Its value in a scenario.
    example: &'static str,
    /// What a client sees; a number in brackets is curl's exit code.
    client: &'static str,
    /// Where the code names no source: one for what a client owes. Sections are from memory.
    source: &'static str,
}

/// Exit codes by curl(1), "EXIT CODES", and as curl 7.88 was seen to end.
const ROWS: &[Row] = &[
    Row {
        fault: "refuse",
        example: r#""refuse""#,
        client: r#"`(7)`: no connection; on one that was open the end of it"#,
        source: r#""#,
    },
    Row {
        fault: "unreachable",
        example: r#""unreachable""#,
        client: r#"`(28)`: it waits until its own time-out"#,
        source: r#"RFC 1122 section 4.2.3.5"#,
    },
    Row {
        fault: "silent",
        example: r#""silent""#,
        client: r#"`(28)`: connected, and it waits until its own time-out"#,
        source: r#"common practice"#,
    },
    Row {
        fault: "half-open",
        example: r#""half-open""#,
        client: r#"`(28)` on a connection from before, nothing on a new one"#,
        source: r#""#,
    },
    Row {
        fault: "unasked-data",
        example: r#"{ unasked-data = { text = "220 ready\r\n" } }"#,
        client: r#"`(1)` or a wrong answer: the bytes are taken for the answer of its first request"#,
        source: r#"RFC 9110 section 15.5.9; RFC 9112 section 9.2"#,
    },
    Row {
        fault: "tls-certificate",
        example: r#"{ tls-certificate = { is = "expired" } }"#,
        client: r#"`(60)`, unless it does not look"#,
        source: r#"RFC 5280 section 6.1; RFC 9110 section 4.3.4"#,
    },
    Row {
        fault: "tls-without-notify",
        example: r#""tls-without-notify""#,
        client: r#"nothing where the length was told; else it cannot tell a whole body from a cut one, `(56)` in strict ones"#,
        source: r#""#,
    },
    Row {
        fault: "close-idle",
        example: r#"{ close-idle = { after = "5s" } }"#,
        client: r#"nothing, if it connects again; a request that crosses the close is lost"#,
        source: r#""#,
    },
    Row {
        fault: "close-on-reuse",
        example: r#"{ close-on-reuse = { reset = true } }"#,
        client: r#"nothing, if it tries again on a new connection; else `(56)` or `(52)`"#,
        source: r#""#,
    },
    Row {
        fault: "status",
        example: r#"{ status = { code = 503, retry-after = { seconds = 30 } } }"#,
        client: r#"the status; `(22)` with `--fail`"#,
        source: r#"RFC 9110 sections 15 and 10.2.3"#,
    },
    Row {
        fault: "login-page",
        example: r#""login-page""#,
        client: r#"200 and a page where it looks for a body"#,
        source: r#"RFC 6585 section 6"#,
    },
    Row {
        fault: "redirect",
        example: r#"{ redirect = { to = "http://198.51.100.7:8080", code = 307 } }"#,
        client: r#"the status; with `--location` whoever is there, and its key should stay here"#,
        source: r#"RFC 9110 section 15.4"#,
    },
    Row {
        fault: "captive-portal",
        example: r#""captive-portal""#,
        client: r#"302; with `--location` `(6)`: a name that has no address"#,
        source: r#"RFC 8952; RFC 6761 section 6.4"#,
    },
    Row {
        fault: "redirect-loop",
        example: r#"{ redirect-loop = { code = 308 } }"#,
        client: r#"the status; with `--location` `(47)` after 50"#,
        source: r#"RFC 9110 section 15.4"#,
    },
    Row {
        fault: "frozen",
        example: r#""frozen""#,
        client: r#"good answers that are not true any more; `Date` goes on"#,
        source: r#"common practice"#,
    },
    Row {
        fault: "out-of-order",
        example: r#""out-of-order""#,
        client: r#"good answers that go back and forth in time"#,
        source: r#"common practice"#,
    },
    Row {
        fault: "key-revoked",
        example: r#""key-revoked""#,
        client: r#"401; `(22)` with `--fail`"#,
        source: r#"RFC 9110 section 15.5.2"#,
    },
    Row {
        fault: "clock-skew",
        example: r#"{ clock-skew = { ahead-s = -3600 } }"#,
        client: r#"a `Date` that is off; what it reckons from it is wrong"#,
        source: r#"RFC 9110 section 6.6.1"#,
    },
    Row {
        fault: "reset",
        example: r#"{ reset = { at = { body-byte = 12 } } }"#,
        client: r#"`(56)`, with a part of the body or none"#,
        source: r#"RFC 9293 section 3.5.2"#,
    },
    Row {
        fault: "close",
        example: r#"{ close = { at = "head-end" } }"#,
        client: r#"`(18)`, or `(52)` where not a byte has come"#,
        source: r#"RFC 9112 section 8"#,
    },
    Row {
        fault: "stall",
        example: r#"{ stall = { at = { byte = 40 } } }"#,
        client: r#"`(28)`: it waits until its own time-out"#,
        source: r#"common practice"#,
    },
    Row {
        fault: "no-last-chunk",
        example: r#""no-last-chunk""#,
        client: r#"`(18)`"#,
        source: r#""#,
    },
    Row {
        fault: "garbage",
        example: r#""garbage""#,
        client: r#"`(1)`"#,
        source: r#"RFC 9112 section 4"#,
    },
    Row {
        fault: "twice",
        example: r#""twice""#,
        client: r#"nothing, if it drops what it has not asked for; else the old answer for its next request"#,
        source: r#"RFC 9112 section 9.2"#,
    },
    Row {
        fault: "trailing-data",
        example: r#"{ trailing-data = { text = "tail" } }"#,
        client: r#"nothing, if it drops what it has not asked for; else `(1)` at its next request"#,
        source: r#"RFC 9112 section 9.2"#,
    },
    Row {
        fault: "wrong-length",
        example: r#"{ wrong-length = { by = 5 } }"#,
        client: r#"too many: `(28)`, it waits for the rest; too few: a cut body, and the rest before the next answer"#,
        source: r#"RFC 9112 sections 6.3 and 8"#,
    },
    Row {
        fault: "huge-header",
        example: r#"{ huge-header = { bytes = 65536 } }"#,
        client: r#"nothing up to its limit; beyond it `(56)` or its own error"#,
        source: r#"RFC 9110 section 5.4"#,
    },
    Row {
        fault: "interim",
        example: r#"{ interim = { code = 103, times = 3 } }"#,
        client: r#"nothing: it reads on to the answer"#,
        source: r#""#,
    },
    Row {
        fault: "latency",
        example: r#"{ latency = { of = "2s", jitter = "1s" } }"#,
        client: r#"a late answer; `(28)` if it is less patient"#,
        source: r#"common practice"#,
    },
    Row {
        fault: "drip",
        example: r#"{ drip = { gap = "100ms" } }"#,
        client: r#"a slow answer; `(28)` if it is less patient"#,
        source: r#"common practice"#,
    },
    Row {
        fault: "bandwidth",
        example: r#"{ bandwidth = { bytes-per-second = 200 } }"#,
        client: r#"a slow answer; `(28)` if it is less patient"#,
        source: r#"common practice"#,
    },
    Row {
        fault: "silent-stream",
        example: r#""silent-stream""#,
        client: r#"a stream on which nothing comes; `(28)` if it is less patient"#,
        source: r#"common practice"#,
    },
    Row {
        fault: "stream-closed",
        example: r#"{ stream-closed = { code = 1012 } }"#,
        client: r#"the end of the stream, again and again"#,
        source: r#"RFC 6455 section 7.4; WHATWG HTML, "Server-sent events""#,
    },
    Row {
        fault: "missed-messages",
        example: r#""missed-messages""#,
        client: r#"a stream with holes; what has changed meanwhile it learns late or never"#,
        source: r#"common practice"#,
    },
    Row {
        fault: "repeated-messages",
        example: r#""repeated-messages""#,
        client: r#"the same message twice"#,
        source: r#"common practice"#,
    },
    Row {
        fault: "repeated-ids",
        example: r#""repeated-ids""#,
        client: r#"messages of which it cannot tell by the id that they are new"#,
        source: r#"WHATWG HTML, "Server-sent events""#,
    },
    Row {
        fault: "no-pong",
        example: r#""no-pong""#,
        client: r#"no answer to its pings"#,
        source: r#"RFC 6455 section 5.5.3"#,
    },
];

/// Names what a fault happens to one by one, in the order of the page.
const UNITS: [(Unit, &str); 6] = [
    (Unit::Network, "The network as a whole"),
    (Unit::OpenConnections, "Connections that are open"),
    (Unit::Connection, "Each new connection"),
    (Unit::Exchange, "Each request with its answer"),
    (Unit::Stream, "Push streams, for as long as it lasts"),
    (Unit::Message, "Each message of a push stream"),
];

fn of_toml<T: serde::de::DeserializeOwned>(value: &str) -> T {
    #[derive(serde::Deserialize)]
    struct Holder<T> {
        value: T,
    }
    let holder: Holder<T> = toml::from_str(&format!("value = {value}")).unwrap();
    holder.value
}

/// Gives what the code says of each fault: its name, its description and the schema of its keys.
fn described() -> Vec<(String, String, Value)> {
    let schema = schemars::SchemaGenerator::default().into_root_schema_for::<Fault>();
    let variants = schema.get("oneOf").and_then(Value::as_array).unwrap();
    let described = variants.iter().map(|variant| {
        let text = variant["description"].as_str().unwrap().to_owned();
        match variant["const"].as_str() {
            Some(name) => (name.to_owned(), text, Value::Null),
            None => {
                let (name, keys) = variant["properties"]
                    .as_object()
                    .unwrap()
                    .iter()
                    .next()
                    .unwrap();
                (name.clone(), text, keys["properties"].clone())
            }
        }
    });
    described.collect()
}

/// Takes a description apart into what happens and the source.
fn parts(description: &str) -> (String, Option<String>) {
    let line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    match description.split_once("# Source") {
        Some((what, source)) => (line(what), Some(line(source))),
        None => (line(description), None),
    }
}

/// Lists the keys that the scope of a fault may have.
fn scope_keys(fault: &Fault) -> Vec<&'static str> {
    let route = RoutePattern::new("/job").unwrap();
    let scopes = [
        (
            "route",
            Scope {
                route: Some(route),
                ..Scope::default()
            },
        ),
        (
            "method",
            Scope {
                method: Some("GET".to_owned()),
                ..Scope::default()
            },
        ),
        (
            "connection",
            Scope {
                connection: Some(1),
                ..Scope::default()
            },
        ),
        (
            "skip",
            Scope {
                skip: 1,
                ..Scope::default()
            },
        ),
        (
            "times",
            Scope {
                times: Some(1),
                ..Scope::default()
            },
        ),
        (
            "probability",
            Scope {
                probability: Probability::new(0.5),
                ..Scope::default()
            },
        ),
        (
            "after",
            Scope {
                after: Span::from_secs(1),
                ..Scope::default()
            },
        ),
        (
            "lasts",
            Scope {
                lasts: Some(Span::from_secs(1)),
                ..Scope::default()
            },
        ),
    ];
    let fits = scopes.into_iter().filter(|(_, scope)| {
        let fault = fault.clone();
        ScopedFault {
            fault,
            scope: scope.clone(),
        }
        .check()
        .is_ok()
    });
    fits.map(|(key, _)| key).collect()
}

fn row(name: &str) -> &'static Row {
    let row = ROWS.iter().find(|row| row.fault == name);
    row.unwrap_or_else(|| panic!("{name} has no row"))
}

fn ticked(words: &[&str]) -> String {
    let words: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    words.join(", ")
}

fn section(unit: Unit, title: &str) -> String {
    let mut text = format!("### {title}\n\n");
    let all = described();
    let mine: Vec<_> = all
        .iter()
        .filter(|(name, ..)| of_toml::<Fault>(row(name).example).unit() == unit)
        .collect();
    let first: Fault = of_toml(row(&mine[0].0).example);
    text += &format!("Keys of the scope: {}.\n\n", ticked(&scope_keys(&first)));
    text += "| fault | on the wire | keys | what a client sees | source | example |\n|---|---|---|---|---|---|\n";
    for (name, description, keys) in mine {
        let Row {
            example,
            client,
            source,
            ..
        } = row(name);
        let (what, named) = parts(description);
        let keys: Vec<String> = keys
            .as_object()
            .into_iter()
            .flatten()
            .map(|(key, schema)| {
                let (says, _) = parts(schema["description"].as_str().unwrap());
                format!("`{key}`: {says}")
            })
            .collect();
        let keys = keys.join(" ");
        let named = named.map_or_else(
            || (*source).to_owned(),
            |named| match source.is_empty() {
                true => named,
                false => format!("{named} {source}"),
            },
        );
        let named = named.trim_end_matches('.');
        text +=
            &format!("| `{name}` | {what} | {keys} | {client} | {named} | `fault = {example}` |\n");
    }
    text
}

fn scope_section() -> String {
    let schema = schemars::SchemaGenerator::default().into_root_schema_for::<Scope>();
    let mut text = "| key | meaning |\n|---|---|\n".to_owned();
    for (key, property) in schema.get("properties").and_then(Value::as_object).unwrap() {
        let (says, _) = parts(property["description"].as_str().unwrap());
        text += &format!("| `{key}` | {says} |\n");
    }
    text
}

#[test]
fn the_page_about_faults_is_what_the_code_says() {
    let sections = UNITS.map(|(unit, title)| section(unit, title));
    let fresh = format!(
        "\n{}\n## Scope\n\n{}\n",
        sections.join("\n"),
        scope_section()
    );
    let kept = std::fs::read_to_string(FILE).unwrap();
    let (before, rest) = kept.split_once(BEGIN).unwrap();
    let (made, after) = rest.split_once(END).unwrap();
    if std::env::var_os("COLDBED_REFRESH").is_some() {
        std::fs::write(FILE, format!("{before}{BEGIN}{fresh}{END}{after}")).unwrap();
        return;
    }
    assert!(
        made == fresh,
        "docs/faults.md is not fresh; refresh it with\n\
         COLDBED_REFRESH=1 cargo test -p coldbed-mock the_page_about_faults_is_what_the_code_says"
    );
}

#[test]
fn every_fault_has_a_row_of_its_own_and_a_source() {
    let names: Vec<String> = described().into_iter().map(|(name, ..)| name).collect();
    assert_eq!(names, Fault::names());
    for (name, description, _) in described() {
        let row = row(&name);
        let fault: Fault = of_toml(row.example);
        assert_eq!(fault.name(), name);
        let (_, named) = parts(&description);
        assert!(named.is_some() || !row.source.is_empty(), "{name}");
        assert!(
            !row.client.is_empty() && !row.client.contains('|'),
            "{name}"
        );
    }
    assert_eq!(ROWS.len(), names.len());
}

#[test]
fn all_faults_of_a_unit_take_the_same_scope() {
    for row in ROWS {
        let fault: Fault = of_toml(row.example);
        let like = ROWS.iter().map(|row| of_toml::<Fault>(row.example));
        for other in like.filter(|other| other.unit() == fault.unit()) {
            assert_eq!(scope_keys(&fault), scope_keys(&other));
        }
    }
}

#[test]
fn every_example_is_one_that_a_scenario_takes() {
    for Row { fault, example, .. } in ROWS {
        let text = format!(
            "include = \"printing\"\ntitle = \"x\"\nlength = \"1h\"\n\
             [[event]]\nat = \"1m\"\naction = \"fault-raised\"\nfault = {example}\n"
        );
        Scenario::parse("example.toml", &text).unwrap_or_else(|error| panic!("{fault}: {error}"));
    }
}
