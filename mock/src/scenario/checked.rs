//! The checked plan: every value in range, every name known, times in order.

use indexmap::IndexMap;
use toml::Spanned;

use super::bounds::{self, Bound};
use super::error::{ScenarioError, Source, join, near_miss};
use super::quantity::{Degrees, Seconds};
use super::raw::{RawAction, RawControl, RawEvent, RawHeater, RawJob, RawMethod, RawScenario};
use crate::sim::{HeaterKind, Tick};

/// Is a scenario that was checked: a printer, its jobs and its timeline.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// The built-in name or the file's name.
    pub name: String,
    /// What it shows, in one line.
    pub title: String,
    /// Temperature of the room and of every part at the start.
    pub room_celsius: f64,
    /// `printer-up-time` at the start, in whole seconds.
    pub up_time_at_start_s: u64,
    /// The span its author cares about; the printer itself goes on after it.
    pub length: Tick,
    /// Heaters by name, in the file's order.
    pub heaters: IndexMap<String, HeaterPlan>,
    /// Jobs in order of their start.
    pub jobs: Vec<JobPlan>,
    /// What happens, in order of time.
    pub events: Vec<Event>,
}

/// Is one heater, its sensor and its control.
#[derive(Debug, Clone, PartialEq)]
pub struct HeaterPlan {
    /// What it heats.
    pub kind: HeaterKind,
    /// Heat capacity, J/K.
    pub heat_capacity_joules_per_kelvin: f64,
    /// Loss to the room, W/K.
    pub loss_watts_per_kelvin: f64,
    /// Power of the element at full duty, W.
    pub power_watts: f64,
    /// Highest target that may be set, and the bound above which protection trips.
    pub max_celsius: f64,
    /// Time until a change of power shows at the sensor, s.
    pub dead_time_s: f64,
    /// Standard deviation of the shown reading, K.
    pub noise_celsius: f64,
    /// How the host holds the target.
    pub control: ControlPlan,
    /// What the host watches for.
    pub protection: ProtectionPlan,
}

/// Says how the host holds a target.
#[derive(Debug, Clone, PartialEq)]
pub enum ControlPlan {
    /// Full power below the band, none above it.
    OnOff {
        /// Half the width of the band, K.
        hysteresis_celsius: f64,
    },
    /// Proportional, integral, derivative.
    Pid {
        /// Gain, watts per kelvin of error.
        gain_watts_per_kelvin: f64,
        /// Integral time, s.
        integral_time_s: f64,
        /// Derivative time, s; 0 for none.
        derivative_time_s: f64,
    },
}

/// Says what the host's thermal protection watches for.
#[derive(Debug, Clone, PartialEq)]
pub struct ProtectionPlan {
    /// Rise owed within [`Self::rise_within_s`] while heating up, K.
    pub rise_celsius: f64,
    /// Period for the rise, s.
    pub rise_within_s: f64,
    /// How far below a target, once reached, is too far, K.
    pub fall_celsius: f64,
    /// For how long it may be that far below, s.
    pub fall_for_s: f64,
    /// How far above [`HeaterPlan::max_celsius`] the part may come, K.
    pub above_celsius: f64,
}

/// Is one job.
#[derive(Debug, Clone, PartialEq)]
pub struct JobPlan {
    /// `job-name`.
    pub name: String,
    /// When it is started.
    pub at: Tick,
    /// How long its program runs once everything is hot.
    pub duration: Tick,
    /// How long it waits after all targets are reached, so that the whole machine warms through.
    pub soak: Tick,
    /// Targets by heater index, in Celsius.
    pub targets_celsius: Vec<(usize, f64)>,
}

/// Is something that happens at a moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// When.
    pub at: Tick,
    /// What.
    pub action: Action,
}

