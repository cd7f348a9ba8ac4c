//! Clients that break TLS off.

use std::net::{IpAddr, Ipv4Addr};
use std::sync::Arc;

use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, ServerName};
use rustls::{ClientConfig, ClientConnection, RootCertStore};
use tokio::io::AsyncWriteExt as _;
use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;

use super::common::Bench;
use super::hardening::{Tally, reset};
use crate::fault::CertificateKind;
use crate::server::{READ_TIMEOUT, Tls};

/// How many clients of each kind.
const EACH: usize = 100;

struct Secure {
    bench: Bench,
    tally: Arc<Tally>,
    config: Arc<ClientConfig>,
}

impl Secure {
    async fn start() -> Self {
        let tls = Tls::new(CertificateKind::Good, Ipv4Addr::LOCALHOST.into()).unwrap();
        let mut roots = RootCertStore::empty();
        let pem = tls.authority_pem().as_bytes();
        roots
            .add(CertificateDer::from_pem_slice(pem).unwrap())
            .unwrap();
        let (bench, tally) = Tally::of_host(|options| options.tls = Some(tls)).await;
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let config = ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .unwrap()
            .with_root_certificates(roots)
            .with_no_client_auth();
        Self {
            bench,
            tally,
            config: Arc::new(config),
        }
    }

    fn name() -> ServerName<'static> {
        ServerName::from(IpAddr::from(Ipv4Addr::LOCALHOST))
    }

    async fn tcp(&self) -> TcpStream {
        self.bench.connect().await.into_stream()
    }

    /// Gives what a client says first.
    fn hello(&self) -> Vec<u8> {
        let mut client = ClientConnection::new(Arc::clone(&self.config), Self::name()).unwrap();
        let mut bytes = Vec::new();
        client.write_tls(&mut bytes).unwrap();
        bytes
    }

    /// Checks that a client gets its answer, and that no connection but its own was left.
    async fn assert_nothing_left_of(&self, connections: usize) {
        let connector = TlsConnector::from(Arc::clone(&self.config));
        let mut stream = connector
            .connect(Self::name(), self.tcp().await)
            .await
            .unwrap();
        let request = b"GET /printer HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n";
        stream.write_all(request).await.unwrap();
        let mut bytes = Vec::new();
        tokio::io::AsyncReadExt::read_to_end(&mut stream, &mut bytes)
            .await
            .unwrap();
        assert!(bytes.starts_with(b"HTTP/1.1 200 "), "{bytes:?}");
        drop(stream);
        self.tally.wait_for_the_end_of(connections + 1).await;
    }
}

#[tokio::test]
async fn hundreds_of_handshakes_broken_off_leave_nothing_behind() {
    let secure = Secure::start().await;
    let hello = secure.hello();
    for number in 0..EACH {
        let mut whole = secure.tcp().await;
        whole.write_all(&hello).await.unwrap();
        drop(whole);
        let mut part = secure.tcp().await;
        let cut = number * hello.len() / EACH;
        part.write_all(&hello[..cut]).await.unwrap();
        drop(part);
        let mut broken = secure.tcp().await;
        let mut bytes = hello.clone();
        bytes[cut] ^= 0x55;
        broken.write_all(&bytes).await.unwrap();
        reset(broken);
        let mut garbage = secure.tcp().await;
        let bytes: Vec<u8> = (0..=255).cycle().skip(number).take(4096).collect();
        // The host may have closed before all of it is written.
        let _ = garbage.write_all(&bytes).await;
    }
    secure.assert_nothing_left_of(4 * EACH).await;
}

#[tokio::test]
async fn connections_that_end_without_close_notify_leave_nothing_behind() {
    let secure = Secure::start().await;
    let connector = TlsConnector::from(Arc::clone(&secure.config));
    for number in 0..EACH {
        let tcp = secure.tcp().await;
        let mut stream = connector.connect(Secure::name(), tcp).await.unwrap();
        stream
            .write_all(b"GET /printer HTTP/1.1\r\nHo")
            .await
            .unwrap();
        stream.flush().await.unwrap();
        let (mut tcp, _) = stream.into_inner();
        match number % 3 {
            0 => drop(tcp),
            1 => reset(tcp),
            // No record at all: RFC 8446 section 5.1.
            _ => tcp.write_all(&[0xff; 64]).await.unwrap(),
        }
    }
    secure.assert_nothing_left_of(EACH).await;
}

#[tokio::test(start_paused = true)]
async fn hundreds_of_silent_handshakes_are_given_up() {
    let secure = Secure::start().await;
    let hello = secure.hello();
    let mut silent = Vec::new();
    for number in 0..2 * EACH {
        let mut stream = secure.tcp().await;
        let cut = number % 2 * hello.len() / 2;
        stream.write_all(&hello[..cut]).await.unwrap();
        silent.push(stream);
    }
    tokio::time::timeout(
        2 * READ_TIMEOUT,
        secure.tally.wait_patiently_for_the_end_of(2 * EACH),
    )
    .await
    .expect("they are given up");
    drop(silent);
}
