//! One answer of a session, as a watcher that reads well hears it.

use std::time::Duration;

use coldbed_mock::dialect::{Quantity, Reading, Told};
use coldbed_mock::sim::Phase;
use serde_json::Value;

/// Is an answer of a session that a watcher was given.
#[derive(Debug, Clone, PartialEq)]
pub struct Heard {
    /// The number of the recorded exchange.
    pub recorded: u64,
    /// When it was asked for, since the session began.
    pub at: Duration,
    /// Its status code, if there was an answer.
    pub status: Option<u16>,
    /// Its content as text, cut to what a report shows.
    pub content: String,
    /// What it says.
    pub said: Said,
    /// What the user expects of it instead.
    pub expected: Reading,
}

/// Says what an answer tells.
#[derive(Debug, Clone, PartialEq)]
pub enum Said {
    /// This, by the dialect.
    Told(Reading),
    /// Nothing that a watcher may believe, and why.
    Unusable(String),
    /// It is of no path that the dialect reads, or in a form that is not read here.
    NotRead(String),
}

impl Heard {
    /// Gives what is said of the phase; `None` where nothing is.
    pub fn phase(&self) -> Option<&Told<Vec<Phase>>> {
        let told = self.told().and_then(|reading| reading.phase.as_ref());
        self.expected.phase.as_ref().or(told)
    }

    /// Gives what is said of a number. °C, percent, seconds.
    pub fn number(&self, quantity: &Quantity) -> Option<&Told<f64>> {
        find(&self.expected.numbers, quantity)
            .or_else(|| self.told().and_then(|told| find(&told.numbers, quantity)))
    }

    /// Gives what is said of a word or a flag.
    pub fn value(&self, quantity: &Quantity) -> Option<&Told<Value>> {
        find(&self.expected.values, quantity)
            .or_else(|| self.told().and_then(|told| find(&told.values, quantity)))
    }

    /// Tells whether it says anything that a watcher may show.
    pub fn is_usable(&self) -> bool {
        matches!(self.said, Said::Told(_))
    }

    fn told(&self) -> Option<&Reading> {
        match &self.said {
            Said::Told(reading) => Some(reading),
            Said::Unusable(_) | Said::NotRead(_) => None,
        }
    }
}

fn find<'a, T>(told: &'a [(Quantity, Told<T>)], quantity: &Quantity) -> Option<&'a Told<T>> {
    let found = told.iter().find(|(known, _)| known == quantity);
    found.map(|(_, told)| told)
}
