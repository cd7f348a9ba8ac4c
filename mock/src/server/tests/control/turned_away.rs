//! Who and what is turned away.

use super::{ask, bench, talk, with};
use crate::server::{ControlOptions, Host, StartError};

#[tokio::test]
async fn pages_of_others_and_names_that_point_here_are_refused_everywhere() {
    let bench = bench().await;
    insta::assert_snapshot!(
        talk(
            &bench,
            &[
                "GET /truth\nHost: evil.example",
                "GET /nothing\nHost: evil.example",
                "DELETE /faults\nOrigin: http://evil.example",
                "PATCH /clock\nOrigin: null",
                "POST /faults\nOrigin: http://evil.example\n\n{\"fault\":\"refuse\"}",
            ]
        )
        .await
    );
    assert_eq!(bench.ask("GET /job").await.status, 200);
}

#[tokio::test]
async fn a_page_of_its_own_may_ask() {
    let bench = bench().await;
    let origin = format!("http://{}", bench.host.control_addr().unwrap());
    let reply = ask(&bench, &format!("GET /clock\nOrigin: {origin}")).await;
    assert_eq!(reply.status, 200);
    // No page of another origin is ever told that it may read this (WHATWG Fetch, "CORS protocol").
    assert_eq!(reply.field("access-control-allow-origin"), None);
}

#[tokio::test]
async fn a_change_needs_json_by_its_name_and_within_the_limit() {
    let bench = bench().await;
    let body = "\n\n{\"fault\":\"refuse\"}";
    for kind in [
        "text/plain",
        "application/x-www-form-urlencoded",
        "application/jsonp",
    ] {
        let reply = ask(&bench, &format!("POST /faults\nContent-Type: {kind}{body}")).await;
        assert_eq!(reply.status, 415, "{kind}");
    }
    assert_eq!(
        ask(&bench, "POST /faults\nContent-Length: 0").await.status,
        415
    );
    let large = format!("POST /faults\n\n{}", " ".repeat(64 * 1024 + 1));
    assert_eq!(ask(&bench, &large).await.status, 413);
    assert_eq!(bench.ask("GET /job").await.status, 200);
    let reply = ask(
        &bench,
        &format!("POST /faults\nContent-Type: Application/JSON; charset=utf-8{body}"),
    )
    .await;
    assert_eq!(reply.status, 201);
}

#[tokio::test]
async fn what_is_not_there_and_what_a_resource_does_not_take_is_told_rfc_9457() {
    let bench = bench().await;
    let reply = ask(&bench, "GET /printer").await;
    assert_eq!(reply.status, 404);
    assert_eq!(
        reply.field("content-type"),
        Some("application/problem+json")
    );
    for (request, allowed) in [
        ("POST /truth", "GET,HEAD"),
        ("DELETE /clock", "GET,HEAD,PUT"),
        ("GET /clock/jump", "POST"),
        ("OPTIONS /faults", "GET,HEAD,POST,DELETE"),
        ("PUT /faults/1", "GET,HEAD,DELETE"),
    ] {
        let reply = ask(&bench, request).await;
        assert_eq!(
            (reply.status, reply.field("allow")),
            (405, Some(allowed)),
            "{request}"
        );
        assert_eq!(
            reply.field("content-type"),
            Some("application/problem+json")
        );
    }
}

#[tokio::test]
async fn a_key_is_asked_for_and_compared_whole() {
    let bench = with(|options| {
        options.control.as_mut().unwrap().key = Some("sesame".to_owned());
    })
    .await;
    let reply = ask(&bench, "GET /truth").await;
    assert_eq!(
        (reply.status, reply.field("www-authenticate")),
        (401, Some("Bearer realm=\"control\""))
    );
    let reply = ask(&bench, "GET /truth\nAuthorization: Bearer sesam").await;
    let challenge = "Bearer realm=\"control\", error=\"invalid_token\"";
    assert_eq!(
        (reply.status, reply.field("www-authenticate")),
        (401, Some(challenge))
    );
    assert_eq!(
        ask(&bench, "GET /truth\nAuthorization: Bearer sesame")
            .await
            .status,
        200
    );
}

#[tokio::test]
async fn nobody_listens_wider_than_loopback_without_a_key() {
    let mut options = super::options();
    options.control = Some(ControlOptions {
        listen: Some("0.0.0.0:0".parse().unwrap()),
        ..ControlOptions::default()
    });
    let error = Host::start(options).await.unwrap_err();
    assert!(matches!(error, StartError::NoKey { .. }), "{error}");
}

#[tokio::test]
async fn without_the_option_there_is_no_control() {
    let bench = super::super::common::Bench::start().await;
    assert!(bench.host.control().is_none() && bench.host.control_addr().is_none());
}
