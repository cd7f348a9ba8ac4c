//! Hosts that speak TLS, before a client that checks certificates as RFC 5280 and RFC 9110 section
//! 4.3.4 ask.

use std::io::ErrorKind;
use std::net::{IpAddr, Ipv4Addr};
use std::sync::Arc;

use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, ServerName};
use rustls::{
    AlertDescription, CertificateError, ClientConfig, Error, ProtocolVersion, RootCertStore,
    SupportedProtocolVersion, version,
};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;
use tokio_rustls::client::TlsStream;

use super::common::Bench;
use crate::fault::CertificateKind;
use crate::fault::{Fault, Position};
use crate::server::{READ_TIMEOUT, Tls};

const BOTH: &[&SupportedProtocolVersion] = &[&version::TLS13, &version::TLS12];

/// Is a host with TLS and what a client needs to trust it.
pub(super) struct Secure {
    pub(super) bench: Bench,
    roots: RootCertStore,
}

impl Secure {
    pub(super) async fn start(kind: CertificateKind) -> Self {
        let tls = Tls::new(kind, IpAddr::from(Ipv4Addr::LOCALHOST)).unwrap();
        let mut roots = RootCertStore::empty();
        let pem = tls.authority_pem().as_bytes();
        roots
            .add(CertificateDer::from_pem_slice(pem).unwrap())
            .unwrap();
        let bench = Bench::with(|options| options.tls = Some(tls)).await;
        bench.host.clock().jump_to(super::common::PRINTING).unwrap();
        Self { bench, roots }
    }

