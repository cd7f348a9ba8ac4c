//! The last exchanges.

use std::collections::VecDeque;

use super::exchange::beginning;
use super::{Excerpt, Exchange, Outcome, Pushed, Redaction};
use crate::sim::VirtualTime;

/// How many exchanges are remembered.
///
/// Chosen: a quarter of an hour of a client that asks every second.
const MOST: usize = 1000;

/// How many fields of a message are remembered, and how many bytes of each.
///
/// Chosen: more than clients send; a client cannot fill the memory.
const MOST_FIELDS: usize = 64;
const MOST_FIELD_BYTES: usize = 512;

/// Remembers the last exchanges.
#[derive(Debug)]
pub(crate) struct Exchanges {
    redaction: Redaction,
    /// In the order in which they were told, which is nearly that of their numbers.
    kept: VecDeque<Exchange>,
    last: u64,
}

/// Is a request that was read.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Asked<'a> {
    pub(crate) at: VirtualTime,
    pub(crate) connection: u64,
    pub(crate) number: u64,
    pub(crate) method: &'a str,
    pub(crate) target: &'a str,
    pub(crate) fields: &'a [(String, String)],
    pub(crate) body: &'a [u8],
}

/// Is an answer to it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Answered<'a> {
    pub(crate) at: VirtualTime,
    pub(crate) number: u64,
    pub(crate) status: u16,
    pub(crate) fields: &'a [(String, String)],
    pub(crate) body: &'a [u8],
}

impl Exchanges {
    pub(crate) fn new(redaction: Redaction) -> Self {
        Self {
            redaction,
            kept: VecDeque::new(),
            last: 0,
        }
    }

    /// Takes note of a request.
    pub(crate) fn asked(&mut self, asked: Asked<'_>) -> &Exchange {
        if self.kept.len() == MOST {
            self.kept.pop_front();
        }
        let exchange = Exchange {
            number: asked.number,
            connection: asked.connection,
            at: asked.at,
            method: beginning(asked.method, MOST_FIELD_BYTES).to_owned(),
            target: beginning(&self.redaction.target(asked.target), MOST_FIELD_BYTES).to_owned(),
            fields: self.fields(asked.fields),
            body: (!asked.body.is_empty()).then(|| self.excerpt(asked.body)),
            faults: Vec::new(),
            answer: None,
            pushed: None,
        };
        self.last = self.last.max(asked.number);
        self.kept.push_back(exchange);
        &self.kept[self.kept.len() - 1]
    }

    /// Takes note of an answer; `None` when its request is no longer remembered.
    pub(crate) fn answered(&mut self, answered: Answered<'_>) -> Option<&Exchange> {
        let outcome = Outcome {
            at: answered.at,
            status: answered.status,
            fields: self.fields(answered.fields),
            body: self.excerpt(answered.body),
        };
        let exchange = self.find(answered.number)?;
        exchange.answer = Some(outcome);
        Some(exchange)
    }

    /// Takes note of a message pushed.
    pub(crate) fn pushed(&mut self, number: u64, bytes: u64) {
        if let Some(exchange) = self.find(number) {
            let pushed = exchange.pushed.get_or_insert_with(Pushed::default);
            pushed.messages += 1;
            pushed.bytes += bytes;
        }
    }

    /// Takes note of a fault that had a part in an exchange.
    pub(crate) fn met(&mut self, number: u64, fault: String) {
        if let Some(exchange) = self.find(number)
            && !exchange.faults.contains(&fault)
        {
            exchange.faults.push(fault);
        }
    }

    /// Gives the first exchanges after a number, at most so many.
    pub(crate) fn since(&self, number: u64, most: usize) -> Vec<Exchange> {
        let mut after: Vec<&Exchange> = self
            .kept
            .iter()
            .filter(|exchange| exchange.number > number)
            .collect();
        after.sort_by_key(|exchange| exchange.number);
        after.into_iter().take(most).cloned().collect()
    }

    /// Gives the number of the last exchange; 0 before the first.
    pub(crate) fn last(&self) -> u64 {
        self.last
    }

    fn find(&mut self, number: u64) -> Option<&mut Exchange> {
        // The one wanted is nearly always among the last.
        let mut kept = self.kept.iter_mut().rev();
        kept.find(|exchange| exchange.number == number)
    }

    fn fields(&self, fields: &[(String, String)]) -> Vec<(String, String)> {
        let kept = fields.iter().take(MOST_FIELDS).map(|(name, value)| {
            let shown = self.redaction.field(name, value);
            let name = beginning(name, MOST_FIELD_BYTES).to_owned();
            (name, beginning(&shown, MOST_FIELD_BYTES).to_owned())
        });
        kept.collect()
    }

    fn excerpt(&self, body: &[u8]) -> Excerpt {
        Excerpt::of(body, |text| self.redaction.text(text).into_owned())
    }
}
