//! How long the reference watcher waits from one question to the next.
#![expect(
    clippy::disallowed_methods,
    reason = "a watcher lives in real time, and holds `Retry-After` against it"
)]

use std::time::{Duration, SystemTime};

use reqwest::StatusCode;
use reqwest::header::{AsHeaderName, DATE, HeaderMap, RETRY_AFTER};
use rustix::time::{ClockId, clock_gettime};

/// However long a host asks not to be asked, and however often it has failed: not to sleep for ever
/// after nonsense (own choice).
const MOST: Duration = Duration::from_secs(60);

/// Goes on while the machine sleeps; the usual clock of a program stands still on Linux.
#[cfg(any(target_os = "linux", target_os = "android"))]
const AWAKE_CLOCK: ClockId = ClockId::Boottime;
#[cfg(not(any(target_os = "linux", target_os = "android")))]
const AWAKE_CLOCK: ClockId = ClockId::Monotonic;

/// Gives the time since some moment before, asleep or awake.
pub(super) fn awake() -> Duration {
    Duration::try_from(clock_gettime(AWAKE_CLOCK)).unwrap_or_default()
}

/// Gives the time of day.
pub(super) fn wall_clock() -> SystemTime {
    SystemTime::now()
}

/// Gives the wait to the next multiple of the interval after a question was asked so long ago: a
/// slow answer must not change the rhythm.
pub(super) fn to_next(every: Duration, since_asked: Duration) -> Duration {
    let into = since_asked.as_nanos() % every.as_nanos().max(1);
    every.saturating_sub(Duration::from_nanos(u64::try_from(into).unwrap_or(0)))
}

/// Gives the wait after so many failures in a row: doubled each time up to eight intervals (own
/// choice), and at least as long as the host asked for. `chance` in 0..1 keeps all who lost the
/// host at once from coming back at once.
pub(super) fn after_failure(
    failures: u32,
    every: Duration,
    asked: Duration,
    chance: f64,
) -> Duration {
    let doubled = every * 2_u32.pow(failures.min(3));
    let back_off = doubled.min(MOST.max(every)).mul_f64(0.5 + chance / 2.0);
    back_off.max(asked.mul_f64(1.0 + chance / 10.0))
}

/// Reads how long a host that is busy asks to be left alone; zero for nothing and for nonsense.
///
/// # Source
/// RFC 9110 section 10.2.3 (`Retry-After`, in seconds or as a date) and section 5.6.7 (the three
/// forms of a date).
pub(super) fn retry_after(status: StatusCode, head: &HeaderMap, now: SystemTime) -> Duration {
    let is_busy = [
        StatusCode::TOO_MANY_REQUESTS,
        StatusCode::SERVICE_UNAVAILABLE,
    ]
    .contains(&status);
    let Some(value) = text(head, RETRY_AFTER).filter(|_| is_busy) else {
        return Duration::ZERO;
    };
    if !value.is_empty() && value.bytes().all(|byte| byte.is_ascii_digit()) {
        // More digits than fit are nonsense, and long.
        return value.parse().map_or(MOST, Duration::from_secs).min(MOST);
    }
    // Held against the host's own clock if it has one, because ours may differ.
    let now = text(head, DATE).and_then(date).unwrap_or(now);
    date(value)
        .and_then(|until| until.duration_since(now).ok())
        .unwrap_or_default()
        .min(MOST)
}

fn text(head: &HeaderMap, name: impl AsHeaderName) -> Option<&str> {
    head.get(name)?.to_str().ok()
}

