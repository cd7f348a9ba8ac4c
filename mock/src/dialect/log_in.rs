//! Who is logged in.

use indexmap::IndexMap;
use xxhash_rust::xxh3::xxh3_128_with_seed;

use crate::sim::{Truth, VirtualTime};

/// The most log-ins kept; the one not used for the longest time goes first.
///
/// Chosen: more than the clients of any one house, and a client that logs in before every request
/// must not fill the memory.
const MOST: usize = 1024;

/// Knows the tokens that log-in calls gave out.
///
/// Tokens are no secrets: equal runs give equal bytes.
#[derive(Debug, Default)]
pub struct LogIns {
    made: u64,
    live: IndexMap<String, LogIn>,
}

#[derive(Debug, Clone, Copy)]
struct LogIn {
    begun: VirtualTime,
    used: VirtualTime,
}

impl LogIns {
    /// Begins a log-in and gives its token: 32 hexadecimal digits.
    pub fn begin(&mut self, key: &str, now: VirtualTime) -> String {
        self.made += 1;
        let token = format!("{:032x}", xxh3_128_with_seed(key.as_bytes(), self.made));
        if self.live.len() >= MOST {
            let oldest = self.live.iter().min_by_key(|(_, log_in)| log_in.used);
            if let Some(oldest) = oldest.map(|(token, _)| token.clone()) {
                self.live.shift_remove(&oldest);
            }
        }
        let log_in = LogIn {
            begun: now,
            used: now,
        };
        self.live.insert(token.clone(), log_in);
        token
    }

    /// Tells whether a token is good now, and notes that it was used.
    ///
    /// It is not when it was idle for longer than allowed, or when the host has restarted since: a
    /// small host keeps its log-ins in memory (common practice).
    pub fn admit(&mut self, token: &str, idle_s: Option<u64>, truth: &Truth) -> bool {
        let now = truth.at;
        // The up-time is in whole seconds, so the moment it began is known to a second.
        let up_since_s = now.as_seconds() - up_time_s(truth) - 1.0;
        let Some(log_in) = self.live.get_mut(token) else {
            return false;
        };
        let idle = now.as_seconds() - log_in.used.as_seconds();
        #[expect(clippy::cast_precision_loss, reason = "seconds of idleness are few")]
        let expired = idle_s.is_some_and(|allowed| idle > allowed as f64);
        if expired || log_in.begun.as_seconds() < up_since_s {
            self.live.shift_remove(token);
            return false;
        }
        log_in.used = now;
        true
    }

    /// Ends a log-in.
    pub fn end(&mut self, token: &str) {
        self.live.shift_remove(token);
    }
}

#[expect(clippy::cast_precision_loss, reason = "an up-time is far below 2^53 s")]
fn up_time_s(truth: &Truth) -> f64 {
    truth.printer.up_time_seconds as f64
}
