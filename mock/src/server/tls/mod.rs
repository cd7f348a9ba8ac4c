//! TLS, with certificates of the host's own making.
//!
//! The key of the authority and that of the certificate live in memory only, and no longer than the
//! host. A client that is to trust the host is given [`Tls::authority_pem`].

mod certificate;

use std::fmt;
use std::net::IpAddr;
use std::sync::Arc;

use rustls::ServerConfig;
use rustls::crypto::ring;
use tokio::net::TcpStream;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::server::TlsStream;

use super::date::real_date;
use crate::fault::OverTcp;

/// Says what is wrong with the certificate that a host shows, if anything.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum CertificateKind {
    /// Nothing: it is for localhost, 127.0.0.1, ::1 and the address listened on.
    #[default]
    Good,
    /// It was valid until yesterday; the authority still is.
    Expired,
    /// It is for another host only, `elsewhere.invalid`.
    WrongName,
    /// It was signed by another authority than the one given to clients.
    UnknownIssuer,
}

/// Says why there is no TLS.
#[derive(Debug, thiserror::Error)]
pub enum TlsError {
    /// A certificate could not be made.
    #[error("cannot make a certificate")]
    Certificate(#[from] rcgen::Error),
    /// The certificate could not be used.
    #[error("cannot use the certificate made")]
    Config(#[from] rustls::Error),
}

/// Is what a host needs to speak TLS 1.2 and 1.3: a certificate and the authority that signed it,
/// both made anew.
#[derive(Clone)]
pub struct Tls {
    kind: CertificateKind,
    authority_pem: String,
    acceptor: TlsAcceptor,
}

impl Tls {
    /// Makes an authority and a certificate for a host that listens on an address.
    ///
    /// An address that stands for all (`0.0.0.0`, `::`) is nobody's name and is left out.
    ///
    /// # Errors
    /// See [`TlsError`]; not expected.
    pub fn new(kind: CertificateKind, listen: IpAddr) -> Result<Self, TlsError> {
        let made = certificate::make(kind, listen, real_date())?;
        let provider = Arc::new(ring::default_provider());
        let mut config = ServerConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()?
            .with_no_client_auth()
            .with_single_cert(vec![made.certificate], made.key)?;
        // RFC 7301: a client that offers only other protocols is refused.
        config.alpn_protocols = vec![b"http/1.1".to_vec()];
        Ok(Self {
            kind,
            authority_pem: made.authority_pem,
            acceptor: TlsAcceptor::from(Arc::new(config)),
        })
    }

    /// Gives the certificate of the authority as PEM (RFC 7468), for clients that are to trust it.
    pub fn authority_pem(&self) -> &str {
        &self.authority_pem
    }

    pub(super) async fn accept(&self, stream: TcpStream) -> std::io::Result<TlsStream<TcpStream>> {
        self.acceptor.accept(stream).await
    }
}

impl fmt::Debug for Tls {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Tls")
            .field("kind", &self.kind)
            .finish_non_exhaustive()
    }
}

impl OverTcp for TlsStream<TcpStream> {
    fn tcp(&self) -> &TcpStream {
        self.get_ref().0
    }
}
