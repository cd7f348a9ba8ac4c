//! Serves one connection.

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
use socket2::{SockRef, TcpKeepalive};
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;
use tokio_rustls::server::TlsStream;
use tokio_util::sync::CancellationToken;

use super::exchange;
use super::limits::{PROBE_AFTER, READ_TIMEOUT};
use super::push::SessionSlot;
use super::shared::Shared;
use super::{ConnectionId, Tls, WireEvent};
use crate::dialect::HeaderCase;
use crate::fault::{FaultyStream, OverTcp, Step, StreamControl};

/// Is what an exchange knows of its connection.
#[derive(Debug, Clone)]
pub(super) struct Connection {
    pub(super) id: ConnectionId,
    pub(super) control: Arc<StreamControl>,
    /// What the connection goes on with once its HTTP is over.
    pub(super) session: SessionSlot,
    answers: Arc<AtomicU64>,
}

impl Connection {
    /// Counts an answer, from 1.
    pub(super) fn next_answer(&self) -> u64 {
        1 + self.answers.fetch_add(1, Ordering::Relaxed)
    }
}

/// Serves a connection until either side ends it.
///
/// `cut` closes it at once; the host's stop lets the exchange under way end first.
pub(super) async fn serve(
    shared: Arc<Shared>,
    stream: TcpStream,
    peer: SocketAddr,
    cut: CancellationToken,
) {
    let connection = Connection {
        id: shared.next_connection(),
        control: Arc::new(StreamControl::default()),
        session: SessionSlot::default(),
        answers: Arc::default(),
    };
    shared
        .wire
        .tell(|virtual_time| WireEvent::ConnectionOpened {
            virtual_time,
            connection: connection.id,
            peer,
        });
    // Small answers must not wait for an acknowledgement, and bytes before a reset must be gone.
    // Both fail only if the client has left already.
    let _ = stream.set_nodelay(true);
    let _ = SockRef::from(&stream).set_tcp_keepalive(&TcpKeepalive::new().with_time(PROBE_AFTER));
    match &shared.tls {
        None => exchanges(&shared, stream, &connection, &cut).await,
        Some(tls) => {
            if let Some(stream) = handshake(&shared, tls, stream, &cut).await {
                exchanges(&shared, stream, &connection, &cut).await;
            }
        }
    }
    shared
        .wire
        .tell(|virtual_time| WireEvent::ConnectionClosed {
            virtual_time,
            connection: connection.id,
        });
}

/// Agrees on TLS; `None` when that came to nothing, or took too long.
async fn handshake(
    shared: &Shared,
    tls: &Tls,
    stream: TcpStream,
    cut: &CancellationToken,
) -> Option<TlsStream<TcpStream>> {
    tokio::select! {
        biased;
        () = cut.cancelled() => None,
        // No exchange is under way that could be finished.
        () = shared.stop.cancelled() => None,
        // What was wrong the client has been told in an alert, or has told (RFC 8446 section 6.2).
        done = tokio::time::timeout(READ_TIMEOUT, tls.accept(stream)) => done.ok()?.ok(),
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
    let stream = FaultyStream::new(stream, shared.faults.clone(), Arc::clone(control));
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
        .serve_connection(TokioIo::new(stream), service)
        .with_upgrades();
    let mut http = pin!(http);
    let mut overdue = pin!(control.head_overdue(READ_TIMEOUT));
    let mut idle = pin!(control.idle_for(behaviour.keep_alive_idle()));
    let mut changes = shared.faults.changes();
    let mut stopping = false;
    loop {
        tokio::select! {
            biased;
            () = cut.cancelled() => break,
            () = overdue.as_mut() => break,
            () = idle.as_mut(), if !stopping => {
                stopping = true;
                http.as_mut().graceful_shutdown();
            }
            () = shared.stop.cancelled(), if !stopping => {
                stopping = true;
                http.as_mut().graceful_shutdown();
            }
            // An answer that waits for news has no bytes on the way that would meet the fault.
            _ = changes.changed() => {
                let fault = shared.faults.of_bytes();
                if control.is_pushing() && Step::ends_at_once(fault.as_ref(), control.sent()) {
                    control.reset_on_close();
                    break;
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
    if control.is_reset() {
        shared.wire.tell(|virtual_time| WireEvent::ConnectionReset {
            virtual_time,
            connection: connection.id,
            after_bytes: control.sent(),
        });
    }
}
