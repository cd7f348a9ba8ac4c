//! The length of a request's target.

use http::{StatusCode, Uri};

use super::limits::MAX_TARGET_BYTES;
use crate::dialect::Problem;

/// Checks the length of a target.
///
/// # Errors
/// 414 (RFC 9110 section 15.5.15).
pub(super) fn check(target: &Uri) -> Result<(), Problem> {
    let length = target.path().len() + target.query().map_or(0, |query| 1 + query.len());
    if length > MAX_TARGET_BYTES {
        let detail = format!("the target has {length} bytes and may have {MAX_TARGET_BYTES}");
        return Err(Problem::new(StatusCode::URI_TOO_LONG, detail));
    }
    Ok(())
}
