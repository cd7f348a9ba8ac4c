//! How long to wait before a broker is tried again.

use std::time::Duration;

/// The shortest wait. Chosen: a broker that restarts is back in about that time.
const SHORTEST: Duration = Duration::from_millis(250);

/// The longest wait. Chosen: nobody waits long for a mock to come back, and an absent broker is not
/// bothered.
const LONGEST: Duration = Duration::from_secs(4);

/// Doubles from wait to wait.
#[derive(Debug)]
pub(super) struct Backoff {
    next: Duration,
}

impl Backoff {
    pub(super) fn new() -> Self {
        Self { next: SHORTEST }
    }

    /// Gives the wait after a connection that held for so long. Only one that held for a while
    /// begins anew: two clients with one name throw each other out at once, again and again
    /// (MQTT 3.1.1 section 3.1.4).
    pub(super) fn after(&mut self, held: Duration) -> Duration {
        if held > LONGEST {
            self.next = SHORTEST;
        }
        let wait = self.next;
        self.next = (2 * wait).min(LONGEST);
        wait
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doubles_up_to_an_end_and_begins_anew_after_a_connection_that_held() {
        let mut backoff = Backoff::new();
        let ms = |wait: Duration| wait.as_millis();
        let waits: Vec<_> = (0..6).map(|_| ms(backoff.after(Duration::ZERO))).collect();
        assert_eq!(waits, [250, 500, 1000, 2000, 4000, 4000]);
        assert_eq!(ms(backoff.after(Duration::from_secs(60))), 250);
    }
}
