//! A host to talk to, and a client that sees every byte.

use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::dialect::DialectFile;
use crate::scenario::Scenario;
use crate::server::{Host, HostOptions, Observer, WireEvent};
use crate::sim::{Simulation, VirtualTime};

/// Longer than anything here takes on a loaded machine: ends a test that would hang.
pub(super) const PATIENCE: Duration = Duration::from_secs(20);

/// Is a host with a paused clock, and what its observer noted.
pub(super) struct Bench {
    pub(super) host: Host,
    pub(super) notes: Arc<Notes>,
}

/// Keeps every event.
#[derive(Debug, Default)]
pub(super) struct Notes {
    events: Mutex<Vec<WireEvent>>,
    more: tokio::sync::Notify,
}

impl Observer for Notes {
    fn observe(&self, _at: Instant, event: WireEvent) {
        self.events.lock().unwrap().push(event);
        self.more.notify_waiters();
    }
}

impl Notes {
    pub(super) fn events(&self) -> Vec<WireEvent> {
        self.events.lock().unwrap().clone()
    }

    /// Counts events by how they are written, variant first.
    pub(super) fn count(&self, is: impl Fn(&str) -> bool) -> usize {
        let events = self.events();
        events
            .iter()
            .filter(|event| is(&format!("{event:?}")))
            .count()
    }

    /// Waits until there are so many events of a variant.
    pub(super) async fn wait_for(&self, variant: &str, count: usize) {
        let enough = async {
            loop {
                let more = self.more.notified();
                if self.count(|event| event.starts_with(variant)) >= count {
                    return;
                }
                more.await;
            }
        };
        tokio::time::timeout(PATIENCE, enough)
            .await
            .unwrap_or_else(|_| panic!("no {count} of {variant} in {:#?}", self.events()));
    }
}

/// A moment at which the scenario of [`options`] has printed for a while.
pub(super) const PRINTING: VirtualTime = VirtualTime::new(Duration::from_secs(2 * 3600));

/// Gives options for a host whose clock stands at the start, before there is a job.
pub(super) fn options() -> HostOptions {
    let scenario = Scenario::builtin("printing").unwrap().unwrap();
    let simulation = Simulation::new(Arc::new(scenario), 1);
    let dialect = Arc::new(DialectFile::builtin("plain").unwrap());
    HostOptions::on_loopback(simulation, dialect)
}

/// Gives the built-in dialect with another `push` at `GET /printer/events`.
pub(super) fn pushing(push: &str) -> Arc<DialectFile> {
    const PLAIN: &str = include_str!("../../../dialects/plain.toml");
    let text: Vec<String> = PLAIN
        .lines()
        .map(|line| match line.starts_with("push = ") {
            true => format!("push = {push}"),
            false => line.to_owned(),
        })
        .collect();
    Arc::new(DialectFile::parse("pushing", &text.join("\n")).unwrap())
}

impl Bench {
    /// Starts a host without a key.
    pub(super) async fn start() -> Self {
        Self::with(|_| {}).await
    }

    /// Starts a host with options changed.
    pub(super) async fn with(change: impl FnOnce(&mut HostOptions)) -> Self {
        let notes = Arc::new(Notes::default());
        let mut options = options();
        options.observer = Some(Arc::clone(&notes) as Arc<dyn Observer>);
        change(&mut options);
        let host = Host::start(options).await.unwrap();
        Self { host, notes }
    }

    /// Starts a host in the middle of a print.
    pub(super) async fn printing() -> Self {
        let bench = Self::start().await;
        bench.host.clock().jump_to(PRINTING).unwrap();
        bench
    }

    /// Starts a host in the middle of a print whose `GET /printer/events` pushes so.
    pub(super) async fn pushing(push: &str) -> Self {
        Self::of(pushing(push)).await
    }

    /// Starts a host in the middle of a print, its dialect `plain` with something added.
    pub(super) async fn speaking(added: &str) -> Self {
        // The versions of the file would take over what is added after them.
        let plain = include_str!("../../../dialects/plain.toml");
        let dialect = DialectFile::parse("plain", &format!("{plain}\n{added}")).unwrap();
        Self::of(Arc::new(dialect)).await
    }

    async fn of(dialect: Arc<DialectFile>) -> Self {
        let bench = Self::with(|options| options.dialect = dialect).await;
        bench.host.clock().jump_to(PRINTING).unwrap();
        bench
    }

    /// Lets a second of virtual time pass, in which the up-time, and so the body, changes.
    pub(super) fn step(&self) {
        self.host.clock().step(Duration::from_secs(1));
    }

    /// Connects a client.
    pub(super) async fn connect(&self) -> Client {
        Client {
            stream: TcpStream::connect(self.host.local_addr()).await.unwrap(),
            left: Vec::new(),
        }
    }

    /// Sends one request on a connection of its own.
    pub(super) async fn ask(&self, request: &str) -> Reply {
        self.connect().await.ask(request).await
    }
}

/// Is a connection seen byte by byte.
pub(super) struct Client {
    stream: TcpStream,
    left: Vec<u8>,
}

/// Is an answer as it came.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Reply {
    pub(super) status: u16,
    pub(super) head: String,
    pub(super) body: String,
}

impl Reply {
    /// Gives a field's value.
    pub(super) fn field(&self, name: &str) -> Option<&str> {
        self.head.lines().skip(1).find_map(|line| {
            let (known, value) = line.split_once(": ")?;
            known.eq_ignore_ascii_case(name).then_some(value)
        })
    }

    pub(super) fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.body).unwrap()
    }
}

impl From<TcpStream> for Client {
    fn from(stream: TcpStream) -> Self {
        Self {
            stream,
            left: Vec::new(),
        }
    }
}

