//! No planted secret is left, and all else is as it was.

use proptest::prelude::*;
use serde_json::json;

use super::*;
use crate::format::{Body, Line, SessionFile};
use crate::model::Session;

const HEAD: &str = "{\"line\":\"session\",\"version\":1}\n{\"line\":\"connection-opened\",\"at-seconds\":0,\"connection\":1}\n";

fn session(lines: &[serde_json::Value]) -> Session {
    let lines: String = lines.iter().map(|line| format!("{line}\n")).collect();
    SessionFile::read(&format!("{HEAD}{lines}"))
        .unwrap()
        .session
}

#[expect(
    clippy::needless_pass_by_value,
    reason = "it is written as JSON where it is called"
)]
fn exchange(target: &str, fields: serde_json::Value, answer: serde_json::Value) -> Session {
    session(&[
        json!({ "line": "request", "at-seconds": 1, "connection": 1, "exchange": 1, "method": "GET",
            "target": target, "fields": fields }),
        json!({ "line": "answer", "at-seconds": 2, "exchange": 1, "status": 200, "reason": "OK",
            "fields": [["Content-Type", "application/json"]], "body": answer, "framing": "length",
            "pieces": [{ "after-seconds": 0.1, "bytes": 4000 }], "end": "complete" }),
    ])
}

fn scrubbed(session: &Session) -> Session {
    scrub(session, &Rules::default())
}

#[test]
fn credentials_are_replaced_where_the_standards_have_them() {
    let fields = json!([
        ["Authorization", "Bearer s3cretTok.en=="],
        ["authorization", "Basic dXNlcjpodW50ZXIy"],
        [
            "AUTHORIZATION",
            "Digest username=\"ann\", response=\"0f3a\", qop=auth"
        ],
        ["Cookie", "theme=dark1; sid=abcdefgh"],
        ["X-API_Key", "k-12345"],
        ["Accept", "application/json"],
    ]);
    let session = exchange(
        "/printer?token=a%2Fb%2Fc&part=job",
        fields,
        json!({ "text": "{}" }),
    );
    let clean = scrubbed(&session);
    let request = &clean.exchanges[0].request;
    let shown: Vec<String> = request
        .fields
        .iter()
        .map(|(name, value)| format!("{name}: {value}"))
        .collect();
    insta::assert_snapshot!(format!("{}\n{}", request.target, shown.join("\n")));
}

#[test]
fn members_are_replaced_by_name_and_place_and_stay_what_they_are() {
    let body = r#"{"access_token": "abc\"def", "pin": 4711, "job": {"name": "clip"}, "list": [{"Password": "é5"}]}"#;
    let session = exchange("/", json!([]), json!({ "text": body }));
    let mut rules = Rules::default();
    rules.add_member("/job/name").unwrap();
    let clean = scrub(&session, &rules);
    let text = clean.exchanges[0]
        .answer()
        .unwrap()
        .body()
        .unwrap()
        .text()
        .unwrap();
    assert_eq!(text.len(), body.len());
    insta::assert_snapshot!(text);
}

#[test]
fn what_is_known_late_is_gone_from_the_beginning() {
    let session = session(&[
        json!({ "line": "request", "at-seconds": 1, "connection": 1, "exchange": 1, "method": "GET",
            "target": "/session/opensesame/job", "fields": [] }),
        json!({ "line": "request", "at-seconds": 2, "connection": 1, "exchange": 2, "method": "GET",
            "target": "/", "fields": [["Authorization", "Bearer opensesame"]] }),
    ]);
    let clean = scrubbed(&session);
    assert_eq!(clean.exchanges[0].request.target, "/session/r1xxxxxxxx/job");
    assert_eq!(clean.exchanges[1].request.fields[0].1, "Bearer r1xxxxxxxx");
}

