//! Trials, side by side.

use std::collections::HashMap;
use std::future::Future;
use std::hash::Hash;
use std::pin::Pin;

use futures_util::StreamExt;
use futures_util::stream::FuturesOrdered;

/// Is something that can be tried.
pub trait Trial<T> {
    /// Tells whether what is tried still fails.
    fn fails<'a>(&'a self, candidate: &'a T) -> Pin<Box<dyn Future<Output = bool> + Send + 'a>>;
}

/// Runs trials and remembers their results.
#[derive(Debug)]
pub struct Trials<'t, K, C> {
    trial: &'t C,
    /// How many run side by side.
    jobs: usize,
    known: HashMap<K, bool>,
    /// How many were really run.
    run: usize,
}

impl<'t, K: Eq + Hash + Clone, C> Trials<'t, K, C> {
    /// Begins without a result, or with those of an earlier run.
    pub fn new(trial: &'t C, jobs: usize, known: HashMap<K, bool>) -> Self {
        Self {
            trial,
            jobs: jobs.max(1),
            known,
            run: 0,
        }
    }

    /// Gives how many trials were run.
    pub fn run(&self) -> usize {
        self.run
    }

    /// Gives all results.
    pub fn known(&self) -> &HashMap<K, bool> {
        &self.known
    }

    /// Gives the index of the first candidate, in order, that fails.
    ///
    /// Later candidates are tried while earlier ones still run, but an earlier one that fails is taken
    /// all the same: the result does not depend on how many run side by side.
    pub async fn first_that_fails<T>(
        &mut self,
        candidates: &[T],
        key: impl Fn(&T) -> K,
        told: &mut dyn FnMut(&K, bool),
    ) -> Option<usize>
    where
        C: Trial<T>,
    {
        let trial = self.trial;
        let mut waiting = candidates.iter().enumerate();
        let mut running = FuturesOrdered::new();
        loop {
            while running.len() < self.jobs
                && let Some((index, candidate)) = waiting.next()
            {
                let key = key(candidate);
                let known = self.known.get(&key).copied();
                running.push_back(async move {
                    let fails = match known {
                        Some(fails) => fails,
                        None => trial.fails(candidate).await,
                    };
                    (index, key, known.is_none(), fails)
                });
            }
            let (index, key, is_new, fails) = running.next().await?;
            if is_new {
                self.run += 1;
                told(&key, fails);
                self.known.insert(key, fails);
            }
            if fails {
                return Some(index);
            }
        }
    }
}
