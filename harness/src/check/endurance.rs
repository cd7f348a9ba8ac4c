//! What only shows after long: thousands of polls, weeks of up-time, days of printing.

use std::time::Duration;

use coldbed_mock::fault::Fault;
use coldbed_mock::sim::VirtualTime;

use super::{Area, Awaited, Check, Context, Field, Level, NotPlanned, Plan, Setup, Step};
use crate::oracle::{self, Quantity, Trace, Verdict};

pub(super) const CHECKS: &[Check] = &[
    Check {
        id: "memory-grows",
        level: Level::Must,
        requirement: "the memory in use does not grow by more than 256 bytes a poll",
        source: "own choice: at a poll a second that is 22 MB a day",
        provoked: "the watcher is told to ask every 10 ms, for 3000 polls",
        judged: "the growth of resident memory with the polls, by the median of slopes with its 99 % interval, after a quarter of the samples as warm-up; a rise that may be garbage not collected yet is not judged",
        plan: |context| fast(context, Duration::from_millis(10), 3000, 40, Some(200)),
        oracle: |trace, _| oracle::verify_memory_does_not_grow(trace),
        ..ENDURANCE
    },
    Check {
        id: "open-files-grow",
        level: Level::Must,
        requirement: "the number of open files does not grow from poll to poll",
        source: "own choice: a file in 50 polls fills a limit of 1024 (common practice) within a day at a poll a second",
        provoked: "the watcher is told to ask every 50 ms, for 320 polls",
        judged: "the growth of open files, sockets and pipes with the polls, as with memory",
        plan: |context| fast(context, Duration::from_millis(50), 320, 20, Some(120)),
        oracle: |trace, _| oracle::verify_open_files_do_not_grow(trace),
        ..ENDURANCE
    },
    Check {
        id: "open-files-grow-with-failures",
        level: Level::Must,
        requirement: "the number of open files does not grow from failure to failure",
        source: "own choice: a file in 10 failures fills a limit of 1024 (common practice) in some hours without a host",
        provoked: "the watcher is told to ask every 20 ms, and each answer is cut off for 16 s",
        judged: "the growth of open files, sockets and pipes with the polls, as with memory",
        plan: failing,
        oracle: |trace, _| oracle::verify_open_files_do_not_grow_with_failures(trace),
        ..ENDURANCE
    },
    Check {
        id: "wrong-after-many-polls",
        level: Level::Must,
        requirement: "what is claimed after two thousand polls is as true as at the beginning, and the watcher is still there",
        source: "common practice: counters wrap, buffers fill, files run out",
        provoked: "the watcher is told to ask every 20 ms, for 2000 polls, and then the printer is another",
        judged: "each claim is held against the answers it may rest on",
        needs: Field::Anything,
        plan: many_polls,
        oracle: |trace, _| oracle::verify_all_claims(trace),
        ..ENDURANCE
    },
    Check {
        id: "wrong-after-25-days-up",
        level: Level::Must,
        requirement: "nothing changes when the host has been up for 2^31 ms, nearly 25 days",
        source: "a signed counter of milliseconds in 32 bits ends at 24 d 20 h 31 min 23.6 s",
        provoked: "the host's up-time passes that moment while a print is under way",
        judged: "each claim is held against the answers it may rest on",
        scenario: "up-for-25-days",
        needs: Field::Anything,
        plan: |_| Ok(Plan::stretch(seconds(619), seconds(1), 18)),
        oracle: |trace, _| oracle::verify_all_claims(trace),
        ..ENDURANCE
    },
    Check {
        id: "wrong-after-50-days-up",
        level: Level::Must,
        requirement: "nothing changes when the host has been up for 2^32 ms, nearly 50 days",
        source: "an unsigned counter of milliseconds in 32 bits ends at 49 d 17 h 2 min 47.3 s",
        provoked: "the host's up-time passes that moment while a print is under way",
        judged: "each claim is held against the answers it may rest on",
        scenario: "up-for-50-days",
        needs: Field::Anything,
        plan: |_| Ok(Plan::stretch(seconds(619), seconds(1), 18)),
        oracle: |trace, _| oracle::verify_all_claims(trace),
        ..ENDURANCE
    },
    Check {
        id: "elapsed-wrong-beyond-a-day",
        level: Level::Must,
        requirement: "a print of several days shows how long it has taken, beyond 24 and beyond 99 hours too",
        source: "common practice: clocks and two-digit hours start again where prints do not",
        provoked: "a print of 130 hours is visited after 23 h 59 min, 30 h and 100 h",
        judged: "each claim of the elapsed time is held against the answers it may rest on",
        scenario: "print-of-days",
        needs: Field::Elapsed,
        plan: |_| Ok(days()),
        oracle: |trace, _| oracle::verify_number(trace, Quantity::Elapsed),
        ..ENDURANCE
    },
    Check {
        id: "remaining-wrong-beyond-a-day",
        level: Level::Must,
        requirement: "a print of several days shows how long it still takes, beyond 99 and beyond 24 hours too",
        source: "common practice: clocks and two-digit hours start again where prints do not",
        provoked: "a print of 130 hours is visited at its beginning and after 23 h 59 min, 30 h and 100 h",
        judged: "each claim of the remaining time is held against the answers it may rest on",
        scenario: "print-of-days",
        needs: Field::Remaining,
        plan: |_| Ok(days()),
        oracle: |trace, _| oracle::verify_number(trace, Quantity::Remaining),
        ..ENDURANCE
    },
    Check {
        id: "wrong-at-midnight",
        level: Level::Must,
        requirement: "nothing changes when the host's day, month and year end in the middle of a print",
        source: "common practice: times of day start again where prints do not",
        provoked: "the host's clock passes midnight of the year's end, by UTC and by UTC+1, during a print",
        judged: "each claim is held against the answers it may rest on",
        scenario: "over-midnight",
        needs: Field::Anything,
        plan: |_| Ok(midnights()),
        oracle: |trace, _| oracle::verify_all_claims(trace),
        ..ENDURANCE
    },
    Check {
        id: "wrong-when-the-hosts-clock-is",
        level: Level::Must,
        requirement: "a host whose clock is wrong or is set back is believed in all else",
        source: "RFC 9110 section 6.6.1: Date is the host's own idea, and a host without a good clock may have none",
        provoked: "Date is an hour ahead, an hour behind and ten years behind, and then the host's clock is set back",
        judged: "each claim is held against the answers it may rest on",
        needs: Field::Anything,
        plan: |_| Ok(wrong_clocks()),
        oracle: |trace, _| oracle::verify_all_claims(trace),
        ..ENDURANCE
    },
];

