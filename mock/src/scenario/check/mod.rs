//! From raw values to the checked plan, one file per area. This one has what they share.

mod control;
mod event;
mod heater;
mod job;
mod motion;
mod print;
mod program;
mod progress;
mod protection;
mod room;
mod sensor;
mod trigger;
mod trouble;

use indexmap::IndexMap;

use super::bounds::{self, Bound};
use super::error::{ScenarioError, Sources, join, near_miss};
use super::file::Files;
use super::plan::{HeaterPlan, Scenario};
use super::quantity::{At, Degrees, Quantity, Seconds};
use super::raw::{RawCoupling, RawScenario};
use crate::sim::Tick;
use crate::sim::plant::Coupling;

/// What a check gives: the value, or the first thing wrong.
type Checked<T> = Result<T, ScenarioError>;

/// Heaters by name, in the file's order.
type Heaters = IndexMap<String, HeaterPlan>;

/// Holds a scenario's raw values against what is allowed.
pub(super) struct Checker<'a> {
    pub(super) sources: &'a Sources,
    pub(super) files: &'a dyn Files,
}

/// Defaults are named here so that the reader of a file without a key finds them.
mod defaults {
    /// A host that has been up for an hour.
    pub(super) const UP_TIME_S: f64 = 3600.0;
}

