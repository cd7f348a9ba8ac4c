//! The key is nobody else's business.

use std::time::Duration;

use coldbed_mock::dialect::AuthScheme;

use super::{Area, Check, Field, Level, NotPlanned, Plan};
use crate::oracle;

pub(super) const CHECKS: &[Check] = &[Check {
    id: "key-not-in-url",
    area: Area::Secrecy,
    level: Level::Must,
    requirement: "the key is sent in a header field and never as part of a URL",
    source: "RFC 6750 section 5.3 (do not pass bearer tokens in page URLs)",
    provoked: "the watcher is given a key and answered as usual",
    judged: "no request target has the key in it, plainly or percent-encoded",
    scenario: "heat-up",
    needs: Field::Nothing,
    plan: |context| match context.dialect.first().auth() {
        AuthScheme::None => Err(NotPlanned("the host asks for no key".to_owned())),
        AuthScheme::Query { .. } => Err(NotPlanned(
            "the host itself wants the key in the URL".to_owned(),
        )),
        _ => {
            let (from, per_poll) = (Duration::from_secs(300), Duration::from_secs(30));
            Ok(Plan::stretch(from, per_poll, 5))
        }
    },
    oracle: |trace, context| oracle::verify_key_not_in_url(trace, &context.key),
}];
