//! Listens.

use std::net::SocketAddr;
use std::pin::pin;
use std::time::Duration;

use axum::Router;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinHandle;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

use super::super::Control;
use super::router;
use crate::control::Gate;
use crate::server::limits::{READ_TIMEOUT, STOP_TIMEOUT};

/// How long to wait after the system could not accept.
///
/// Chosen: long enough not to burn a core, short enough not to be noticed.
const AFTER_FAILURE: Duration = Duration::from_millis(50);

/// Is the listener of the control API.
#[derive(Debug)]
pub(in crate::server) struct ControlListener {
    address: SocketAddr,
    task: JoinHandle<()>,
}

impl ControlListener {
    /// Answers there until the host stops.
    pub(in crate::server) fn start(
        listener: TcpListener,
        address: SocketAddr,
        control: Control,
        key: Option<String>,
    ) -> Self {
        let stop = control.shared.stop.clone();
        let router = router(control, Gate { address, key });
        let task = tokio::spawn(accept(listener, router, stop));
        Self { address, task }
    }

    pub(in crate::server) fn address(&self) -> SocketAddr {
        self.address
    }

    /// Waits until the last connection is closed, once the host was told to stop.
    pub(in crate::server) async fn ended(self) {
        if let Err(error) = self.task.await
            && error.is_panic()
        {
            std::panic::resume_unwind(error.into_panic());
        }
    }
}

async fn accept(listener: TcpListener, router: Router, stop: CancellationToken) {
    let connections = TaskTracker::new();
    let cut = CancellationToken::new();
    loop {
        tokio::select! {
            biased;
            () = stop.cancelled() => break,
            accepted = listener.accept() => match accepted {
                Ok((stream, _)) => {
                    let talk = talk(stream, router.clone(), stop.clone());
                    let cut = cut.clone();
                    connections.spawn(async move { cut.run_until_cancelled(talk).await });
                }
                Err(_exhausted) => tokio::time::sleep(AFTER_FAILURE).await,
            },
        }
    }
    drop(listener);
    connections.close();
    if tokio::time::timeout(STOP_TIMEOUT, connections.wait())
        .await
        .is_err()
    {
        cut.cancel();
        connections.wait().await;
    }
}

async fn talk(stream: TcpStream, router: Router, stop: CancellationToken) {
    let mut http = pin!(
        http1::Builder::new()
            .timer(TokioTimer::new())
            .header_read_timeout(READ_TIMEOUT)
            .serve_connection(TokioIo::new(stream), TowerToHyperService::new(router))
    );
    tokio::select! {
        biased;
        () = stop.cancelled() => {}
        // An error is the client's leaving or its bad HTTP.
        _ = http.as_mut() => return,
    }
    http.as_mut().graceful_shutdown();
    let _ = http.await;
}