fn date(value: &str) -> Option<SystemTime> {
    httpdate::parse_http_date(value).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const BUSY: StatusCode = StatusCode::SERVICE_UNAVAILABLE;

    /// Sun, 06 Nov 1994 08:49:37 GMT, the example of RFC 9110 section 5.6.7.
    fn then() -> SystemTime {
        SystemTime::UNIX_EPOCH + Duration::from_secs(784_111_777)
    }

    fn wait_s(value: &str, date: Option<&str>, now: SystemTime) -> f64 {
        let mut head = HeaderMap::new();
        head.insert(RETRY_AFTER, value.parse().unwrap());
        if let Some(date) = date {
            head.insert(DATE, date.parse().unwrap());
        }
        retry_after(BUSY, &head, now).as_secs_f64()
    }

    #[test]
    fn seconds_are_read_as_such() {
        assert_eq!(wait_s("7", None, then()).to_string(), "7");
    }

    #[test]
    fn each_form_of_a_date_is_held_against_the_hosts_own_clock() {
        for until in [
            "Sun, 06 Nov 1994 08:49:47 GMT",
            "Sunday, 06-Nov-94 08:49:47 GMT",
            "Sun Nov  6 08:49:47 1994",
        ] {
            let date = Some("Sun, 06 Nov 1994 08:49:37 GMT");
            let elsewhere = SystemTime::UNIX_EPOCH;
            assert_eq!(wait_s(until, date, elsewhere).to_string(), "10", "{until}");
            assert_eq!(wait_s(until, None, then()).to_string(), "10", "{until}");
        }
    }

    #[test]
    fn nonsense_is_no_wait_and_a_year_is_no_year() {
        let past = "Sun, 06 Nov 1994 08:49:27 GMT";
        for nothing in ["", "-5", "1.5", "soon", "Sun, 06 Nov", past] {
            assert_eq!(wait_s(nothing, None, then()).to_string(), "0", "{nothing}");
        }
        let next_year = "Mon, 06 Nov 1995 08:49:37 GMT";
        for long in ["31536000", "99999999999999999999999", next_year] {
            assert_eq!(wait_s(long, None, then()).to_string(), "60", "{long}");
        }
    }

    #[test]
    fn only_a_busy_host_is_listened_to() {
        let head = HeaderMap::from_iter([(RETRY_AFTER, "7".parse().unwrap())]);
        for (status, wait_s) in [(429, 7), (503, 7), (500, 0), (404, 0)] {
            let status = StatusCode::from_u16(status).unwrap();
            let wait = retry_after(status, &head, then());
            assert_eq!(wait, Duration::from_secs(wait_s), "{status}");
        }
    }

    #[test]
    fn waits_double_up_to_eight_intervals() {
        let every = Duration::from_secs(2);
        let longest = [1, 2, 3, 4, 1000]
            .map(|failures| after_failure(failures, every, Duration::ZERO, 1.0).as_secs());
        assert_eq!(longest, [4, 8, 16, 16, 16]);
        let shortest = [1, 2, 3, 4]
            .map(|failures| after_failure(failures, every, Duration::ZERO, 0.0).as_secs());
        assert_eq!(shortest, [2, 4, 8, 8]);
    }

    #[test]
    fn waits_never_grow_past_a_minute_unless_the_interval_is_longer() {
        for (every_s, longest_s) in [(10, 60), (600, 600)] {
            let every = Duration::from_secs(every_s);
            let wait = after_failure(9, every, Duration::ZERO, 1.0);
            assert_eq!(wait, Duration::from_secs(longest_s));
        }
    }

    #[test]
    fn the_next_question_keeps_the_rhythm_after_a_slow_answer() {
        let every = Duration::from_millis(400);
        for (took_ms, wait_ms) in [(0, 400), (30, 370), (900, 300)] {
            let wait = to_next(every, Duration::from_millis(took_ms));
            assert_eq!(wait, Duration::from_millis(wait_ms));
        }
    }

    proptest! {
        #[test]
        fn the_host_is_never_asked_sooner_than_it_wants(
            failures in 1_u32..100,
            asked_s in 0_u64..=60,
            chance in 0.0_f64..1.0,
        ) {
            let asked = Duration::from_secs(asked_s);
            let wait = after_failure(failures, Duration::from_secs(1), asked, chance);
            prop_assert!(wait >= asked && wait >= Duration::from_secs(1));
            prop_assert!(wait <= Duration::from_secs(66));
        }

        #[test]
        fn whatever_the_field_says_the_wait_is_bounded(value in "[ -~]{0,40}") {
            prop_assert!(wait_s(&value, None, then()) <= 60.0);
        }
    }
}
