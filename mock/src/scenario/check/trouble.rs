//! Events that bring faults and drifts into force, or take them back.

use std::sync::Arc;

use super::super::error::{join, near_miss};
use super::super::plan::{Action, Event};
use super::super::quantity::At;
use super::super::raw::{RawAction, RawDrift, RawEvent};
use super::{Checked, Checker};
use crate::drift::Drift;
use crate::fault::{Fault, Scope, ScopedFault};

impl Checker<'_> {
    /// Gives the action of such an event; the keys it needs were found.
    pub(super) fn trouble(&self, path: &str, raw: &RawEvent) -> Checked<Action> {
        let name = self.name(path, raw.name.as_ref())?;
        if *raw.action.get() == RawAction::DriftCleared {
            return Ok(Action::DriftCleared {
                name: name.unwrap_or_default(),
            });
        }
        let lasts = self.lasts_or_none(path, raw)?;
        if let Some(fault) = &raw.fault {
            let fault = self.scoped(path, fault, raw.scope.as_ref())?;
            return Ok(Action::FaultRaised {
                name: name.unwrap_or_else(|| fault.fault.name()),
                fault: Arc::new(fault),
                lasts,
            });
        }
        if let Some(drift) = &raw.drift {
            let mut drift = self.drift(&join(path, "drift"), drift.get())?;
            if let Some(name) = name {
                drift.name = name;
            }
            return Ok(Action::DriftRaised {
                name: drift.name.clone(),
                drift: Arc::new(drift),
                lasts,
            });
        }
        Ok(Action::FaultCleared {
            name: name.unwrap_or_default(),
        })
    }

    fn name(&self, path: &str, raw: Option<&At<String>>) -> Checked<Option<String>> {
        let Some(name) = raw else { return Ok(None) };
        let text = name.get();
        if text.trim().is_empty() || text.contains(char::is_control) {
            return Err(self.error(name, &join(path, "name"), "must be one line of text"));
        }
        Ok(Some(text.clone()))
    }

    fn scoped(
        &self,
        path: &str,
        fault: &At<Fault>,
        scope: Option<&At<Scope>>,
    ) -> Checked<ScopedFault> {
        let scoped = ScopedFault {
            fault: fault.get().clone(),
            scope: scope.map(|scope| scope.get().clone()).unwrap_or_default(),
        };
        let Some(scope) = scope else {
            return Ok(scoped);
        };
        let field = join(path, "scope");
        // A window that began when somebody looked would not be the same at every rate.
        for (key, is_there, instead) in [
            ("after", !scoped.scope.after.is_zero(), "delay"),
            ("lasts", scoped.scope.lasts.is_some(), "lasts"),
        ] {
            if is_there {
                let problem = format!(
                    "an event has its time in its own keys [use `{instead}` beside `scope`]"
                );
                return Err(self.error(scope, &join(&field, key), problem));
            }
        }
        match scoped.check() {
            Ok(()) => Ok(scoped),
            Err(error) => Err(self.error(scope, &join(&field, error.key), error.to_string())),
        }
    }

    fn drift(&self, path: &str, raw: &RawDrift) -> Checked<Drift> {
        let pointer = raw.pointer.get();
        if !is_pointer(pointer) {
            let problem = format!(
                "`{pointer}` is no JSON Pointer [write \"/heaters/extruder\", or \"\" for the whole body]"
            );
            return Err(self.error(&raw.pointer, &join(path, "pointer"), problem));
        }
        let mut drift = Drift::of(pointer.clone(), raw.change.get().clone());
        // As of a drift that is read by itself: TOML has numbers that JSON has not.
        if let Err(miss) = drift.check() {
            return Err(self.error(&raw.change, &join(path, "change"), miss.to_string()));
        }
        if let Some(class) = &raw.class {
            drift.class = *class.get();
        }
        Ok(drift)
    }

    /// Refuses an event that takes back what no event brings.
    pub(super) fn nothing_cleared_in_vain(
        &self,
        raw: &[RawEvent],
        events: &[Event],
    ) -> Checked<()> {
        let raised = |fault: bool| -> Vec<&str> {
            let names = events.iter().filter_map(|event| match &event.action {
                Action::FaultRaised { name, .. } if fault => Some(name.as_str()),
                Action::DriftRaised { name, .. } if !fault => Some(name.as_str()),
                _ => None,
            });
            names.collect()
        };
        for (index, event) in raw.iter().enumerate() {
            let (fault, word) = match event.action.get() {
                RawAction::FaultCleared => (true, "fault"),
                RawAction::DriftCleared => (false, "drift"),
                _ => continue,
            };
            let Some(name) = &event.name else { continue };
            let known = raised(fault);
            if known.contains(&name.get().as_str()) {
                continue;
            }
            let hint = match near_miss(name.get(), &known) {
                Some(meant) => format!(" [did you mean `{meant}`?]"),
                None if known.is_empty() => String::new(),
                None => format!(" [raised here: {}]", known.join(", ")),
            };
            let problem = format!("no event raises a {word} called `{}`{hint}", name.get());
            return Err(self.error(name, &format!("event[{index}].name"), problem));
        }
        Ok(())
    }
}

/// Tells whether a text is a JSON Pointer.
///
/// # Source
/// RFC 6901 section 3: empty, or tokens each behind a slash, with `~` only in `~0` and `~1`.
fn is_pointer(text: &str) -> bool {
    let escapes_are_known = text
        .split('~')
        .skip(1)
        .all(|rest| rest.starts_with(['0', '1']));
    escapes_are_known && (text.is_empty() || text.starts_with('/'))
}