    fn config(&self, versions: &[&'static SupportedProtocolVersion]) -> ClientConfig {
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        ClientConfig::builder_with_provider(provider)
            .with_protocol_versions(versions)
            .unwrap()
            .with_root_certificates(self.roots.clone())
            .with_no_client_auth()
    }

    async fn connect(
        &self,
        name: &str,
        config: ClientConfig,
    ) -> Result<TlsStream<TcpStream>, Error> {
        let stream = TcpStream::connect(self.bench.host.local_addr())
            .await
            .unwrap();
        let name = ServerName::try_from(name.to_owned()).unwrap();
        let connector = TlsConnector::from(Arc::new(config));
        connector.connect(name, stream).await.map_err(|error| {
            let inner = error.into_inner().expect("an error of TLS");
            inner.downcast_ref::<Error>().unwrap().clone()
        })
    }

    /// Gives what a client without special wishes gets.
    pub(super) async fn trusting(&self) -> TlsStream<TcpStream> {
        self.connect("localhost", self.config(BOTH)).await.unwrap()
    }

    /// Tells why a careful client refuses this host.
    pub(super) async fn refusal(&self, name: &str) -> CertificateError {
        match self.connect(name, self.config(BOTH)).await {
            Err(Error::InvalidCertificate(why)) => why,
            other => panic!("{name}: {other:?}"),
        }
    }
}

/// Sends a request that ends the connection; gives everything that comes, and how it ends.
async fn exchange(stream: &mut TlsStream<TcpStream>) -> (Vec<u8>, std::io::Result<()>) {
    let request = b"GET /printer HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n";
    stream.write_all(request).await.unwrap();
    let mut bytes = Vec::new();
    let end = stream.read_to_end(&mut bytes).await;
    (bytes, end.map(|_| ()))
}

#[tokio::test]
async fn a_good_certificate_is_trusted_for_each_of_its_names_in_tls_1_2_and_1_3() {
    let secure = Secure::start(CertificateKind::Good).await;
    let port = secure.bench.host.local_addr().port();
    assert_eq!(secure.bench.host.url(), format!("https://127.0.0.1:{port}"));
    for name in ["localhost", "127.0.0.1", "::1"] {
        for (versions, agreed) in [
            (&[&version::TLS12][..], ProtocolVersion::TLSv1_2),
            (&[&version::TLS13], ProtocolVersion::TLSv1_3),
        ] {
            let mut stream = secure.connect(name, secure.config(versions)).await.unwrap();
            assert_eq!(stream.get_ref().1.protocol_version(), Some(agreed));
            let (bytes, end) = exchange(&mut stream).await;
            assert!(bytes.starts_with(b"HTTP/1.1 200 OK\r\n"), "{bytes:?}");
            // The library says `UnexpectedEof` where close_notify is missing: RFC 8446 section 6.1.
            assert!(end.is_ok(), "{end:?}");
        }
    }
}

#[tokio::test]
async fn an_expired_certificate_is_refused_as_expired() {
    let secure = Secure::start(CertificateKind::Expired).await;
    let why = secure.refusal("localhost").await;
    assert!(
        matches!(why, CertificateError::ExpiredContext { .. }),
        "{why:?}"
    );
}

#[tokio::test]
async fn a_certificate_for_another_host_is_refused_for_its_name_only() {
    let secure = Secure::start(CertificateKind::WrongName).await;
    for name in ["localhost", "127.0.0.1"] {
        let why = secure.refusal(name).await;
        let named = matches!(why, CertificateError::NotValidForNameContext { .. });
        assert!(named, "{why:?}");
    }
    let config = secure.config(BOTH);
    assert!(secure.connect("elsewhere.invalid", config).await.is_ok());
}

#[tokio::test]
async fn a_certificate_of_another_authority_is_refused_for_its_issuer() {
    let secure = Secure::start(CertificateKind::UnknownIssuer).await;
    let why = secure.refusal("localhost").await;
    assert_eq!(why, CertificateError::UnknownIssuer);
}

#[tokio::test]
async fn http_1_1_is_agreed_on_and_another_protocol_alone_is_refused_rfc_7301_s3_2() {
    let secure = Secure::start(CertificateKind::Good).await;
    let offering = |protocols: &[&str]| {
        let mut config = secure.config(BOTH);
        let protocols = protocols.iter().map(|name| name.as_bytes().to_vec());
        config.alpn_protocols = protocols.collect();
        config
    };
    let both = offering(&["h2", "http/1.1"]);
    let stream = secure.connect("localhost", both).await.unwrap();
    assert_eq!(stream.get_ref().1.alpn_protocol(), Some(&b"http/1.1"[..]));
    let error = secure
        .connect("localhost", offering(&["h2"]))
        .await
        .unwrap_err();
    let alert = AlertDescription::NoApplicationProtocol;
    assert_eq!(error, Error::AlertReceived(alert));
}

#[tokio::test]
async fn a_reset_counts_the_bytes_of_http_and_says_no_farewell() {
    let secure = Secure::start(CertificateKind::Good).await;
    let whole = exchange(&mut secure.trusting().await).await.0;
    for after_bytes in [0, 1, 17, whole.len() - 1] {
        let _guard = secure
            .bench
            .host
            .faults()
            .raise(Fault::reset_at(Position::Byte(after_bytes as u64)));
        let (bytes, end) = exchange(&mut secure.trusting().await).await;
        assert_eq!(bytes.len(), after_bytes);
        assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
    }
    let told = |event: &str| event.starts_with("ConnectionReset") && event.contains("17");
    secure.bench.notes.wait_for("ConnectionReset", 4).await;
    assert_eq!(secure.bench.notes.count(told), 1);
}

#[tokio::test]
async fn many_requests_go_over_one_secure_connection() {
    let secure = Secure::start(CertificateKind::Good).await;
    let mut stream = secure.trusting().await;
    for _ in 0..3 {
        let request = b"GET /none HTTP/1.1\r\nHost: localhost\r\n\r\n";
        stream.write_all(request).await.unwrap();
        let mut bytes = Vec::new();
        while !bytes.ends_with(b"}") {
            assert_ne!(stream.read_buf(&mut bytes).await.unwrap(), 0);
        }
        assert!(bytes.starts_with(b"HTTP/1.1 404 "));
    }
}

#[tokio::test]
async fn a_client_without_tls_ends_its_own_connection_only() {
    let secure = Secure::start(CertificateKind::Good).await;
    let mut client = secure.bench.connect().await;
    client
        .raw(b"GET /printer HTTP/1.1\r\nHost: a\r\n\r\n")
        .await;
    let (bytes, _) = client.rest().await;
    assert!(!bytes.starts_with(b"HTTP"), "{bytes:?}");
    // An alert, fatal: RFC 5246 section 7.2.
    assert_eq!(
        (bytes.first(), bytes.get(5)),
        (Some(&21), Some(&2)),
        "{bytes:?}"
    );
    secure.bench.notes.wait_for("ConnectionClosed", 1).await;
    let (bytes, _) = exchange(&mut secure.trusting().await).await;
    assert!(bytes.starts_with(b"HTTP/1.1 200 "));
}

#[tokio::test(start_paused = true)]
async fn a_handshake_that_stalls_is_given_up() {
    let secure = Secure::start(CertificateKind::Good).await;
    let mut stalled = secure.bench.connect().await;
    // The head of a handshake record, and no more.
    stalled.raw(&[0x16, 0x03, 0x01]).await;
    let begun = tokio::time::Instant::now();
    let given_up = tokio::time::timeout(2 * READ_TIMEOUT, stalled.rest_patiently());
    let (bytes, _) = given_up.await.expect("it is given up");
    assert!(bytes.is_empty(), "{bytes:?}");
    assert!(begun.elapsed() >= READ_TIMEOUT);
}

#[tokio::test]
async fn a_handshake_under_way_does_not_hold_the_host_that_stops() {
    let secure = Secure::start(CertificateKind::Good).await;
    let mut idle = secure.trusting().await;
    let mut stalled = secure.bench.connect().await;
    stalled.raw(&[0x16]).await;
    secure.bench.notes.wait_for("ConnectionOpened", 2).await;
    secure.bench.host.stop().await;
    let (bytes, _) = stalled.rest().await;
    assert!(bytes.is_empty(), "{bytes:?}");
    let mut bytes = Vec::new();
    let end = idle.read_to_end(&mut bytes).await;
    assert!(bytes.is_empty() && end.is_ok(), "{bytes:?} {end:?}");
}

#[test]
fn a_key_is_not_shown() {
    let tls = Tls::new(CertificateKind::Good, IpAddr::from(Ipv4Addr::LOCALHOST)).unwrap();
    assert_eq!(format!("{tls:?}"), "Tls { kind: Good, .. }");
    assert_eq!(tls.authority_pem().matches("BEGIN").count(), 1);
    assert!(
        tls.authority_pem()
            .starts_with("-----BEGIN CERTIFICATE-----")
    );
}
