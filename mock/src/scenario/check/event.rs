//! Events: what happens.

use super::super::bounds;
use super::super::error::join;
use super::super::plan::{Action, Event, When};
use super::super::quantity::{At, Seconds};
use super::super::raw::{RawAction, RawEvent, RawFault};
use super::{Checked, Checker, Heaters, place_of};
use crate::sim::Tick;
use crate::sim::sensor::FaultKind;

/// Says which keys an action needs.
fn needed_by(action: RawAction) -> &'static [&'static str] {
    match action {
        RawAction::Pause
        | RawAction::Resume
        | RawAction::Cancel
        | RawAction::MaterialEmpty
        | RawAction::Jam
        | RawAction::DoorOpens
        | RawAction::DoorCloses
        | RawAction::Reset
        | RawAction::ClearJob
        | RawAction::HostUpdated
        | RawAction::KeyRevoked => &[],
        RawAction::HeaterFails | RawAction::HeaterMended | RawAction::SensorMended => &["heater"],
        RawAction::SensorFails => &["heater", "kind"],
        RawAction::SetTarget => &["heater", "celsius"],
        RawAction::PowerDip | RawAction::HostRestart => &["lasts"],
        RawAction::ClockSetBack => &["by"],
        RawAction::FaultRaised => &["fault"],
        RawAction::DriftRaised => &["drift"],
        RawAction::FaultCleared | RawAction::DriftCleared => &["name"],
    }
}

/// Says which keys an action takes besides those it needs.
fn optional_for(action: RawAction) -> &'static [&'static str] {
    match action {
        RawAction::HostUpdated => &["version", "lasts"],
        RawAction::FaultRaised => &["scope", "name", "lasts"],
        RawAction::DriftRaised => &["name", "lasts"],
        _ => &[],
    }
}