#[test]
fn a_packed_body_with_a_secret_is_withheld_and_another_one_is_not() {
    use std::io::Write as _;
    let packed = |text: &str| {
        let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
        packer.write_all(text.as_bytes()).unwrap();
        Body::from(bytes::Bytes::from(packer.finish().unwrap()))
    };
    let line = |body: Body| Line::Answer {
        at_seconds: std::time::Duration::ZERO,
        exchange: 1,
        status: 200,
        reason: "OK".to_owned(),
        http_version: crate::format::Spoken::Http11,
        fields: vec![("Content-Encoding".to_owned(), "gzip".to_owned())],
        body,
        framing: crate::format::Framing::Length,
        chunks: Vec::new(),
        pieces: Vec::new(),
        end: crate::format::End::Complete,
        raw: None,
    };
    let mut redactor = Redactor::new(Rules::default());
    let harmless = line(packed(r#"{"progress": 4}"#));
    assert_eq!(redactor.replace(harmless.clone()), harmless);
    let Line::Answer { body, .. } = redactor.replace(line(packed(r#"{"token": "abcdef"}"#))) else {
        unreachable!()
    };
    assert!(matches!(body, Body::Withheld(_)), "{body:?}");
}

#[test]
fn a_rule_that_is_none_is_told() {
    let mut rules = Rules::default();
    assert_eq!(rules.add_field(" "), Err(RuleError::Empty));
    assert_eq!(
        rules.add_member("/a~2"),
        Err(RuleError::Pointer("/a~2".to_owned()))
    );
    assert_eq!(rules.add_value("abc"), Err(RuleError::Short));
}

/// Puts a secret somewhere, in some form.
fn planted(secret: &str, place: usize) -> Session {
    let quoted = serde_json::to_string(secret).unwrap();
    let encoded: String = form_urlencoded::byte_serialize(secret.as_bytes()).collect();
    let known = json!([["Authorization", format!("Bearer {secret}")]]);
    let elsewhere = match place % 5 {
        0 => json!({ "text": format!("{{\"note\": {quoted}, \"progress\": 4}}") }),
        1 => json!({ "text": format!("{{\"link\": \"/?x={encoded}\"}}") }),
        2 => json!({ "text": format!("plain {secret} text") }),
        3 => {
            let mut bytes = vec![0xff, 0];
            bytes.extend(secret.as_bytes());
            json!({ "base64": base64::Engine::encode(&base64::engine::general_purpose::STANDARD, bytes) })
        }
        _ => {
            let packed = base64::Engine::encode(&base64::engine::general_purpose::STANDARD, secret);
            json!({ "text": format!("{{\"auth-header\": \"{packed}\"}}") })
        }
    };
    exchange(&format!("/x?key={encoded}&y={encoded}"), known, elsewhere)
}

proptest! {
    #[test]
    fn a_planted_secret_is_nowhere_and_all_else_is_as_it_was(
        secret in "[A-Za-z0-9+/.~%é-]{6,20}",
        place in 0..5_usize,
    ) {
        let session = planted(&secret, place);
        let clean = scrubbed(&session);
        let text = clean.text();
        prop_assert!(!text.contains(&secret), "{}", text);
        let quoted = serde_json::to_string(&secret).unwrap();
        prop_assert!(!text.contains(&quoted[1..quoted.len() - 1]));
        let held = clean.exchanges[0].answer().unwrap().body().unwrap().bytes(0);
        prop_assert!(!held.windows(secret.len()).any(|part| part == secret.as_bytes()));
        let length = |session: &Session| session.exchanges[0].answer().unwrap().bytes().len();
        prop_assert_eq!(length(&clean), length(&session));
        // The same once more changes nothing but the list of rules.
        prop_assert_eq!(scrubbed(&clean).exchanges.len(), 1);
        if place % 5 < 2 {
            let body = clean.exchanges[0].answer().unwrap().body().unwrap().text().unwrap().to_owned();
            prop_assert!(serde_json::from_str::<serde_json::Value>(&body).is_ok(), "{}", body);
        }
    }
}
