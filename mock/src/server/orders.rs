//! Commands that take effect later, and answers that are given again.

use std::collections::{BTreeMap, HashMap};
use std::time::Duration;

use crate::dialect::{Answer, Matched, Order, ShownKey};
use crate::sim::{Command, Simulation, VirtualTime};

/// How many answers to named requests are kept; after that none is named any more until the host
/// stops.
///
/// Chosen: more than any client sends in a test, and a client cannot fill the memory.
const MOST_NAMED: usize = 4096;

/// How many bytes those answers have at most, all together, the last one not counted.
///
/// Chosen: a drift can make bodies of 16 MiB.
const MOST_NAMED_BYTES: usize = 16 << 20;

/// How many commands may wait for their time.
///
/// Chosen likewise; the ones above take effect at once.
const MOST_WAITING: usize = 4096;

/// Knows the commands that wait and the answers to requests with a name.
#[derive(Debug, Default)]
pub(super) struct Orders {
    /// By due time, then by arrival.
    waiting: BTreeMap<(VirtualTime, u64), Command>,
    arrivals: u64,
    answered: HashMap<(ShownKey, String), Answer>,
    answered_bytes: usize,
}

impl Orders {
    /// Gives the moment at which the next command is due.
    pub(super) fn next_due(&self) -> Option<VirtualTime> {
        self.waiting.keys().next().map(|(due, _)| *due)
    }

    /// Carries out what is due, each at its own moment, and tells of what the printer did.
    pub(super) fn carry_out_until(
        &mut self,
        now: VirtualTime,
        simulation: &mut Simulation,
        mut done: impl FnMut(VirtualTime, Command),
    ) {
        while let Some(first) = self.waiting.first_entry() {
            let due = first.key().0;
            if due > now {
                return;
            }
            let command = first.remove();
            // The client had its answer already; what the printer says to it now nobody hears.
            if simulation.command(due, command.clone()).is_ok() {
                done(due.max(simulation.reached()), command);
            }
        }
    }

    /// Lets a command wait.
    pub(super) fn put_off(&mut self, now: VirtualTime, delay: Duration, command: Command) {
        let delay = if self.waiting.len() < MOST_WAITING {
            delay
        } else {
            Duration::ZERO
        };
        self.arrivals += 1;
        let due = now + delay;
        self.waiting.insert((due, self.arrivals), command);
    }

    /// Gives the answer to an earlier request of the same name.
    pub(super) fn answer_given(&self, matched: &Matched, order: &Order) -> Option<Answer> {
        let name = order.idempotency_key.clone()?;
        self.answered
            .get(&(matched.key_without_body(), name))
            .cloned()
    }

    /// Remembers an answer under the name of its request.
    pub(super) fn remember(&mut self, matched: &Matched, name: String, answer: Answer) {
        if self.answered.len() < MOST_NAMED && self.answered_bytes <= MOST_NAMED_BYTES {
            self.answered_bytes += name.len() + answer.body.len();
            self.answered
                .insert((matched.key_without_body(), name), answer);
        }
    }
}

#[cfg(test)]
mod tests {
    use bytes::Bytes;
    use http::{HeaderMap, Method, StatusCode};

    use super::*;
    use crate::dialect::{Access, Dialect, Request, Routed};

    #[test]
    fn large_answers_to_named_requests_are_kept_until_they_are_too_much() {
        let request = Request {
            method: &Method::POST,
            path: "/job/pause",
            query: None,
            headers: &HeaderMap::new(),
            body: b"",
        };
        let dialect = Dialect::builtin("plain").unwrap();
        let Routed::Command(matched) = dialect.route(&request, &Access::OPEN) else {
            panic!("it is a command");
        };
        let named = |number: u32| Order {
            command: Command::PauseJob,
            effect_after: Duration::ZERO,
            idempotency_key: Some(number.to_string()),
        };
        let answer = Answer {
            status: StatusCode::OK,
            headers: HeaderMap::new(),
            body: Bytes::from(vec![b' '; MOST_NAMED_BYTES / 2]),
        };
        let mut orders = Orders::default();
        for number in 0..5 {
            orders.remember(&matched, number.to_string(), answer.clone());
        }
        let kept = (0..5).filter(|number| orders.answer_given(&matched, &named(*number)).is_some());
        // The names count as well, so that two fill it.
        assert_eq!(kept.collect::<Vec<_>>(), [0, 1]);
    }
}
