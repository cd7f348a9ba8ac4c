//! What is guessed.

use indexmap::IndexMap;
use serde_json::Value;

pub use super::number::Form;

/// From here on a guess is used; below it is asked (own choice).
pub const SURE: f64 = 0.8;

/// Is what a leaf may mean.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Meaning {
    /// The actual temperature of the heater of that name.
    Actual(String),
    /// Its target.
    Target(String),
    /// Whether it is on.
    On(String),
    /// The job's progress.
    Progress,
    /// The job's elapsed time.
    Elapsed,
    /// The job's remaining time.
    Remaining,
    /// How long the host has been up.
    UpTime,
    /// The host's clock.
    Clock,
    /// The phase, in words.
    Phase,
    /// The job's name.
    JobName,
}

/// Is the unit of a number on the wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// None, or that of the truth itself: °C, percent, seconds.
    Own,
    /// Tenths of °C.
    TenthsOfCelsius,
    /// °F.
    Fahrenheit,
    /// K.
    Kelvin,
    /// A share of 1.
    Fraction,
    /// A share of 1000.
    PerMille,
    /// Minutes.
    Minutes,
    /// Hours.
    Hours,
    /// Milliseconds.
    Milliseconds,
}

/// Is a guess.
#[derive(Debug, Clone, PartialEq)]
pub struct Guess {
    /// What it means.
    pub meaning: Meaning,
    /// Its unit.
    pub unit: Unit,
    /// How a number is written; `None` of what is none.
    pub form: Option<Form>,
    /// 0 to 1.
    pub confidence: f64,
    /// What it rests on, in words.
    pub evidence: String,
}

/// Is a leaf of a route's answers.
#[derive(Debug, Clone, PartialEq)]
pub struct Leaf {
    /// Its JSON Pointer.
    pub pointer: String,
    /// What it means, if anything was guessed.
    pub guess: Option<Guess>,
    /// Whether it was the same in all answers that had it.
    pub is_constant: bool,
    /// Whether `null` stood there in some answer.
    pub is_null_at_times: bool,
    /// Whether it is there only while there is a job.
    pub is_of_job: bool,
    /// The text that says there that a number is not known.
    pub unknown: Option<String>,
    /// The zero that stood there, as it was written.
    pub zero: Option<Value>,
    /// What stood there last.
    pub last: Value,
    /// What stands there while there is no job, where that is another thing.
    pub without_job: Option<Value>,
}

impl Leaf {
    /// Tells whether its guess is sure.
    pub fn is_sure(&self) -> bool {
        self.guess
            .as_ref()
            .is_some_and(|guess| guess.confidence >= SURE)
    }
}

/// Is which word stands for which phase.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Words {
    /// By phase: the word, how sure it is, and what it rests on.
    pub by_phase: IndexMap<&'static str, (String, f64, String)>,
}

/// Is what was made of a route.
#[derive(Debug, Clone, PartialEq)]
pub struct RouteGuess {
    /// Its path.
    pub path: String,
    /// The content type of its answers.
    pub content_type: Option<String>,
    /// How many answers it rests on.
    pub answers: usize,
    /// Its leaves, in the order of the bodies.
    pub leaves: Vec<Leaf>,
    /// The words of each leaf that says the phase, by its pointer.
    pub words: IndexMap<String, Words>,
    /// How many of its answers were 404.
    pub not_found: usize,
    /// Whether it shows the job and nothing else, so that there was a job whenever it answered.
    pub is_of_job: bool,
    /// A body while there was a job.
    pub with_job: Option<Value>,
    /// A body while there was no job.
    pub without_job: Option<Value>,
    /// The readings of its heaters, by name: time s, actual °C, target °C.
    pub readings: IndexMap<String, Vec<crate::thermal::Reading>>,
}
