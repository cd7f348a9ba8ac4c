//! Events: what they wait for, and whether they happen again.

use super::super::bounds::{self, Bound};
use super::super::error::join;
use super::super::plan::{Repeat, When};
use super::super::raw::{RawEvent, RawWhen};
use super::{Checked, Checker, Heaters, count, place_of};
use crate::sim::Tick;

impl Checker<'_> {
    /// Gives what an event waits for, and how long after that it happens.
    pub(super) fn trigger(
        &self,
        path: &str,
        raw: &RawEvent,
        heaters: &Heaters,
    ) -> Checked<(When, Tick)> {
        let keys = [
            ("at", place_of(raw.at.as_ref())),
            (
                "at-progress-percent",
                place_of(raw.at_progress_percent.as_ref()),
            ),
            ("at-layer", place_of(raw.at_layer.as_ref())),
            ("when", place_of(raw.when.as_ref())),
        ];
        let which = self.only_one(path, raw.action.place(), &keys)?;
        let field = join(path, which);
        let when = if let Some(at) = &raw.at {
            When::At(self.moment(&field, at, bounds::MOMENT_S)?)
        } else if let Some(progress) = &raw.at_progress_percent {
            When::Progress {
                percent: self.number(&field, progress, bounds::PERCENT)?,
            }
        } else if let Some(layer) = &raw.at_layer {
            When::Layer {
                layer: count(self.number(&field, layer, bounds::LAYER)?),
            }
        } else if let Some(when) = &raw.when {
            self.temperature(&field, when.get(), heaters)?
        } else {
            When::At(Tick(0))
        };
        let delay =
            self.moment_or_none(&join(path, "delay"), raw.delay.as_ref(), bounds::MOMENT_S)?;
        Ok((when, delay))
    }

    fn temperature(&self, path: &str, raw: &RawWhen, heaters: &Heaters) -> Checked<When> {
        let keys = [
            ("above-celsius", place_of(raw.above_celsius.as_ref())),
            ("below-celsius", place_of(raw.below_celsius.as_ref())),
        ];
        let which = self.only_one(path, raw.heater.place(), &keys)?;
        let passed = raw.above_celsius.as_ref().or(raw.below_celsius.as_ref());
        Ok(When::Temperature {
            heater: self.heater_index(&join(path, "heater"), &raw.heater, heaters)?,
            celsius: self.or_default(&join(path, which), passed, bounds::PASSED, 0.0)?,
            rising: raw.above_celsius.is_some(),
        })
    }

    pub(super) fn repeat(&self, path: &str, raw: &RawEvent) -> Checked<Option<Repeat>> {
        let Some(repeat) = &raw.repeat else {
            return Ok(None);
        };
        let path = join(path, "repeat");
        if raw.at.is_none() {
            let problem = "only an event with `at` can happen again";
            return Err(self.error(repeat, &path, problem));
        }
        let repeat = repeat.get();
        let every = self.moment(&join(&path, "every"), &repeat.every, bounds::JOB_S)?;
        let times = self.number(&join(&path, "times"), &repeat.times, bounds::TIMES)?;
        // Half of the time between two keeps them in order, whatever is drawn.
        let range = Bound {
            max: repeat.every.get().0 / 2.0,
            ..bounds::MOMENT_S
        };
        let jitter = self.moment_or_none(&join(&path, "jitter"), repeat.jitter.as_ref(), range)?;
        Ok(Some(Repeat {
            every,
            times: count(times),
            jitter: Tick(jitter.0.min(every.0 / 2)),
        }))
    }
}
