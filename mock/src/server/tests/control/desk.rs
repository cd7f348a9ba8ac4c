//! What becomes of what was raised, and of the log.

use std::io::{self, Write};
use std::sync::{Arc, Mutex};

use super::super::common::Bench;
use super::{ask, bench, control, with};
use crate::drift::{Drift, ReplaceByNull};
use crate::fault::Fault;
use crate::server::{ControlError, ControlOptions, Host, LogFile};

#[tokio::test]
async fn a_host_that_stops_takes_back_whatever_was_raised_and_the_next_begins_with_nothing() {
    let bench = bench().await;
    let control = control(&bench).clone();
    control.raise_fault(Fault::Refuse).unwrap();
    control
        .raise_drift(Drift::of("/job", ReplaceByNull))
        .unwrap();
    let address = bench.host.control_addr().unwrap();
    let (notes, port) = (Arc::clone(&bench.notes), bench.host.local_addr());
    bench.host.stop().await;
    assert!(control.faults().is_empty() && control.drifts().is_empty());
    assert_eq!(notes.count(|event| event.starts_with("FaultCleared")), 1);
    assert_eq!(notes.count(|event| event.starts_with("DriftCleared")), 1);
    assert!(tokio::net::TcpStream::connect(address).await.is_err());

    let next = Bench::with(|options| {
        options.listen = port;
        options.control = Some(ControlOptions::default());
    })
    .await;
    let control = next.host.control().unwrap();
    assert!(control.faults().is_empty() && control.drifts().is_empty());
    assert_eq!(control.log().lines().count(), 1);
    assert_eq!(next.ask("GET /printer").await.status, 200);
}

#[tokio::test]
async fn a_host_that_is_dropped_takes_everything_back_too() {
    let bench = bench().await;
    let control = control(&bench).clone();
    control.raise_fault(Fault::Refuse).unwrap();
    drop(bench.host);
    assert!(control.faults().is_empty());
}

#[tokio::test]
async fn a_fault_that_somebody_else_raised_is_shown_and_left_alone() {
    let bench = bench().await;
    let _guard = bench.host.faults().raise(Fault::Silent);
    let control = control(&bench);
    let [fault] = &control.faults()[..] else {
        panic!("{:?}", control.faults())
    };
    assert_eq!(fault.id, None);
    control.clear_faults().unwrap();
    assert_eq!(control.faults().len(), 1);
}

#[tokio::test]
async fn there_is_an_end_to_what_can_be_raised() {
    let bench = bench().await;
    let control = control(&bench);
    for _ in 0..256 {
        control.raise_fault(Fault::KeyRevoked).unwrap();
        control
            .raise_drift(Drift::of("/none", ReplaceByNull))
            .unwrap();
    }
    let fault = control.raise_fault(Fault::KeyRevoked);
    assert!(matches!(
        fault,
        Err(ControlError::TooMany { what: "fault", .. })
    ));
    let drift = control.raise_drift(Drift::of("/none", ReplaceByNull));
    assert!(matches!(
        drift,
        Err(ControlError::TooMany { what: "drift", .. })
    ));
    control.clear_faults().unwrap();
    control.raise_fault(Fault::KeyRevoked).unwrap();
}

#[tokio::test]
async fn the_log_is_forgotten_from_its_beginning_and_says_so() {
    let bench = bench().await;
    let control = control(&bench);
    let large = Drift {
        name: "n".repeat(60_000),
        ..Drift::of("/none", ReplaceByNull)
    };
    for _ in 0..300 {
        let id = control.raise_drift(large.clone()).unwrap();
        control.clear_drift(id).unwrap();
    }
    let log = control.log();
    assert!(log.len() < 17 << 20, "{}", log.len());
    let header: serde_json::Value = serde_json::from_str(log.lines().next().unwrap()).unwrap();
    let forgotten = usize::try_from(header["forgotten"].as_u64().unwrap()).unwrap();
    assert_eq!(forgotten + log.lines().count() - 1, 600);
    let error = crate::control::LoggedRun::read(log.as_bytes()).unwrap_err();
    assert!(error.to_string().contains("are missing"), "{error}");
}

/// Is a file, or a disk that is full after the first line.
#[derive(Debug, Clone, Default)]
struct Disk {
    written: Arc<Mutex<Vec<u8>>>,
    has_one_line: bool,
}

impl Write for Disk {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut written = self.written.lock().unwrap();
        if self.has_one_line && written.contains(&b'\n') {
            return Err(io::ErrorKind::StorageFull.into());
        }
        written.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

async fn logging_to(disk: &Disk) -> Bench {
    let log = Some(LogFile::new(disk.clone()));
    with(|options| options.control.as_mut().unwrap().log = log).await
}

#[tokio::test]
async fn the_file_has_what_the_log_has() {
    let disk = Disk::default();
    let bench = logging_to(&disk).await;
    ask(&bench, "POST /clock/jump\n\n{\"to\":\"2h\"}").await;
    bench.ask("POST /job/pause").await;
    let log = control(&bench).log();
    assert_eq!(log.lines().count(), 3, "{log}");
    assert_eq!(
        String::from_utf8(disk.written.lock().unwrap().clone()).unwrap(),
        log
    );
}

#[tokio::test]
async fn what_cannot_be_logged_is_not_done() {
    let disk = Disk {
        has_one_line: true,
        ..Disk::default()
    };
    let bench = logging_to(&disk).await;
    // The change that finds the disk full is still made.
    assert_eq!(
        ask(&bench, "POST /clock/jump\n\n{\"to\":\"2h\"}")
            .await
            .status,
        200
    );
    for request in [
        "POST /clock/jump\n\n{\"to\":\"3h\"}",
        "PUT /clock\n\n{\"rate\":2}",
        "POST /faults\n\n{\"fault\":\"silent\"}",
        "POST /events\n\n{\"action\":\"jam\"}",
    ] {
        let reply = ask(&bench, request).await;
        assert_eq!(reply.status, 500, "{request}");
        assert!(
            reply.body.contains("the log cannot be written"),
            "{}",
            reply.body
        );
    }
    assert_eq!(
        control(&bench).clock().now_seconds.to_bits(),
        7200.0_f64.to_bits()
    );
    assert!(control(&bench).faults().is_empty());
}

#[tokio::test]
async fn a_taken_control_port_is_an_error_that_names_it() {
    let held = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let taken = held.local_addr().unwrap();
    let mut options = super::options();
    options.control = Some(ControlOptions {
        listen: Some(taken),
        ..ControlOptions::default()
    });
    let error = Host::start(options).await.unwrap_err();
    assert_eq!(error.to_string(), format!("cannot listen on {taken}"));
}
