//! The host's own condition: its clock, its up-time, its version, whether it answers, whether its key is good.

use super::Tick;
use crate::scenario::Scenario;

/// Is the network host in front of the machine.
#[derive(Debug, Clone)]
pub(super) struct Host {
    up_time_at_start_s: u64,
    clock_at_start_unix_s: f64,
    /// When it last came up again, or will; before that it answers nobody.
    up_since: Option<Tick>,
    clock_back_s: f64,
    key_is_good: bool,
    /// As the last update named it.
    version: Option<String>,
    updates: u32,
}

impl Host {
    pub(super) fn new(scenario: &Scenario) -> Self {
        Self {
            up_time_at_start_s: scenario.up_time_at_start_s,
            clock_at_start_unix_s: scenario.clock_at_start_unix_s,
            up_since: None,
            clock_back_s: 0.0,
            key_is_good: true,
            version: None,
            updates: 0,
        }
    }

    /// Lets it go down now and come up again after a while.
    pub(super) fn restart(&mut self, now: Tick, lasts: Tick) {
        self.up_since = Some(Tick(now.0.saturating_add(lasts.0.max(1))));
    }

    /// Gives it other software.
    pub(super) fn update(&mut self, version: Option<String>) {
        self.version = version;
        self.updates = self.updates.saturating_add(1);
    }

    /// Gives the tick at which it will be there again, if it is away.
    pub(super) fn comes_back(&self, now: Tick) -> Option<Tick> {
        self.up_since.filter(|since| *since > now)
    }

    /// Tells whether it is there again from this very tick on.
    pub(super) fn is_back_since(&self, now: Tick) -> bool {
        self.up_since == Some(now)
    }

    pub(super) fn set_clock_back(&mut self, by_s: f64) {
        self.clock_back_s += by_s;
    }

    pub(super) fn revoke_key(&mut self) {
        self.key_is_good = false;
    }

    pub(super) fn answers(&self, now: Tick) -> bool {
        self.up_since.is_none_or(|since| now >= since)
    }

    pub(super) fn key_is_good(&self) -> bool {
        self.key_is_good
    }

    pub(super) fn version(&self) -> Option<&str> {
        self.version.as_deref()
    }

    pub(super) fn updates(&self) -> u32 {
        self.updates
    }

    /// Gives `printer-up-time`: at least 1, and from the start again after a restart.
    pub(super) fn up_time_s(&self, now: Tick) -> u64 {
        let up_s = match self.up_since {
            None => self.up_time_at_start_s + now.0 / 10,
            Some(since) => now.0.saturating_sub(since.0) / 10,
        };
        up_s.max(1)
    }

    /// Gives the host's own idea of the time, seconds since 1970-01-01T00:00:00Z.
    pub(super) fn clock_unix_s(&self, now: Tick) -> f64 {
        self.clock_at_start_unix_s + now.start().as_seconds() - self.clock_back_s
    }
}
