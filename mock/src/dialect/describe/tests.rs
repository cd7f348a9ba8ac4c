//! Dialects as documents, and bodies held against them.

use serde_json::{Value, json};

use super::shape::Shape;
use super::truths::{Side, truths};
use crate::dialect::route::ContentTemplate;
use crate::dialect::{Dialect, DialectFile, Rendered, RouteId, filled};

const SERVER: &str = "http://127.0.0.1:8631";

const EVERY_KEY: &str = include_str!("../tests/every-key.toml");

fn described(text: &str) -> Value {
    Dialect::parse("test", text)
        .unwrap()
        .describe_openapi(SERVER)
}

/// Gives the document of a dialect with one route more than it needs.
fn with_routes(routes: &str) -> Value {
    let head = "[auth]\nscheme = \"none\"\n[problem]\nbody = '\"{{ status }}\"'\n";
    described(&format!("{head}{routes}"))
}

fn schema_of(values: &[(Value, Side)]) -> Value {
    let mut shape = Shape::default();
    values
        .iter()
        .for_each(|(value, side)| shape.add(value, *side));
    shape.schema()
}

#[test]
fn the_plain_dialect_as_a_document() {
    let dialect = Dialect::builtin("plain").unwrap();
    insta::assert_snapshot!(format!("{:#}", dialect.describe_openapi(SERVER)));
}

#[test]
fn a_dialect_with_everything_as_a_document() {
    let file = DialectFile::parse("every-key.toml", EVERY_KEY).unwrap();
    insta::assert_snapshot!(format!("{:#}", file.first().describe_openapi(SERVER)));
}

#[test]
fn every_body_fits_the_schema_that_was_inferred() {
    for name in DialectFile::builtin_names() {
        let dialect = Dialect::builtin(name).unwrap();
        let document = dialect.describe_openapi(SERVER);
        for index in 0..dialect.routes.len() {
            let route = dialect.of(RouteId(index));
            let path = route.path.replace("{*", "{");
            let method = route.method.as_str().to_lowercase();
            let responses = &document["paths"][&path][method]["responses"];
            let content = &responses[route.status.as_str()]["content"];
            let schema = &content["application/json"]["schema"];
            // Text may have errors in JSON under the same status.
            if schema.is_null() || !matches!(route.content, Some(ContentTemplate::Json(_))) {
                continue;
            }
            // Some refer to the components.
            let mut schema = schema.clone();
            schema["components"] = document["components"].clone();
            let validator = jsonschema::draft202012::new(&schema).unwrap();
            let mut seen = 0;
            for (_, truth) in truths() {
                for matched in filled::requests(&dialect, RouteId(index), truth) {
                    if let Ok(Rendered::Body(body)) = dialect.render(&matched, truth) {
                        seen += 1;
                        assert!(validator.is_valid(&body), "{name} {path}: {body} {schema}");
                    }
                }
            }
            assert!(seen > 0, "{name} {path}");
        }
    }
}

#[test]
fn a_sensor_that_gives_no_reading_shows_as_null() {
    let document = Dialect::builtin("plain").unwrap().describe_openapi(SERVER);
    let answers = &document["paths"]["/heaters/{name}"]["get"]["responses"];
    let schema = &answers["200"]["content"]["application/json"]["schema"];
    let celsius = &schema["properties"]["actual-celsius"];
    assert_eq!(*celsius, json!({ "type": ["number", "null"] }));
}

#[test]
fn types_are_united_and_only_what_is_always_there_is_required() {
    let seen = [
        json!({ "a": 1, "b": 1.5, "c": null, "d": [] }),
        json!({ "a": 2, "b": 2, "c": "x", "d": [1, "x"], "e": true }),
    ];
    assert_eq!(
        schema_of(&seen.map(|value| (value, Side::Scenario))),
        json!({
            "type": "object",
            "properties": {
                "a": { "type": "integer" },
                "b": { "type": "number" },
                "c": { "type": ["string", "null"] },
                "d": { "type": "array", "items": { "type": ["string", "integer"] } },
                "e": { "type": "boolean" },
            },
            "required": ["a", "b", "c", "d"],
        })
    );
}

#[test]
fn keys_that_change_with_the_heaters_names_may_be_any_and_others_may_not() {
    let seen = [
        (json!({ "left": 1.5, "all": 1 }), Side::Sample),
        (json!({ "heater-no-0": 2, "all": 1 }), Side::Renamed),
        (json!({ "bed": null, "all": 1 }), Side::Scenario),
    ];
    assert_eq!(
        schema_of(&seen),
        json!({
            "type": "object",
            "properties": { "all": { "type": "integer" } },
            "required": ["all"],
            "additionalProperties": { "type": ["number", "null"] },
        })
    );
    let fixed = [
        (json!({ "left": 1 }), Side::Sample),
        (json!({}), Side::Renamed),
    ];
    let schema = schema_of(&fixed);
    assert!(schema.get("additionalProperties").is_none(), "{schema}");
}

