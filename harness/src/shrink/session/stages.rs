//! The stages of a reduction.

use std::collections::HashMap;

use coldbed_session::{Exchange, Session};
use serde_json::Value;

use super::json::{Path, at, containers, keeping, places, putting, simpler, size};
use super::parts::{
    body_bytes, fields_of, json_of, pushed_of, with_exchanges, with_fields, with_json, with_pushed,
};
use crate::shrink::delta::{Trial, Trials, ddmin};

/// Names what is being left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Exchanges.
    Exchanges,
    /// What was pushed.
    Pushed,
    /// Members and items of bodies.
    Members,
    /// Values of bodies, for simpler ones.
    Values,
    /// Fields.
    Fields,
}

/// Is what a reduction came to.
#[derive(Debug, Clone, PartialEq)]
pub struct Reduction {
    /// The smallest session that was found to fail.
    pub session: Session,
    /// How many trials were run; those remembered from before are not counted.
    pub trials: usize,
    /// Exchanges before.
    pub exchanges_before: usize,
    /// Bytes of bodies before and after.
    pub body_bytes: (u64, u64),
}

/// Is told of each trial that was run: the stage, the key of the candidate and whether it failed.
pub type Told<'a> = dyn FnMut(Stage, &str, bool) + 'a;

/// Makes a failing session as small as it still fails, with so many trials side by side.
///
/// The result is the same for any number of them, and the same again with what is known from an earlier
/// run. That the whole session fails is for the caller to have tried.
pub async fn reduce<C: Trial<Session>>(
    session: &Session,
    trial: &C,
    jobs: usize,
    known: HashMap<String, bool>,
    told: &mut Told<'_>,
) -> Reduction {
    let mut reducer = Reducer {
        trials: Trials::new(trial, jobs, known),
        session: session.clone(),
    };
    reducer.exchanges(told).await;
    reducer.pushed(told).await;
    reducer.bodies(told).await;
    reducer.fields(told).await;
    Reduction {
        trials: reducer.trials.run(),
        exchanges_before: session.exchanges.len(),
        body_bytes: (body_bytes(session), body_bytes(&reducer.session)),
        session: reducer.session,
    }
}

/// Names a candidate: what its file would be.
pub(super) fn key(session: &Session) -> String {
    format!(
        "{:032x}",
        xxhash_rust::xxh3::xxh3_128(session.text().as_bytes())
    )
}

struct Reducer<'t, C> {
    trials: Trials<'t, String, C>,
    session: Session,
}

impl<C: Trial<Session>> Reducer<'_, C> {
    fn numbers(&self) -> Vec<u64> {
        self.session
            .exchanges
            .iter()
            .map(|exchange| exchange.number)
            .collect()
    }

    async fn exchanges(&mut self, told: &mut Told<'_>) {
        let whole = self.session.clone();
        let build = |kept: &[u64]| with_exchanges(&whole, kept);
        let mut told = |key: &String, fails| told(Stage::Exchanges, key, fails);
        let kept = ddmin(self.numbers(), &mut self.trials, build, key, &mut told).await;
        self.session = with_exchanges(&whole, &kept);
    }

    async fn pushed(&mut self, told: &mut Told<'_>) {
        for number in self.numbers() {
            let whole = self.session.clone();
            let count = whole
                .exchange(number)
                .and_then(Exchange::answer)
                .map_or(0, pushed_of);
            if count == 0 {
                continue;
            }
            let build = |kept: &[usize]| with_pushed(&whole, number, kept);
            let mut told = |key: &String, fails| told(Stage::Pushed, key, fails);
            let kept = ddmin(
                (0..count).collect(),
                &mut self.trials,
                build,
                key,
                &mut told,
            )
            .await;
            self.session = with_pushed(&whole, number, &kept);
        }
    }

    async fn bodies(&mut self, told: &mut Told<'_>) {
        for number in self.numbers() {
            let body = self
                .session
                .exchange(number)
                .and_then(Exchange::answer)
                .and_then(json_of);
            if let Some(body) = body {
                let body = self.members(number, body, told).await;
                self.values(number, body, told).await;
            }
        }
    }

    /// Leaves members and items out, the outer ones first.
    async fn members(&mut self, number: u64, mut body: Value, told: &mut Told<'_>) -> Value {
        let mut done: Vec<Path> = Vec::new();
        // The places of inner containers change with what was left out of outer ones.
        while let Some(path) = containers(&body)
            .into_iter()
            .find(|path| !done.contains(path))
        {
            let whole = (self.session.clone(), body.clone());
            let build =
                |kept: &[usize]| with_json(&whole.0, number, &keeping(&whole.1, &path, kept));
            let parts = (0..size(&body, &path)).collect();
            let mut told = |key: &String, fails| told(Stage::Members, key, fails);
            let kept = ddmin(parts, &mut self.trials, build, key, &mut told).await;
            if kept.len() < size(&body, &path) {
                body = keeping(&body, &path, &kept);
                self.session = with_json(&self.session, number, &body);
            }
            done.push(path);
        }
        body
    }

    /// Puts simpler values in the place of others, for as long as it fails.
    async fn values(&mut self, number: u64, mut body: Value, told: &mut Told<'_>) {
        let mut index = 0;
        while let Some(path) = places(&body).get(index).cloned() {
            let here = at(&body, &path).map(simpler).unwrap_or_default();
            let bodies: Vec<Value> = here
                .into_iter()
                .map(|new| putting(&body, &path, new))
                .collect();
            let candidates: Vec<Session> = bodies
                .iter()
                .map(|body| with_json(&self.session, number, body))
                .collect();
            let mut told = |key: &String, fails| told(Stage::Values, key, fails);
            match self
                .trials
                .first_that_fails(&candidates, key, &mut told)
                .await
            {
                // Simpler still, perhaps.
                Some(found) => {
                    body.clone_from(&bodies[found]);
                    self.session.clone_from(&candidates[found]);
                }
                None => index += 1,
            }
        }
    }

    async fn fields(&mut self, told: &mut Told<'_>) {
        for number in self.numbers() {
            let whole = self.session.clone();
            let answer = whole.exchange(number).and_then(Exchange::answer);
            let is_whole =
                answer.is_some_and(|answer| json_of(answer).is_some() || pushed_of(answer) > 0);
            let Some(fields) = answer
                .map(fields_of)
                .filter(|fields| is_whole && !fields.is_empty())
            else {
                continue;
            };
            let build = |kept: &[usize]| with_fields(&whole, number, kept);
            let mut told = |key: &String, fails| told(Stage::Fields, key, fails);
            let kept = ddmin(fields, &mut self.trials, build, key, &mut told).await;
            self.session = with_fields(&whole, number, &kept);
        }
    }
}
