//! Judging a watcher from a test of your own: no process, the same checks.
//!
//! A watcher that is Rust code is handed to [`Bench::judge`] as a task, and says what it sees as
//! [`Sighting`](crate::watcher::Sighting)s. It is measured and judged as `coldbed check` does it:
//!
//! ```
//! use std::time::Duration;
//! use coldbed::bench::Bench;
//! use coldbed::watcher::{Claim, Sighting};
//! # use coldbed_mock::sim::Phase;
//! # async fn poll(url: &str, key: &str) -> Sighting {
//! #     let asked = reqwest::Client::new().get(format!("{url}/printer")).bearer_auth(key);
//! #     let Ok(answer) = asked.send().await else { return Sighting::new().phase(Claim::Unknown) };
//! #     let Ok(body) = answer.json::<serde_json::Value>().await else {
//! #         return Sighting::new().phase(Claim::Unknown);
//! #     };
//! #     let celsius = |name: &str| body.pointer(name).and_then(serde_json::Value::as_f64);
//! #     Sighting::new().heater("extruder", |heater| {
//! #         heater.target_celsius(celsius("/heaters/extruder/target-celsius"))
//! #     })
//! # }
//!
//! # tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap().block_on(async {
//! // In a `#[tokio::test]`:
//! let report = Bench::new("plain")
//!     .judge(|call, sightings| async move {
//!         loop {
//!             sightings.say(poll(&call.url, &call.key).await);
//!             tokio::time::sleep(Duration::from_millis(50)).await;
//!         }
//!     })
//!     .only(["target-temperature"])
//!     .run()
//!     .await
//!     .expect("the bench can be set up");
//! report.assert();
//! # });
//! ```
//!
//! For steps written by hand there is [`Bench::host`]: a mock host with its clock, its faults and its
//! drifts, and a log of what crossed the wire and of what you say was seen, for the
//! [`oracle`](crate::oracle)s.
//!
//! Real time passes: a test with `start_paused` would stand still. A watcher that blocks its thread needs
//! `#[tokio::test(flavor = "multi_thread")]`, or everything else waits for it. A task has no process, so
//! whatever suspends or measures one is skipped. That all checks pass proves nothing about a real printer.

mod error;
mod host;
mod judged;
mod report;
#[cfg(test)]
mod tests;

pub use error::BenchError;
pub use host::HostBench;
pub use judged::{Bench, Judged, Sightings};
pub use report::BenchReport;
