//! A connection, encrypted or not.

use std::io;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use socket2::SockRef;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;

/// Is a connection of either side.
#[derive(Debug)]
pub(super) enum Stream {
    Plain(TcpStream),
    Served(Box<tokio_rustls::server::TlsStream<TcpStream>>),
    Asked(Box<tokio_rustls::client::TlsStream<TcpStream>>),
}

impl Stream {
    fn tcp(&self) -> &TcpStream {
        match self {
            Self::Plain(tcp) => tcp,
            Self::Served(tls) => tls.get_ref().0,
            Self::Asked(tls) => tls.get_ref().0,
        }
    }

    /// Lets the end of the connection be a reset.
    pub(super) fn reset(&self) {
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
