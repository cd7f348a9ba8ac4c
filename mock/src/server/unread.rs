//! Clients that do not read what they are sent.

use std::io;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio::time::Sleep;

use crate::fault::OverTcp;

/// Is a stream that gives its client up when that takes no byte for so long.
///
/// It stands below the faults: bytes that a fault holds back are not the client's delay.
#[derive(Debug)]
pub(super) struct GivesUpUnread<S> {
    stream: S,
    allowed: Duration,
    /// Runs while the stream takes nothing.
    waiting: Option<Pin<Box<Sleep>>>,
}

impl<S> GivesUpUnread<S> {
    pub(super) fn new(stream: S, allowed: Duration) -> Self {
        Self {
            stream,
            allowed,
            waiting: None,
        }
    }

    /// Passes on what the stream says, and an error once it has had nothing to say for too long.
    fn watched<T>(
        &mut self,
        cx: &mut Context<'_>,
        said: Poll<io::Result<T>>,
    ) -> Poll<io::Result<T>> {
        if said.is_ready() {
            self.waiting = None;
            return said;
        }
        let allowed = self.allowed;
        let waiting = self
            .waiting
            .get_or_insert_with(|| Box::pin(tokio::time::sleep(allowed)));
        std::task::ready!(waiting.as_mut().poll(cx));
        Poll::Ready(Err(io::ErrorKind::TimedOut.into()))
    }
}

impl<S: OverTcp> OverTcp for GivesUpUnread<S> {
    fn tcp(&self) -> &TcpStream {
        self.stream.tcp()
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for GivesUpUnread<S> {
    fn poll_read(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.get_mut().stream).poll_read(cx, buffer)
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for GivesUpUnread<S> {
    fn poll_write(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &[u8],
    ) -> Poll<io::Result<usize>> {
        let this = self.get_mut();
        let said = Pin::new(&mut this.stream).poll_write(cx, buffer);
        this.watched(cx, said)
    }

    fn poll_flush(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        let said = Pin::new(&mut this.stream).poll_flush(cx);
        this.watched(cx, said)
    }

    fn poll_shutdown(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        let said = Pin::new(&mut this.stream).poll_shutdown(cx);
        this.watched(cx, said)
    }
}

#[cfg(test)]
mod tests {
    use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
    use tokio::time::Instant;

    use super::*;

    const ALLOWED: Duration = Duration::from_secs(300);

    #[tokio::test(start_paused = true)]
    async fn who_takes_no_byte_is_given_up_at_its_moment() {
        let (near, _far) = tokio::io::duplex(8);
        let mut stream = GivesUpUnread::new(near, ALLOWED);
        let begun = Instant::now();
        let end = stream.write_all(&[0; 9]).await;
        assert_eq!(end.unwrap_err().kind(), io::ErrorKind::TimedOut);
        assert_eq!(begun.elapsed(), ALLOWED);
    }

    #[tokio::test(start_paused = true)]
    async fn each_byte_that_is_taken_begins_the_time_anew() {
        let (near, mut far) = tokio::io::duplex(1);
        let mut stream = GivesUpUnread::new(near, ALLOWED);
        let reading = async {
            let mut taken = 0;
            for _ in 0..5 {
                tokio::time::sleep(ALLOWED - Duration::from_secs(1)).await;
                taken += far.read(&mut [0; 1]).await.unwrap();
            }
            taken
        };
        let (written, taken) = tokio::join!(stream.write_all(&[0; 5]), reading);
        assert!(written.is_ok() && taken == 5, "{written:?} {taken}");
    }
}
