//! What is replaced in a session.

use std::path::PathBuf;

use clap::Args;

const HEADING: &str = "Credentials";

/// What is replaced by stand-ins, besides what usually carries credentials.
#[derive(Debug, Args)]
pub struct RedactArgs {
    /// Replace what stands in this field, too; may be given several times.
    #[arg(long, help_heading = HEADING, value_name = "NAME")]
    pub replace_field: Vec<String>,
    /// Replace what stands under this key of a query or a form, too.
    #[arg(long, help_heading = HEADING, value_name = "NAME")]
    pub replace_query: Vec<String>,
    /// Replace this member of JSON bodies, too: a name at any depth, or a JSON Pointer (RFC 6901).
    #[arg(long, help_heading = HEADING, value_name = "NAME|POINTER")]
    pub replace_member: Vec<String>,
    /// Replace each line of this file wherever it stands. A secret on the command line could be read by
    /// others on this machine.
    #[arg(long, help_heading = HEADING, value_name = "FILE")]
    pub replace_values: Option<PathBuf>,
}
