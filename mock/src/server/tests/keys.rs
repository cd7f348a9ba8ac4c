//! Hosts that ask for a key.

use super::common::{Bench, options};
use crate::server::{Host, StartError};

async fn locked() -> Bench {
    Bench::with(|options| options.key = Some("s3cret".to_owned())).await
}

#[tokio::test]
async fn the_right_key_is_let_in() {
    let bench = locked().await;
    let reply = bench
        .ask("GET /printer\nAuthorization: Bearer s3cret")
        .await;
    assert_eq!(reply.status, 200);
}

#[tokio::test]
async fn without_a_key_there_is_a_challenge_and_no_error_code_rfc_6750_s3() {
    let bench = locked().await;
    for target in [
        "GET /printer",
        "POST /job/pause",
        "GET /none",
        "OPTIONS /job",
    ] {
        let reply = bench.ask(target).await;
        assert_eq!(reply.status, 401, "{target}");
        assert_eq!(
            reply.field("www-authenticate"),
            Some("Bearer realm=\"printer\"")
        );
        assert_eq!(reply.json()["status"], 401);
    }
}

#[tokio::test]
async fn a_wrong_key_is_an_invalid_token_rfc_6750_s3_1() {
    let bench = locked().await;
    let reply = bench.ask("GET /printer\nAuthorization: Bearer wrong").await;
    assert_eq!(reply.status, 401);
    let challenge = reply.field("www-authenticate").unwrap();
    assert!(challenge.contains("error=\"invalid_token\""), "{challenge}");
}

#[tokio::test]
async fn a_host_that_others_could_reach_needs_a_key() {
    let mut options = options();
    options.listen = ([0, 0, 0, 0], 0).into();
    let error = Host::start(options).await.unwrap_err();
    assert!(matches!(error, StartError::NoKey { .. }), "{error}");
}

#[tokio::test]
async fn a_key_that_no_field_can_carry_is_refused() {
    let mut options = options();
    options.key = Some("two words".to_owned());
    let error = Host::start(options).await.unwrap_err();
    assert!(matches!(error, StartError::Key { .. }), "{error}");
}
