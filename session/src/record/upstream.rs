//! The way to the host.

use std::io;
use std::sync::Arc;
use std::time::Duration;

use rustls::crypto::ring;
use rustls::pki_types::ServerName;
use rustls::{ClientConfig, RootCertStore};
use tokio::net::TcpStream;
use tokio::time::timeout;
use tokio_rustls::TlsConnector;

use super::options::Upstream;
use crate::format::End;
use crate::stream::Stream;

/// Connects to the host.
///
/// # Errors
/// How it failed, as the session says it, and in words.
pub(super) async fn connect(
    upstream: &Upstream,
    within: Duration,
) -> Result<Stream, (End, String)> {
    let failed = |error: io::Error| {
        let end = match error.kind() {
            io::ErrorKind::ConnectionRefused => End::Refused,
            io::ErrorKind::ConnectionReset => End::Reset,
            _ => End::Unreachable,
        };
        (end, error.to_string())
    };
    let connecting = async {
        // A name in brackets is an address of IP version 6 (RFC 3986 section 3.2.2).
        let host = upstream.host.trim_matches(['[', ']']);
        let tcp = TcpStream::connect((host, upstream.port))
            .await
            .map_err(failed)?;
        // What the watcher wants is asked at once.
        let _ = tcp.set_nodelay(true);
        if !upstream.https {
            return Ok(Stream::Plain(tcp));
        }
        let name = ServerName::try_from(host.to_owned())
            .map_err(|error| (End::Closed, error.to_string()))?;
        let connector = connector(upstream).map_err(|error| (End::Closed, error.to_string()))?;
        let tls = connector.connect(name, tcp).await;
        // A certificate that is not trusted ends it as a close: nothing was said.
        let tls = tls.map_err(|error| (End::Closed, error.to_string()))?;
        Ok(Stream::Asked(Box::new(tls)))
    };
    let in_time = timeout(within, connecting).await;
    in_time.unwrap_or_else(|_| Err((End::Unreachable, format!("no answer within {within:?}"))))
}

fn connector(upstream: &Upstream) -> Result<TlsConnector, rustls::Error> {
    let roots = upstream
        .roots
        .clone()
        .unwrap_or_else(|| Arc::new(RootCertStore::empty()));
    let mut config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()?
        .with_root_certificates(roots)
        .with_no_client_auth();
    config.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(TlsConnector::from(Arc::new(config)))
}
