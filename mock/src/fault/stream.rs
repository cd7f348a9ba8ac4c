//! The stream that carries out the faults of the bytes.

use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::task::{Context, Poll};
use std::time::Duration;

use socket2::SockRef;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;

use super::since::Since;
use super::{FaultBoard, Step};

/// Is what the owner of a connection and its stream tell each other.
///
/// The stream sees only bytes: where a request and an answer begin it is told here.
#[derive(Debug)]
pub struct StreamControl {
    /// Since when the head of a request has been coming in.
    head: Since,
    reading_body: AtomicBool,
    answering: AtomicBool,
    /// Whether the answer under way has no more bytes than those handed to the stream.
    ended: AtomicBool,
    /// Since when no exchange has been under way.
    idle: Since,
    pushing: AtomicBool,
    sent: AtomicU64,
    reset: AtomicBool,
    unanswered: AtomicBool,
}

impl Default for StreamControl {
    fn default() -> Self {
        Self {
            head: Since::never(),
            reading_body: AtomicBool::default(),
            answering: AtomicBool::default(),
            ended: AtomicBool::default(),
            idle: Since::now(),
            pushing: AtomicBool::default(),
            sent: AtomicU64::default(),
            reset: AtomicBool::default(),
            unanswered: AtomicBool::default(),
        }
    }
}

impl StreamControl {
    /// Notes that the head of a request is in: what comes in now is its body, and what goes out is
    /// not its answer yet.
    pub fn request_begins(&self) {
        self.reading_body.store(true, Ordering::Release);
        self.answering.store(false, Ordering::Release);
        self.pushing.store(false, Ordering::Release);
        self.head.end();
        self.idle.end();
    }

    /// Notes that the next byte is the first one of an answer.
    ///
    /// With pipelined requests the last bytes of the answer before may still wait; they count for
    /// this one then.
    pub fn answer_begins(&self, pushing: bool) {
        self.sent.store(0, Ordering::Release);
        self.reading_body.store(false, Ordering::Release);
        self.pushing.store(pushing, Ordering::Release);
        self.ended.store(false, Ordering::Release);
        self.answering.store(true, Ordering::Release);
    }

    /// Notes that the last byte of the answer under way is on its way to the stream: once that is
    /// flushed, the exchange is over.
    pub fn answer_ends(&self) {
        self.ended.store(true, Ordering::Release);
    }

    /// Waits until no exchange has been under way for so long; `None` is for ever.
    pub async fn idle_for(&self, allowed: Option<Duration>) {
        match allowed {
            Some(allowed) => self.idle.lasts(allowed).await,
            None => std::future::pending().await,
        }
    }

    /// Waits until the head of a request has been coming in for so long and is not in yet.
    ///
    /// A connection on which nothing comes in is idle, not slow.
    pub async fn head_overdue(&self, allowed: Duration) {
        self.head.lasts(allowed).await;
    }

    fn bytes_came(&self) {
        if !self.reading_body.load(Ordering::Acquire) && !self.is_pushing() {
            self.head.begin();
            self.idle.end();
        }
    }

    fn all_sent(&self) {
        if self.answering.load(Ordering::Acquire) && self.ended.load(Ordering::Acquire) {
            self.idle.begin();
        }
    }

    /// Tells whether an answer without an end is going on.
    pub fn is_pushing(&self) -> bool {
        self.pushing.load(Ordering::Acquire)
    }

    /// Counts the bytes of the present answer sent so far.
    pub fn sent(&self) -> u64 {
        self.sent.load(Ordering::Acquire)
    }

    /// Lets the connection be reset instead of any byte of an answer: the host is not there.
    pub fn give_no_answer(&self) {
        self.unanswered.store(true, Ordering::Release);
    }

    /// Makes the closing of the connection a reset.
    pub fn reset_on_close(&self) {
        self.reset.store(true, Ordering::Release);
    }

    /// Tells whether the connection is being reset.
    pub fn is_reset(&self) -> bool {
        self.reset.load(Ordering::Acquire)
    }
}

/// Is a stream over one TCP connection, and over nothing else.
pub trait OverTcp {
    /// Gives the connection.
    fn tcp(&self) -> &TcpStream;
}

impl OverTcp for TcpStream {
    fn tcp(&self) -> &TcpStream {
        self
    }
}

/// Is a connection with the faults of its bytes: those that HTTP sees, whatever they are wrapped in
/// below.
#[derive(Debug)]
pub struct FaultyStream<S: OverTcp> {
    stream: S,
    faults: FaultBoard,
    control: Arc<StreamControl>,
}

impl<S: OverTcp> FaultyStream<S> {
    /// Puts a stream under the faults of a board.
    pub fn new(stream: S, faults: FaultBoard, control: Arc<StreamControl>) -> Self {
        Self {
            stream,
            faults,
            control,
        }
    }
}

impl<S: OverTcp> Drop for FaultyStream<S> {
    /// Makes the closing a reset where that was asked for.
    ///
    /// With a linger time of zero the kernel drops what is unsent and sends RST (POSIX `SO_LINGER`;
    /// RFC 9293 section 3.10.5, ABORT). Nothing above TCP says farewell then.
    fn drop(&mut self) {
        if self.control.is_reset() {
            // Fails only for a connection that is gone already, and then there is nothing to reset.
            let _ = SockRef::from(self.stream.tcp()).set_linger(Some(Duration::ZERO));
        }
    }
}

impl<S: OverTcp + AsyncRead + Unpin> AsyncRead for FaultyStream<S> {
    fn poll_read(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        let before = buffer.filled().len();
        std::task::ready!(Pin::new(&mut this.stream).poll_read(cx, buffer))?;
        if buffer.filled().len() > before {
            this.control.bytes_came();
        }
        Poll::Ready(Ok(()))
    }
}

impl<S: OverTcp + AsyncWrite + Unpin> AsyncWrite for FaultyStream<S> {
    fn poll_write(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &[u8],
    ) -> Poll<io::Result<usize>> {
        let this = self.get_mut();
        if buffer.is_empty() || !this.control.answering.load(Ordering::Acquire) {
            return Pin::new(&mut this.stream).poll_write(cx, buffer);
        }
        let step = if this.control.unanswered.load(Ordering::Acquire) {
            Step::Reset
        } else {
            let fault = this.faults.of_bytes();
            Step::next(fault.as_ref(), this.control.sent(), buffer.len())
        };
        match step {
            Step::Send(length) => {
                let written = std::task::ready!(
                    Pin::new(&mut this.stream).poll_write(cx, &buffer[..length])
                )?;
                this.control
                    .sent
                    .fetch_add(written as u64, Ordering::AcqRel);
                Poll::Ready(Ok(written))
            }
            Step::Reset => {
                this.control.reset_on_close();
                Poll::Ready(Err(io::ErrorKind::ConnectionReset.into()))
            }
        }
    }

    fn poll_flush(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        std::task::ready!(Pin::new(&mut this.stream).poll_flush(cx))?;
        this.control.all_sent();
        Poll::Ready(Ok(()))
    }

    fn poll_shutdown(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        if this.control.is_reset() {
            // A FIN, or a farewell of TLS, before the RST would look like an orderly end.
            return Poll::Ready(Ok(()));
        }
        Pin::new(&mut this.stream).poll_shutdown(cx)
    }
}
