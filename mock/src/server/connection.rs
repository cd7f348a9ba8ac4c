//! Serves one connection.

use std::io;
use std::net::SocketAddr;
use std::pin::pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use axum::Router;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::TokioIo;
use hyper_util::service::TowerToHyperService;
use tokio::io::{AsyncRead, AsyncWrite, AsyncWriteExt as _};
use tokio::net::TcpStream;
use tokio_rustls::server::TlsStream;
use tokio_util::sync::CancellationToken;

use super::exchange;
use super::limits::{LINGER_TIMEOUT, MAX_HEAD_BYTES, PROBE_AFTER, READ_TIMEOUT, UNREAD_TIMEOUT};
use super::lingering::Lingering;
use super::network::{self, Line};
use super::push::SessionSlot;
use super::shared::Shared;
use super::under_way::UnderWay;
use super::unread::GivesUpUnread;
use super::{ConnectionId, WireEvent};
use crate::dialect::HeaderCase;
use crate::fault::{Ending, FaultyStream, OverTcp, SharedTcp, StreamControl};

/// Is what an exchange knows of its connection.
#[derive(Debug, Clone)]
pub(super) struct Connection {
    pub(super) id: ConnectionId,
    pub(super) control: Arc<StreamControl>,
    /// What the connection goes on with once its HTTP is over.
    pub(super) session: SessionSlot,
    pub(super) under_way: Arc<UnderWay>,
    /// How many changes the board of faults had had when it was opened.
    pub(super) opened: u64,
    answers: Arc<AtomicU64>,
}

impl Connection {
    pub(super) fn new(id: ConnectionId, opened: u64) -> Self {
        Self {
            id,
            control: Arc::new(StreamControl::default()),
            session: SessionSlot::default(),
            under_way: Arc::default(),
            opened,
            answers: Arc::default(),
        }
    }

    /// Counts an answer, from 1.
    pub(super) fn next_answer(&self) -> u64 {
        1 + self.answers.fetch_add(1, Ordering::Relaxed)
    }

    /// Tells how many answers there were.
    pub(super) fn answers(&self) -> u64 {
        self.answers.load(Ordering::Relaxed)
    }
}

/// Serves a connection until either side ends it.
///
/// `cut` closes it at once; the host's stop lets the exchange under way end first. `opened` is how
/// many changes the board of faults had had when it was accepted.
pub(super) async fn serve(
    shared: Arc<Shared>,
    (stream, peer): (TcpStream, SocketAddr),
    opened: u64,
    cut: CancellationToken,
) {
    let connection = Connection::new(shared.next_connection(), opened);
    shared
        .wire
        .tell(|virtual_time| WireEvent::ConnectionOpened {
            virtual_time,
            connection: connection.id,
            peer,
        });
    network::prepare(&stream, PROBE_AFTER);
    let tcp = Arc::new(stream);
    shared.sockets.add(connection.id, opened, &tcp);
    if shared.faults.is_unreachable() {
        // It was on its way when the network went.
        shared.sockets.follow(&shared.faults);
    }
    let line = Line {
        shared: &shared,
        id: connection.id,
        opened,
        tcp: &tcp,
        cut: &cut,
    };
    line.serve(talk(&shared, Arc::clone(&tcp), &connection, &cut))
        .await;
    if connection.control.is_reset() {
        // What was sent at its end could have made it a close.
        line.reset();
    }
    shared.sockets.remove(connection.id);
    shared
        .wire
        .tell(|virtual_time| WireEvent::ConnectionClosed {
            virtual_time,
            connection: connection.id,
        });
}

/// Talks to a client as the faults in force let it.
async fn talk(
    shared: &Arc<Shared>,
    tcp: Arc<TcpStream>,
    connection: &Connection,
    cut: &CancellationToken,
) {
    shared.catch_up();
    let effects = shared.faults.of_connection();
    shared.tell_met(connection.id, None, &effects.met);
    if let Some(fault) = effects.silent {
        return stay_silent(shared, &tcp, fault, cut).await;
    }
    let mut stream = SharedTcp(tcp);
    if let Some(bytes) = &effects.unasked
        && stream.write_all(bytes).await.is_err()
    {
        return;
    }
    match &shared.tls {
        None => exchanges(shared, stream, connection, cut).await,
        Some(tls) => {
            let accepting = tls.accept(effects.certificate, stream);
            if let Some(stream) = handshake(shared, accepting, cut).await {
                exchanges(shared, stream, connection, cut).await;
            }
        }
    }
}

