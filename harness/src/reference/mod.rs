//! The reference watcher: a small client of a printer's host that keeps every rule of the
//! catalogue. Copy it.
//!
//! It asks at an even pace and prints what it sees, one JSON object a line. Some habits make it
//! right: every poll starts from nothing, so no old value survives; whatever cannot be read is
//! unknown, piece by piece; a failed poll withdraws everything that was shown before, and lets the
//! host rest for longer each time; what was read before the machine slept is not shown after it.
//!
//! `host` asks, `pace` says how long to wait, `sighting` reads an answer, `clock` tells an old one.

mod clock;
mod host;
mod pace;
mod sighting;

use std::time::Duration;

use host::Host;
use sighting::Sighting;

/// A host in the same house answers in milliseconds; after this long it does not.
const TIME_OUT: Duration = Duration::from_secs(2);

/// Asks `GET {url}/printer` at an even pace, for ever, and prints a line for each answer or
/// failure. `authority` is the PEM text of the certificate to trust if the URL is https.
///
/// # Errors
/// Only if the client cannot be built or nobody reads the output any more. A host that is away or
/// answers nonsense is no error: it is what a watcher is there to tell.
pub async fn watch(
    url: &str,
    key: &str,
    every: Duration,
    authority: Option<&[u8]>,
) -> Result<(), Box<dyn std::error::Error>> {
    let every = every.max(Duration::from_millis(10));
    // Refused only if there is one already, which then serves as well.
    let _ = rustls::crypto::ring::default_provider().install_default();
    let mut host = Host::new(url, key, every, TIME_OUT, authority)?;
    let mut failures = 0;
    loop {
        let asked = pace::awake();
        let asked_to_wait = match host.ask().await {
            // It slept while it asked: what was read is old, so ask again at once.
            Ok(_) if pace::awake() - asked > TIME_OUT => {
                host.forget()?;
                continue;
            }
            Ok(sighting) => {
                failures = 0;
                print(&sighting)?;
                None
            }
            Err(failure) => {
                failures += 1;
                eprintln!("no usable answer: {failure}");
                print(&Sighting::unknown())?;
                host.forget()?;
                Some(failure.retry_after())
            }
        };
        let wait = match asked_to_wait {
            Some(asked) => pace::after_failure(failures, every, asked, fastrand::f64()),
            None => pace::to_next(every, pace::awake() - asked),
        };
        tokio::time::sleep(wait).await;
    }
}

/// Gives the line that is printed for a body, for tests that have no host.
#[cfg(test)]
pub(crate) fn line_of(body: &[u8]) -> String {
    let sighting = Sighting::from_body(body).unwrap_or_else(Sighting::unknown);
    serde_json::to_string(&sighting).expect("numbers that JSON can say")
}

/// Prints one line and makes sure that it gets out at once.
fn print(sighting: &Sighting) -> std::io::Result<()> {
    use std::io::Write;
    let mut out = std::io::stdout().lock();
    serde_json::to_writer(&mut out, sighting)?;
    writeln!(out)?;
    out.flush()
}
