//! What is left of a night with one poisonous member.

use std::collections::HashMap;
use std::future::Future;
use std::pin::Pin;

use coldbed_session::{Exchange, Session, SessionFile};
use serde_json::json;

use super::parts::json_of;
use super::*;
use crate::shrink::delta::Trial;

/// An invented night: polled each five seconds, with one `null` where a client does not expect it.
fn night(exchanges: u64, poisonous: u64) -> Session {
    let mut text = "{\"line\":\"session\",\"version\":1}\n\
        {\"line\":\"connection-opened\",\"at-seconds\":0,\"connection\":1}\n"
        .to_owned();
    for number in 1..=exchanges {
        let at = number * 5;
        let remaining = if number == poisonous {
            json!(null)
        } else {
            json!(40_000 - at)
        };
        let body = json!({
            "state": "processing",
            "heaters": [{ "name": "extruder", "actual": 214.7, "target": 215 }, { "name": "platform", "actual": 60.1, "target": 60 }],
            "job": { "name": "clip.gcode", "progress": 12.5, "elapsed": at, "remaining": remaining },
        })
        .to_string();
        let length = body.len();
        let fields = json!([
            ["Content-Type", "application/json"],
            ["Content-Length", length.to_string()],
            ["Server", "own"]
        ]);
        let request = json!({ "line": "request", "at-seconds": at, "connection": 1, "exchange": number, "method": "GET", "target": "/status", "fields": [] });
        let answer = json!({ "line": "answer", "at-seconds": at, "exchange": number, "status": 200, "reason": "OK", "fields": fields,
            "body": { "text": body }, "framing": "length", "pieces": [{ "after-seconds": 0.01, "bytes": length + 100 }], "end": "complete" });
        text.push_str(&format!("{request}\n{answer}\n"));
    }
    SessionFile::read(&text).unwrap().session
}

/// Is a client that ends at a time left that is no number, if it has seen the state before.
struct Fragile;

impl Fragile {
    fn dies_of(session: &Session) -> bool {
        let bodies = session
            .exchanges
            .iter()
            .filter_map(Exchange::answer)
            .filter_map(json_of);
        bodies.into_iter().any(|body| {
            body["state"] == "processing"
                && body
                    .pointer("/job/remaining")
                    .is_some_and(serde_json::Value::is_null)
        })
    }
}

impl Trial<Session> for Fragile {
    fn fails<'a>(
        &'a self,
        candidate: &'a Session,
    ) -> Pin<Box<dyn Future<Output = bool> + Send + 'a>> {
        Box::pin(async { Self::dies_of(candidate) })
    }
}

async fn reduced(jobs: usize, known: HashMap<String, bool>) -> (Reduction, HashMap<String, bool>) {
    let mut kept = known.clone();
    let mut told = |_: Stage, key: &str, fails: bool| {
        kept.insert(key.to_owned(), fails);
    };
    let reduction = reduce(&night(200, 123), &Fragile, jobs, known, &mut told).await;
    (reduction, kept)
}

#[tokio::test]
async fn of_two_hundred_exchanges_one_is_left_with_what_matters() {
    let (reduction, known) = reduced(1, HashMap::new()).await;
    let exchange = &reduction.session.exchanges[..];
    assert_eq!(exchange.len(), 1);
    assert_eq!(exchange[0].number, 123);
    let body = exchange[0]
        .answer()
        .unwrap()
        .body()
        .unwrap()
        .text()
        .unwrap();
    assert_eq!(body, r#"{"state":"processing","job":{"remaining":null}}"#);
    assert!(exchange[0].answer().unwrap().field("server").is_none());
    assert!(reduction.trials < 100, "{}", reduction.trials);
    // Side by side it comes to the same, and what is known is not tried again.
    assert_eq!(
        reduced(4, HashMap::new()).await.0.session,
        reduction.session
    );
    let again = reduced(1, known).await.0;
    assert_eq!((again.trials, &again.session), (0, &reduction.session));
}
