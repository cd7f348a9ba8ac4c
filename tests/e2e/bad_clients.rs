//! What clients cannot do to a host: its memory and its file descriptors, seen from outside.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::process::Command;
use std::time::{Duration, Instant};

use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};

use crate::common::{Served, coldbed};

/// Longer than anything here takes on a loaded machine: ends a test that would hang.
const PATIENCE: Duration = Duration::from_secs(60);

const IDLE: usize = 10_000;

/// As the host's own limit: see `MAX_CONNECTIONS` in `mock/src/server/limits.rs`.
const MAX_CONNECTIONS: usize = 12_000;

/// Starts the host below a shell that first sets limits.
fn below(limits: &str) -> Served {
    let built = coldbed();
    let mut shell = Command::new("sh");
    let line = format!("{limits}; exec \"$0\" serve printing \"$@\"");
    shell.args(["-c", &line]).arg(built.get_program());
    Served::spawn(&mut shell)
}

impl Served {
    fn proc(&self, name: &str) -> String {
        format!("/proc/{}/{name}", self.child.id())
    }

    fn open_files(&self) -> usize {
        std::fs::read_dir(self.proc("fd")).unwrap().count()
    }

    fn resident_bytes(&self) -> usize {
        let status = std::fs::read_to_string(self.proc("status")).unwrap();
        let line = status.lines().find(|line| line.starts_with("VmRSS:"));
        let kibibytes = line.unwrap().split_whitespace().nth(1).unwrap();
        kibibytes.parse::<usize>().unwrap() * 1024
    }

    /// Waits until the host has so many files open.
    fn wait_for_files(&self, is: impl Fn(usize) -> bool) {
        let deadline = Instant::now() + PATIENCE;
        while !is(self.open_files()) {
            assert!(
                Instant::now() < deadline,
                "{} open files",
                self.open_files()
            );
            std::thread::yield_now();
        }
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(&self.address).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        stream
    }
}

fn ask(stream: &mut TcpStream) {
    stream
        .write_all(b"GET /job HTTP/1.1\r\nHost: a\r\n\r\n")
        .unwrap();
}

fn assert_answered(stream: &mut TcpStream) {
    let mut start = [0; 12];
    stream.read_exact(&mut start).unwrap();
    assert_eq!(&start, b"HTTP/1.1 404", "there is no job yet");
}

#[test]
fn ten_thousand_idle_clients_cost_some_kilobytes_each_and_more_than_the_limit_wait() {
    let limit = getrlimit(Resource::Nofile);
    let needed = MAX_CONNECTIONS as u64 + 500;
    assert!(
        limit.maximum.is_none_or(|maximum| maximum >= needed),
        "this test needs {needed} open files and may have {:?} [raise the hard limit: ulimit -Hn]",
        limit.maximum
    );
    let raised = Rlimit {
        current: Some(needed.max(limit.current.unwrap_or(needed))),
        ..limit
    };
    setrlimit(Resource::Nofile, raised).unwrap();
    let host = Served::start(&["printing", "--rate", "0"]);
    host.get("/printer");
    let (files, bytes) = (host.open_files(), host.resident_bytes());
    let idle = |count: usize| -> Vec<TcpStream> {
        let one = |_| {
            let mut stream = host.connect();
            ask(&mut stream);
            assert_answered(&mut stream);
            stream
        };
        (0..count).map(one).collect()
    };
    let mut clients = idle(IDLE);
    let each = (host.resident_bytes() - bytes) / IDLE;
    println!("{each} bytes for each of {IDLE} idle connections");
    // Measured: see `docs/bad-clients.md`; a buffer more for each would be 64 KiB.
    assert!(each < 48 * 1024, "{each} bytes for each idle connection");
    host.get("/printer");

    clients.extend(idle(MAX_CONNECTIONS - IDLE));
    let mut waiting: Vec<TcpStream> = (0..100).map(|_| host.connect()).collect();
    waiting.iter_mut().for_each(ask);
    assert!(host.open_files() <= files + MAX_CONNECTIONS);
    clients.truncate(IDLE);
    waiting.iter_mut().for_each(assert_answered);
    drop((clients, waiting));
    host.wait_for_files(|count| count <= files);
    host.get("/printer");
}

#[test]
fn a_host_without_a_file_descriptor_left_serves_again_when_clients_go() {
    let host = below("ulimit -n 64");
    let files = host.open_files();
    let crowd: Vec<TcpStream> = (0..200).map(|_| host.connect()).collect();
    // One that the shell has inherited may have a higher number.
    host.wait_for_files(|count| count >= 64);
    let mut waiting = host.connect();
    ask(&mut waiting);
    drop(crowd);
    assert_answered(&mut waiting);
    drop(waiting);
    host.wait_for_files(|count| count <= files);
    host.get("/printer");
}

#[test]
fn the_host_takes_as_many_file_descriptors_as_it_may() {
    let host = below("ulimit -Sn 64; ulimit -Hn 500");
    let limits = std::fs::read_to_string(host.proc("limits")).unwrap();
    let line = limits
        .lines()
        .find(|line| line.starts_with("Max open files"));
    let words: Vec<&str> = line.unwrap().split_whitespace().collect();
    assert_eq!(words[3..5], ["500", "500"]);
}
