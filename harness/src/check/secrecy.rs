//! The key is nobody else's business.

use std::time::Duration;

use super::{Check, Field, Level, Plan};
use crate::oracle;

pub(super) const CHECKS: &[Check] = &[Check {
    id: "key-not-in-url",
    level: Level::Must,
    requirement: "the key is sent in a header field and never as part of a URL",
    source: "RFC 6750 section 5.3 (do not pass bearer tokens in page URLs)",
    scenario: "heat-up",
    needs: Field::Nothing,
    plan: |_| Plan::stretch(Duration::from_secs(300), Duration::from_secs(30), 5),
    oracle: |trace, context| oracle::verify_key_not_in_url(trace, &context.key),
}];
