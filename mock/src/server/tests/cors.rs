//! Scripts of other origins: WHATWG Fetch, "CORS protocol".

use std::sync::Arc;

use super::common::{Bench, Reply};
use crate::dialect::DialectFile;

const PREFLIGHT: &str = "Origin: http://panel.test\nAccess-Control-Request-Method: PUT\nAccess-Control-Request-Headers: authorization";

/// Starts a host that asks for the key `k`.
async fn locked(cors: &str) -> Bench {
    let plain = include_str!("../../../dialects/plain.toml");
    let dialect = DialectFile::parse("plain", &format!("{plain}\n{cors}")).unwrap();
    Bench::with(|options| {
        options.dialect = Arc::new(dialect);
        options.key = Some("k".to_owned());
    })
    .await
}

fn allowed(reply: &Reply) -> Option<&str> {
    reply.field("access-control-allow-origin")
}

#[tokio::test]
async fn a_preflight_is_answered_without_the_key_that_it_cannot_carry() {
    let bench = locked("[http.cors]").await;
    let target = "/heaters/extruder/target";
    let reply = bench.ask(&format!("OPTIONS {target}\n{PREFLIGHT}")).await;
    assert_eq!(reply.status, 204, "{reply:?}");
    for (name, value) in [
        ("access-control-allow-origin", "*"),
        ("access-control-allow-methods", "OPTIONS, PUT"),
        ("access-control-allow-headers", "Authorization"),
        ("access-control-max-age", "600"),
    ] {
        assert_eq!(reply.field(name), Some(value), "{name}");
    }
    assert_eq!(reply.field("content-length"), None);
    assert_eq!(reply.field("access-control-expose-headers"), None);
    // A script is told why it is turned away, so the field is there too.
    let reply = bench
        .ask(&format!("PUT {target}\nOrigin: http://a.test"))
        .await;
    assert_eq!((reply.status, allowed(&reply)), (401, Some("*")));
}

#[tokio::test]
async fn without_cors_a_preflight_needs_the_key_like_any_other_request() {
    let bench = locked("").await;
    let reply = bench.ask(&format!("OPTIONS /printer\n{PREFLIGHT}")).await;
    assert_eq!((reply.status, allowed(&reply)), (401, None));
    let bench = locked("[http.cors]").await;
    // Not a preflight: the field that makes it one is missing.
    let reply = bench
        .ask("OPTIONS /printer\nOrigin: http://panel.test")
        .await;
    assert_eq!(reply.status, 401);
    let reply = bench.ask(&format!("OPTIONS /none\n{PREFLIGHT}")).await;
    assert_eq!(reply.status, 401, "a stranger does not learn what there is");
}

#[tokio::test]
async fn an_origin_of_the_list_is_named_and_every_answer_varies() {
    let cors = "[http.cors]\norigins = [\"http://panel.test\", \"null\"]\ncredentials = true";
    let bench = Bench::speaking(cors).await;
    for (origin, named) in [
        ("\nOrigin: http://panel.test", Some("http://panel.test")),
        ("\nOrigin: null", Some("null")),
        ("\nOrigin: http://panel.test:8080", None),
        ("", None),
    ] {
        for target in ["GET /printer", "GET /none"] {
            let reply = bench.ask(&format!("{target}{origin}")).await;
            assert_eq!(allowed(&reply), named, "{target}{origin}");
            let yes = named.map(|_| "true");
            assert_eq!(reply.field("access-control-allow-credentials"), yes);
            let exposed = named.map(|_| "ETag");
            assert_eq!(reply.field("access-control-expose-headers"), exposed);
            assert_eq!(reply.field("vary"), Some("origin"));
        }
    }
    let strange = "OPTIONS /printer\nOrigin: http://b.test\nAccess-Control-Request-Method: GET";
    let reply = bench.ask(strange).await;
    assert_eq!((reply.status, allowed(&reply)), (204, None));
    assert_eq!(reply.field("access-control-allow-methods"), None);
}

#[tokio::test]
async fn what_a_browser_has_kept_may_be_read_again_too() {
    let bench = Bench::speaking("[http.cors]").await;
    let first = bench.ask("GET /printer\nOrigin: http://a.test").await;
    let tag = first.field("etag").unwrap();
    let again = bench
        .ask(&format!(
            "GET /printer\nOrigin: http://a.test\nIf-None-Match: {tag}"
        ))
        .await;
    assert_eq!((again.status, allowed(&again)), (304, Some("*")));
    let stream = bench
        .ask("HEAD /printer/events\nOrigin: http://a.test")
        .await;
    assert_eq!(allowed(&stream), Some("*"));
}
