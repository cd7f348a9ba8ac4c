//! The harness as its users meet it: from Rust, and as a command with files.
#![allow(missing_docs, reason = "tests")]

mod explore;
mod own_watcher;
