//! The `coldbed` command.

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    coldbed::dispatch(coldbed::cli::Cli::parse())
}