/// Says what happens.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// The operator pauses the job at the machine.
    Pause,
    /// The operator lets the job go on, after whatever stopped it was put right.
    Resume,
    /// The operator cancels the job at the machine.
    Cancel,
    /// The filament runs out.
    MaterialEmpty,
    /// A heater's element breaks.
    HeaterFails {
        /// Index into [`Scenario::heaters`].
        heater: usize,
    },
    /// The operator sets a heater's target at the machine.
    SetTarget {
        /// Index into [`Scenario::heaters`].
        heater: usize,
        /// The target; 0 is off.
        celsius: f64,
    },
    /// The operator clears an error.
    Reset,
    /// The finished job is taken off the host's list.
    ClearJob,
}

impl Scenario {
    /// Reads and checks a scenario's text. `file` is only used to name the place of an error.
    ///
    /// # Errors
    /// The first thing wrong, with file, line, field, value and what is allowed.
    pub fn parse(file: &str, text: &str) -> Result<Self, ScenarioError> {
        let source = Source { file, text };
        let document =
            toml::Deserializer::parse(text).map_err(|error| source.error_from_toml("", &error))?;
        let raw: RawScenario = serde_path_to_error::deserialize(document)
            .map_err(|error| source.error_from_toml(&error.path().to_string(), error.inner()))?;
        Checker { source }.scenario(raw)
    }
}

/// Defaults are named here so that the reader of a file without a key finds them.
mod defaults {
    /// An ordinary room.
    pub(super) const ROOM_CELSIUS: f64 = 22.0;
    /// A host that has been up for an hour.
    pub(super) const UP_TIME_S: f64 = 3600.0;
    /// Less than 2 to 4 K in 20 to 60 s at full power is a fault (common practice).
    pub(super) const RISE_CELSIUS: f64 = 2.0;
    pub(super) const RISE_WITHIN_S: f64 = 60.0;
    /// Below target by 5 to 20 K for 20 to 60 s is a fault (common practice).
    pub(super) const FALL_CELSIUS: f64 = 15.0;
    pub(super) const FALL_FOR_S: f64 = 45.0;
    /// A target at the limit overshoots by a little without anything being wrong (own choice).
    pub(super) const ABOVE_CELSIUS: f64 = 15.0;
}

struct Checker<'a> {
    source: Source<'a>,
}

