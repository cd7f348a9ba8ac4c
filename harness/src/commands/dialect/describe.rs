//! `coldbed dialect describe`.

use super::print;
use crate::cli::DescribeArgs;
use crate::commands::Failure;
use crate::exit_code::Outcome;

pub(super) fn describe(args: &DescribeArgs) -> Result<Outcome, Failure> {
    let dialect = crate::commands::dialect(&args.dialect)?;
    let document = dialect.first().describe_openapi(&args.server);
    print(&format!("{document:#}\n"))
}
