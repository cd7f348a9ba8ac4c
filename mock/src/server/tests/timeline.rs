//! Faults and drifts that a scenario has on its timeline.

use std::io::ErrorKind;
use std::sync::Arc;
use std::time::Duration;

use tokio::net::TcpStream;

use super::common::{Bench, Notes};
use crate::scenario::Scenario;
use crate::server::WireEvent;
use crate::sim::{Simulation, VirtualTime};

/// Gives the simulation of a print with something on its timeline.
fn simulation(events: &str) -> Simulation {
    let text = format!("include = \"printing\"\ntitle = \"Troubles\"\nlength = \"2h\"\n{events}");
    let scenario = Scenario::parse("troubles.toml", &text).unwrap();
    Simulation::new(Arc::new(scenario), 1)
}

async fn bench(events: &str) -> Bench {
    Bench::with(|options| options.simulation = simulation(events)).await
}

pub(super) fn at(seconds: f64) -> VirtualTime {
    VirtualTime::new(Duration::from_secs_f64(seconds))
}

impl Bench {
    /// Puts the clock forward and waits until the listener is as it has to be then.
    pub(super) async fn settled_at(&self, at: VirtualTime) {
        self.host.clock().jump_to(at).unwrap();
        // Whoever asks for the truth lets the boards follow.
        self.host.truth();
        self.host.faults().settled().await;
    }

    async fn status_at(&self, seconds: f64) -> u16 {
        self.host.clock().jump_to(at(seconds)).unwrap();
        self.ask("GET /printer").await.status
    }
}

/// Gives what was raised and cleared, in order.
fn troubles(notes: &Notes) -> Vec<String> {
    let events = notes.events().into_iter();
    let told = events.filter_map(|event| match event {
        WireEvent::FaultRaised { fault, .. } => Some(format!("raised {}", fault.fault.name())),
        WireEvent::FaultCleared { fault, .. } => Some(format!("cleared {}", fault.fault.name())),
        WireEvent::DriftRaised { drift, .. } => Some(format!("raised {}", drift.name)),
        WireEvent::DriftCleared { drift, .. } => Some(format!("cleared {}", drift.name)),
        _ => None,
    });
    told.collect()
}

const UNAVAILABLE: &str = "[[event]]\nat = \"10m\"\naction = \"fault-raised\"\n\
    fault = { status = { code = 503 } }\nlasts = \"2m\"\n";

#[tokio::test]
async fn a_fault_begins_and_ends_at_its_virtual_time_and_nothing_is_left_for_the_next_host() {
    let bench = bench(UNAVAILABLE).await;
    assert_eq!(bench.status_at(599.9).await, 200);
    assert!(bench.host.faults().raised().is_empty());
    assert_eq!(bench.status_at(600.0).await, 503);
    let raised = bench.host.faults().raised();
    assert_eq!((raised.len(), raised[0].since), (1, at(600.0)));
    // The next host, while the fault of the one before is in force.
    let next = self::bench(UNAVAILABLE).await;
    assert_eq!(next.status_at(0.0).await, 200);
    assert!(next.host.faults().raised().is_empty());
    assert_eq!(bench.status_at(719.9).await, 503);
    assert_eq!(bench.status_at(720.0).await, 200);
    assert!(bench.host.faults().raised().is_empty());
    assert!(troubles(&next.notes).is_empty());
}

#[tokio::test]
async fn a_jump_over_whole_faults_raises_and_clears_them_in_their_order() {
    let drift = "[[event]]\nat = \"11m\"\naction = \"drift-raised\"\n\
        drift = { pointer = \"/job\", change = \"replace-by-null\" }\nlasts = \"3m\"\n";
    let bench = bench(&format!("{UNAVAILABLE}{drift}")).await;
    assert_eq!(bench.status_at(3600.0).await, 200);
    let told = [
        "raised status",
        "raised replace-by-null",
        "cleared status",
        "cleared replace-by-null",
    ];
    assert_eq!(troubles(&bench.notes), told);
}

#[tokio::test]
async fn bodies_are_the_same_whichever_way_the_clock_got_there() {
    let events = "[[event]]\nat = \"10m\"\nrepeat = { every = \"7m\", times = 5, jitter = \"3m\" }\n\
        action = \"drift-raised\"\nlasts = \"4m\"\n\
        drift = { pointer = \"/heaters/extruder/actual-celsius\", change = { scale = { factor = 1.8, offset = 32 } } }\n\
        [[event]]\nat = \"12m\"\naction = \"drift-raised\"\n\
        drift = { pointer = \"/heaters/extruder/actual-celsius\", change = { scale = { factor = 10 } } }\n";
    let (steps, jumps) = (bench(events).await, bench(events).await);
    for seconds in (0..3600).step_by(40) {
        steps.host.clock().jump_to(at(f64::from(seconds))).unwrap();
        let body = steps.ask("GET /printer").await.body;
        if seconds % 360 == 0 {
            jumps.host.clock().jump_to(at(f64::from(seconds))).unwrap();
            assert_eq!(jumps.ask("GET /printer").await.body, body, "{seconds} s");
        }
    }
    assert!(troubles(&steps.notes).len() > 8);
    assert_eq!(troubles(&steps.notes), troubles(&jumps.notes));
}

