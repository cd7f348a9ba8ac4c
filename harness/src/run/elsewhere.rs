//! Another origin, to which a redirect leads: it notes who comes, with what.

use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;

use axum::Router;
use axum::extract::{Request, State};
use axum::response::IntoResponse;
use axum::routing::any;
use http::header::CONTENT_TYPE;
use tokio::net::TcpListener;
use tokio_util::task::AbortOnDropHandle;

use super::Recorder;
use crate::event::EventKind;

/// Is a running server at another port. Dropping it ends it.
pub(super) struct Elsewhere {
    address: SocketAddr,
    _server: AbortOnDropHandle<()>,
}

impl Elsewhere {
    /// Listens on a free port and notes every request. Each is answered with an empty JSON object.
    pub(super) async fn open(log: Arc<Recorder>) -> io::Result<Self> {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).await?;
        let address = listener.local_addr()?;
        let routes = Router::new().fallback(any(take_note)).with_state(log);
        let server = tokio::spawn(async move {
            // It ends with the run; an error of one connection is not ours.
            let _ = axum::serve(listener, routes).await;
        });
        Ok(Self {
            address,
            _server: AbortOnDropHandle::new(server),
        })
    }

    /// Gives the origin.
    pub(super) fn origin(&self) -> String {
        format!("http://{}", self.address)
    }
}

async fn take_note(State(log): State<Arc<Recorder>>, request: Request) -> impl IntoResponse {
    let text = |value: &http::HeaderValue| String::from_utf8_lossy(value.as_bytes()).into_owned();
    log.note(EventKind::Elsewhere {
        target: request.uri().to_string(),
        headers: request
            .headers()
            .iter()
            .map(|(name, value)| (name.to_string(), text(value)))
            .collect(),
    });
    ([(CONTENT_TYPE, "application/json")], "{}")
}
