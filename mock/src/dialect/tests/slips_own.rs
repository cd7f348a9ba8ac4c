//! What can be wrong with the keys that `plain` has no use for.

use crate::dialect::DialectFile;

/// Gives the message for a dialect with this authentication and these routes and versions.
fn slip(auth: &str, rest: &str) -> String {
    let text = format!("auth = {auth}\nproblem = {{ body = '1' }}\n{rest}");
    match DialectFile::parse("my.toml", &text) {
        Ok(_) => "no slip found".to_owned(),
        Err(error) => error.to_string(),
    }
}

/// Gives the message for a route with these lines.
fn route(lines: &str) -> String {
    let route = format!("[[routes]]\nmethod = \"POST\"\npath = \"/{{a}}\"\n{lines}");
    slip("{ scheme = \"none\" }", &route)
}

const SHOWS: &str = "[[routes]]\nmethod = \"GET\"\npath = \"/\"\nbody = '1'\n";

#[test]
fn slips_about_keys_are_told() {
    let messages = [
        "{ scheme = \"basic\" }",
        "{ scheme = \"basic\", realm = \"a\", user = \"a:b\" }",
        "{ scheme = \"header\" }",
        "{ scheme = \"header\", header = \"a b\" }",
        "{ scheme = \"header\", header = \"a\", realm = \"a\" }",
        "{ scheme = \"none\", realm = \"a\" }",
        "{ scheme = \"query\" }",
        "{ scheme = \"query\", parameter = \"k\", status = 100 }",
        "{ scheme = \"session-cookie\" }",
        "{ scheme = \"session-cookie\", cookie = \"a b\" }",
        "{ scheme = \"session-cookie\", cookie = \"a\", cookie-attributes = \"ä\" }",
        "{ scheme = \"session-cookie\", cookie = \"a\" }",
        "{ scheme = \"session-token\", prefix = \"a\" }",
    ]
    .map(|auth| slip(auth, SHOWS));
    insta::assert_snapshot!(messages.join("\n"));
}

#[test]
fn slips_about_routes_are_told() {
    let messages = [
        "text = '1'\nbody = '1'",
        "text = '{% if x %}'",
        "text = '''\nline\n{{ printer.stat }}'''",
        "text = '{{ 1 | rnd }}'",
        "text = \"{% include 'job' %}\"",
        "base64 = 'a'",
        "file = 'picture.png'",
        "body = '1'\nmatch = {}",
        "body = '1'\nmatch = { body = { method = 1 } }",
        "body = '1'\nquery = { a = { required = true, default = '1' } }",
        "body = '1'\nquery = { a = { one-of = ['1'], default = '2' } }",
        "body = '1'\nheaders = { A = '{{ nothing }}' }",
        "body = '1'\nheaders = { 'A b' = '{{ phase }}' }",
        "body = '1'\nmissing-status = 99",
        "body = '1'\nanswer-after-ms = 600001",
        "body = '1'\nwhen = 'job'",
        "body = '1'\nrefused = { status = 409 }",
        "body = '1'\ncommand = 'pause-job'\nwhen = 'jib'",
        "body = '1'\ncommand = 'pause-job'\nagain = 'ignored'",
        "body = '1'\ncommand = 'pause-job'\neffect-after-ms = 3600001",
        "body = '1'\ncommand = 'pause-job'\nidempotency-key = 'a b'",
        "body = '1'\ncommand = 'pause-job'\nrefused = { status = 1000 }",
        "body = '1'\ncommand = 'pause-job'\nrefused = { body = '\"{{ refusal.knd }}\"' }",
        "body = '1'\ncommand = 'pause-job'\nlog-out = true",
        "body = '1'\ncommand = 'start-job'\narguments = { name = { value = 'x' } }",
        "body = '1'\ncommand = 'start-job'\narguments = { job = { value = 'x', path = 'a' } }",
        "body = '1'\ncommand = 'start-job'\narguments = { job = { header = 'a b' } }",
        "body = '1'\ncommand = 'start-job'\narguments = { job = { expression = '1 +' } }",
        "body = '1'\nlog-in = { key = { body = '/k' } }",
        "body = '1'\nlog-in = { key = {} }",
    ]
    .map(route);
    insta::assert_snapshot!(messages.join("\n"));
}

#[test]
fn slips_about_versions_are_told() {
    let version = |lines: &str| {
        let rest = format!("version = \"1\"\n{SHOWS}[[versions]]\n{lines}");
        slip("{ scheme = \"none\" }", &rest)
    };
    let messages = [
        "name = \"1\"",
        "name = \"2\"\nextends = \"3\"",
        "name = \"2\"\nwithout = [\"GET /x\"]",
        "name = \"2\"\nwithout = [\"GET /\", \"GET /\"]",
        "nam = \"2\"",
        "name = \"2\"\nparts.a = '{'",
        "name = \"2\"\nwords = { \"a b\" = { c = 1 } }",
        "name = \"2\"\nroutes = [{ method = \"GET\", path = \"/\", body = '\"{{ nothing }}\"' }]",
        "name = \"2\"\nheaders = { \"a b\" = \"1\" }",
        "name = \"2\"\nproblem = { body = '\"{{ stats }}\"' }",
    ]
    .map(version);
    insta::assert_snapshot!(messages.join("\n"));
}

#[test]
fn routes_that_hide_each_other_are_told() {
    let two = |first: &str, second: &str| {
        let rest = format!("{SHOWS}{first}\n{SHOWS}{second}");
        slip("{ scheme = \"none\" }", &rest)
    };
    let on_a = "match = { query = { a = '1' } }";
    let on_b = "match = { query = { b = '1' } }";
    assert_eq!(two(on_a, on_b), "no slip found");
    assert_eq!(two(on_a, ""), "no slip found");
    assert!(two(on_a, on_a).ends_with("GET / is there twice"));
    assert!(two("", on_a).ends_with("an earlier GET / without `match` answers all of these"));
}