const ENDURANCE: Check = Check {
    id: "",
    area: Area::Endurance,
    level: Level::Must,
    requirement: "",
    source: "",
    provoked: "",
    judged: "",
    scenario: "heat-up",
    needs: Field::Nothing,
    plan: |_| Ok(Plan::default()),
    oracle: |_: &Trace<'_>, _: &Context| Verdict::NotJudged {
        reason: String::new(),
    },
};

/// The pace of runs that are to have many polls (own choice: an interpreter manages it, and a small
/// machine bears it).
const POLL: Duration = Duration::from_millis(20);

const fn seconds(seconds: u64) -> Duration {
    Duration::from_secs(seconds)
}

fn moment(seconds: u64) -> VirtualTime {
    VirtualTime::new(Duration::from_secs(seconds))
}

/// Plans so many polls at such a pace, or as many as there are in so many seconds.
fn fast(
    context: &Context,
    interval: Duration,
    polls: usize,
    within_s: u64,
    measure_every_ms: Option<u64>,
) -> Result<Plan, NotPlanned> {
    if context.subscribes {
        return Err(NotPlanned(
            "it is told at the host's pace, at which so many updates would take too long"
                .to_owned(),
        ));
    }
    if !context.takes_interval {
        return Err(NotPlanned(
            "it cannot be told how often to ask [write {interval} in the command, where the seconds stand]"
                .to_owned(),
        ));
    }
    Ok(Plan {
        setup: Setup {
            interval: Some(interval),
            measure_every: measure_every_ms.map(Duration::from_millis),
            ..Setup::default()
        },
        steps: vec![
            Step::Jump {
                to: Some(moment(900)),
                per_poll: interval,
            },
            Step::Await {
                what: Awaited::Requests(polls),
                within: seconds(within_s),
            },
        ],
    })
}

/// A connection is cut off in the middle of the head, which is where most is left lying about.
fn failing(context: &Context) -> Result<Plan, NotPlanned> {
    let mut plan = fast(context, POLL, 20, 5, Some(100))?;
    let at = coldbed_mock::fault::Position::Byte(40);
    plan.steps.extend([
        Step::RaiseFault(Fault::Close { at }.into()),
        Step::Wait(seconds(16)),
    ]);
    Ok(plan)
}

