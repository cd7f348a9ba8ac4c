//! What becomes of the host's software over a scenario.

use super::plan::{Action, Scenario, When};

impl Scenario {
    /// Lists the updates of the host's software in the order of the timeline: the version each one
    /// names, or `None` for the next one. One that happens several times is there as often.
    ///
    /// Those that wait for no fixed time (a layer, a temperature) stand at the end, as nobody knows
    /// yet when they come, and a jitter is not counted.
    pub fn host_updates(&self) -> impl Iterator<Item = Option<&str>> {
        let mut updates: Vec<(u64, Option<&str>)> = Vec::new();
        for event in &self.events {
            let Action::HostUpdated { version, .. } = &event.action else {
                continue;
            };
            let (every, times) = event
                .repeat
                .map_or((0, 1), |repeat| (repeat.every.0, repeat.times));
            let first = match event.when {
                When::At(at) => at.0 + event.delay.0,
                _ => u64::MAX,
            };
            updates.extend((0..u64::from(times)).map(|round| {
                let at = first.saturating_add(round * every);
                (at, version.as_deref())
            }));
        }
        // Stable: two at the same moment happen in the order of the file.
        updates.sort_by_key(|(at, _)| *at);
        updates.into_iter().map(|(_, version)| version)
    }
}
