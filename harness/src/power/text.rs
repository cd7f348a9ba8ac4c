//! The estimate as a person reads it in a terminal.

use std::fmt::Write as _;

use super::estimate::{PerHour, PowerEstimate, Warning};
use super::formula::CrossOver;
use super::units::{Hours, Milliamps, Seconds};

/// Below this a line breaks no more (own choice: the tables need it).
const LEAST_WIDTH: usize = 40;
const LABEL: usize = 22;
const COLUMN: usize = 16;
/// Up to here a life is told in hours, beyond it in days (own choice).
const LONGEST_IN_HOURS: f64 = 72.0;

/// Writes the estimate as plain text, sentences broken at `width` columns; tables need 54.
pub fn text(estimate: &PowerEstimate, width: usize) -> String {
    let width = width.max(LEAST_WIDTH);
    let mut text = String::new();
    paragraph(&mut text, width, &heading(estimate));
    paragraph(&mut text, width, &traffic(&estimate.per_hour));
    text.push('\n');
    ways(&mut text, estimate);
    if let Some(warning) = &estimate.warning {
        text.push('\n');
        paragraph(&mut text, width, &warned(warning));
    }
    if let Some(cross_over) = &estimate.cross_over {
        text.push('\n');
        periods(&mut text, estimate);
        text.push('\n');
        paragraph(&mut text, width, &crossed(cross_over));
    }
    text.push('\n');
    paragraph(
        &mut text,
        width,
        "An estimate from data sheets and common practice is no measurement: measure your own board.",
    );
    text
}

fn heading(estimate: &PowerEstimate) -> String {
    let asked = match estimate.period {
        Some(period) => format!("asked every {}", seconds(period)),
        None => "never asked: what sleeping alone takes".to_owned(),
    };
    format!(
        "power: {asked}, seen for {}; board {}, cell {} ({:.0} mAh usable)",
        observed(estimate.observed),
        estimate.board,
        estimate.cell,
        estimate.usable.0,
    )
}

fn traffic(hour: &PerHour) -> String {
    format!(
        "an hour of it: {} polls, {} requests, {} connections, {} TLS handshakes, {}",
        number(hour.polls),
        number(hour.requests),
        number(hour.connections),
        number(hour.handshakes),
        bytes(hour.bytes),
    )
}

fn ways(text: &mut String, estimate: &PowerEstimate) {
    let (joined, deep) = (&estimate.joined, &estimate.deep_sleep);
    row(text, "", "stays joined", "deep sleep");
    row(
        text,
        "a poll takes",
        &seconds(joined.poll),
        &seconds(deep.poll),
    );
    row(
        text,
        "radio on in an hour",
        &seconds(joined.radio_on_per_hour),
        &seconds(deep.radio_on_per_hour),
    );
    row(
        text,
        "average current",
        &milliamps(joined.average),
        &milliamps(deep.average),
    );
    row(text, "the cell lasts", &life(joined.life), &life(deep.life));
}

fn periods(text: &mut String, estimate: &PowerEstimate) {
    row(text, "if it asked every", "stays joined", "deep sleep");
    for line in &estimate.periods {
        row(
            text,
            &seconds(line.period),
            &life(line.joined),
            &life(line.deep_sleep),
        );
    }
}

fn row(text: &mut String, label: &str, joined: &str, deep_sleep: &str) {
    // Writing to a string cannot fail.
    let _ = writeln!(text, "{label:LABEL$}{joined:>COLUMN$}{deep_sleep:>COLUMN$}");
}

fn crossed(cross_over: &CrossOver) -> String {
    match cross_over {
        CrossOver::From(period) => format!(
            "Deep sleep lasts longer if it asks less often than every {} or so.",
            seconds(*period)
        ),
        CrossOver::DeepSleepAlways => "Deep sleep lasts longer at any period.".to_owned(),
        CrossOver::JoinedAlways => "Staying joined lasts longer at any period.".to_owned(),
    }
}

fn warned(warning: &Warning) -> String {
    let (what, current, alone, hint) = match warning {
        Warning::DisplayAlwaysLit { display, alone } => (
            "a display that is always lit",
            display,
            alone,
            "light it when somebody looks",
        ),
        Warning::BoardNeverOff { always, alone } => (
            "what is never off on this board",
            always,
            alone,
            "a USB chip and an LED can be left out",
        ),
    };
    format!(
        "warning: {what} takes {} and alone empties the cell in {}; how often it asks hardly matters \
         [{hint}]",
        milliamps(*current),
        life(*alone)
    )
}

fn seconds(span: Seconds) -> String {
    let Seconds(span) = span;
    match span {
        ..=0.0 => "0 s".to_owned(),
        ..1.0 => format!("{span:.3} s"),
        ..10.0 if (span - span.round()).abs() > 0.005 => format!("{span:.2} s"),
        _ => format!("{span:.0} s"),
    }
}

/// A run's length, in the unit a person would say it in.
fn observed(span: Seconds) -> String {
    let Seconds(span_s) = span;
    match span_s {
        ..120.0 => seconds(span),
        ..7200.0 => format!("{:.0} min", span_s / 60.0),
        _ => format!("{:.1} h", span_s / 3600.0),
    }
}

/// A number of an hour: seldom things are not told as none.
fn number(of_an_hour: f64) -> String {
    match of_an_hour {
        ..=0.0 => "0".to_owned(),
        ..10.0 => format!("{of_an_hour:.1}"),
        _ => format!("{of_an_hour:.0}"),
    }
}

fn milliamps(current: Milliamps) -> String {
    let Milliamps(current) = current;
    match current {
        ..0.1 => format!("{:.0} uA", current * 1000.0),
        ..10.0 => format!("{current:.2} mA"),
        _ => format!("{current:.1} mA"),
    }
}

fn life(life: Hours) -> String {
    match life.0 {
        ..10.0 => format!("{:.1} h", life.0),
        ..LONGEST_IN_HOURS => format!("{:.0} h", life.0),
        _ => format!("{:.1} days", life.days()),
    }
}

fn bytes(bytes: f64) -> String {
    match bytes {
        ..1e4 => format!("{bytes:.0} bytes"),
        ..1e7 => format!("{:.0} kB", bytes / 1e3),
        _ => format!("{:.0} MB", bytes / 1e6),
    }
}

/// Writes words into lines of at most that many columns; a longer word has a line of its own.
fn paragraph(text: &mut String, width: usize, words: &str) {
    let mut column = 0;
    for word in words.split(' ') {
        let length = word.chars().count();
        if column > 0 && column + 1 + length > width {
            text.push('\n');
            column = 0;
        }
        if column > 0 {
            text.push(' ');
            column += 1;
        }
        text.push_str(word);
        column += length;
    }
    text.push('\n');
}
