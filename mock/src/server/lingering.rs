//! The end of a connection whose client is still sending.

use std::io;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio::time::Sleep;

use crate::fault::OverTcp;

/// Is a stream that, when its sending is shut down, reads for a while what the other side still
/// sends, and throws it away.
///
/// Only where there may be something: a side that was last found to have sent nothing waits.
///
/// # Source
/// RFC 9112 section 9.6.
#[derive(Debug)]
pub(super) struct Lingering<S> {
    stream: S,
    allowed: Duration,
    /// Whether the last read gave bytes, so that more may follow.
    may_have_more: bool,
    state: State,
}

#[derive(Debug)]
enum State {
    Open,
    /// The sending is shut down.
    Reading(Pin<Box<Sleep>>),
    Over,
}

/// How much is thrown away before the other tasks have their turn, in reads of [`READ_BYTES`].
const READS_PER_TURN: usize = 16;

const READ_BYTES: usize = 4096;

impl<S> Lingering<S> {
    pub(super) fn new(stream: S, allowed: Duration) -> Self {
        Self {
            stream,
            allowed,
            may_have_more: false,
            state: State::Open,
        }
    }
}

impl<S: AsyncRead + Unpin> Lingering<S> {
    /// Reads what there is; ready when the other side has ended.
    fn poll_read_away(&mut self, cx: &mut Context<'_>) -> Poll<()> {
        let mut bytes = [0; READ_BYTES];
        for _ in 0..READS_PER_TURN {
            let mut buffer = ReadBuf::new(&mut bytes);
            let read = Pin::new(&mut self.stream).poll_read(cx, &mut buffer);
            if std::task::ready!(read).is_err() || buffer.filled().is_empty() {
                return Poll::Ready(());
            }
        }
        cx.waker().wake_by_ref();
        Poll::Pending
    }
}

impl<S: OverTcp> OverTcp for Lingering<S> {
    fn tcp(&self) -> &TcpStream {
        self.stream.tcp()
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Lingering<S> {
    fn poll_read(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        let before = buffer.filled().len();
        let read = Pin::new(&mut this.stream).poll_read(cx, buffer);
        this.may_have_more = matches!(read, Poll::Ready(Ok(()))) && buffer.filled().len() > before;
        read
    }
}

impl<S: AsyncRead + AsyncWrite + Unpin> AsyncWrite for Lingering<S> {
    fn poll_write(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &[u8],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.get_mut().stream).poll_write(cx, buffer)
    }

    fn poll_flush(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.get_mut().stream).poll_flush(cx)
    }

    fn poll_shutdown(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        if matches!(this.state, State::Open) {
            std::task::ready!(Pin::new(&mut this.stream).poll_shutdown(cx))?;
            this.state = match this.may_have_more {
                true => State::Reading(Box::pin(tokio::time::sleep(this.allowed))),
                false => State::Over,
            };
        }
        if let State::Reading(end) = &mut this.state {
            if end.as_mut().poll(cx).is_pending() {
                std::task::ready!(this.poll_read_away(cx));
            }
            this.state = State::Over;
        }
        Poll::Ready(Ok(()))
    }
}

#[cfg(test)]
mod tests {
    use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
    use tokio::time::Instant;

    use super::*;

    const ALLOWED: Duration = Duration::from_millis(800);

    #[tokio::test(start_paused = true)]
    async fn what_still_comes_is_read_until_the_other_side_ends() {
        let (near, mut far) = tokio::io::duplex(16);
        let mut stream = Lingering::new(near, ALLOWED);
        far.write_all(b"0123456789").await.unwrap();
        stream.read_exact(&mut [0; 4]).await.unwrap();
        let sending = async {
            // Nothing but the lingering reads this.
            far.write_all(&[0; 100_000]).await.unwrap();
            far.shutdown().await.unwrap();
        };
        let begun = Instant::now();
        let (closed, ()) = tokio::join!(stream.shutdown(), sending);
        assert!(closed.is_ok());
        assert_eq!(begun.elapsed(), Duration::ZERO);
    }

    #[tokio::test(start_paused = true)]
    async fn who_never_ends_is_left_in_the_end() {
        let (near, mut far) = tokio::io::duplex(16);
        let mut stream = Lingering::new(near, ALLOWED);
        far.write_all(b"0").await.unwrap();
        stream.read_exact(&mut [0; 1]).await.unwrap();
        let begun = Instant::now();
        stream.shutdown().await.unwrap();
        assert_eq!(begun.elapsed(), ALLOWED);
    }

    #[tokio::test(start_paused = true)]
    async fn who_waits_is_not_waited_for() {
        let (near, _far) = tokio::io::duplex(16);
        let mut stream = Lingering::new(near, ALLOWED);
        let begun = Instant::now();
        let nothing = std::future::poll_fn(|cx| {
            let mut byte = [0; 1];
            let mut buffer = ReadBuf::new(&mut byte);
            Poll::Ready(
                Pin::new(&mut stream)
                    .poll_read(cx, &mut buffer)
                    .is_pending(),
            )
        });
        assert!(nothing.await);
        stream.shutdown().await.unwrap();
        assert_eq!(begun.elapsed(), Duration::ZERO);
    }
}
