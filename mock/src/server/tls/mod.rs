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
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use tokio::net::TcpStream;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::server::TlsStream;

use super::date::real_date;
use crate::fault::{CertificateKind, OverTcp, SharedTcp};

use certificate::Authority;

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
    /// One for each kind of certificate, since a fault may show another one.
    acceptors: [(CertificateKind, TlsAcceptor); 4],
}

impl Tls {
    /// Makes an authority and a certificate for a host that listens on an address.
    ///
    /// An address that stands for all (`0.0.0.0`, `::`) is nobody's name and is left out.
    ///
    /// # Errors
    /// See [`TlsError`]; not expected.
    pub fn new(kind: CertificateKind, listen: IpAddr) -> Result<Self, TlsError> {
        let authority = Authority::make(real_date())?;
        let acceptor = |kind| -> Result<(CertificateKind, TlsAcceptor), TlsError> {
            let (certificate, key) = authority.certificate(kind, listen)?;
            Ok((kind, acceptor(certificate, key)?))
        };
        Ok(Self {
            kind,
            acceptors: [
                acceptor(CertificateKind::Good)?,
                acceptor(CertificateKind::Expired)?,
                acceptor(CertificateKind::WrongName)?,
                acceptor(CertificateKind::UnknownIssuer)?,
            ],
            authority_pem: authority.pem,
        })
    }

    /// Gives the certificate of the authority as PEM (RFC 7468), for clients that are to trust it.
    pub fn authority_pem(&self) -> &str {
        &self.authority_pem
    }

    /// Gives what accepts a client with the certificate that this was made for.
    pub fn acceptor(&self) -> TlsAcceptor {
        self.of_kind(self.kind)
    }

    fn of_kind(&self, kind: CertificateKind) -> TlsAcceptor {
        let acceptor = self.acceptors.iter().find(|(known, _)| *known == kind);
        let (_, acceptor) = acceptor.expect("there is one of each kind");
        acceptor.clone()
    }

    /// Agrees on TLS with a client, showing a certificate of this kind, or the one it was made for.
    pub(super) async fn accept(
        &self,
        kind: Option<CertificateKind>,
        stream: SharedTcp,
    ) -> std::io::Result<TlsStream<SharedTcp>> {
        self.of_kind(kind.unwrap_or(self.kind)).accept(stream).await
    }
}

fn acceptor(
    certificate: CertificateDer<'static>,
    key: PrivateKeyDer<'static>,
) -> Result<TlsAcceptor, rustls::Error> {
    let provider = Arc::new(ring::default_provider());
    let mut config = ServerConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()?
        .with_no_client_auth()
        .with_single_cert(vec![certificate], key)?;
    // RFC 7301: a client that offers only other protocols is refused.
    config.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(TlsAcceptor::from(Arc::new(config)))
}

impl fmt::Debug for Tls {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Tls")
            .field("kind", &self.kind)
            .finish_non_exhaustive()
    }
}

impl OverTcp for TlsStream<SharedTcp> {
    fn tcp(&self) -> &TcpStream {
        self.get_ref().0.tcp()
    }
}
