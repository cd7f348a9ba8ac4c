//! The `coldbed` command as its users meet it: a process, its output, its exit code, its port.
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "these are tests: what goes wrong ends them, and they live in real time"
)]

mod attach;
mod bad_clients;
mod check;
mod common;
mod control;
mod correct;
mod dialect;
mod help;
mod learn;
mod mqtt;
mod on_session;
mod record;
mod report;
mod serve;
mod session;
mod shrink;
mod tls;
mod watcher_files;
mod watchers;