impl Checker<'_> {
    fn scenario(&self, raw: RawScenario) -> Result<Scenario, ScenarioError> {
        let room = self.or_default(
            "room-celsius",
            raw.room_celsius.as_ref(),
            bounds::ROOM_CELSIUS,
            defaults::ROOM_CELSIUS,
        )?;
        let up_time = self.or_default(
            "up-time-at-start",
            raw.up_time_at_start.as_ref(),
            bounds::UP_TIME_S,
            defaults::UP_TIME_S,
        )?;
        let length = self.moment("length", &raw.length, bounds::MOMENT_S)?;
        let mut heaters = IndexMap::new();
        for (name, heater) in &raw.heaters {
            let plan = self.heater(&format!("heaters.{name}"), heater, room)?;
            heaters.insert(name.clone(), plan);
        }
        if heaters.is_empty() {
            return Err(self
                .source
                .error_at(None, "heaters", "a printer has at least one heater"));
        }
        Ok(Scenario {
            name: self.source.file.to_owned(),
            title: raw.title,
            room_celsius: room,
            up_time_at_start_s: whole_seconds(up_time),
            length,
            jobs: self.jobs(&raw.job, &heaters)?,
            events: self.events(&raw.event, &heaters)?,
            heaters,
        })
    }

    fn heater(&self, path: &str, raw: &RawHeater, room: f64) -> Result<HeaterPlan, ScenarioError> {
        let at = |key| join(path, key);
        let power_watts = self.number(&at("power-watts"), &raw.power_watts, bounds::POWER)?;
        let loss_watts_per_kelvin = self.number(
            &at("loss-watts-per-kelvin"),
            &raw.loss_watts_per_kelvin,
            bounds::LOSS,
        )?;
        let max_celsius = self.number(&at("max-celsius"), &raw.max_celsius, bounds::MAX_CELSIUS)?;
        if max_celsius <= room {
            return Err(self.source.error_at(
                Some(raw.max_celsius.span().start),
                at("max-celsius"),
                format!("{max_celsius} C is not above the room's {room} C"),
            ));
        }
        Ok(HeaterPlan {
            kind: raw.kind,
            heat_capacity_joules_per_kelvin: self.number(
                &at("heat-capacity-joules-per-kelvin"),
                &raw.heat_capacity_joules_per_kelvin,
                bounds::HEAT_CAPACITY,
            )?,
            loss_watts_per_kelvin,
            power_watts,
            max_celsius,
            dead_time_s: self.or_default(
                &at("dead-time"),
                raw.dead_time.as_ref(),
                bounds::DEAD_TIME_S,
                0.0,
            )?,
            noise_celsius: self.or_default(
                &at("noise-celsius"),
                raw.noise_celsius.as_ref(),
                bounds::NOISE,
                0.0,
            )?,
            control: self.control(&at("control"), &raw.control)?,
            protection: self.protection(&at("protection"), raw)?,
        })
    }

    fn control(&self, path: &str, raw: &RawControl) -> Result<ControlPlan, ScenarioError> {
        let at = |key| join(path, key);
        let method = *raw.method.get_ref();
        let word = match method {
            RawMethod::OnOff => "on-off",
            RawMethod::Pid => "pid",
        };
        // A key of the other method is a mistake, not a wish to be ignored.
        let strangers = match method {
            RawMethod::OnOff => [
                (
                    "gain-watts-per-kelvin",
                    raw.gain_watts_per_kelvin.as_ref().map(Spanned::span),
                ),
                (
                    "integral-time",
                    raw.integral_time.as_ref().map(Spanned::span),
                ),
                (
                    "derivative-time",
                    raw.derivative_time.as_ref().map(Spanned::span),
                ),
            ],
            RawMethod::Pid => [
                (
                    "hysteresis-celsius",
                    raw.hysteresis_celsius.as_ref().map(Spanned::span),
                ),
                ("", None),
                ("", None),
            ],
        };
        for (key, span) in strangers {
            if let Some(span) = span {
                return Err(self.source.error_at(
                    Some(span.start),
                    at(key),
                    format!("does not belong to method `{word}`"),
                ));
            }
        }
        let missing = |key: &'static str| {
            self.source.error_at(
                Some(raw.method.span().start),
                at(key),
                format!("method `{word}` needs this key"),
            )
        };
        match method {
            RawMethod::OnOff => {
                let key = "hysteresis-celsius";
                let value = raw
                    .hysteresis_celsius
                    .as_ref()
                    .ok_or_else(|| missing(key))?;
                Ok(ControlPlan::OnOff {
                    hysteresis_celsius: self.number(&at(key), value, bounds::HYSTERESIS)?,
                })
            }
            RawMethod::Pid => {
                let gain = "gain-watts-per-kelvin";
                let value = raw
                    .gain_watts_per_kelvin
                    .as_ref()
                    .ok_or_else(|| missing(gain))?;
                let integral = "integral-time";
                let time = raw
                    .integral_time
                    .as_ref()
                    .ok_or_else(|| missing(integral))?;
                Ok(ControlPlan::Pid {
                    gain_watts_per_kelvin: self.number(&at(gain), value, bounds::GAIN)?,
                    integral_time_s: self.number(&at(integral), time, bounds::INTEGRAL_TIME_S)?,
                    derivative_time_s: self.or_default(
                        &at("derivative-time"),
                        raw.derivative_time.as_ref(),
                        bounds::DERIVATIVE_TIME_S,
                        0.0,
                    )?,
                })
            }
        }
    }

    fn protection(&self, path: &str, heater: &RawHeater) -> Result<ProtectionPlan, ScenarioError> {
        let raw = &heater.protection;
        let at = |key| join(path, key);
        Ok(ProtectionPlan {
            rise_celsius: self.or_default(
                &at("rise-celsius"),
                raw.rise_celsius.as_ref(),
                bounds::RISE,
                defaults::RISE_CELSIUS,
            )?,
            rise_within_s: self.or_default(
                &at("rise-within"),
                raw.rise_within.as_ref(),
                bounds::PROTECTION_S,
                defaults::RISE_WITHIN_S,
            )?,
            fall_celsius: self.or_default(
                &at("fall-celsius"),
                raw.fall_celsius.as_ref(),
                bounds::FALL,
                defaults::FALL_CELSIUS,
            )?,
            fall_for_s: self.or_default(
                &at("fall-for"),
                raw.fall_for.as_ref(),
                bounds::PROTECTION_S,
                defaults::FALL_FOR_S,
            )?,
            above_celsius: self.or_default(
                &at("above-celsius"),
                raw.above_celsius.as_ref(),
                bounds::ABOVE,
                defaults::ABOVE_CELSIUS,
            )?,
        })
    }

    fn jobs(
        &self,
        raw: &[RawJob],
        heaters: &IndexMap<String, HeaterPlan>,
    ) -> Result<Vec<JobPlan>, ScenarioError> {
        let mut jobs: Vec<JobPlan> = Vec::new();
        for (index, job) in raw.iter().enumerate() {
            let path = format!("job[{index}]");
            let at = |key| join(&path, key);
            let start = self.moment(&at("at"), &job.at, bounds::MOMENT_S)?;
            if let Some(earlier) = jobs.last().filter(|earlier| earlier.at >= start) {
                return Err(self.out_of_order(&at("at"), &job.at, earlier.at));
            }
            let mut targets_celsius = Vec::new();
            for (name, celsius) in &job.targets_celsius {
                let field = join(&at("targets-celsius"), name.get_ref());
                let heater = self.heater_index(&field, name, heaters)?;
                let celsius = self.target(&field, celsius, &heaters[heater])?;
                targets_celsius.push((heater, celsius));
            }
            jobs.push(JobPlan {
                name: job.name.clone(),
                at: start,
                duration: self.moment(&at("duration"), &job.duration, bounds::JOB_S)?,
                soak: match &job.soak {
                    Some(soak) => self.moment(&at("soak"), soak, bounds::MOMENT_S)?,
                    None => Tick(0),
                },
                targets_celsius,
            });
        }
        Ok(jobs)
    }

    fn events(
        &self,
        raw: &[RawEvent],
        heaters: &IndexMap<String, HeaterPlan>,
    ) -> Result<Vec<Event>, ScenarioError> {
        let mut events: Vec<Event> = Vec::new();
        for (index, event) in raw.iter().enumerate() {
            let path = format!("event[{index}]");
            let at = self.moment(&join(&path, "at"), &event.at, bounds::MOMENT_S)?;
            if let Some(earlier) = events.last().filter(|earlier| earlier.at > at) {
                return Err(self.out_of_order(&join(&path, "at"), &event.at, earlier.at));
            }
            let action = self.action(&path, event, heaters)?;
            events.push(Event { at, action });
        }
        Ok(events)
    }

    fn action(
        &self,
        path: &str,
        raw: &RawEvent,
        heaters: &IndexMap<String, HeaterPlan>,
    ) -> Result<Action, ScenarioError> {
        let action = *raw.action.get_ref();
        let takes_heater = matches!(action, RawAction::HeaterFails | RawAction::SetTarget);
        let takes_celsius = action == RawAction::SetTarget;
        for (key, span, taken) in [
            (
                "heater",
                raw.heater.as_ref().map(Spanned::span),
                takes_heater,
            ),
            (
                "celsius",
                raw.celsius.as_ref().map(Spanned::span),
                takes_celsius,
            ),
        ] {
            let place = Some(span.clone().unwrap_or_else(|| raw.action.span()).start);
            let problem = match (span, taken) {
                (Some(_), false) => "this action takes no such key",
                (None, true) => "this action needs this key",
                _ => continue,
            };
            return Err(self.source.error_at(place, join(path, key), problem));
        }
        let heater = || match &raw.heater {
            Some(name) => self.heater_index(&join(path, "heater"), name, heaters),
            None => Ok(0),
        };
        Ok(match action {
            RawAction::Pause => Action::Pause,
            RawAction::Resume => Action::Resume,
            RawAction::Cancel => Action::Cancel,
            RawAction::MaterialEmpty => Action::MaterialEmpty,
            RawAction::HeaterFails => Action::HeaterFails { heater: heater()? },
            RawAction::SetTarget => {
                let heater = heater()?;
                let celsius = match &raw.celsius {
                    Some(value) => self.target(&join(path, "celsius"), value, &heaters[heater])?,
                    None => 0.0,
                };
                Action::SetTarget { heater, celsius }
            }
            RawAction::Reset => Action::Reset,
            RawAction::ClearJob => Action::ClearJob,
        })
    }

    fn heater_index(
        &self,
        field: &str,
        name: &Spanned<String>,
        heaters: &IndexMap<String, HeaterPlan>,
    ) -> Result<usize, ScenarioError> {
        heaters.get_index_of(name.get_ref()).ok_or_else(|| {
            let names: Vec<&str> = heaters.keys().map(String::as_str).collect();
            let hint = match near_miss(name.get_ref(), &names) {
                Some(meant) => format!("did you mean `{meant}`?"),
                None => format!("heaters here: {}", names.join(", ")),
            };
            let problem = format!("no heater is called `{}` [{hint}]", name.get_ref());
            self.source
                .error_at(Some(name.span().start), field, problem)
        })
    }

    fn target(
        &self,
        field: &str,
        value: &Spanned<Degrees>,
        heater: &HeaterPlan,
    ) -> Result<f64, ScenarioError> {
        let range = Bound {
            min: 0.0,
            max: heater.max_celsius,
            unit: "C",
        };
        self.number(field, value, range)
    }

    fn out_of_order(&self, field: &str, value: &Spanned<Seconds>, earlier: Tick) -> ScenarioError {
        let problem = format!(
            "{} comes after {} in the file but not in time [sort the entries]",
            span_words(value.get_ref().0),
            earlier.start(),
        );
        self.source
            .error_at(Some(value.span().start), field, problem)
    }

    fn moment(
        &self,
        field: &str,
        value: &Spanned<Seconds>,
        bound: Bound,
    ) -> Result<Tick, ScenarioError> {
        let seconds = self.number(field, value, bound)?;
        Ok(Tick::at_or_after(std::time::Duration::from_secs_f64(
            seconds,
        )))
    }

    fn or_default<Q: Quantity>(
        &self,
        field: &str,
        value: Option<&Spanned<Q>>,
        bound: Bound,
        default: f64,
    ) -> Result<f64, ScenarioError> {
        value.map_or(Ok(default), |value| self.number(field, value, bound))
    }

    fn number<Q: Quantity>(
        &self,
        field: &str,
        value: &Spanned<Q>,
        bound: Bound,
    ) -> Result<f64, ScenarioError> {
        let number = value.get_ref().number();
        if bound.holds(number) {
            return Ok(number);
        }
        let problem = if bound.unit == "s" {
            format!(
                "{} is outside {} to {}",
                span_words(number),
                span_words(bound.min),
                span_words(bound.max)
            )
        } else {
            let Bound { min, max, unit } = bound;
            format!("{number} {unit} is outside {min} to {max} {unit}")
        };
        Err(self
            .source
            .error_at(Some(value.span().start), field, problem))
    }
}

/// Is a number with its place in the file, whatever its unit.
trait Quantity {
    fn number(&self) -> f64;
}

impl Quantity for f64 {
    fn number(&self) -> f64 {
        *self
    }
}

impl Quantity for Seconds {
    fn number(&self) -> f64 {
        self.0
    }
}

impl Quantity for Degrees {
    fn number(&self) -> f64 {
        self.0
    }
}

fn span_words(seconds: f64) -> String {
    let sign = if seconds < 0.0 { "-" } else { "" };
    jiff::SignedDuration::try_from_secs_f64(seconds.abs())
        .map_or_else(|_| format!("{seconds}s"), |span| format!("{sign}{span:#}"))
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the bound holds it between 0 and 2^31"
)]
fn whole_seconds(seconds: f64) -> u64 {
    seconds as u64
}
