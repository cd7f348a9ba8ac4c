//! A TCP connection with two owners.

use std::io::{self, Read as _};
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll, ready};

use tokio::io::{AsyncRead, AsyncWrite, Interest, ReadBuf};
use tokio::net::TcpStream;

/// Is a TCP connection that somebody else holds too: HTTP reads and writes it, and who sees to the
/// network can act on the socket meanwhile. It is closed when the last of them lets go.
#[derive(Debug, Clone)]
pub struct SharedTcp(pub Arc<TcpStream>);

impl AsyncRead for SharedTcp {
    fn poll_read(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        loop {
            ready!(self.0.poll_read_ready(cx))?;
            match read_once(
                &self.0,
                buffer.initialize_unfilled_to(READ_BYTES.min(buffer.remaining())),
            ) {
                Ok(count) => {
                    buffer.advance(count);
                    return Poll::Ready(Ok(()));
                }
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => {}
                Err(error) => return Poll::Ready(Err(error)),
            }
        }
    }
}

/// How many bytes are read at once. What is not read yet has to be zeroed first, so not too many.
const READ_BYTES: usize = 8 * 1024;

/// Reads what there is.
///
/// A read that does not fill its room has emptied the socket, so the next one waits for news instead of
/// asking the system in vain. That has to be noted together with the read, lest news that comes in
/// between is lost; the runtime does the same where it owns the socket.
fn read_once(tcp: &TcpStream, room: &mut [u8]) -> io::Result<usize> {
    let mut emptied = None;
    let read = tcp.try_io(Interest::READABLE, || {
        let socket = socket2::SockRef::from(tcp);
        let count = (&*socket).read(room)?;
        if count > 0 && count < room.len() {
            emptied = Some(count);
            return Err(io::ErrorKind::WouldBlock.into());
        }
        Ok(count)
    });
    emptied.map_or(read, Ok)
}

impl AsyncWrite for SharedTcp {
    fn poll_write(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        loop {
            ready!(self.0.poll_write_ready(cx))?;
            match self.0.try_write(bytes) {
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => {}
                done => return Poll::Ready(done),
            }
        }
    }

    fn poll_write_vectored(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        pieces: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        loop {
            ready!(self.0.poll_write_ready(cx))?;
            match self.0.try_write_vectored(pieces) {
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => {}
                done => return Poll::Ready(done),
            }
        }
    }

    fn is_write_vectored(&self) -> bool {
        true
    }

    fn poll_flush(self: Pin<&mut Self>, _cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Poll::Ready(Ok(()))
    }

    fn poll_shutdown(self: Pin<&mut Self>, _cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Poll::Ready(end_of_sending(&self.0))
    }
}

/// Sends FIN.
pub(super) fn end_of_sending(stream: &TcpStream) -> io::Result<()> {
    match socket2::SockRef::from(stream).shutdown(std::net::Shutdown::Write) {
        // The client has gone already.
        Err(error) if error.kind() == io::ErrorKind::NotConnected => Ok(()),
        done => done,
    }
}
