//! Which troubles are tried, and where they shrink to.

use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::dialect::Dialect;
use coldbed_mock::drift::generate::{drifts_of, places};
use coldbed_mock::drift::{Change, Drift, DriftClass};
use coldbed_mock::fault::{
    Fault, Position, Probability, RetryAfter, Scope, ScopedFault, Span, Unit,
};
use coldbed_mock::scenario::Scenario;
use coldbed_mock::sim::{Simulation, Trouble, VirtualTime};
use http::StatusCode;
use proptest::prelude::*;
use proptest::sample::select;
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use serde_json::Value;

use super::{PlannedTrouble, TroublePlan};

/// Gives the body that drifts are made for: of all that a dialect shows as JSON, the one with the most
/// in it, in the middle of a print. `None` if it shows none.
pub fn body_of(dialect: &Dialect) -> Option<Value> {
    let plan = TroublePlan {
        troubles: Vec::new(),
    };
    let text = plan.text("").ok()?;
    let scenario = Scenario::parse("explored", &text).ok()?;
    // The first job, which began at one minute, prints.
    let mut simulation = Simulation::new(Arc::new(scenario), 1);
    let truth = simulation.truth_at(VirtualTime::new(Duration::from_secs(300)));
    let mut fullest: Option<(usize, Value)> = None;
    for shown in dialect.preview(&truth) {
        let Ok(body) = serde_json::from_str::<Value>(&shown.text) else {
            continue;
        };
        let count = places(&body).len();
        if fullest.as_ref().is_none_or(|(most, _)| count > *most) {
            fullest = Some((count, body));
        }
    }
    fullest.map(|(_, body)| body)
}

/// Gives plans of one to four troubles. They shrink to fewer, then to earlier, longer and simpler
/// ones.
pub fn plans(body: Option<&Value>) -> BoxedStrategy<TroublePlan> {
    prop::collection::vec(trouble(body), 1..=4)
        .prop_map(|troubles| TroublePlan { troubles })
        .boxed()
}

/// Makes the plan of that number; the same seed and number give the same plan, however many others
/// are made.
///
/// # Panics
/// If the strategy has nothing to give, which it always has.
pub fn plan_number(
    strategy: &BoxedStrategy<TroublePlan>,
    seed: u64,
    number: u32,
) -> Box<dyn ValueTree<Value = TroublePlan>> {
    let mut bytes = [0; 32];
    bytes[..8].copy_from_slice(&seed.to_le_bytes());
    bytes[8..12].copy_from_slice(&number.to_le_bytes());
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &bytes);
    let mut runner = TestRunner::new_with_rng(Config::default(), rng);
    match strategy.new_tree(&mut runner) {
        Ok(tree) => tree,
        Err(reason) => panic!("no plan can be made: {reason}"),
    }
}

/// The first beats pass undisturbed, so that there is something to be held against.
const FIRST_BEATS: std::ops::RangeInclusive<u32> = 3..=9;

/// The longest outlast a whole job, the shortest are over before anybody has to notice. A long one is
/// the simpler: one that lasts no longer than needed is missed the next time.
const LONGEST_BEATS: u32 = 10;
const SHORTER_BY_BEATS: std::ops::RangeInclusive<u32> = 0..=8;

fn trouble(body: Option<&Value>) -> BoxedStrategy<PlannedTrouble> {
    let fault = faults()
        .prop_map(|fault| Trouble::Fault(Arc::new(fault)))
        .boxed();
    let what = match body {
        None => fault,
        Some(body) => {
            let drift = |class| {
                let drifts = drifts_of(body, class).prop_filter("is too large", is_handy);
                drifts.prop_map(|drift| Trouble::Drift(Arc::new(drift)))
            };
            prop_oneof![
                4 => drift(DriftClass::Breaking),
                1 => drift(DriftClass::Compatible),
                1 => drift(DriftClass::Hostile),
                4 => fault,
            ]
            .boxed()
        }
    };
    (FIRST_BEATS, SHORTER_BY_BEATS, what)
        .prop_map(|(begins, shorter_by, trouble)| PlannedTrouble {
            begins,
            lasts: LONGEST_BEATS - shorter_by,
            trouble,
        })
        .prop_filter("cannot be written", |planned| {
            let troubles = vec![planned.clone()];
            TroublePlan { troubles }.text("").is_ok()
        })
        .boxed()
}

/// Tells whether many watchers can be sent such bodies at once without straining the machine.
fn is_handy(drift: &Drift) -> bool {
    !matches!(&drift.change, Change::Pad(pad) if pad.bytes > 65_537)
}

/// Gives faults that any host can have, with what they happen to. Those of TLS and of push streams are
/// left out: most watchers never meet them.
pub fn faults() -> BoxedStrategy<ScopedFault> {
    kinds()
        .prop_flat_map(|fault| {
            let scope = match fault.unit() {
                Unit::Exchange => scopes(),
                _ => Just(Scope::default()).boxed(),
            };
            (Just(fault), scope)
        })
        .prop_map(|(fault, scope)| ScopedFault { fault, scope })
        .boxed()
}

