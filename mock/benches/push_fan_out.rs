//! How evenly a host pushes to a thousand clients at once.
//!
//! `cargo bench -p coldbed-mock --bench push_fan_out [-- SUBSCRIBERS [SECONDS]]`. The host runs in a
//! process of its own, so that its share of the processor can be told from the clients'. Both need
//! a file descriptor for each client (`ulimit -n`). The processor time is read from `/proc`: Linux
//! only.

use std::error::Error;
use std::io::{BufRead as _, BufReader};
use std::net::SocketAddr;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::dialect::DialectFile;
use coldbed_mock::scenario::Scenario;
use coldbed_mock::server::{Clock, Host, HostOptions};
use coldbed_mock::sim::{Simulation, VirtualTime};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;
use tokio::time::Instant;

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

const PLAIN: &str = include_str!("../dialects/plain.toml");
const PERIOD_MS: u32 = 100;
/// What follows a body in a stream of events.
const END: &[u8] = b"}\n\n";
/// The part of `/proc/PID/stat` in which times are counted, per second (`USER_HZ` of Linux on all
/// usual machines, proc(5), from memory).
const TICKS_PER_S: f64 = 100.0;

fn main() -> Outcome<()> {
    let runtime = tokio::runtime::Runtime::new()?;
    if std::env::args().any(|argument| argument == "host") {
        return runtime.block_on(serve());
    }
    let numbers: Vec<u64> = std::env::args()
        .filter_map(|text| text.parse().ok())
        .collect();
    let subscribers = numbers.first().copied().unwrap_or(1000);
    let seconds = numbers.get(1).copied().unwrap_or(20);
    let mut host = Command::new(std::env::current_exe()?)
        .arg("host")
        .stdout(Stdio::piped())
        .spawn()?;
    let measured = runtime.block_on(measure(&mut host, subscribers, seconds));
    host.kill()?;
    host.wait()?;
    measured
}

/// Serves until it is killed.
async fn serve() -> Outcome<()> {
    let text: Vec<String> = PLAIN
        .lines()
        .map(|line| match line.starts_with("push = ") {
            true => format!(
                "push = {{ form = \"server-sent-events\", on = \"period\", period-ms = {PERIOD_MS} }}"
            ),
            false => line.to_owned(),
        })
        .collect();
    let scenario = Scenario::builtin("printing").ok_or("no such scenario")??;
    let clock = Clock::new(1.0)?;
    clock.jump_to(VirtualTime::new(Duration::from_secs(2 * 3600)))?;
    let simulation = Simulation::new(Arc::new(scenario), 1);
    let dialect = Arc::new(DialectFile::parse("bench", &text.join("\n"))?);
    let host = Host::start(HostOptions {
        clock,
        ..HostOptions::on_loopback(simulation, dialect)
    })
    .await?;
    println!("{}", host.local_addr());
    std::future::pending().await
}

async fn measure(host: &mut Child, subscribers: u64, seconds: u64) -> Outcome<()> {
    let out = host.stdout.take().ok_or("no output")?;
    let mut line = String::new();
    BufReader::new(out).read_line(&mut line)?;
    let address: SocketAddr = line.trim().parse()?;

    let mut streams = Vec::new();
    for _ in 0..subscribers {
        let mut stream = TcpStream::connect(address).await?;
        let request = b"GET /printer/events HTTP/1.1\r\nHost: bench\r\n\r\n";
        stream.write_all(request).await?;
        streams.push(stream);
    }
    // All are connected, and none is in its first moments.
    let from = Instant::now() + Duration::from_secs(2);
    let until = from + Duration::from_secs(seconds);
    let tasks: Vec<_> = streams
        .into_iter()
        .map(|stream| tokio::spawn(gaps(stream, from, until)))
        .collect();
    tokio::time::sleep_until(from).await;
    let (host_before, own_before) = (cpu_s(host.id())?, cpu_s(std::process::id())?);
    tokio::time::sleep_until(until).await;
    let (host_after, own_after) = (cpu_s(host.id())?, cpu_s(std::process::id())?);

    let mut all = Vec::new();
    let mut longest = Vec::new();
    for task in tasks {
        let gaps = task.await??;
        longest.extend(gaps.iter().max().copied());
        all.extend(gaps);
    }
    println!("{subscribers} subscribers, one message each per {PERIOD_MS} ms, for {seconds} s");
    show("gaps, all", &mut all);
    show("longest gap of each subscriber", &mut longest);
    let over = all.iter().filter(|gap| gap.as_millis() > 150).count();
    println!("gaps over 150 ms: {over} of {}", all.len());
    let percent = |used_s: f64| 100.0 * used_s / Duration::from_secs(seconds).as_secs_f64();
    println!(
        "processor, of one core: host {:.0} %, clients {:.0} %",
        percent(host_after - host_before),
        percent(own_after - own_before)
    );
    Ok(())
}

/// Gives the gaps between the messages that came in a span of time.
async fn gaps(mut stream: TcpStream, from: Instant, until: Instant) -> Outcome<Vec<Duration>> {
    let mut gaps = Vec::new();
    let mut last = None;
    let mut bytes = Vec::with_capacity(8 * 1024);
    loop {
        let read = tokio::time::timeout_at(until, stream.read_buf(&mut bytes)).await;
        match read {
            Err(_over) => return Ok(gaps),
            Ok(Ok(0)) => return Err("the host has ended a stream".into()),
            Ok(Ok(_)) => {}
            Ok(Err(error)) => return Err(error.into()),
        }
        let now = Instant::now();
        while let Some(at) = bytes.windows(END.len()).position(|part| part == END) {
            bytes.drain(..at + END.len());
            if now >= from {
                gaps.extend(last.map(|last| now - last));
                last = Some(now);
            }
        }
    }
}

fn show(what: &str, gaps: &mut [Duration]) {
    gaps.sort_unstable();
    let ms = |per_mille: usize| {
        let place = (gaps.len().saturating_sub(1)) * per_mille / 1000;
        gaps.get(place)
            .map_or(f64::NAN, |gap| 1000.0 * gap.as_secs_f64())
    };
    println!(
        "{what}: {} in all, p1 {:.1} ms, p50 {:.1} ms, p99 {:.1} ms, p99.9 {:.1} ms, max {:.1} ms",
        gaps.len(),
        ms(10),
        ms(500),
        ms(990),
        ms(999),
        ms(1000)
    );
}

/// Gives the processor time that a process has used, in seconds: proc(5), `/proc/PID/stat`, fields
/// 14 and 15.
fn cpu_s(process: u32) -> Outcome<f64> {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat"))?;
    // The second field is a name in parentheses that may hold anything.
    let (_, rest) = stat.rsplit_once(')').ok_or("no such form")?;
    let fields: Vec<&str> = rest.split_whitespace().collect();
    let ticks = |at: usize| -> Outcome<f64> { Ok(fields.get(at).ok_or("too short")?.parse()?) };
    Ok((ticks(11)? + ticks(12)?) / TICKS_PER_S)
}
