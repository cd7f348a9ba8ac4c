//! What faults answer instead of the dialect.

use std::time::{Duration, SystemTime};

use serde_json::json;

use crate::server::date::real_date;
use crate::server::tests::common::{Bench, PRINTING};
use crate::sim::VirtualTime;

#[tokio::test]
async fn every_status_is_answered_and_the_connection_goes_on_but_after_408() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    for code in [204, 205, 304, 401, 403, 404, 429, 500, 502, 503, 507] {
        let _guard = bench.raise(json!({ "status": { "code": code } }));
        let reply = client.ask("GET /printer").await;
        assert_eq!(reply.status, code);
        let has_body = !matches!(code, 204 | 205 | 304);
        assert_eq!(!reply.body.is_empty(), has_body, "{code}");
        assert_eq!(reply.field("retry-after"), None);
    }
    let _guard = bench.raise(json!({ "status": { "code": 408 } }));
    let reply = client.ask("GET /printer").await;
    assert_eq!(
        (reply.status, reply.field("connection")),
        (408, Some("close"))
    );
    let (rest, end) = client.rest().await;
    assert!(rest.is_empty());
    end.unwrap();
}

#[tokio::test]
async fn retry_after_is_told_in_the_form_asked_for() {
    let bench = Bench::printing().await;
    for form in ["date", "rfc850-date", "asctime-date"] {
        let fault = json!({ "status": { "code": 503, "retry-after": { form: "1h" } } });
        let _guard = bench.raise(fault);
        let reply = bench.ask("GET /printer").await;
        let told = reply.field("retry-after").unwrap();
        // The reader takes all three forms; which one it is the texts tell apart.
        let at = httpdate::parse_http_date(told).unwrap();
        let date = httpdate::parse_http_date(reply.field("date").unwrap()).unwrap();
        let span = at.duration_since(date).unwrap().as_secs();
        assert!((3599..=3601).contains(&span), "{told}");
        let has = |mark: &str| told.contains(mark);
        match form {
            "date" => assert!(has(", ") && has(" GMT") && !has("-")),
            "rfc850-date" => assert!(has("day, ") && has("-")),
            _ => assert!(!has(",") && !has("GMT")),
        }
    }
}

#[tokio::test]
async fn a_log_in_page_is_html_with_200() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!("login-page"));
    let reply = bench.ask("GET /printer").await;
    assert_eq!(reply.status, 200);
    assert_eq!(
        reply.field("content-type"),
        Some("text/html; charset=utf-8")
    );
    assert!(reply.body.starts_with("<!DOCTYPE html>"));
}

#[tokio::test]
async fn redirections_lead_where_they_should() {
    let bench = Bench::printing().await;
    for (fault, status, location) in [
        (
            json!({ "redirect": { "to": "http://198.51.100.7:8080/", "code": 307 } }),
            307,
            "http://198.51.100.7:8080/heaters/extruder?x=1",
        ),
        (json!("captive-portal"), 302, "http://portal.invalid/login"),
        (
            json!({ "redirect-loop": { "code": 308 } }),
            308,
            "/heaters/extruder?x=1",
        ),
    ] {
        let _guard = bench.raise(fault);
        let reply = bench.ask("GET /heaters/extruder?x=1").await;
        assert_eq!(reply.status, status);
        assert_eq!(reply.field("location"), Some(location));
    }
}

#[tokio::test]
async fn a_frozen_host_shows_the_printer_as_it_was_with_a_live_date() {
    let bench = Bench::printing().await;
    let guard = bench.raise(json!("frozen"));
    let first = bench.ask("GET /printer").await;
    bench.host.clock().step(Duration::from_secs(600));
    let later = bench.ask("GET /printer").await;
    assert_eq!(first.body, later.body);
    // A route that was not asked for before is as old.
    let job = bench.ask("GET /job").await.json();
    assert_eq!(job, first.json()["job"]);
    drop(guard);
    let live = bench.ask("GET /printer").await.json();
    let up_time = |reply: &serde_json::Value| reply["printer-up-time"].as_u64().unwrap();
    assert_eq!(up_time(&live), up_time(&first.json()) + 600);
    let _again = bench.raise(json!("frozen"));
    let frozen = bench.ask("GET /printer").await.json();
    assert_eq!(
        up_time(&frozen),
        up_time(&live),
        "frozen anew, not as before"
    );
}

#[tokio::test]
async fn every_second_answer_is_older_than_the_one_before() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!("out-of-order"));
    let mut seconds = Vec::new();
    for step in 0..6 {
        let now = PRINTING + Duration::from_secs(10 * step);
        bench.host.clock().jump_to(now).unwrap();
        let up_time = bench.ask("GET /printer").await.json()["printer-up-time"].clone();
        seconds.push(up_time.as_i64().unwrap());
    }
    let from_first: Vec<i64> = seconds.iter().map(|at| at - seconds[0]).collect();
    assert_eq!(from_first, [0, 0, 20, 10, 40, 30]);
}

#[tokio::test]
async fn a_revoked_key_is_refused_as_a_wrong_one_is() {
    let bench = Bench::with(|options| options.key = Some("k-e-y".to_owned())).await;
    let ask = "GET /printer\nAuthorization: Bearer k-e-y";
    assert_eq!(bench.ask(ask).await.status, 200);
    let wrong = bench.ask("GET /printer\nAuthorization: Bearer other").await;
    let guard = bench.raise(json!("key-revoked"));
    let revoked = bench.ask(ask).await;
    assert_eq!(revoked.status, 401);
    assert_eq!(revoked.body, wrong.body);
    drop(guard);
    assert_eq!(bench.ask(ask).await.status, 200);
}

#[tokio::test]
async fn the_date_is_wrong_by_what_was_asked() {
    let bench = Bench::printing().await;
    for ahead_s in [86_400.0, -86_400.0] {
        let _guard = bench.raise(json!({ "clock-skew": { "ahead-s": ahead_s } }));
        let reply = bench.ask("GET /printer").await;
        let told = httpdate::parse_http_date(reply.field("date").unwrap()).unwrap();
        let since = |at: SystemTime| {
            at.duration_since(SystemTime::UNIX_EPOCH)
                .unwrap()
                .as_secs_f64()
        };
        let off = since(told) - since(real_date());
        assert!((off - ahead_s).abs() < 30.0, "{off}");
    }
}

#[tokio::test]
async fn the_observer_is_told_which_fault_has_happened_to_which_exchange() {
    let bench = Bench::printing().await;
    assert!(bench.host.clock().now() > VirtualTime::ZERO);
    let _guard = bench.raise(json!({ "fault": "login-page", "scope": { "times": 2 } }));
    for _ in 0..3 {
        bench.ask("GET /job").await;
    }
    let happened = bench
        .notes
        .count(|event| event.starts_with("FaultHappened"));
    assert_eq!(happened, 2);
}
