//! A connection of a watcher or to a host, encrypted or not.

use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;
use std::{fmt, io};

use socket2::SockRef;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio_rustls::TlsAcceptor;

/// Speaks TLS with the watcher.
#[derive(Clone)]
pub struct Tls(pub TlsAcceptor);

impl fmt::Debug for Tls {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Tls")
    }
}

/// Is a connection of either side.
#[derive(Debug)]
pub(crate) enum Stream {
    Plain(TcpStream),
    Served(Box<tokio_rustls::server::TlsStream<TcpStream>>),
    Asked(Box<tokio_rustls::client::TlsStream<TcpStream>>),
}

impl Stream {
    /// Takes a connection of a watcher. With TLS this is over once the two have come to terms on it.
    pub(crate) async fn of_watcher(tcp: TcpStream, tls: Option<&Tls>) -> io::Result<Self> {
        // Small answers must not wait for an acknowledgement.
        let _ = tcp.set_nodelay(true);
        match tls {
            None => Ok(Self::Plain(tcp)),
            Some(tls) => Ok(Self::Served(Box::new(tls.0.accept(tcp).await?))),
        }
    }

    fn tcp(&self) -> &TcpStream {
        match self {
            Self::Plain(tcp) => tcp,
            Self::Served(tls) => tls.get_ref().0,
            Self::Asked(tls) => tls.get_ref().0,
        }
    }

    /// Lets the end of the connection be a reset.
    pub(crate) fn reset(&self) {
        // Fails only for a connection that is gone already.
        let _ = SockRef::from(self.tcp()).set_linger(Some(Duration::ZERO));
    }
}

impl AsyncRead for Stream {
    fn poll_read(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        match self.get_mut() {
            Self::Plain(stream) => Pin::new(stream).poll_read(context, buffer),
            Self::Served(stream) => Pin::new(stream).poll_read(context, buffer),
            Self::Asked(stream) => Pin::new(stream).poll_read(context, buffer),
        }
    }
}

impl AsyncWrite for Stream {
    fn poll_write(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        match self.get_mut() {
            Self::Plain(stream) => Pin::new(stream).poll_write(context, bytes),
            Self::Served(stream) => Pin::new(stream).poll_write(context, bytes),
            Self::Asked(stream) => Pin::new(stream).poll_write(context, bytes),
        }
    }

    fn poll_flush(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        match self.get_mut() {
            Self::Plain(stream) => Pin::new(stream).poll_flush(context),
            Self::Served(stream) => Pin::new(stream).poll_flush(context),
            Self::Asked(stream) => Pin::new(stream).poll_flush(context),
        }
    }

    fn poll_shutdown(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        match self.get_mut() {
            Self::Plain(stream) => Pin::new(stream).poll_shutdown(context),
            Self::Served(stream) => Pin::new(stream).poll_shutdown(context),
            Self::Asked(stream) => Pin::new(stream).poll_shutdown(context),
        }
    }
}