#[test]
fn routes_that_differ_only_by_match_are_one_operation() {
    let route = |word: &str, body: &str| {
        format!(
            "[[routes]]\nmethod = \"POST\"\npath = \"/do\"\ncommand = \"{word}-job\"\n\
             match = {{ body = {{ \"/do\" = \"{word}\" }} }}\nbody = '{body}'\n"
        )
    };
    let routes = route("pause", "{\"paused\": 1}") + &route("cancel", "{\"gone\": true}");
    let document = with_routes(&routes);
    let operation = &document["paths"]["/do"]["post"];
    let word = |word: &str| {
        json!({
            "type": "object", "properties": { "do": { "const": word } }, "required": ["do"],
        })
    };
    let asked = &operation["requestBody"];
    assert_eq!(asked["required"], true);
    assert_eq!(
        asked["content"]["application/json"]["schema"],
        json!({ "anyOf": [word("pause"), word("cancel")] })
    );
    let answered = &operation["responses"]["200"]["content"]["application/json"]["schema"];
    assert_eq!(
        answered["anyOf"].as_array().map(Vec::len),
        Some(2),
        "{answered}"
    );
    assert_eq!(operation["operationId"], "post-do");
}

#[test]
fn what_an_expression_works_an_argument_out_of_has_the_types_that_it_takes() {
    let document = with_routes(
        "[[routes]]\nmethod = \"POST\"\npath = \"/warm\"\ncommand = \"set-target\"\nstatus = 204\n\
         arguments = { heater = { expression = \"body.which | default(none) or 'extruder'\" }, \
         celsius = { expression = \"body.temperature.kelvin - 273\" } }\n",
    );
    let asked = &document["paths"]["/warm"]["post"]["requestBody"];
    assert_eq!(asked["required"], true);
    let schema = &asked["content"]["application/json"]["schema"];
    assert_eq!(schema["required"], json!(["temperature"]));
    let members = &schema["properties"];
    let kelvin = &members["temperature"]["properties"]["kelvin"];
    // The template language counts with true as 1, so the host does take it.
    assert_eq!(*kelvin, json!({ "type": ["number", "boolean"] }));
    assert_eq!(members["which"], json!({ "type": ["string", "null"] }));
}

#[test]
fn a_rest_of_the_path_is_an_ordinary_parameter() {
    let document = with_routes(
        "[[routes]]\nmethod = \"GET\"\npath = \"/files/{*rest}\"\ntext = \"{{ path.rest }}\"\n",
    );
    let operation = &document["paths"]["/files/{rest}"]["get"];
    assert_eq!(operation["parameters"][0]["name"], "rest");
    let content = &operation["responses"]["200"]["content"];
    assert_eq!(
        content["text/plain; charset=utf-8"]["schema"],
        json!({ "type": "string" })
    );
}

#[test]
fn every_scheme_is_described_as_the_specification_has_it() {
    let with_auth = |auth: &str| {
        let text = format!(
            "auth = {auth}\nproblem = {{ body = '1' }}\n[[routes]]\nmethod = \"GET\"\npath = \"/\"\n\
             text = \"a\"\n[[routes]]\nmethod = \"POST\"\npath = \"/in\"\nbody = '1'\n"
        );
        let text = if auth.contains("session") {
            text + "log-in = { key = { form = \"key\" } }\n"
        } else {
            text
        };
        let document = described(&text);
        document["components"]["securitySchemes"]["key"].clone()
    };
    for (auth, kind, more) in [
        (
            "{ scheme = \"bearer\", realm = \"r\" }",
            "http",
            ("scheme", "bearer"),
        ),
        (
            "{ scheme = \"basic\", realm = \"r\" }",
            "http",
            ("scheme", "basic"),
        ),
        (
            "{ scheme = \"header\", header = \"X-Key\" }",
            "apiKey",
            ("in", "header"),
        ),
        (
            "{ scheme = \"query\", parameter = \"k\" }",
            "apiKey",
            ("in", "query"),
        ),
        (
            "{ scheme = \"session-cookie\", cookie = \"c\" }",
            "apiKey",
            ("in", "cookie"),
        ),
        (
            "{ scheme = \"session-token\", header = \"X-T\" }",
            "apiKey",
            ("in", "header"),
        ),
    ] {
        let scheme = with_auth(auth);
        assert_eq!(scheme["type"], kind, "{auth}");
        assert_eq!(scheme[more.0], more.1, "{auth}");
    }
    assert!(with_auth("{ scheme = \"none\" }").is_null());
}