impl Checker<'_> {
    /// Checks everything.
    pub(super) fn scenario(&self, raw: &RawScenario) -> Checked<Scenario> {
        let room = self.room(raw)?;
        let up_time_s = self.or_default(
            "up-time-at-start",
            raw.up_time_at_start.as_ref(),
            bounds::UP_TIME_S,
            defaults::UP_TIME_S,
        )?;
        let title = raw.title.get();
        if title.trim().is_empty() || title.contains('\n') {
            return Err(self.error(&raw.title, "title", "must be one line of text"));
        }
        let mut heaters = Heaters::new();
        for (name, heater) in raw.heaters.get() {
            let path = join("heaters", name);
            let plan = self.heater(&path, heater, &room)?;
            heaters.insert(name.clone(), plan);
        }
        if heaters.is_empty() {
            return Err(self.error(&raw.heaters, "heaters", "a printer has at least one heater"));
        }
        Ok(Scenario {
            name: self.sources.file().to_owned(),
            title: title.clone(),
            room,
            up_time_at_start_s: whole(up_time_s),
            clock_at_start_unix_s: self.clock(raw)?,
            length: self.moment("length", &raw.length, bounds::MOMENT_S)?,
            couplings: self.couplings(&raw.coupling, &heaters)?,
            material: self.material(&raw.material)?,
            jobs: self.jobs(&raw.job, &heaters)?,
            events: self.events(&raw.event, &heaters)?,
            heaters,
        })
    }

    fn couplings(&self, raw: &[RawCoupling], heaters: &Heaters) -> Checked<Vec<Coupling>> {
        let mut couplings: Vec<Coupling> = Vec::new();
        for (index, coupling) in raw.iter().enumerate() {
            let path = format!("coupling[{index}]");
            let field = join(&path, "between");
            let [one_name, other_name] = coupling.between.get().as_slice() else {
                return Err(self.error(
                    &coupling.between,
                    &field,
                    "names two heaters, no more and no fewer",
                ));
            };
            let one = self.heater_index(&field, one_name, heaters)?;
            let other = self.heater_index(&field, other_name, heaters)?;
            if one == other {
                return Err(self.error(other_name, &field, "joins a heater to itself"));
            }
            let same = |known: &Coupling| {
                (known.one, known.other) == (one, other) || (known.other, known.one) == (one, other)
            };
            if couplings.iter().any(same) {
                return Err(self.error(
                    one_name,
                    &field,
                    "joins two heaters that are joined already",
                ));
            }
            couplings.push(Coupling {
                one,
                other,
                watts_per_kelvin: self.number(
                    &join(&path, "watts-per-kelvin"),
                    &coupling.watts_per_kelvin,
                    bounds::COUPLING,
                )?,
            });
        }
        Ok(couplings)
    }

    /// Says what is wrong with a value, at its place.
    fn error<T>(&self, at: &At<T>, field: &str, problem: impl Into<String>) -> ScenarioError {
        self.sources.error_at(Some(at.place()), field, problem)
    }

    fn heater_index(&self, field: &str, name: &At<String>, heaters: &Heaters) -> Checked<usize> {
        heaters.get_index_of(name.get()).ok_or_else(|| {
            let names: Vec<&str> = heaters.keys().map(String::as_str).collect();
            let hint = match near_miss(name.get(), &names) {
                Some(meant) => format!("did you mean `{meant}`?"),
                None => format!("heaters here: {}", names.join(", ")),
            };
            let problem = format!("no heater is called `{}` [{hint}]", name.get());
            self.error(name, field, problem)
        })
    }

    fn target(&self, field: &str, value: &At<Degrees>, heater: &HeaterPlan) -> Checked<f64> {
        let range = Bound {
            max: heater.max_celsius,
            ..bounds::TARGET
        };
        self.number(field, value, range)
    }

    fn out_of_order(&self, field: &str, value: &At<Seconds>, earlier: Tick) -> ScenarioError {
        let problem = format!(
            "{} comes after {} in the file but not in time [sort the entries]",
            super::quantity::span_words(value.get().0),
            earlier.start(),
        );
        self.error(value, field, problem)
    }

    fn moment(&self, field: &str, value: &At<Seconds>, bound: Bound) -> Checked<Tick> {
        let seconds = self.number(field, value, bound)?;
        Ok(tick(seconds))
    }

    fn moment_or_none(
        &self,
        field: &str,
        value: Option<&At<Seconds>>,
        bound: Bound,
    ) -> Checked<Tick> {
        value.map_or(Ok(Tick(0)), |value| self.moment(field, value, bound))
    }

    fn or_default<Q: Quantity>(
        &self,
        field: &str,
        value: Option<&At<Q>>,
        bound: Bound,
        default: f64,
    ) -> Checked<f64> {
        value.map_or(Ok(default), |value| self.number(field, value, bound))
    }

    fn number<Q: Quantity>(&self, field: &str, value: &At<Q>, bound: Bound) -> Checked<f64> {
        let number = value.get().number();
        if bound.holds(number) {
            return Ok(number);
        }
        Err(self.error(value, field, bound.problem(number)))
    }

    /// Finds the one of several keys that is there.
    ///
    /// `place` is where the thing that needs one of them stands, for the case that none is.
    fn only_one<'k>(
        &self,
        path: &str,
        place: usize,
        keys: &[(&'k str, Option<usize>)],
    ) -> Checked<&'k str> {
        let mut there = keys.iter().filter(|(_, at)| at.is_some());
        match (there.next(), there.next()) {
            (Some((only, _)), None) => Ok(only),
            _ => Err(self.not_one(path, place, keys)),
        }
    }

    /// Says that none or several of the keys are there of which there has to be one.
    fn not_one(&self, path: &str, place: usize, keys: &[(&str, Option<usize>)]) -> ScenarioError {
        let mut there = keys.iter().filter(|(_, at)| at.is_some());
        if let (Some((first, _)), Some((second, at))) = (there.next(), there.next()) {
            let problem = format!("cannot stand beside `{first}` [keep one of them]");
            return self.sources.error_at(*at, join(path, second), problem);
        }
        let names: Vec<String> = keys.iter().map(|(key, _)| format!("`{key}`")).collect();
        let problem = format!("needs one of {}", names.join(", "));
        self.sources.error_at(Some(place), path, problem)
    }

    /// Refuses keys that have no meaning beside the ones that are there: such a key is a mistake, not
    /// a wish to be ignored.
    fn no_strangers(
        &self,
        path: &str,
        keys: &[(&str, Option<usize>)],
        problem: &str,
    ) -> Checked<()> {
        for (key, at) in keys {
            if at.is_some() {
                return Err(self.sources.error_at(*at, join(path, key), problem));
            }
        }
        Ok(())
    }
}

/// Gives the place of a key that may be there.
fn place_of<T>(value: Option<&At<T>>) -> Option<usize> {
    value.map(At::place)
}

/// Gives the tick of a span that was held to its bound.
fn tick(seconds: f64) -> Tick {
    Tick::at_or_after(std::time::Duration::from_secs_f64(seconds))
}

/// Gives the whole part of a number that its bound keeps between 0 and 2^32.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the bound holds it between 0 and 2^32"
)]
fn whole(number: f64) -> u64 {
    number as u64
}

/// As [`whole`].
fn count(number: f64) -> u32 {
    u32::try_from(whole(number)).unwrap_or(u32::MAX)
}
