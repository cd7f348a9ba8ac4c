//! Bodies as the connection asks for them.

use std::convert::Infallible;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use bytes::Bytes;
use http_body::{Body, Frame, SizeHint};

use crate::fault::StreamControl;

/// The largest chunk of a body whose length is not told, in bytes.
///
/// Chosen: a body of the built-in dialect has two or three, so a client that takes the first chunk
/// for the whole is found out.
const CHUNK_BYTES: usize = 256;

/// Is a whole body whose length is not told.
#[derive(Debug)]
pub(super) struct Chunks(pub(super) Bytes);

impl Body for Chunks {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(
        self: Pin<&mut Self>,
        _cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Infallible>>> {
        Poll::Ready(next(&mut self.get_mut().0, CHUNK_BYTES).map(Ok))
    }
}

/// Takes at most so many bytes off what is left of a body.
fn next(left: &mut Bytes, most: usize) -> Option<Frame<Bytes>> {
    (!left.is_empty()).then(|| Frame::data(left.split_to(left.len().min(most))))
}

/// The largest piece of a body whose length is told, in bytes.
///
/// The connection takes up a further piece only when it has sent enough of those before, so a client
/// that does not read holds one of them and not a copy of the whole body.
pub(super) const PIECE_BYTES: usize = 64 * 1024;

/// Is a whole body whose length is told.
#[derive(Debug)]
pub(super) struct Pieces(pub(super) Bytes);

impl Body for Pieces {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(
        self: Pin<&mut Self>,
        _cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Infallible>>> {
        Poll::Ready(next(&mut self.get_mut().0, PIECE_BYTES).map(Ok))
    }

    fn is_end_stream(&self) -> bool {
        self.0.is_empty()
    }

    fn size_hint(&self) -> SizeHint {
        SizeHint::with_exact(self.0.len() as u64)
    }
}

/// Is a body that tells when it has ended, or was given up.
#[derive(Debug)]
pub(super) struct Tracked<B> {
    body: B,
    control: Arc<StreamControl>,
}

impl<B> Tracked<B> {
    pub(super) fn new(body: B, control: Arc<StreamControl>) -> Self {
        Self { body, control }
    }
}

impl<B: Body + Unpin> Body for Tracked<B> {
    type Data = B::Data;
    type Error = B::Error;

    fn poll_frame(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<B::Data>, B::Error>>> {
        Pin::new(&mut self.get_mut().body).poll_frame(cx)
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

impl<B> Drop for Tracked<B> {
    fn drop(&mut self) {
        self.control.answer_ends();
    }
}
