//! Strips of words over time: what was done, the phase served, the phase claimed.

use std::time::Duration;

use coldbed_mock::sim::Phase;
use serde::Serialize;

use super::bands;
use super::px;
use super::series::answers;
use super::window::Window;
use crate::event::{Event, EventKind};
use crate::watcher::{Claim, PhaseClaim};

/// About the width of a sign at the size of these words, px (from memory: half an em of 11 px, and
/// some).
const SIGN: f64 = 6.2;

/// Is a strip.
#[derive(Debug, Serialize)]
pub(super) struct Strip {
    label: &'static str,
    y: String,
    middle: String,
    segments: Vec<Segment>,
}

/// Is a span of a strip.
#[derive(Debug, Serialize)]
struct Segment {
    x: String,
    width: String,
    class: String,
    /// What is written on it: cut, or nothing where there is no room.
    word: String,
    word_x: String,
    /// All of it, with its times.
    words: String,
}

/// Is a strip that has no place yet.
pub(super) struct Unplaced {
    label: &'static str,
    segments: Vec<Segment>,
}

impl Unplaced {
    pub(super) fn at(self, y: f64) -> Strip {
        Strip {
            label: self.label,
            y: px(y),
            middle: px(y + 14.0),
            segments: self.segments,
        }
    }
}

impl Strip {
    pub(super) fn description(&self) -> String {
        let words: Vec<&str> = self.segments.iter().map(|s| s.words.as_str()).collect();
        format!("{}: {}.", self.label, words.join(", then "))
    }
}

/// Gives the strips that have something to show in a window.
pub(super) fn strips(events: &[Event], window: Window) -> Vec<Unplaced> {
    let done = bands::spans(events, window).into_iter();
    let (trials, done): (Vec<_>, Vec<_>) = done.partition(|span| span.class == "trial");
    let strip = |spans: Vec<bands::Span>| -> Vec<Segment> {
        let segment =
            |span: bands::Span| segment(window, span.from, span.until, span.class, &span.words);
        spans.into_iter().map(segment).collect()
    };
    let all = [
        ("trial", strip(trials)),
        ("what is wrong", strip(done)),
        ("phase served", phases(served(events, window), window)),
        ("phase claimed", phases(claimed(events, window), window)),
    ];
    all.into_iter()
        .filter(|(_, segments)| !segments.is_empty())
        .map(|(label, segments)| Unplaced { label, segments })
        .collect()
}

/// Is a phase with its class in the style sheet and its word.
type Shown = (&'static str, String);

/// Is a moment at which a phase was told, and until when it counts if none comes after it.
type Told = (Duration, Duration, Shown);

/// Makes segments of phases: as long as they are the same, and as long as they count.
fn phases(told: Vec<Told>, window: Window) -> Vec<Segment> {
    let mut spans: Vec<Told> = Vec::new();
    for (at, counts_until, shown) in told {
        match spans.last_mut() {
            Some((_, until, last)) if *last == shown && *until >= at => *until = counts_until,
            last => {
                if let Some((_, until, _)) = last {
                    *until = at.min(*until);
                }
                spans.push((at, counts_until, shown));
            }
        }
    }
    let spans = spans.into_iter();
    spans
        .filter(|(from, until, _)| *until >= window.from() && *from <= window.until())
        .map(|(from, until, (class, word))| segment(window, from, until, class, &word))
        .collect()
}

fn served(events: &[Event], window: Window) -> Vec<Told> {
    let answers = answers(events).into_iter();
    let told = answers.filter(|(_, _, is_told)| *is_told);
    told.map(|(at, truth, _)| {
        let shown = (class(truth.phase), truth.phase.word().to_owned());
        (at, window.counts_until(at), shown)
    })
    .collect()
}

/// What is claimed stands until something else is.
fn claimed(events: &[Event], window: Window) -> Vec<Told> {
    let claims = events.iter().filter_map(|event| {
        let shown = match &event.kind {
            EventKind::Sighting(sighting) => claim(&sighting.phase)?,
            EventKind::Exited { .. } => ("unknown", "ended".to_owned()),
            _ => return None,
        };
        Some((event.at, window.until().max(event.at), shown))
    });
    claims.collect()
}

fn claim(phase: &Claim<PhaseClaim>) -> Option<Shown> {
    match phase {
        Claim::NotReported => None,
        Claim::Unknown => Some(("unknown", "unknown".to_owned())),
        Claim::Value(PhaseClaim::Known(phase)) => Some((class(*phase), phase.word().to_owned())),
        Claim::Value(PhaseClaim::Other(word)) => Some(("other", word.clone())),
    }
}

/// Gives a phase's class in the style sheet.
fn class(phase: Phase) -> &'static str {
    match phase {
        Phase::Idle => "idle",
        Phase::Heating => "heating",
        Phase::Printing => "printing",
        Phase::Paused => "paused",
        Phase::Error => "error",
        Phase::Finished => "finished",
        Phase::Cancelled => "cancelled",
    }
}

fn segment(window: Window, from: Duration, until: Duration, class: &str, words: &str) -> Segment {
    let (left, right) = (window.x(from), window.x(until));
    let width = (right - left).max(1.5);
    let seconds = |at: Duration| at.clamp(window.from(), window.until()).as_secs_f64();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a handful of signs"
    )]
    let signs = ((width - 8.0).max(0.0) / SIGN) as usize;
    let word = match words.chars().count() {
        count if count <= signs => words.to_owned(),
        _ if signs >= 12 => super::super::super::legible::shortened(words, signs),
        _ => String::new(),
    };
    Segment {
        x: px(left),
        width: px(width),
        class: class.to_owned(),
        word,
        word_x: px(left + 5.0),
        words: format!("{words}, {:.1} s to {:.1} s", seconds(from), seconds(until)),
    }
}

#[cfg(test)]
mod tests {
    use super::super::window::tests::window;
    use super::*;

    fn told(times: &[(u64, u64, &'static str)]) -> Vec<String> {
        let at = Duration::from_secs;
        let told = times.iter();
        let told =
            told.map(|(from, until, word)| (at(*from), at(*until), (*word, (*word).to_owned())));
        let segments = phases(told.collect(), window(20));
        segments.into_iter().map(|segment| segment.words).collect()
    }

    #[test]
    fn a_phase_told_again_in_time_goes_on() {
        let words = told(&[(1, 4, "idle"), (3, 6, "idle"), (5, 8, "heating")]);
        assert_eq!(words, ["idle, 1.0 s to 5.0 s", "heating, 5.0 s to 8.0 s"]);
    }

    #[test]
    fn where_nothing_counts_any_more_there_is_a_gap() {
        let words = told(&[(1, 4, "idle"), (9, 12, "idle")]);
        assert_eq!(words, ["idle, 1.0 s to 4.0 s", "idle, 9.0 s to 12.0 s"]);
    }
}
