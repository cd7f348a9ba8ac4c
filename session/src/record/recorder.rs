//! The listener, and what all connections share.

use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use tokio::net::{TcpListener, TcpStream};
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

use super::journal::{Counts, Journal};
use super::options::{Limits, RecordError, RecordOptions, Upstream};
use super::relay::relay;
use crate::format::{Line, VERSION};
use crate::stream::{Stream, Tls};

/// Is a running recorder.
#[derive(Debug)]
pub struct Recorder {
    address: SocketAddr,
    shared: Arc<Shared>,
    accepting: tokio::task::JoinHandle<()>,
    connections: TaskTracker,
}

/// Is what all connections share.
pub(super) struct Shared {
    pub(super) journal: Journal,
    pub(super) upstream: Upstream,
    pub(super) limits: Limits,
    pub(super) allows_commands: bool,
    /// The recorder's own origin, as the watcher knows it.
    pub(super) own_origin: String,
    pub(super) stop: CancellationToken,
    exchanges: AtomicU64,
}

impl std::fmt::Debug for Shared {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Shared")
            .field("upstream", &self.upstream)
            .finish_non_exhaustive()
    }
}

/// A power cut loses this much at most.
const SYNC_EVERY: Duration = Duration::from_secs(1);

/// After a failed accept, as when there are too many open files.
const AFTER_FAILURE: Duration = Duration::from_millis(100);

impl Recorder {
    /// Begins the file and listens.
    ///
    /// # Errors
    /// [`RecordError`].
    pub async fn start(options: RecordOptions) -> Result<Self, RecordError> {
        let listening = TcpListener::bind(options.listen).await;
        let address = options.listen;
        let listener = listening.map_err(|source| RecordError::Listen { address, source })?;
        let local = listener.local_addr();
        let address = local.map_err(|source| RecordError::Listen { address, source })?;
        let (replaced, filter) = match options.filter {
            Some((replaced, filter)) => (replaced, Some(filter)),
            None => (Vec::new(), None),
        };
        let head = Line::Session {
            version: VERSION,
            recorded_at: options.recorded_at,
            upstream: Some(options.upstream.to_string()),
            made_by: Some(format!("coldbed {}", env!("CARGO_PKG_VERSION"))),
            replaced,
        };
        let journal = Journal::begin(&options.file, head, filter, options.limits);
        let journal = journal.map_err(|source| RecordError::File {
            file: options.file,
            source,
        })?;
        let scheme = if options.tls.is_some() {
            "https"
        } else {
            "http"
        };
        let shared = Arc::new(Shared {
            journal,
            upstream: options.upstream,
            limits: options.limits,
            allows_commands: options.allows_commands,
            own_origin: format!("{scheme}://{address}"),
            stop: CancellationToken::new(),
            exchanges: AtomicU64::new(0),
        });
        let connections = TaskTracker::new();
        let accepting = tokio::spawn(accept(
            listener,
            options.tls,
            Arc::clone(&shared),
            connections.clone(),
        ));
        Ok(Self {
            address,
            shared,
            accepting,
            connections,
        })
    }

    /// Gives where it listens.
    pub fn local_addr(&self) -> SocketAddr {
        self.address
    }

    /// Gives its origin, such as `http://127.0.0.1:8632`.
    pub fn url(&self) -> &str {
        &self.shared.own_origin
    }

    /// Gives what was recorded so far.
    pub fn counts(&self) -> Counts {
        self.shared.journal.counts()
    }

    /// Waits until nothing can be recorded any more.
    pub async fn failed(&self) {
        self.shared.stop.cancelled().await;
    }

    /// Ends what is under way and closes the file.
    ///
    /// # Errors
    /// [`RecordError::Stopped`] if it had stopped by itself before.
    pub async fn stop(self) -> Result<Counts, RecordError> {
        self.shared.stop.cancel();
        self.connections.close();
        self.connections.wait().await;
        // It ends by the same token; a panic in it is told by the runtime.
        let _ = self.accepting.await;
        self.shared.journal.sync();
        match self.shared.journal.stopped() {
            Some(why) => Err(RecordError::Stopped(why)),
            None => Ok(self.shared.journal.counts()),
        }
    }
}

impl Shared {
    pub(super) fn next_exchange(&self) -> u64 {
        self.exchanges.fetch_add(1, Ordering::Relaxed) + 1
    }

    /// Writes a line; where that cannot be, the recorder stops.
    pub(super) fn write(&self, line: Line) -> Result<(), String> {
        self.journal.write(line).inspect_err(|_| self.stop.cancel())
    }

    /// Tells the person who started it.
    pub(super) fn tell(&self, what: &str) {
        eprintln!("coldbed: {what}");
    }
}

async fn accept(
    listener: TcpListener,
    tls: Option<Tls>,
    shared: Arc<Shared>,
    connections: TaskTracker,
) {
    let mut syncing = tokio::time::interval(SYNC_EVERY);
    let mut number = 0;
    loop {
        tokio::select! {
            biased;
            () = shared.stop.cancelled() => return,
            accepted = listener.accept() => match accepted {
                Ok((tcp, _)) => {
                    number += 1;
                    let (tls, shared) = (tls.clone(), Arc::clone(&shared));
                    connections.spawn(serve(tcp, tls, shared, number));
                }
                Err(_exhausted) => tokio::time::sleep(AFTER_FAILURE).await,
            },
            _ = syncing.tick() => {
                let shared = Arc::clone(&shared);
                drop(tokio::task::spawn_blocking(move || shared.journal.sync()));
            }
        }
    }
}

async fn serve(tcp: TcpStream, tls: Option<Tls>, shared: Arc<Shared>, number: u64) {
    let stream = match Stream::of_watcher(tcp, tls.as_ref()).await {
        Ok(stream) => stream,
        Err(error) => {
            return shared.tell(&format!("a watcher did not come to terms on TLS: {error}"));
        }
    };
    let is_tls = matches!(stream, Stream::Served(_));
    relay(shared, number, is_tls, stream).await;
}