impl Client {
    /// Leaves the connection to whoever closes it in an odd way.
    pub(super) fn into_stream(self) -> TcpStream {
        self.stream
    }

    /// Connects to any address.
    pub(super) async fn to(address: std::net::SocketAddr) -> std::io::Result<Self> {
        Ok(Self {
            stream: TcpStream::connect(address).await?,
            left: Vec::new(),
        })
    }

    /// Writes `METHOD TARGET`, further lines as fields, and after an empty line a body.
    ///
    /// `Host` and `Content-Length` are added.
    pub(super) async fn send(&mut self, request: &str) {
        let (head, body) = request.split_once("\n\n").unwrap_or((request, ""));
        let mut lines = head.lines();
        let mut text = format!("{} HTTP/1.1\r\nHost: test\r\n", lines.next().unwrap());
        for field in lines {
            text.push_str(&format!("{field}\r\n"));
        }
        if !body.is_empty() {
            text.push_str(&format!("Content-Length: {}\r\n", body.len()));
        }
        text.push_str("\r\n");
        text.push_str(body);
        self.raw(text.as_bytes()).await;
    }

    /// Writes bytes.
    pub(super) async fn raw(&mut self, bytes: &[u8]) {
        self.stream.write_all(bytes).await.unwrap();
    }

    /// Writes as many of the bytes as the host takes before it closes.
    pub(super) async fn pour(&mut self, bytes: &[u8]) -> std::io::Result<()> {
        self.stream.write_all(bytes).await
    }

    /// Sends a request and reads its answer.
    pub(super) async fn ask(&mut self, request: &str) -> Reply {
        self.send(request).await;
        self.reply(!request.starts_with("HEAD")).await
    }

    /// Reads one answer, with its body if it can have one.
    pub(super) async fn reply(&mut self, body: bool) -> Reply {
        let head = self.until(b"\r\n\r\n").await;
        let status = head[9..12].parse().unwrap();
        let mut reply = Reply {
            status,
            head,
            body: String::new(),
        };
        let length = reply
            .field("content-length")
            .map_or(0, |length| length.parse().unwrap());
        if body {
            while self.left.len() < length {
                self.more().await.unwrap();
            }
            let bytes: Vec<u8> = self.left.drain(..length).collect();
            reply.body = String::from_utf8(bytes).unwrap();
        }
        reply
    }

    /// Reads up to and with a mark.
    pub(super) async fn until(&mut self, mark: &[u8]) -> String {
        loop {
            if let Some(begin) = self.left.windows(mark.len()).position(|part| part == mark) {
                let bytes: Vec<u8> = self.left.drain(..begin + mark.len()).collect();
                return String::from_utf8(bytes).unwrap();
            }
            assert_ne!(self.more().await.unwrap(), 0, "ended before {mark:?}");
        }
    }

    /// Reads as many bytes as there is room for.
    pub(super) async fn exactly(&mut self, bytes: &mut [u8]) {
        while self.left.len() < bytes.len() {
            assert_ne!(self.more().await.unwrap(), 0, "ended before its time");
        }
        bytes.copy_from_slice(&self.left[..bytes.len()]);
        self.left.drain(..bytes.len());
    }

    /// Tells whether nothing has come that was not read, no end either.
    pub(super) fn is_silent(&self) -> bool {
        let nothing = self.stream.try_read(&mut [0]);
        let error = nothing.map(drop).map_err(|error| error.kind());
        self.left.is_empty() && error == Err(std::io::ErrorKind::WouldBlock)
    }

    /// Gives the client's own address.
    pub(super) fn local_addr(&self) -> std::net::SocketAddr {
        self.stream.local_addr().unwrap()
    }

    /// Reads so many bytes.
    pub(super) async fn take(&mut self, count: usize) -> Vec<u8> {
        while self.left.len() < count {
            let read = self.stream.read_buf(&mut self.left);
            assert_ne!(read.await.unwrap(), 0, "ended too early");
        }
        self.left.drain(..count).collect()
    }

    /// Sees that nothing comes for so long, and that the connection stays. For a runtime whose clock is
    /// paused.
    pub(super) async fn is_quiet(&mut self, span: Duration) -> bool {
        self.left.is_empty()
            && tokio::time::timeout(span, self.stream.read_buf(&mut self.left))
                .await
                .is_err()
    }

    /// Reads to the end: what was left, and how it ended.
    pub(super) async fn rest(&mut self) -> (Vec<u8>, std::io::Result<()>) {
        loop {
            match self.more().await {
                Ok(0) => return (std::mem::take(&mut self.left), Ok(())),
                Ok(_) => {}
                Err(error) => return (std::mem::take(&mut self.left), Err(error)),
            }
        }
    }

    /// As [`Client::rest`], without an end to patience: for a runtime whose clock is paused, and
    /// so jumps to the first deadline.
    pub(super) async fn rest_patiently(&mut self) -> (Vec<u8>, std::io::Result<()>) {
        let mut bytes = std::mem::take(&mut self.left);
        let end = self.stream.read_to_end(&mut bytes).await;
        (bytes, end.map(|_| ()))
    }

    /// As [`Client::until`], likewise.
    pub(super) async fn until_patiently(&mut self, mark: &[u8]) -> String {
        while !self.left.windows(mark.len()).any(|part| part == mark) {
            assert_ne!(self.stream.read_buf(&mut self.left).await.unwrap(), 0);
        }
        self.until(mark).await
    }

    async fn more(&mut self) -> std::io::Result<usize> {
        tokio::time::timeout(PATIENCE, self.stream.read_buf(&mut self.left))
            .await
            .expect("the host sends nothing and does not end")
    }
}