fn scopes() -> BoxedStrategy<Scope> {
    let shares = (select(vec![0.25, 0.5, 0.75]), 1..1000_u64).prop_map(|(share, seed)| Scope {
        probability: Probability::new(share),
        seed,
        ..Scope::default()
    });
    let counted = (0..=2_u64, 1..=4_u64).prop_map(|(skip, times)| Scope {
        skip,
        times: Some(times),
        ..Scope::default()
    });
    prop_oneof![4 => Just(Scope::default()), 1 => shares, 1 => counted].boxed()
}

fn kinds() -> BoxedStrategy<Fault> {
    prop_oneof![
        4 => of_the_network(),
        3 => of_answers(),
        4 => of_bytes(),
        2 => of_time(),
    ]
    .boxed()
}

fn of_the_network() -> BoxedStrategy<Fault> {
    let plain = select(vec![
        Fault::Refuse,
        Fault::Unreachable,
        Fault::Silent,
        Fault::HalfOpen,
        Fault::CloseOnReuse { reset: false },
        Fault::CloseOnReuse { reset: true },
        Fault::UnaskedData { text: None },
    ]);
    let idle = (0..=3000_u64).prop_map(|millis| Fault::CloseIdle {
        after: Span::from_millis(millis),
    });
    prop_oneof![6 => plain, 1 => idle].boxed()
}

/// The discard port of this machine, where nobody is: a redirect must lead no watcher into a network.
///
/// # Source
/// RFC 863.
const NOWHERE: &str = "http://127.0.0.1:9";

fn of_answers() -> BoxedStrategy<Fault> {
    let codes = select(vec![
        StatusCode::SERVICE_UNAVAILABLE,
        StatusCode::INTERNAL_SERVER_ERROR,
        StatusCode::BAD_GATEWAY,
        StatusCode::TOO_MANY_REQUESTS,
        StatusCode::NOT_FOUND,
        StatusCode::NO_CONTENT,
    ]);
    let waits = prop::option::of((1..=4_u64).prop_map(RetryAfter::Seconds));
    let statuses =
        (codes, waits).prop_map(|(code, retry_after)| Fault::Status { code, retry_after });
    let redirections = || {
        select(vec![
            StatusCode::FOUND,
            StatusCode::MOVED_PERMANENTLY,
            StatusCode::SEE_OTHER,
            StatusCode::TEMPORARY_REDIRECT,
            StatusCode::PERMANENT_REDIRECT,
        ])
    };
    let redirect = redirections().prop_map(|code| Fault::Redirect {
        to: NOWHERE.to_owned(),
        code,
    });
    let plain = select(vec![
        Fault::LoginPage,
        Fault::CaptivePortal,
        Fault::KeyRevoked,
        Fault::Frozen,
        Fault::OutOfOrder,
    ]);
    let skewed = select(vec![-86_400.0, -3600.0, 3600.0, 86_400.0])
        .prop_map(|ahead_s| Fault::ClockSkew { ahead_s });
    prop_oneof![
        3 => statuses,
        3 => plain,
        1 => redirect,
        1 => redirections().prop_map(|code| Fault::RedirectLoop { code }),
        1 => skewed,
    ]
    .boxed()
}

fn of_bytes() -> BoxedStrategy<Fault> {
    let lengths = prop_oneof![-40..=-1_i32, 1..=40_i32].prop_map(|by| Fault::WrongLength { by });
    let headers = (1..=16_384_u32).prop_map(|bytes| Fault::HugeHeader { bytes });
    let interim = (select(vec![100_u16, 102, 103]), 1..=5_u32)
        .prop_map(|(code, times)| Fault::Interim { code, times });
    let plain = select(vec![
        Fault::NoLastChunk,
        Fault::Garbage { text: None },
        Fault::Twice,
        Fault::TrailingData { text: None },
    ]);
    prop_oneof![
        2 => positions().prop_map(|at| Fault::Close { at }),
        2 => positions().prop_map(|at| Fault::Reset { at }),
        2 => positions().prop_map(|at| Fault::Stall { at }),
        2 => plain,
        1 => lengths,
        1 => headers,
        1 => interim,
    ]
    .boxed()
}

fn positions() -> impl Strategy<Value = Position> {
    prop_oneof![
        Just(Position::Start),
        Just(Position::HeadEnd),
        (1..=400_u64).prop_map(Position::BodyByte),
        (1..=400_u64).prop_map(Position::Byte),
    ]
}

fn of_time() -> BoxedStrategy<Fault> {
    let latency = (100..=3000_u64, 0..=1000_u64).prop_map(|(of, jitter)| Fault::Latency {
        of: Span::from_millis(of),
        jitter: Span::from_millis(jitter),
    });
    let drip = (1..=10_u64).prop_map(|gap| Fault::Drip {
        gap: Span::from_millis(gap),
    });
    let bandwidth =
        (100..=5000_u64).prop_map(|bytes_per_second| Fault::Bandwidth { bytes_per_second });
    prop_oneof![latency, drip, bandwidth].boxed()
}
