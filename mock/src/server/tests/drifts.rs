//! Drifts as a client meets them.

use super::common::{Bench, Reply};
use crate::drift::{
    AddMember, ByteOrderMark, Drift, EmptyBody, InvalidUtf8, ReplaceByNull, Truncated,
};

#[tokio::test]
async fn a_drift_shows_at_once_and_goes_with_its_guard() {
    let bench = Bench::printing().await;
    let before = bench.ask("GET /printer").await;
    let guard = bench
        .host
        .drifts()
        .raise(Drift::of("/job/progress-percent", ReplaceByNull));
    let during = bench.ask("GET /printer").await;
    assert!(during.json()["job"]["progress-percent"].is_null());
    assert_ne!(during.field("etag"), before.field("etag"));
    drop(guard);
    assert_eq!(bench.ask("GET /printer").await.body, before.body);
}

#[tokio::test]
async fn a_drift_of_one_body_leaves_the_others_and_the_problems_alone() {
    let bench = Bench::printing().await;
    let job = bench.ask("GET /job").await;
    let missing = bench.ask("GET /none").await;
    let extra = AddMember {
        member: "extra".to_owned(),
        value: serde_json::json!({"deep": [true]}),
    };
    let _guard = bench.host.drifts().raise(Drift::of("/heaters", extra));
    assert_eq!(
        bench.ask("GET /printer").await.json()["heaters"]["extra"]["deep"][0],
        true
    );
    assert_eq!(bench.ask("GET /job").await.body, job.body);
    assert_eq!(bench.ask("GET /none").await.body, missing.body);
}

/// Asks for the printer and gives the head and the bytes of the body, which need not be text.
async fn bytes(bench: &Bench) -> (Reply, Vec<u8>) {
    let mut client = bench.connect().await;
    client.send("GET /printer\nConnection: close").await;
    let reply = client.reply(false).await;
    let (body, end) = client.rest().await;
    end.unwrap();
    (reply, body)
}

#[tokio::test]
async fn a_spelling_goes_out_as_it_is_with_its_own_length_and_tag() {
    let bench = Bench::printing().await;
    let (before, body) = bytes(&bench).await;
    let cut = Truncated { bytes: 20 };
    let invalid = InvalidUtf8;
    let beginning = [b"\xef\xbb\xbf".as_slice(), &body].concat();
    for (drift, wanted) in [
        (Drift::of("", cut), Some(body[..20].to_vec())),
        (Drift::of("", ByteOrderMark), Some(beginning)),
        (Drift::of("", EmptyBody), Some(Vec::new())),
        (Drift::of("/printer-state", invalid), None),
    ] {
        let guard = bench.host.drifts().raise(drift);
        let (during, sent) = bytes(&bench).await;
        assert_eq!(during.status, 200);
        assert_eq!(during.field("content-type"), before.field("content-type"));
        let length = sent.len().to_string();
        assert_eq!(during.field("content-length"), Some(&*length));
        assert_ne!(during.field("etag"), before.field("etag"));
        assert!(during.field("etag").is_some());
        match wanted {
            Some(wanted) => assert_eq!(sent, wanted),
            None => assert!(std::str::from_utf8(&sent).is_err()),
        }
        drop(guard);
    }
    assert_eq!(bytes(&bench).await.1, body);
}
