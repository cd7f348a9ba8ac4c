//! Archives of others are read, and those written here come back as they were.

use std::time::Duration;

use serde_json::json;

use super::*;
use crate::format::SessionFile;
use crate::model::Content;

const SAMPLE: &str = include_str!("../../../harness/src/commands/session/sample.jsonl");

fn foreign() -> serde_json::Value {
    json!({ "log": { "version": "1.2", "creator": { "name": "own", "version": "1" }, "entries": [
        { "startedDateTime": "2026-11-24T21:00:05.250Z", "time": 30.5,
          "request": { "method": "GET", "url": "http://printer.example/status?x=1", "httpVersion": "HTTP/1.1",
            "headers": [{ "name": "Host", "value": "printer.example" }], "queryString": [], "cookies": [],
            "headersSize": -1, "bodySize": 0 },
          "response": { "status": 200, "statusText": "OK", "httpVersion": "HTTP/1.1", "cookies": [],
            "headers": [{ "name": "Content-Encoding", "value": "gzip" }, { "name": "Transfer-Encoding", "value": "chunked" },
                        { "name": "Content-Type", "value": "application/json" }],
            "content": { "size": 12, "mimeType": "application/json", "text": "{\"job\":null}" },
            "redirectURL": "", "headersSize": -1, "bodySize": -1 },
          "cache": {}, "timings": { "blocked": 1, "dns": -1, "connect": 2.5, "send": 0.5, "wait": 20, "receive": 6.5 },
          "connection": "4711" },
        { "startedDateTime": "2026-11-24T21:00:00Z", "time": 0,
          "request": { "method": "GET", "url": "http://printer.example/status" },
          "response": { "status": 0 } },
        { "startedDateTime": "2026-11-24T21:00:01Z", "time": 0,
          "request": { "method": "GET", "url": "https://elsewhere.example/" }, "response": { "status": 200 } },
    ] } })
}

#[test]
fn an_archive_of_another_is_read_in_order_with_its_timing() {
    let imported = import(&foreign().to_string(), None).unwrap();
    assert_eq!(imported.left_out.get("https://elsewhere.example"), Some(&1));
    insta::assert_snapshot!(imported.session.text());
    let answer = imported.session.exchanges[1].answer().unwrap();
    let Content::Whole { pieces, .. } = &answer.content else {
        panic!("whole")
    };
    assert_eq!(pieces[0].after_seconds, Duration::from_millis(24));
    assert_eq!(answer.bytes().len() as u64, pieces[0].bytes);
    assert!(
        answer
            .bytes()
            .ends_with(b"Content-Length: 12\r\n\r\n{\"job\":null}")
    );
}

#[test]
fn a_session_comes_back_from_its_archive_as_it_was() {
    let session = SessionFile::read(SAMPLE).unwrap().session;
    let archive = export(&session);
    assert_eq!(import(&archive.text(), None).unwrap().session, session);
    insta::assert_snapshot!(archive.text());
}

#[test]
fn what_is_wrong_is_told_with_its_place() {
    let told = |change: &dyn Fn(&mut serde_json::Value), origin| {
        let mut archive = foreign();
        change(&mut archive);
        import(&archive.to_string(), origin)
            .unwrap_err()
            .to_string()
    };
    let all = [
        told(
            &|archive| archive["log"]["entries"][0]["request"]["method"] = json!(7),
            None,
        ),
        told(
            &|archive| archive["log"]["entries"][1]["startedDateTime"] = json!("yesterday"),
            None,
        ),
        told(
            &|archive| archive["log"]["entries"][2]["request"]["url"] = json!("/status"),
            None,
        ),
        told(&|_| {}, Some("http://nobody.example")),
        told(&|archive| archive["log"]["entries"] = json!([]), None),
        told(
            &|archive| archive["log"]["entries"][0]["time"] = json!(1e17),
            None,
        ),
    ];
    insta::assert_snapshot!(all.join("\n"));
}
