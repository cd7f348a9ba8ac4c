//! The arguments of `coldbed dialect`.

use std::time::Duration;

use clap::{Args, Subcommand};

use super::parse_span;

/// Arguments of `dialect`.
#[derive(Debug, Args)]
pub struct DialectArgs {
    /// What to do with it.
    #[command(subcommand)]
    pub command: DialectCommand,
}

/// What to do with a dialect.
#[derive(Debug, Subcommand)]
pub enum DialectCommand {
    /// Look for what is wrong in a dialect, or hardly meant, and show what it says.
    ///
    /// What is wrong is told with file, line and field, and ends in exit code 2. What is hardly
    /// meant is a warning: words that are missing or misspelt, parts and word tables that nothing
    /// uses, a host that shows no state or no temperature, a push that no GET shows the same of.
    ///
    /// Example: coldbed dialect lint mine.toml --preview --at 1h20m
    Lint(LintArgs),
    /// Print an OpenAPI 3.1 document of one version of a dialect.
    ///
    /// The schemas of bodies are inferred from what the bodies are in samples and in moments of
    /// built-in scenarios.
    Describe(DescribeArgs),
    /// Print the text of a built-in dialect, to begin one's own with.
    ///
    /// Example: coldbed dialect show plain > mine.toml
    Show(ShowArgs),
    /// Print the JSON Schema of dialect files, for editors.
    Schema,
}

/// Arguments of `dialect lint`.
#[derive(Debug, Args)]
pub struct LintArgs {
    /// A dialect file or a built-in name; @VERSION lets the preview begin with another version.
    #[arg(value_name = "FILE|NAME")]
    pub dialect: String,
    /// Let a warning end in exit code 1.
    #[arg(long)]
    pub strict: bool,
    /// Show every body at moments of a scenario.
    #[arg(long)]
    pub preview: bool,
    /// A moment to show, such as 1h20m; may be given several times. By default 0s, 1m, 30m and the
    /// end of the scenario's length.
    #[arg(long, value_name = "DURATION", value_parser = parse_span, requires = "preview")]
    pub at: Vec<Duration>,
    /// The scenario to show: a built-in name or a file. By default printing.
    #[arg(long, value_name = "NAME|FILE", requires = "preview")]
    pub scenario: Option<String>,
    /// Seed of the sensors' noise. By default 1.
    #[arg(long, value_name = "N", requires = "preview")]
    pub seed: Option<u64>,
}

/// Arguments of `dialect describe`.
#[derive(Debug, Args)]
pub struct DescribeArgs {
    /// A dialect file or a built-in name, @VERSION after it for another version than the first.
    #[arg(value_name = "FILE|NAME")]
    pub dialect: String,
    /// The URL the document gives the host.
    #[arg(long, default_value = "http://127.0.0.1:8631", value_name = "URL")]
    pub server: String,
}

/// Arguments of `dialect show`.
#[derive(Debug, Args)]
pub struct ShowArgs {
    /// A built-in dialect.
    #[arg(value_name = "NAME")]
    pub name: String,
}