#[tokio::test]
async fn a_drift_changes_bodies_until_it_is_cleared_by_name() {
    let bench = bench(
        "[[event]]\nat = \"10m\"\naction = \"drift-raised\"\nname = \"no platform\"\n\
         drift = { pointer = \"/heaters/platform\", change = \"replace-by-null\" }\n\
         [[event]]\nat = \"20m\"\naction = \"drift-cleared\"\nname = \"no platform\"\n",
    )
    .await;
    for (seconds, is_null) in [
        (599.9, false),
        (600.0, true),
        (1199.9, true),
        (1200.0, false),
    ] {
        bench.host.clock().jump_to(at(seconds)).unwrap();
        let body = bench.ask("GET /printer").await.json();
        assert_eq!(body["heaters"]["platform"].is_null(), is_null, "{seconds}");
    }
}

#[tokio::test]
async fn a_scope_chooses_among_the_requests_of_the_time() {
    let bench = bench(
        "[[event]]\nat = \"10m\"\naction = \"fault-raised\"\nfault = { status = { code = 503 } }\n\
         scope = { route = \"/heaters/{name}\", times = 2 }\n",
    )
    .await;
    bench.host.clock().jump_to(at(600.0)).unwrap();
    assert_eq!(bench.ask("GET /printer").await.status, 200);
    for expected in [503, 503, 200] {
        assert_eq!(bench.ask("GET /heaters/extruder").await.status, expected);
    }
}

#[tokio::test]
async fn connections_are_refused_for_as_long_as_the_timeline_says() {
    let bench = bench(
        "[[event]]\nat = \"10m\"\naction = \"fault-raised\"\nfault = \"refuse\"\nlasts = \"2m\"\n",
    )
    .await;
    let mut open = bench.connect().await;
    assert_eq!(open.ask("GET /printer").await.status, 200);
    bench.settled_at(at(660.0)).await;
    let error = TcpStream::connect(bench.host.local_addr())
        .await
        .unwrap_err();
    assert_eq!(error.kind(), ErrorKind::ConnectionRefused);
    let (rest, _) = open.rest().await;
    assert!(rest.is_empty(), "{rest:?}");
    bench.settled_at(at(720.0)).await;
    assert_eq!(bench.ask("GET /printer").await.status, 200);
}

#[tokio::test]
async fn a_connection_does_not_live_through_a_time_of_refusing_that_nobody_saw() {
    let bench = bench(
        "[[event]]\nat = \"10m\"\naction = \"fault-raised\"\nfault = \"refuse\"\nlasts = \"2m\"\n",
    )
    .await;
    let mut open = bench.connect().await;
    assert_eq!(open.ask("GET /printer").await.status, 200);
    bench.host.clock().jump_to(at(3600.0)).unwrap();
    // A new one that is made at once is one of the time after.
    assert_eq!(bench.ask("GET /printer").await.status, 200);
    let (rest, _) = open.rest().await;
    assert!(rest.is_empty(), "{rest:?}");
}

#[tokio::test]
async fn a_host_may_be_out_of_reach_from_the_start() {
    let bench =
        bench("[[event]]\nat = \"0s\"\naction = \"fault-raised\"\nfault = \"refuse\"\n").await;
    let error = TcpStream::connect(bench.host.local_addr())
        .await
        .unwrap_err();
    assert_eq!(error.kind(), ErrorKind::ConnectionRefused);
}

#[tokio::test]
async fn a_fault_comes_into_force_although_nobody_asks_for_anything() {
    let put = bench(UNAVAILABLE).await;
    put.host.clock().jump_to(at(601.0)).unwrap();
    put.notes.wait_for("FaultRaised", 1).await;
    let running = bench(UNAVAILABLE).await;
    running.host.clock().set_rate(6000.0).unwrap();
    running.host.clock().resume();
    running.notes.wait_for("FaultCleared", 1).await;
}

#[tokio::test]
async fn an_open_stream_meets_a_fault_of_the_timeline() {
    let bench =
        bench("[[event]]\nat = \"10m\"\naction = \"fault-raised\"\nfault = \"reset\"\n").await;
    let mut client = bench.connect().await;
    client.send("GET /printer/events").await;
    client.until(b"data: ").await;
    bench.host.clock().jump_to(at(600.0)).unwrap();
    let (_, end) = client.rest().await;
    assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
}

#[tokio::test]
async fn a_fault_of_tls_on_the_timeline_of_a_host_without_it_is_refused_at_the_start() {
    let event = "[[event]]\nat = \"1m\"\naction = \"fault-raised\"\n\
                 fault = { tls-certificate = { is = \"expired\" } }\n";
    let mut options = crate::server::tests::common::options();
    options.simulation = simulation(event);
    let error = crate::server::Host::start(options).await.unwrap_err();
    assert_eq!(
        error.to_string(),
        "the scenario's fault `tls-certificate` needs a host that speaks TLS [start it with --tls FILE]"
    );
}
