//! Paths that only lead elsewhere: RFC 9110 section 15.4.

use std::sync::Arc;

use super::common::Bench;
use crate::dialect::DialectFile;

const REDIRECTS: &str = r#"
[[redirects]]
path = "/"
to = "/printer"

[[redirects]]
path = "/heaters/nozzle"
to = "https://other.test:8443/heaters/extruder?x=1"
status = 308
method = "PUT"

[[redirects]]
path = "/status"
to = "/printer"
status = 301
method = "GET"
"#;

#[tokio::test]
async fn a_client_is_led_elsewhere_with_the_status_of_the_file() {
    let bench = Bench::speaking(REDIRECTS).await;
    let mut client = bench.connect().await;
    for (request, status, location) in [
        ("GET /", 302, "/printer"),
        ("GET /?page=1", 302, "/printer"),
        ("POST /", 302, "/printer"),
        ("GET /status", 301, "/printer"),
        ("HEAD /status", 301, "/printer"),
        (
            "PUT /heaters/nozzle",
            308,
            "https://other.test:8443/heaters/extruder?x=1",
        ),
    ] {
        let reply = client.ask(request).await;
        assert_eq!(reply.status, status, "{request}");
        assert_eq!(reply.field("location"), Some(location), "{request}");
        assert_eq!(reply.field("content-length"), Some("0"), "{request}");
        assert_eq!(reply.field("cache-control"), Some("no-cache"));
    }
}

#[tokio::test]
async fn other_methods_and_other_paths_are_served_as_ever() {
    let bench = Bench::speaking(REDIRECTS).await;
    // There is a route with a parameter at this path.
    let reply = bench.ask("GET /heaters/nozzle").await;
    assert_eq!(reply.status, 404);
    let reply = bench.ask("DELETE /status").await;
    assert_eq!(reply.status, 405);
    assert_eq!(reply.field("allow"), Some("GET, HEAD"));
    assert_eq!(bench.ask("BREW /").await.status, 501);
    assert_eq!(bench.ask("GET /printer").await.status, 200);
}

#[tokio::test]
async fn a_redirect_is_behind_the_key_like_every_other_path() {
    let plain = include_str!("../../../dialects/plain.toml");
    let dialect = DialectFile::parse("plain", &format!("{plain}\n{REDIRECTS}")).unwrap();
    let bench = Bench::with(|options| {
        options.dialect = Arc::new(dialect);
        options.key = Some("k".to_owned());
    })
    .await;
    assert_eq!(bench.ask("GET /").await.status, 401);
    let reply = bench.ask("GET /\nAuthorization: Bearer k").await;
    assert_eq!(reply.status, 302);
}