fn many_polls(context: &Context) -> Result<Plan, NotPlanned> {
    let mut plan = fast(context, POLL, 2000, 48, None)?;
    plan.steps.push(Step::Visit {
        from: Some(moment(1800)),
        per_poll: POLL,
        answers: 40,
    });
    Ok(plan)
}

fn days() -> Plan {
    const HOUR: u64 = 3600;
    let visit = |from_s| Step::Visit {
        from: Some(moment(from_s)),
        per_poll: seconds(30),
        answers: 5,
    };
    // The job begins after a minute.
    let begun = 60;
    Plan::of([
        visit(begun + 900),
        visit(begun + 24 * HOUR - 60),
        visit(begun + 30 * HOUR),
        visit(begun + 100 * HOUR),
    ])
}

fn midnights() -> Plan {
    // Four answers before it, and so many after it that not knowing is no hiccup any more.
    let visit = |midnight_s: u64| Step::Visit {
        from: Some(moment(midnight_s - 50)),
        per_poll: seconds(15),
        answers: 11,
    };
    // Midnight is 20 minutes after the start by UTC+1, and an hour later by UTC.
    Plan::of([visit(20 * 60), visit(80 * 60)])
}

fn wrong_clocks() -> Plan {
    let go_on = || Step::Visit {
        from: None,
        per_poll: seconds(5),
        answers: 6,
    };
    let skewed = |label: &str, ahead_s| Step::Trial {
        label: label.to_owned(),
        steps: vec![
            Step::RaiseFault(Fault::ClockSkew { ahead_s }.into()),
            go_on(),
        ],
    };
    let mut set_back = serde_json::Map::new();
    set_back.insert("action".to_owned(), "clock-set-back".into());
    set_back.insert("by".to_owned(), "1h".into());
    let begin = Step::Visit {
        from: Some(moment(900)),
        per_poll: seconds(5),
        answers: 2,
    };
    Plan::of([
        begin,
        skewed("Date an hour ahead", 3600.0),
        skewed("Date an hour behind", -3600.0),
        // Ten years of 365.25 days.
        skewed("Date ten years behind", -315_576_000.0),
        Step::Trial {
            label: "the host's clock set back by an hour".to_owned(),
            steps: vec![Step::Happen(set_back), go_on()],
        },
    ])
}

#[cfg(test)]
mod tests {
    use coldbed_mock::sim::{Phase, Simulation, Truth};

    use super::*;
    use crate::check::scenario;

    fn truths(name: &str, at_s: &[u64]) -> Vec<Truth> {
        let mut printer = Simulation::new(scenario(name), 1);
        let truths = at_s.iter().map(|at| printer.truth_at(moment(*at)));
        truths.collect()
    }

    #[test]
    fn the_counter_of_milliseconds_ends_within_the_first_ten_answers_of_a_print() {
        for (name, end_ms) in [("up-for-25-days", 1_u64 << 31), ("up-for-50-days", 1 << 32)] {
            let [before, after] = &truths(name, &[619, 619 + 9])[..] else {
                panic!("two moments");
            };
            assert!(before.printer.up_time_seconds * 1000 < end_ms, "{name}");
            assert!(after.printer.up_time_seconds * 1000 > end_ms, "{name}");
            assert_eq!(before.phase, Phase::Printing, "{name}");
        }
    }

    #[test]
    fn midnight_comes_when_it_is_visited() {
        const HOUR: f64 = 3600.0;
        let times = truths("over-midnight", &[20 * 60, 80 * 60]);
        let times = times.iter().map(|truth| truth.printer.clock_unix_seconds);
        let hours: Vec<f64> = times.map(|unix| unix / HOUR % 24.0).collect();
        assert!((hours[0] - 23.0).abs() < 1e-6, "{hours:?}");
        assert!(hours[1].abs() < 1e-6, "{hours:?}");
    }

    #[test]
    fn the_print_of_days_has_more_than_99_hours_to_go_and_later_behind_it() {
        const HOUR: f64 = 3600.0;
        let truths = truths("print-of-days", &[960, 60 + 100 * 3600]);
        let jobs: Vec<_> = truths
            .iter()
            .filter_map(|truth| truth.job.as_ref())
            .collect();
        assert!(
            jobs[0]
                .remaining_seconds
                .is_some_and(|left| left > 99.0 * HOUR)
        );
        assert!(jobs[1].elapsed_seconds > 99.0 * HOUR);
        assert!(truths.iter().all(|truth| truth.phase == Phase::Printing));
    }
}
