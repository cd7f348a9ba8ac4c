//! The reference watcher: a small client of a printer's host that keeps every rule of the
//! catalogue. Copy it.
//!
//! It asks at an even pace and prints what it sees, one JSON object a line. Three habits make it
//! right: every poll starts from nothing, so no old value survives; whatever cannot be read is
//! unknown, piece by piece; and a failed poll withdraws everything that was shown before.

mod sighting;

use std::time::Duration;

use reqwest::{Client, StatusCode};

use sighting::Sighting;

/// A host in the same house answers in milliseconds; after this long it does not.
const TIME_OUT: Duration = Duration::from_secs(2);

/// More than any printer's state needs, and little enough for any memory.
const BODY_LIMIT: usize = 1 << 20;

/// Asks `GET {url}/printer` at an even pace, for ever, and prints a line for each answer or
/// failure.
///
/// # Errors
/// Only if the client cannot be built or nobody reads the output any more. A host that is away or
/// answers nonsense is no error: it is what a watcher is there to tell.
pub async fn watch(
    url: &str,
    key: &str,
    every: Duration,
) -> Result<(), Box<dyn std::error::Error>> {
    let client = Client::builder()
        .user_agent(concat!(
            "coldbed-reference-watcher/",
            env!("CARGO_PKG_VERSION")
        ))
        .timeout(TIME_OUT)
        // A redirect may lead anywhere, and the key must not go there.
        .redirect(reqwest::redirect::Policy::none())
        .build()?;
    let target = format!("{}/printer", url.trim_end_matches('/'));
    let mut pace = tokio::time::interval(every.max(Duration::from_millis(10)));
    // After a slow answer go on at the same pace instead of catching up in a burst.
    pace.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Skip);
    loop {
        pace.tick().await;
        let sighting = match ask(&client, &target, key).await {
            Ok(body) => Sighting::from_body(&body),
            Err(failure) => {
                eprintln!("no answer: {failure}");
                Sighting::unknown()
            }
        };
        print(&sighting)?;
    }
}

/// Asks once and gives the body of a complete, successful answer.
async fn ask(client: &Client, target: &str, key: &str) -> Result<Vec<u8>, Failure> {
    // The key goes into a header field, never into the URL: URLs end up in logs.
    let mut answer = client.get(target).bearer_auth(key).send().await?;
    if answer.status() != StatusCode::OK {
        return Err(Failure::Status(answer.status()));
    }
    let mut body = Vec::new();
    // An error here is a body cut short: half an answer is none.
    while let Some(chunk) = answer.chunk().await? {
        if body.len() + chunk.len() > BODY_LIMIT {
            return Err(Failure::TooLarge);
        }
        body.extend_from_slice(&chunk);
    }
    Ok(body)
}

/// Prints one line and makes sure that it gets out at once.
fn print(sighting: &Sighting) -> std::io::Result<()> {
    use std::io::Write;
    let mut out = std::io::stdout().lock();
    serde_json::to_writer(&mut out, sighting)?;
    writeln!(out)?;
    out.flush()
}

#[derive(Debug, thiserror::Error)]
enum Failure {
    #[error("{}", without_url(.0))]
    Transport(#[from] reqwest::Error),
    #[error("status {0}")]
    Status(StatusCode),
    #[error("body over {BODY_LIMIT} bytes")]
    TooLarge,
}

/// Says what went wrong on the way, down to the cause: `connection refused` tells more than
/// `error sending request`.
fn without_url(error: &reqwest::Error) -> String {
    let mut cause: &dyn std::error::Error = error;
    while let Some(deeper) = cause.source() {
        cause = deeper;
    }
    cause.to_string()
}
