//! What a request costs the host, against a bare handler that returns a fixed document.
//!
//! Both are served by a process of their own in this one run, by turns, to the same clients on
//! kept connections; what is compared is the CPU time the kernel charged to each process
//! (`/proc/PID/stat`, fields 14 and 15: proc_pid_stat(5)).
//!
//! `cargo bench -p coldbed-mock --bench cpu_per_request`

use std::io::{BufRead as _, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::thread;

use coldbed_mock::dialect::DialectFile;
use coldbed_mock::scenario::Scenario;
use coldbed_mock::server::{Clock, Host, HostOptions};
use coldbed_mock::sim::{Simulation, VirtualTime};

/// Clients at a time.
const CLIENTS: usize = 4;
/// Requests of each client in a round.
const REQUESTS: usize = 10_000;
/// Rounds of each server; the middle one counts.
const ROUNDS: usize = 7;
/// What the ratio is to stay under.
const TARGET: f64 = 1.25;

/// A moment of `printing` at which the job prints.
const FROM: VirtualTime = VirtualTime::new(std::time::Duration::from_secs(7200));

fn main() {
    let mut arguments = std::env::args().skip(1);
    match (arguments.next().as_deref(), arguments.next().as_deref()) {
        (Some("serve"), Some(which)) => serve(which),
        _ => compare(),
    }
}

fn serve(which: &str) {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .expect("a runtime can be had");
    runtime.block_on(async {
        let scenario = Scenario::builtin("printing").expect("it is there");
        let clock = Clock::paused_at(FROM);
        clock.resume();
        let simulation = Simulation::new(Arc::new(scenario.expect("it is sound")), 1);
        let dialect = Arc::new(DialectFile::builtin("plain").expect("it is sound"));
        let options = HostOptions {
            clock,
            ..HostOptions::on_loopback(simulation, dialect)
        };
        if which == "plain" {
            let host = Host::start(options).await.expect("a port is free");
            println!("{}", host.local_addr());
            std::future::pending::<()>().await;
        }
        let document = document();
        let router = axum::Router::new().route(
            "/printer",
            axum::routing::get(async move || {
                let kind = [(http::header::CONTENT_TYPE, "application/json")];
                (kind, document.clone())
            }),
        );
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0")
            .await
            .expect("a port is free");
        println!("{}", listener.local_addr().expect("it is bound"));
        axum::serve(listener, router).await.expect("it serves");
    });
}

/// Gives the body that `plain` shows, so that both send about as many bytes.
fn document() -> bytes::Bytes {
    use coldbed_mock::dialect::{Access, Request, Routed};
    let dialects = DialectFile::builtin("plain").expect("it is sound");
    let scenario = Scenario::builtin("printing").expect("it is there");
    let mut simulation = Simulation::new(Arc::new(scenario.expect("it is sound")), 1);
    let truth = simulation.truth_at(FROM);
    let request = Request {
        method: &http::Method::GET,
        path: "/printer",
        query: None,
        headers: &http::HeaderMap::new(),
        body: b"",
    };
    match dialects.first().route(&request, &Access::OPEN) {
        Routed::Body(matched) => dialects.first().render_answer(&matched, &truth).body,
        other => panic!("{other:?}"),
    }
}

struct Server {
    child: Child,
    address: SocketAddr,
}

impl Server {
    fn start(which: &str) -> Self {
        let program = std::env::current_exe().expect("this program has a file");
        let mut child = Command::new(program)
            .args(["serve", which])
            .stdout(Stdio::piped())
            .spawn()
            .expect("this program starts again");
        let mut line = String::new();
        let stdout = child.stdout.take().expect("it is piped");
        let read = BufReader::new(stdout).read_line(&mut line);
        read.expect("it tells its address");
        let address = line.trim().parse().expect("an address");
        Self { child, address }
    }

    /// Gives the CPU time so far, in clock ticks.
    fn ticks(&self) -> u64 {
        let path = format!("/proc/{}/stat", self.child.id());
        let stat = std::fs::read_to_string(path).expect("the process lives");
        // The second field is the name in parentheses and may have spaces.
        let (_, rest) = stat.rsplit_once(") ").expect("a name in parentheses");
        let fields: Vec<&str> = rest.split(' ').collect();
        let number = |index: usize| fields[index].parse::<u64>().expect("a number");
        number(11) + number(12)
    }

    /// Lets the clients ask, and gives the ticks that cost.
    fn round(&self) -> u64 {
        let before = self.ticks();
        let clients: Vec<_> = (0..CLIENTS)
            .map(|_| {
                let address = self.address;
                thread::spawn(move || ask(address))
            })
            .collect();
        for client in clients {
            client.join().expect("a client works");
        }
        self.ticks() - before
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn ask(address: SocketAddr) {
    let mut stream = TcpStream::connect(address).expect("it accepts");
    stream.set_nodelay(true).expect("a TCP option");
    let mut buffer = vec![0; 16 * 1024];
    for _ in 0..REQUESTS {
        stream
            .write_all(b"GET /printer HTTP/1.1\r\nHost: here\r\n\r\n")
            .expect("it takes requests");
        let mut have = 0;
        loop {
            have += stream.read(&mut buffer[have..]).expect("it answers");
            if is_whole(&buffer[..have]) {
                break;
            }
        }
    }
}

fn is_whole(answer: &[u8]) -> bool {
    let text = String::from_utf8_lossy(answer);
    let Some((head, body)) = text.split_once("\r\n\r\n") else {
        return false;
    };
    let length = head.lines().find_map(|line| {
        let (name, value) = line.split_once(": ")?;
        name.eq_ignore_ascii_case("content-length")
            .then(|| value.parse::<usize>().ok())?
    });
    length.is_some_and(|length| body.len() >= length)
}

fn compare() {
    let bare = Server::start("bare");
    let plain = Server::start("plain");
    // Both warm up once.
    bare.round();
    plain.round();
    let mut ratios = Vec::new();
    let mut costs = (Vec::new(), Vec::new());
    for _ in 0..ROUNDS {
        let (of_bare, of_plain) = (bare.round(), plain.round());
        ratios.push(of_plain as f64 / of_bare as f64);
        costs.0.push(of_bare);
        costs.1.push(of_plain);
    }
    ratios.sort_by(f64::total_cmp);
    let per_request = |ticks: &mut Vec<u64>| {
        ticks.sort_unstable();
        // A tick is 1/100 s on Linux (USER_HZ: time(7)).
        ticks[ROUNDS / 2] as f64 * 10_000.0 / (CLIENTS * REQUESTS) as f64
    };
    println!(
        "bare handler    {:6.2} us of CPU per request",
        per_request(&mut costs.0)
    );
    println!(
        "plain, live     {:6.2} us of CPU per request",
        per_request(&mut costs.1)
    );
    println!(
        "ratio           {:6.3} (middle of {ROUNDS}; {:.3} to {:.3}; to stay under {TARGET})",
        ratios[ROUNDS / 2],
        ratios[0],
        ratios[ROUNDS - 1],
    );
}
