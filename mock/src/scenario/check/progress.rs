//! What a host makes of progress and of the time left.

use super::super::bounds;
use super::super::error::join;
use super::super::plan::{EstimatePlan, Estimator, ProgressMeasure, ProgressPlan, Stall};
use super::super::raw::{RawEstimate, RawEstimator, RawMeasure, RawProgress};
use super::{Checked, Checker};

impl Checker<'_> {
    pub(super) fn estimate(&self, path: &str, raw: &RawEstimate) -> Checked<EstimatePlan> {
        let by = match raw.by.as_ref().map(|word| *word.get()) {
            None | Some(RawEstimator::Exact) => Estimator::Exact,
            Some(RawEstimator::File) => Estimator::File,
            Some(RawEstimator::Elapsed) => Estimator::Elapsed,
            Some(RawEstimator::Naive) => Estimator::Naive,
        };
        let unknown_for = raw.unknown_for.as_ref();
        Ok(EstimatePlan {
            by,
            unknown_for: self.moment_or_none(
                &join(path, "unknown-for"),
                unknown_for,
                bounds::MOMENT_S,
            )?,
            bias: self.or_default(&join(path, "bias"), raw.bias.as_ref(), bounds::BIAS, 1.0)?,
        })
    }

    pub(super) fn progress(&self, path: &str, raw: &RawProgress) -> Checked<ProgressPlan> {
        let by = match raw.by.as_ref().map(|word| *word.get()) {
            None | Some(RawMeasure::Time) => ProgressMeasure::Time,
            Some(RawMeasure::File) => ProgressMeasure::File,
        };
        Ok(ProgressPlan {
            by,
            full_at_percent: self.or_default(
                &join(path, "full-at-percent"),
                raw.full_at_percent.as_ref(),
                bounds::FULL_AT,
                100.0,
            )?,
            falls_back_percent: self.or_default(
                &join(path, "falls-back-percent"),
                raw.falls_back_percent.as_ref(),
                bounds::FALLS_BACK,
                0.0,
            )?,
            stalls: self.stalls(path, raw)?,
        })
    }

    fn stalls(&self, path: &str, raw: &RawProgress) -> Checked<Vec<Stall>> {
        let mut stalls: Vec<Stall> = Vec::new();
        for (index, stall) in raw.stalls.iter().enumerate() {
            let (at, until) = (
                format!("{path}.stalls[{index}].at-percent"),
                format!("{path}.stalls[{index}].until-percent"),
            );
            let at_percent = self.number(&at, &stall.at_percent, bounds::PERCENT)?;
            let until_percent = self.number(&until, &stall.until_percent, bounds::PERCENT)?;
            if until_percent <= at_percent {
                let problem = format!("{until_percent} % is not after {at_percent} %");
                return Err(self.error(&stall.until_percent, &until, problem));
            }
            if let Some(before) = stalls
                .last()
                .filter(|before| before.until_percent > at_percent)
            {
                let problem = format!(
                    "{at_percent} % is before {} %, where the stall before it ends",
                    before.until_percent
                );
                return Err(self.error(&stall.at_percent, &at, problem));
            }
            stalls.push(Stall {
                at_percent,
                until_percent,
            });
        }
        Ok(stalls)
    }
}
