//! Jobs.

use super::super::bounds;
use super::super::error::join;
use super::super::plan::{JobPlan, Start};
use super::super::raw::RawJob;
use super::{Checked, Checker, Heaters, place_of};
use crate::sim::Tick;

impl Checker<'_> {
    pub(super) fn jobs(&self, raw: &[RawJob], heaters: &Heaters) -> Checked<Vec<JobPlan>> {
        let mut jobs: Vec<JobPlan> = Vec::new();
        // The last start that is known beforehand; one after another job may be at any time.
        let mut latest = None;
        for (index, job) in raw.iter().enumerate() {
            let path = format!("job[{index}]");
            let start = self.start(&path, job, index, latest)?;
            if let Start::At(tick) = start {
                latest = Some(tick);
            }
            jobs.push(self.job(&path, job, start, heaters)?);
        }
        Ok(jobs)
    }

    fn start(
        &self,
        path: &str,
        raw: &RawJob,
        index: usize,
        latest: Option<Tick>,
    ) -> Checked<Start> {
        let keys = [
            ("at", place_of(raw.at.as_ref())),
            ("after-previous", place_of(raw.after_previous.as_ref())),
        ];
        self.only_one(path, raw.name.place(), &keys)?;
        if let Some(at) = &raw.at {
            let field = join(path, "at");
            let start = self.moment(&field, at, bounds::MOMENT_S)?;
            return match latest.filter(|earlier| *earlier >= start) {
                Some(earlier) => Err(self.out_of_order(&field, at, earlier)),
                None => Ok(Start::At(start)),
            };
        }
        let field = join(path, "after-previous");
        let after = raw.after_previous.as_ref();
        if index == 0 {
            let problem = "there is no job before the first [give it `at`]";
            return Err(self.sources.error_at(place_of(after), field, problem));
        }
        let wait = self.moment_or_none(&field, after, bounds::MOMENT_S)?;
        Ok(Start::AfterPrevious(wait))
    }

    fn job(&self, path: &str, raw: &RawJob, start: Start, heaters: &Heaters) -> Checked<JobPlan> {
        let at = |key| join(path, key);
        let mut targets_celsius = Vec::new();
        for (name, celsius) in &raw.targets_celsius {
            let field = join(&at("targets-celsius"), name.get());
            let heater = self.heater_index(&field, name, heaters)?;
            let celsius = self.target(&field, celsius, &heaters[heater])?;
            targets_celsius.push((heater, celsius));
        }
        Ok(JobPlan {
            name: raw.name.get().clone(),
            start,
            program: self.program(path, raw, &targets_celsius, heaters)?,
            soak: self.moment_or_none(&at("soak"), raw.soak.as_ref(), bounds::MOMENT_S)?,
            stop_point_delay: self.moment_or_none(
                &at("stop-point-delay"),
                raw.stop_point_delay.as_ref(),
                bounds::STOP_POINT_S,
            )?,
            estimate: self.estimate(&at("estimate"), &raw.estimate)?,
            progress: self.progress(&at("progress"), &raw.progress)?,
            targets_celsius,
        })
    }
}
