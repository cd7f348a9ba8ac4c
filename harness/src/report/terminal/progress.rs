//! How far it is, on a terminal and nowhere else.

use std::fmt::Write;
use std::io::IsTerminal;
use std::time::Duration;

use indicatif::{HumanDuration, ProgressBar, ProgressDrawTarget, ProgressState, ProgressStyle};

/// Is a line at the foot of a terminal that says how many checks are through and about how long the
/// rest takes. Where standard error is no terminal, it is nothing.
#[derive(Debug)]
pub struct Progress {
    bar: ProgressBar,
}

impl Progress {
    /// Begins with so many checks ahead.
    pub fn of(checks: usize) -> Self {
        let is_terminal = std::io::stderr().is_terminal();
        let target = match is_terminal {
            true => ProgressDrawTarget::stderr(),
            false => ProgressDrawTarget::hidden(),
        };
        let checks = u64::try_from(checks).unwrap_or(u64::MAX);
        let bar = ProgressBar::with_draw_target(Some(checks), target);
        let form = "{bar:20} {pos} of {len} checks, {elapsed} gone{left}";
        // A form that could not be read would only be less pretty.
        if let Ok(style) = ProgressStyle::with_template(form) {
            bar.set_style(style.with_key("left", left));
        }
        if is_terminal {
            // The time goes on between two checks, too.
            bar.enable_steady_tick(Duration::from_secs(1));
        }
        Self { bar }
    }

    /// Says that one more is through.
    pub fn one_more(&self) {
        self.bar.inc(1);
    }

    /// Takes the line away.
    pub fn end(&self) {
        self.bar.finish_and_clear();
    }

    /// Does something that writes to the terminal, above the line.
    pub fn above<T>(&self, write: impl FnOnce() -> T) -> T {
        self.bar.suspend(write)
    }
}

/// Says how long the rest takes, once there is something to tell it from.
fn left(state: &ProgressState, out: &mut dyn Write) {
    if state.pos() > 0 {
        // A terminal that takes no text has nobody before it.
        let _ = write!(out, ", about {:#} left", HumanDuration(state.eta()));
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
