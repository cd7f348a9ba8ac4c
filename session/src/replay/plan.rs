//! Which recorded exchange answers a request. Pure.

use std::collections::{BTreeSet, HashMap};
use std::time::Duration;

use super::options::{AtEnd, Matching};
use crate::format::End;
use crate::model::{Outcome, Session};

/// Is what a session can answer: its exchanges by method and target.
#[derive(Debug)]
pub struct Routes {
    /// Indexes of exchanges in order, by method and target with its query in order.
    exact: HashMap<(String, String), Vec<usize>>,
    /// The same by path alone: watchers add parameters to get past a cache.
    by_path: HashMap<(String, String), Vec<usize>>,
    /// When each exchange began.
    began: Vec<Duration>,
}

/// Counts what was taken of a route so far, in order.
pub(super) type Taken = HashMap<(String, String), usize>;

impl Routes {
    /// Sorts a session's exchanges. Those that the recorder did not pass on were no answers of the host.
    pub fn of(session: &Session) -> Self {
        let mut routes = Self {
            exact: HashMap::new(),
            by_path: HashMap::new(),
            began: Vec::new(),
        };
        for (index, exchange) in session.exchanges.iter().enumerate() {
            routes.began.push(exchange.request.at);
            let is_of_host =
                exchange.outcome.as_ref().and_then(Outcome::end) != Some(End::NotPassedOn);
            if !is_of_host {
                continue;
            }
            let request = &exchange.request;
            let exact = (request.method.clone(), with_sorted_query(&request.target));
            routes.exact.entry(exact).or_default().push(index);
            let path = (request.method.clone(), request.path().to_owned());
            routes.by_path.entry(path).or_default().push(index);
        }
        routes
    }

    /// Tells whether there is nothing to answer with.
    pub fn is_empty(&self) -> bool {
        self.exact.is_empty()
    }

    /// Gives the routes, each as a request line has it, without queries.
    pub fn known(&self) -> BTreeSet<String> {
        self.by_path
            .keys()
            .map(|(method, path)| format!("{method} {path}"))
            .collect()
    }

    /// Gives the index of the exchange that answers a request, and whether the route's last one has been
    /// given before.
    pub(super) fn find(
        &self,
        method: &str,
        target: &str,
        now: Duration,
        matching: Matching,
        at_end: AtEnd,
        taken: &mut Taken,
    ) -> Option<(usize, bool)> {
        let (key, candidates) = self.candidates(method, target)?;
        match matching {
            Matching::ByTime => {
                let begun = candidates.partition_point(|index| self.began[*index] <= now);
                Some((candidates[begun.saturating_sub(1)], false))
            }
            Matching::InOrder => {
                let next = taken.entry(key).or_default();
                let index = candidates.get(*next).copied();
                *next += 1;
                match (index, at_end) {
                    (Some(index), _) => Some((index, false)),
                    (None, AtEnd::Repeat) => candidates.last().map(|index| (*index, true)),
                    (None, AtEnd::NotFound) => None,
                }
            }
        }
    }

    /// Tells whether all that the routes asked for so far can give has been taken.
    pub(super) fn is_taken(&self, taken: &Taken) -> bool {
        !taken.is_empty()
            && taken.iter().all(|(key, count)| {
                let candidates = self.exact.get(key).or_else(|| self.by_path.get(key));
                candidates.is_none_or(|candidates| *count >= candidates.len())
            })
    }

    fn candidates(&self, method: &str, target: &str) -> Option<((String, String), &Vec<usize>)> {
        // What a GET gets, a HEAD gets without its content (RFC 9110 section 9.3.2).
        let methods = if method == "HEAD" {
            &["HEAD", "GET"][..]
        } else {
            std::slice::from_ref(&method)
        };
        for method in methods {
            let exact = ((*method).to_owned(), with_sorted_query(target));
            if let Some(candidates) = self.exact.get(&exact) {
                return Some((exact, candidates));
            }
            let path = target.split(['?', '#']).next().unwrap_or_default();
            let by_path = ((*method).to_owned(), path.to_owned());
            if let Some(candidates) = self.by_path.get(&by_path) {
                return Some((by_path, candidates));
            }
        }
        None
    }
}

/// Gives a target with the parts of its query in order: the order says nothing.
fn with_sorted_query(target: &str) -> String {
    let Some((path, query)) = target.split_once('?') else {
        return target.to_owned();
    };
    let mut pairs: Vec<&str> = query.split('&').collect();
    pairs.sort_unstable();
    format!("{path}?{}", pairs.join("&"))
}