impl Checker<'_> {
    pub(super) fn events(&self, raw: &[RawEvent], heaters: &Heaters) -> Checked<Vec<Event>> {
        let mut latest = Tick(0);
        let mut events: Vec<Event> = Vec::new();
        for (index, event) in raw.iter().enumerate() {
            let path = format!("event[{index}]");
            let action = self.action(&path, event, heaters)?;
            let (when, delay) = self.trigger(&path, event, heaters)?;
            if let (When::At(at), Some(value)) = (when, &event.at) {
                if at < latest {
                    return Err(self.out_of_order(&join(&path, "at"), value, latest));
                }
                latest = at;
            }
            // A delay after a fixed time is another fixed time.
            let (when, delay) = match when {
                When::At(at) => (When::At(Tick(at.0 + delay.0)), Tick(0)),
                other => (other, delay),
            };
            events.push(Event {
                when,
                delay,
                action,
                repeat: self.repeat(&path, event)?,
            });
        }
        self.nothing_cleared_in_vain(raw, &events)?;
        // Delays can change the order; what waits for no fixed time goes to the end as it stands.
        events.sort_by_key(|event| match event.when {
            When::At(at) => at.0,
            _ => u64::MAX,
        });
        Ok(events)
    }

    /// Checks an event that waits for nothing.
    pub(in super::super) fn action_at_once(
        &self,
        raw: &RawEvent,
        heaters: &Heaters,
    ) -> Checked<Action> {
        let keys = [
            ("at", place_of(raw.at.as_ref())),
            (
                "at-progress-percent",
                place_of(raw.at_progress_percent.as_ref()),
            ),
            ("at-layer", place_of(raw.at_layer.as_ref())),
            ("when", place_of(raw.when.as_ref())),
            ("delay", place_of(raw.delay.as_ref())),
            ("repeat", place_of(raw.repeat.as_ref())),
        ];
        self.no_strangers("", &keys, "has no place here: it happens at once")?;
        self.action("", raw, heaters)
    }

    fn action(&self, path: &str, raw: &RawEvent, heaters: &Heaters) -> Checked<Action> {
        self.no_wrong_keys(path, raw)?;
        let heater = || match &raw.heater {
            Some(name) => self.heater_index(&join(path, "heater"), name, heaters),
            None => Ok(0),
        };
        Ok(match *raw.action.get() {
            RawAction::Pause => Action::Pause,
            RawAction::Resume => Action::Resume,
            RawAction::Cancel => Action::Cancel,
            RawAction::MaterialEmpty => Action::MaterialEmpty,
            RawAction::Jam => Action::Jam,
            RawAction::DoorOpens => Action::DoorOpens,
            RawAction::DoorCloses => Action::DoorCloses,
            RawAction::HeaterFails => Action::HeaterFails { heater: heater()? },
            RawAction::HeaterMended => Action::HeaterMended { heater: heater()? },
            RawAction::SensorFails => Action::SensorFails {
                heater: heater()?,
                kind: self.fault(path, raw)?,
            },
            RawAction::SensorMended => Action::SensorMended { heater: heater()? },
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
            RawAction::PowerDip => Action::PowerDip {
                lasts: self.lasts(path, raw.lasts.as_ref())?,
            },
            RawAction::HostRestart => Action::HostRestart {
                lasts: self.lasts(path, raw.lasts.as_ref())?,
            },
            RawAction::HostUpdated => Action::HostUpdated {
                version: self.version(path, raw.version.as_ref())?,
                lasts: self.lasts_or_none(path, raw)?,
            },
            RawAction::ClockSetBack => Action::ClockSetBack {
                by_s: self.or_default(
                    &join(path, "by"),
                    raw.by.as_ref(),
                    bounds::SET_BACK_S,
                    0.0,
                )?,
            },
            RawAction::KeyRevoked => Action::KeyRevoked,
            RawAction::FaultRaised
            | RawAction::FaultCleared
            | RawAction::DriftRaised
            | RawAction::DriftCleared => self.trouble(path, raw)?,
        })
    }

    /// Refuses keys that the action does not take, and misses those that it needs.
    fn no_wrong_keys(&self, path: &str, raw: &RawEvent) -> Checked<()> {
        let action = *raw.action.get();
        let (needed, optional) = (needed_by(action), optional_for(action));
        for (key, at) in [
            ("heater", place_of(raw.heater.as_ref())),
            ("celsius", place_of(raw.celsius.as_ref())),
            ("kind", place_of(raw.kind.as_ref())),
            ("lasts", place_of(raw.lasts.as_ref())),
            ("version", place_of(raw.version.as_ref())),
            ("by", place_of(raw.by.as_ref())),
            ("fault", place_of(raw.fault.as_ref())),
            ("scope", place_of(raw.scope.as_ref())),
            ("drift", place_of(raw.drift.as_ref())),
            ("name", place_of(raw.name.as_ref())),
        ] {
            if !optional.contains(&key) {
                self.key_fits(path, raw, (key, at), needed.contains(&key), "this action")?;
            }
        }
        let kind = raw.kind.as_ref().map(|kind| *kind.get());
        let who = if kind.is_some() {
            "this kind of fault"
        } else {
            "this action"
        };
        let drifts = kind == Some(RawFault::Drifting);
        let rate = ("kelvin-per-hour", place_of(raw.kelvin_per_hour.as_ref()));
        self.key_fits(path, raw, rate, drifts, who)?;
        let loose = kind == Some(RawFault::Loose);
        let share = ("probability", place_of(raw.probability.as_ref()));
        self.key_fits(path, raw, share, loose, who)
    }

    fn key_fits(
        &self,
        path: &str,
        raw: &RawEvent,
        (key, at): (&str, Option<usize>),
        taken: bool,
        who: &str,
    ) -> Checked<()> {
        let problem = match (at, taken) {
            (Some(_), false) => format!("{who} takes no such key"),
            (None, true) => format!("{who} needs this key"),
            _ => return Ok(()),
        };
        let place = at.unwrap_or_else(|| raw.action.place());
        Err(self.sources.error_at(Some(place), join(path, key), problem))
    }

    fn fault(&self, path: &str, raw: &RawEvent) -> Checked<FaultKind> {
        let kind = raw.kind.as_ref().map_or(RawFault::Open, |kind| *kind.get());
        Ok(match kind {
            RawFault::Open => FaultKind::Open,
            RawFault::Short => FaultKind::Short,
            RawFault::Frozen => FaultKind::Frozen,
            RawFault::Drifting => FaultKind::Drifting {
                kelvin_per_hour: self.or_default(
                    &join(path, "kelvin-per-hour"),
                    raw.kelvin_per_hour.as_ref(),
                    bounds::DRIFT,
                    0.0,
                )?,
            },
            RawFault::Loose => FaultKind::Loose {
                probability: self.or_default(
                    &join(path, "probability"),
                    raw.probability.as_ref(),
                    bounds::PROBABILITY,
                    0.0,
                )?,
            },
        })
    }

    fn version(&self, path: &str, raw: Option<&At<String>>) -> Checked<Option<String>> {
        let Some(version) = raw else { return Ok(None) };
        let text = version.get();
        if text.trim().is_empty() || text.contains(char::is_control) {
            let field = join(path, "version");
            return Err(self.error(version, &field, "must be one line of text"));
        }
        Ok(Some(text.clone()))
    }

    pub(super) fn lasts_or_none(&self, path: &str, raw: &RawEvent) -> Checked<Option<Tick>> {
        match &raw.lasts {
            None => Ok(None),
            Some(_) => Ok(Some(self.lasts(path, raw.lasts.as_ref())?)),
        }
    }

    fn lasts(&self, path: &str, raw: Option<&At<Seconds>>) -> Checked<Tick> {
        self.moment_or_none(&join(path, "lasts"), raw, bounds::LASTS_S)
    }
}
