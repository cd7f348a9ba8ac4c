//! A panel of one number over time.

use std::fmt::Write as _;
use std::time::Duration;

use serde::Serialize;

use super::axis::{digits, round_between};
use super::px;
use super::series::{Served, Shown};
use super::window::Window;

/// The panel's own height, px; the rest up to the next is a gap.
const HEIGHT: f64 = 96.0;

/// Is a panel.
#[derive(Debug, Serialize)]
pub(super) struct Panel {
    label: [String; 2],
    y: String,
    height: String,
    label_y: [String; 2],
    ticks: Vec<YTick>,
    served: String,
    dots: Vec<Dot>,
    claimed: String,
    description: String,
}

#[derive(Debug, Serialize)]
struct YTick {
    y: String,
    label: String,
}

/// Is a value that an answer carried.
#[derive(Debug, Serialize)]
struct Dot {
    x: String,
    y: String,
    class: &'static str,
}

/// Is where values are in a panel.
struct Scale {
    top: f64,
    low: f64,
    high: f64,
}

impl Scale {
    /// Makes room for all values and some air.
    fn of(values: impl Iterator<Item = f64> + Clone, top: f64) -> Option<Self> {
        let low = values.clone().reduce(f64::min)?;
        let high = values.reduce(f64::max)?;
        // A line that does not move is in the middle, with round numbers above and below.
        let air = ((high - low) * 0.1).max(0.6);
        Some(Self {
            top,
            low: low - air,
            high: high + air,
        })
    }

    fn y(&self, value: f64) -> f64 {
        self.top + HEIGHT * (self.high - value) / (self.high - self.low)
    }
}

impl Panel {
    /// Draws a number below a height of the page; `None` if it was neither served nor claimed.
    pub(super) fn of(
        subject: &Shown,
        events: &[crate::event::Event],
        window: Window,
        top: f64,
    ) -> Option<Self> {
        let served: Vec<Served> = subject.served(events);
        let claimed = subject.claimed(events);
        let in_window = served.iter().filter(|served| window.has(served.at));
        let stretches = stretches(&claimed, window);
        let values = in_window.clone().filter_map(|served| served.value);
        let values = values.chain(stretches.iter().map(|(_, _, value)| *value));
        let scale = Scale::of(values, top)?;
        let numbers = round_between(scale.low, scale.high, 4.0);
        let digits = digits(&numbers);
        let tick = |number: &f64| YTick {
            y: px(scale.y(*number)),
            label: format!("{number:.digits$}"),
        };
        let dot = |served: &Served| {
            Some(Dot {
                x: px(window.x(served.at)),
                y: px(scale.y(served.value?)),
                class: if served.is_told { "told" } else { "untold" },
            })
        };
        let label = subject.label();
        Some(Self {
            description: describe(&label, in_window.clone(), &stretches),
            label,
            y: px(top),
            height: px(HEIGHT),
            label_y: [px(top + HEIGHT / 2.0 - 4.0), px(top + HEIGHT / 2.0 + 10.0)],
            ticks: numbers.iter().map(tick).collect(),
            served: line(in_window.clone(), &scale, window),
            dots: in_window.filter_map(dot).collect(),
            claimed: steps(&stretches, &scale, window),
        })
    }

    pub(super) fn has_untold(&self) -> bool {
        self.dots.iter().any(|dot| dot.class == "untold")
    }

    pub(super) fn description(&self) -> &str {
        &self.description
    }
}

fn describe<'a>(
    label: &[String; 2],
    served: impl Iterator<Item = &'a Served> + Clone,
    stretches: &[Stretch],
) -> String {
    let range = |values: &mut dyn Iterator<Item = f64>| {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for value in values {
            (low, high) = (low.min(value), high.max(value));
        }
        match low <= high {
            true => format!("from {low:.1} to {high:.1}"),
            false => "not at all".to_owned(),
        }
    };
    let served = range(&mut served.filter_map(|served| served.value));
    let claimed = range(&mut stretches.iter().map(|(_, _, value)| *value));
    format!(
        "{} {}: served {served}, claimed {claimed}.",
        label[0], label[1]
    )
}

/// Is a claimed value with the span in which it stood.
type Stretch = (Duration, Duration, f64);

fn stretches(claimed: &[(Duration, Option<f64>)], window: Window) -> Vec<Stretch> {
    let ends = claimed.iter().skip(1).map(|(at, _)| *at);
    let ends = ends.chain([window.until()]);
    let all = claimed.iter().zip(ends);
    all.filter_map(|((from, value), until)| Some((*from, until, (*value)?)))
        .filter(|(from, until, _)| *until >= window.from() && *from <= window.until())
        .collect()
}

/// Writes the path through the values served; it is broken where there is none
/// for longer than an answer counts.
fn line<'a>(served: impl Iterator<Item = &'a Served>, scale: &Scale, window: Window) -> String {
    let mut path = String::new();
    let mut open_until = None;
    for served in served {
        let Some(value) = served.value else {
            open_until = None;
            continue;
        };
        let is_open = open_until.is_some_and(|until| served.at <= until);
        let sign = if is_open { 'L' } else { 'M' };
        open_until = Some(window.counts_until(served.at));
        // Writing to a string cannot fail.
        let _ = write!(
            path,
            "{sign}{} {}",
            px(window.x(served.at)),
            px(scale.y(value))
        );
    }
    path
}

/// Writes the steps of the values claimed; they are broken where nothing is claimed.
fn steps(stretches: &[Stretch], scale: &Scale, window: Window) -> String {
    let mut path = String::new();
    let mut last = None;
    for (from, until, value) in stretches {
        let sign = if last == Some(*from) { 'L' } else { 'M' };
        let y = px(scale.y(*value));
        let _ = write!(
            path,
            "{sign}{} {y}H{}",
            px(window.x(*from)),
            px(window.x(*until))
        );
        last = Some(*until);
    }
    path
}
