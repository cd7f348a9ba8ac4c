//! The `coldbed` command as its users meet it: a process, its output, its exit code, its port.

mod check;
mod common;
mod help;
mod serve;
mod watchers;
