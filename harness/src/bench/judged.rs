//! The catalogue, on a task.

use std::future::Future;
use std::sync::Arc;

use coldbed_mock::dialect::DialectFile;

use super::{BenchError, BenchReport, HostBench};
use crate::check::{Area, Check, SelectError, Selection, catalogue, scenario};
use crate::run::{CheckResult, Pace, Setting, StrainMeter, calibrate, run_all};
use crate::watcher::{Call, Sighting, SightingSink, Watcher};

/// Is where a test begins.
#[derive(Debug, Clone)]
pub struct Bench {
    dialect: Wanted,
}

#[derive(Debug, Clone)]
enum Wanted {
    BuiltIn(String),
    Text { name: String, text: String },
}

/// Takes what the watcher under test sees.
#[derive(Debug, Clone)]
pub struct Sightings {
    sink: SightingSink,
}

impl Sightings {
    /// Says what is seen now. It stands until the next.
    pub fn say(&self, sighting: Sighting) {
        self.sink.send(sighting);
    }

    /// Says something that is no claim; the last of it is quoted if the watcher never asks.
    pub fn note(&self, text: impl Into<String>) {
        self.sink.note(text);
    }
}

/// Is a watcher with what it is to be judged by.
#[derive(Debug, Clone)]
#[must_use = "nothing is judged before `run`"]
pub struct Judged {
    bench: Bench,
    watcher: Watcher,
    only: Vec<String>,
    areas: Vec<String>,
    seed: u64,
    pace: Pace,
}

impl Bench {
    /// Takes the built-in dialect that the watcher speaks, such as `plain`.
    pub fn new(dialect: impl Into<String>) -> Self {
        // This crate's client is built without a provider of TLS, and so is that of a test beside it.
        // Fails if there is one already, which is as good.
        let _ = rustls::crypto::ring::default_provider().install_default();
        Self {
            dialect: Wanted::BuiltIn(dialect.into()),
        }
    }

    /// Takes a dialect of the user's own; `name` is for messages.
    pub fn of_dialect(name: impl Into<String>, text: impl Into<String>) -> Self {
        Self {
            dialect: Wanted::Text {
                name: name.into(),
                text: text.into(),
            },
        }
    }

    /// Takes the watcher: a task that asks `call.url` with `call.key` and says what it sees, for ever.
    ///
    /// It is called anew for each run and dropped at its end. One that returns or panics has ended by
    /// itself, which no watcher should.
    pub fn judge<F, Fut>(self, watcher: F) -> Judged
    where
        F: Fn(Call, Sightings) -> Fut + Send + Sync + 'static,
        Fut: Future<Output = ()> + Send + 'static,
    {
        let watcher = Watcher::from_task(move |call, sink| watcher(call, Sightings { sink }));
        Judged {
            bench: self,
            watcher,
            only: Vec::new(),
            areas: Vec::new(),
            seed: 1,
            pace: Pace {
                jobs: 64,
                repeats: 1,
            },
        }
    }

    /// Starts a host that plays a scenario, for steps written by hand: a built-in name.
    ///
    /// # Errors
    /// [`BenchError`] if there is no such scenario or dialect, or no host can be started.
    pub async fn host(scenario: &str) -> Result<HostBench, BenchError> {
        Self::new("plain").on(scenario).await
    }

    /// As [`Self::host`], in the dialect of this bench.
    ///
    /// # Errors
    /// As [`Self::host`].
    pub async fn on(&self, scenario: &str) -> Result<HostBench, BenchError> {
        HostBench::start(self.dialect()?, scenario).await
    }

    fn dialect(&self) -> Result<Arc<DialectFile>, BenchError> {
        let (name, text) = match &self.dialect {
            Wanted::BuiltIn(name) => {
                let text = DialectFile::builtin_text(name);
                (
                    name,
                    text.ok_or_else(|| BenchError::NoDialect(name.clone()))?,
                )
            }
            Wanted::Text { name, text } => (name, text.as_str()),
        };
        let dialect = DialectFile::parse(name, text);
        dialect
            .map(Arc::new)
            .map_err(|error| BenchError::Dialect(Box::new(error)))
    }

    fn dialect_name(&self) -> String {
        match &self.dialect {
            Wanted::BuiltIn(name) | Wanted::Text { name, .. } => name.clone(),
        }
    }
}

impl Judged {
    /// Judges only the checks with these ids. Without this and [`Self::area`] it is the whole catalogue.
    pub fn only<S: Into<String>>(mut self, ids: impl IntoIterator<Item = S>) -> Self {
        self.only.extend(ids.into_iter().map(Into::into));
        self
    }

    /// Judges the checks of an area of the catalogue, besides those of other areas and ids asked for.
    pub fn area(mut self, area: impl Into<String>) -> Self {
        self.areas.push(area.into());
        self
    }

    /// Takes another seed for the simulations; by default 1.
    pub fn seed(mut self, seed: u64) -> Self {
        self.seed = seed;
        self
    }

    /// Tries a broken rule so many times again before it counts; by default once.
    pub fn repeats(mut self, repeats: usize) -> Self {
        self.pace.repeats = repeats;
        self
    }

    /// Measures the watcher, then runs the checks side by side.
    ///
    /// # Errors
    /// [`BenchError`]; a rule that is broken is no error, but stands in the report.
    ///
    /// # Panics
    /// Outside a Tokio runtime.
    pub async fn run(self) -> Result<BenchReport, BenchError> {
        let checks = self.checks()?;
        let setting = Setting {
            watcher: self.watcher,
            dialect_name: self.bench.dialect_name(),
            dialect: self.bench.dialect()?,
            seed: self.seed,
            interval: std::time::Duration::from_secs(1),
            attach: None,
            strain: StrainMeter::start(),
        };
        let calibration = calibrate(&setting, scenario("heat-up")).await?;
        let results = run_all(
            &setting,
            &calibration,
            &checks,
            self.pace,
            &mut |_: &CheckResult| {},
        )
        .await?;
        Ok(BenchReport {
            calibration,
            results,
        })
    }

    pub(super) fn checks(&self) -> Result<Vec<Check>, BenchError> {
        let select = |only: Vec<String>| {
            let selection = Selection { only, part: None };
            selection.checks().map_err(BenchError::Select)
        };
        if self.areas.is_empty() {
            return select(self.only.clone());
        }
        let mut areas = Vec::new();
        for name in &self.areas {
            let area = Area::ALL.into_iter().find(|area| area.word() == name);
            areas.push(area.ok_or_else(|| BenchError::NoArea(name.clone()))?);
        }
        let of_areas = catalogue()
            .into_iter()
            .filter(|check| areas.contains(&check.area));
        let ids = of_areas.map(|check| check.id.to_owned());
        let ids: Vec<String> = ids.chain(self.only.iter().cloned()).collect();
        // An area may have no checks yet, and no ids at all would mean all of them.
        match ids.is_empty() {
            true => Err(BenchError::Select(SelectError::Nothing)),
            false => select(ids),
        }
    }
}
