//! Ordinary requests.

use http::StatusCode;

use super::common::Bench;
use crate::sim::VirtualTime;

#[tokio::test]
async fn a_body_shows_what_is_true() {
    let bench = Bench::printing().await;
    let reply = bench.ask("GET /printer").await;
    assert_eq!(reply.status, 200, "{reply:?}");
    assert_eq!(reply.field("content-type"), Some("application/json"));
    assert_eq!(reply.field("cache-control"), Some("no-cache"));
    let truth = bench.host.truth();
    let job = truth.job.as_ref().unwrap();
    let body = reply.json();
    assert_eq!(body["printer-state"], "processing");
    assert_eq!(body["job"]["job-name"], job.name);
    let shown = body["heaters"]["extruder"]["actual-celsius"]
        .as_f64()
        .unwrap();
    // Written to 0.1, so at most half of that away.
    assert!((shown - truth.heaters["extruder"].actual_celsius.unwrap()).abs() <= 0.0501);
}

#[tokio::test]
async fn many_requests_go_over_one_connection_rfc_9112_s9_3() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    for target in ["/printer", "/job", "/heaters/extruder", "/none", "/printer"] {
        let reply = client.ask(&format!("GET {target}")).await;
        assert_eq!(reply.status == 404, target == "/none", "{reply:?}");
    }
    let opened = bench
        .notes
        .count(|event| event.starts_with("ConnectionOpened"));
    assert_eq!(opened, 1);
}

#[tokio::test]
async fn a_connection_ends_when_the_client_says_close_rfc_9112_s9_6() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    client.send("GET /job\nConnection: close").await;
    assert_eq!(client.reply(true).await.status, 200);
    let (rest, end) = client.rest().await;
    assert!(rest.is_empty() && end.is_ok(), "{rest:?} {end:?}");
}

#[tokio::test]
async fn there_is_no_job_before_its_time() {
    let bench = Bench::start().await;
    let reply = bench.ask("GET /job").await;
    assert_eq!(reply.status, 404);
    assert_eq!(
        reply.field("content-type"),
        Some("application/problem+json")
    );
    assert_eq!(reply.json()["detail"], "there is no job");
    assert!(bench.ask("GET /printer").await.json()["job"].is_null());
}

#[tokio::test]
async fn a_wrong_method_is_told_the_right_ones_rfc_9110_s15_5_6() {
    let bench = Bench::printing().await;
    let reply = bench.ask("DELETE /printer").await;
    assert_eq!(reply.status, 405);
    assert_eq!(reply.field("allow"), Some("GET, HEAD, OPTIONS"));
    let reply = bench.ask("GET /job/pause").await;
    assert_eq!(reply.field("allow"), Some("OPTIONS, POST"));
    let reply = bench.ask("BREW /printer").await;
    assert_eq!(reply.status, 501);
}

#[tokio::test]
async fn options_lists_the_methods_without_a_body_rfc_9110_s9_3_7() {
    let bench = Bench::printing().await;
    for (target, allow) in [
        ("/heaters/extruder/target", "OPTIONS, PUT"),
        ("/job", "GET, HEAD, OPTIONS"),
        ("*", "GET, HEAD, OPTIONS, POST, PUT"),
    ] {
        let reply = bench.ask(&format!("OPTIONS {target}")).await;
        assert_eq!(reply.status, 204, "{target}");
        assert_eq!(reply.field("allow"), Some(allow), "{target}");
        assert_eq!(reply.field("content-length"), None, "RFC 9110 section 8.6");
    }
}

#[tokio::test]
async fn head_is_get_without_the_body_rfc_9110_s9_3_2() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    for target in ["/printer", "/none"] {
        let get = client.ask(&format!("GET {target}")).await;
        let head = client.ask(&format!("HEAD {target}")).await;
        assert_eq!(head.status, get.status);
        for field in ["content-type", "content-length", "etag", "cache-control"] {
            assert_eq!(head.field(field), get.field(field), "{field} of {target}");
        }
        assert!(head.field("content-length").is_some());
    }
    // A body after HEAD would have been taken for the next answer's head here.
    assert_eq!(client.ask("GET /job").await.status, 200);
}

#[tokio::test]
async fn a_known_body_is_not_sent_again_rfc_9110_s13_1_2() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    let first = client.ask("GET /printer").await;
    let tag = first.field("etag").unwrap().to_owned();
    assert!(tag.starts_with('"'), "not a strong tag: {tag}");
    for list in [
        tag.clone(),
        format!("W/{tag}"),
        format!("\"other\", {tag}"),
        "*".to_owned(),
    ] {
        let reply = client
            .ask(&format!("GET /printer\nIf-None-Match: {list}"))
            .await;
        assert_eq!(reply.status, 304, "{list}");
        assert_eq!(reply.field("etag"), Some(tag.as_str()), "section 15.4.5");
        assert_eq!(reply.field("cache-control"), Some("no-cache"));
        assert_eq!(reply.field("content-type"), None);
    }
    let other = client.ask("GET /printer\nIf-None-Match: \"other\"").await;
    assert_eq!((other.status, &other.body), (200, &first.body));
}

#[tokio::test]
async fn a_tag_changes_with_the_body() {
    let bench = Bench::printing().await;
    let first = bench.ask("GET /printer").await;
    assert_eq!(
        bench.ask("GET /printer").await.field("etag"),
        first.field("etag")
    );
    bench.host.clock().step(std::time::Duration::from_secs(60));
    let later = bench
        .ask(&format!(
            "GET /printer\nIf-None-Match: {}",
            first.field("etag").unwrap()
        ))
        .await;
    assert_eq!(later.status, 200);
    assert_ne!(later.field("etag"), first.field("etag"));
}

#[tokio::test]
async fn a_percent_encoded_name_is_decoded_before_it_is_looked_up() {
    let bench = Bench::printing().await;
    let reply = bench.ask("GET /heaters/%65xtruder?x=1").await;
    assert_eq!(reply.status, 200, "{reply:?}");
}

#[tokio::test]
async fn truth_does_not_depend_on_who_asks_how_often() {
    let at = |seconds| VirtualTime::new(std::time::Duration::from_secs(seconds));
    let (often, once) = (Bench::start().await, Bench::start().await);
    for second in 0..700 {
        often.host.clock().jump_to(at(second)).unwrap();
        assert_eq!(often.ask("GET /printer").await.status, StatusCode::OK);
    }
    once.host.clock().jump_to(at(699)).unwrap();
    assert_eq!(
        often.ask("GET /printer").await.body,
        once.ask("GET /printer").await.body
    );
}
