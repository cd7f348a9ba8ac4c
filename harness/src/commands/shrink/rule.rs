//! A rule of those on a session, as what failing is.

use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::dialect::DialectFile;
use coldbed_session::Session;
use coldbed_session::replay::Matching;

use crate::check::Check;
use crate::cli::ShrinkArgs;
use crate::commands::check::on_session::{checks, expectations};
use crate::commands::{Failure, dialect};
use crate::recorded::Expectations;
use crate::run::{self, OnSession, Outcome, Setting, StrainMeter};
use crate::watcher::Watcher;

/// Is a rule, and what it is judged by.
#[derive(Debug)]
pub(super) struct Rule {
    check: Check,
    dialect: Arc<DialectFile>,
    dialect_name: String,
    expectations: Expectations,
    interval: Duration,
    strain: Arc<StrainMeter>,
}

/// Gives the rule of that name.
pub(super) fn rule(id: &str, args: &ShrinkArgs) -> Result<Rule, Failure> {
    let named = checks(std::slice::from_ref(&id.to_owned()))?;
    let Some(check) = named.into_iter().next() else {
        return Err(Failure::bad_input(format!("no check is called `{id}`")));
    };
    Ok(Rule {
        check,
        dialect: dialect(&args.dialect)?,
        dialect_name: args.dialect.clone(),
        expectations: expectations(args.expect.as_deref())?,
        interval: args.interval,
        strain: StrainMeter::start(),
    })
}

impl Rule {
    pub(super) fn id(&self) -> &'static str {
        self.check.id
    }

    /// Tells whether a watcher breaks it on a session. One that nothing can be said of has not.
    pub(super) async fn is_broken(&self, watcher: &Watcher, session: &Session, rate: f64) -> bool {
        let setting = Setting {
            watcher: watcher.clone(),
            dialect_name: self.dialect_name.clone(),
            dialect: Arc::clone(&self.dialect),
            seed: 1,
            interval: self.interval,
            attach: None,
            strain: Arc::clone(&self.strain),
        };
        let on = OnSession {
            session: Arc::new(session.clone()),
            expectations: self.expectations.clone(),
            matching: Matching::InOrder,
            rate,
        };
        let judged = run::run_on_session(&setting, &on, &[self.check], 0).await;
        judged.is_ok_and(|(_, results)| {
            let is_failed =
                |result: &run::CheckResult| matches!(result.outcome, Outcome::Failed(_));
            results.iter().any(is_failed)
        })
    }
}