/// Says nothing until the fault is over or the client leaves; then there is nothing to say.
async fn stay_silent(shared: &Shared, tcp: &TcpStream, fault: u64, cut: &CancellationToken) {
    let mut changes = shared.faults.changes();
    let over = async {
        while shared.faults.is_in_force(fault) {
            // The sender lives in the board that `shared` holds.
            let _ = changes.changed().await;
        }
    };
    tokio::select! {
        () = cut.cancelled() => {}
        () = shared.stop.cancelled() => {}
        () = over => {}
        () = network::read_away(tcp) => {}
    }
}

/// Agrees on TLS; `None` when that came to nothing, or took too long.
async fn handshake(
    shared: &Shared,
    accepting: impl Future<Output = io::Result<TlsStream<SharedTcp>>>,
    cut: &CancellationToken,
) -> Option<TlsStream<SharedTcp>> {
    tokio::select! {
        biased;
        () = cut.cancelled() => None,
        // No exchange is under way that could be finished.
        () = shared.stop.cancelled() => None,
        // What was wrong the client has been told in an alert, or has told (RFC 8446 section 6.2).
        done = tokio::time::timeout(READ_TIMEOUT, accepting) => done.ok()?.ok(),
    }
}

async fn exchanges<S>(
    shared: &Arc<Shared>,
    stream: S,
    connection: &Connection,
    cut: &CancellationToken,
) where
    S: AsyncRead + AsyncWrite + OverTcp + Unpin + Send + 'static,
{
    let control = &connection.control;
    let stream = Lingering::new(GivesUpUnread::new(stream, UNREAD_TIMEOUT), LINGER_TIMEOUT);
    let stream = FaultyStream::new(stream, Arc::clone(control));
    let router = Router::new()
        .fallback(exchange::handle)
        .with_state(Arc::clone(shared));
    let handler = TowerToHyperService::new(router);
    let service = service_fn(|mut request: http::Request<Incoming>| {
        request.extensions_mut().insert(connection.clone());
        handler.call(request)
    });
    let host = shared.printer().truth(shared.wire.clock.now());
    let behaviour = shared.dialects.spoken(&host.printer).http();
    let http = http1::Builder::new()
        .title_case_headers(behaviour.header_case() == HeaderCase::Title)
        .auto_date_header(behaviour.right_date())
        // The library's own would close idle connections too, and a client that asks once a minute
        // is to find its connection open unless a fault says otherwise.
        .header_read_timeout(None)
        .max_buf_size(MAX_HEAD_BYTES)
        .serve_connection(TokioIo::new(stream), service)
        .with_upgrades();
    let mut http = pin!(http);
    let mut overdue = pin!(control.head_overdue(READ_TIMEOUT));
    let mut changes = shared.faults.changes();
    let mut stopping = false;
    loop {
        // Whichever is first: what the dialect allows, or a fault.
        let allowed = [
            behaviour.keep_alive_idle(),
            shared.faults.close_idle(connection.id.0),
        ];
        let idle = control.idle_for(allowed.into_iter().flatten().min());
        tokio::select! {
            biased;
            () = cut.cancelled() => break,
            () = overdue.as_mut() => break,
            () = idle, if !stopping => {
                stopping = true;
                http.as_mut().graceful_shutdown();
            }
            () = shared.stop.cancelled(), if !stopping => {
                if control.is_stalled() {
                    // It would never come to its end.
                    break;
                }
                stopping = true;
                http.as_mut().graceful_shutdown();
            }
            // An answer that waits for news has no bytes on the way that would meet the fault.
            _ = changes.changed() => {
                if control.is_pushing() {
                    match connection.meet(shared) {
                        Some(Ending::Reset) => {
                            control.reset_on_close();
                            break;
                        }
                        Some(Ending::Close) => break,
                        Some(Ending::Stall) | None => {}
                    }
                }
            }
            // An error is the client's leaving, its bad HTTP, or a fault: seen below or no news.
            _ = http.as_mut() => {
                if let Some(session) = connection.session.take() {
                    session.run(cut).await;
                }
                break;
            }
        }
    }
    if cut.is_cancelled() && control.is_busy() && shared.faults.is_closed(connection.opened) {
        // The program has gone in the middle of an answer.
        control.reset_on_close();
    }
    if control.is_reset() {
        shared.wire.tell(|virtual_time| WireEvent::ConnectionReset {
            virtual_time,
            connection: connection.id,
            after_bytes: control.sent(),
        });
    }
}
