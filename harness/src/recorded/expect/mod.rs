//! What the user expects of a session's answers, from a file.
//!
//! It takes the place of what the dialect reads: the user knows what the printer did that night.

mod file;

use std::time::Duration;

use coldbed_mock::dialect::{Quantity, Reading, Told};
use coldbed_mock::sim::Phase;
use coldbed_session::Exchange;
use serde_json::Value;

use file::{File, HeaterRaw, NumberRaw, OneOrMore, OrUnknown};

/// Is what the user expects, in the order of the file; the last that speaks of a quantity counts.
#[derive(Debug, Clone, Default)]
pub struct Expectations {
    each: Vec<Expected>,
}

#[derive(Debug, Clone)]
struct Expected {
    over: Over,
    reading: Reading,
}

/// Says of which answers something is expected.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Over {
    /// Those asked for in this time, since the session began, its ends included.
    Time { from: Duration, until: Duration },
    /// The one of this exchange.
    Exchange(u64),
}

/// Says what is wrong with a file of expectations.
#[derive(Debug, thiserror::Error)]
pub enum ExpectationsError {
    /// It is not TOML, or has other keys.
    #[error("{0}")]
    Form(#[from] toml::de::Error),
    /// One of them makes no sense.
    #[error("expectation {place}: {problem}")]
    Expectation {
        /// Which, from 1.
        place: usize,
        /// What is wrong.
        problem: String,
    },
}

impl Expectations {
    /// Reads a file's text.
    ///
    /// # Errors
    /// [`ExpectationsError`].
    pub fn parse(text: &str) -> Result<Self, ExpectationsError> {
        let file: File = toml::from_str(text)?;
        let each = file.expect.into_iter().enumerate().map(|(index, raw)| {
            let wrong = |problem| ExpectationsError::Expectation {
                place: index + 1,
                problem,
            };
            let over = over(&raw).map_err(wrong)?;
            let reading = reading(raw).map_err(wrong)?;
            Ok(Expected { over, reading })
        });
        let each: Vec<Expected> = each.collect::<Result<_, ExpectationsError>>()?;
        if each.is_empty() {
            return Err(ExpectationsError::Expectation {
                place: 1,
                problem: "nothing is expected [write one under [[expect]]]".to_owned(),
            });
        }
        Ok(Self { each })
    }

    /// Gives what is expected of an answer.
    pub(super) fn of(&self, exchange: &Exchange) -> Reading {
        let mut all = Reading::default();
        let concerned = self
            .each
            .iter()
            .rev()
            .filter(|expected| match expected.over {
                Over::Time { from, until } => (from..=until).contains(&exchange.request.at),
                Over::Exchange(number) => number == exchange.number,
            });
        // The first found counts, so the last written.
        for expected in concerned {
            all.phase = all.phase.or_else(|| expected.reading.phase.clone());
            all.numbers.extend(expected.reading.numbers.iter().cloned());
            all.values.extend(expected.reading.values.iter().cloned());
        }
        all
    }
}

fn over(raw: &file::ExpectRaw) -> Result<Over, String> {
    match (raw.exchange, &raw.from, &raw.until) {
        (Some(number), None, None) => Ok(Over::Exchange(number)),
        (Some(_), _, _) => {
            Err("it is of one exchange or of a time, not of both [leave one out]".to_owned())
        }
        (None, from, until) => {
            let span = |text: &Option<String>, name: &str, otherwise| match text {
                None => Ok(otherwise),
                Some(text) => {
                    let span = text.parse::<jiff::SignedDuration>().ok();
                    let span = span.and_then(|span| Duration::try_from(span).ok());
                    span.ok_or_else(|| format!("{name}: `{text}` is no span [such as 2m30s]"))
                }
            };
            let from = span(from, "from", Duration::ZERO)?;
            let until = span(until, "until", Duration::MAX)?;
            match from <= until {
                true => Ok(Over::Time { from, until }),
                false => Err("it ends before it begins [until is before from]".to_owned()),
            }
        }
    }
}

fn reading(raw: file::ExpectRaw) -> Result<Reading, String> {
    let mut reading = Reading {
        phase: raw.phase.map(phases).transpose()?,
        ..Reading::default()
    };
    let mut numbers = vec![
        (Quantity::Progress, raw.progress_percent),
        (Quantity::Elapsed, raw.elapsed_seconds),
        (Quantity::Remaining, raw.remaining_seconds),
    ];
    if let Some(name) = raw.job_name {
        reading.values.push((Quantity::JobName, value(name)));
    }
    for (name, heater) in raw.heaters {
        let HeaterRaw {
            actual_celsius,
            target_celsius,
            on,
        } = heater;
        numbers.push((Quantity::Actual(name.clone()), actual_celsius));
        numbers.push((Quantity::Target(name.clone()), target_celsius));
        if let Some(on) = on {
            reading.values.push((Quantity::On(name), value(on)));
        }
    }
    for (quantity, raw) in numbers {
        if let Some(raw) = raw {
            reading.numbers.push((quantity, number(&raw)?));
        }
    }
    let is_empty =
        reading.phase.is_none() && reading.numbers.is_empty() && reading.values.is_empty();
    match is_empty {
        true => {
            Err("it says nothing of what is to be claimed [such as phase = \"error\"]".to_owned())
        }
        false => Ok(reading),
    }
}

fn phases(words: OneOrMore) -> Result<Told<Vec<Phase>>, String> {
    let words = match words {
        OneOrMore::One(word) if word == "unknown" => return Ok(Told::Unknown),
        OneOrMore::One(word) => vec![word],
        OneOrMore::More(words) => words,
    };
    let named = |word: &String| {
        let found = Phase::ALL.iter().find(|phase| phase.word() == word);
        found.copied().ok_or_else(|| {
            let known: Vec<&str> = Phase::ALL.iter().map(|phase| phase.word()).collect();
            format!(
                "phase: there is no `{word}` [one of {}, or unknown]",
                known.join(", ")
            )
        })
    };
    let value: Vec<Phase> = words.iter().map(named).collect::<Result<_, _>>()?;
    match value.is_empty() {
        true => Err("phase: the list is empty".to_owned()),
        false => Ok(Told::Value { value, slack: 0.0 }),
    }
}

/// Gives a number with what it may be off by: half of the range.
fn number(raw: &NumberRaw) -> Result<Told<f64>, String> {
    let (least, most) = match raw {
        NumberRaw::Word(word) if word == "unknown" => return Ok(Told::Unknown),
        NumberRaw::Word(word) => {
            return Err(format!(
                "`{word}` is no number [a number, a range or \"unknown\"]"
            ));
        }
        NumberRaw::One(number) => (*number, *number),
        NumberRaw::Range { least, most } => (*least, *most),
    };
    if !(least.is_finite() && most.is_finite() && least <= most) {
        return Err(format!("{least} to {most} is no range"));
    }
    Ok(Told::Value {
        value: f64::midpoint(least, most),
        slack: (most - least) / 2.0,
    })
}

fn value<T: Into<Value>>(raw: OrUnknown<T>) -> Told<Value> {
    match raw.known() {
        None => Told::Unknown,
        Some(value) => Told::Value {
            value: value.into(),
            slack: 0.0,
        },
    }
}
