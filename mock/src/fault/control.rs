//! What the owner of a connection and its stream tell each other.

use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::answer_bytes::AnswerBytes;
use super::script::{Ending, Script};
use super::since::Since;

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
    /// Whether bytes of an answer are going out.
    sending: AtomicBool,
    /// Whether the next head has begun to come in meanwhile.
    head_waits: AtomicBool,
    /// Since when no exchange has been under way.
    idle: Since,
    pushing: AtomicBool,
    sent: AtomicU64,
    /// How much of the body is out, plus one; 0 before the head is out or where nobody looks.
    body_sent: AtomicU64,
    reset: AtomicBool,
    stalled: AtomicBool,
    without_notify: AtomicBool,
    news: AtomicBool,
    scripts: Mutex<Scripts>,
}

#[derive(Debug, Default)]
struct Scripts {
    /// Those of the answers that are to come.
    coming: VecDeque<AnswerBytes>,
    /// What has changed for the one under way.
    changed: Option<Script>,
}

/// Is what is outstanding for the stream.
pub(super) enum News {
    /// An answer begins.
    Begins(AnswerBytes),
    /// The one under way has another script.
    Changed(Script),
}

impl Default for StreamControl {
    fn default() -> Self {
        Self {
            head: Since::never(),
            reading_body: AtomicBool::default(),
            answering: AtomicBool::default(),
            ended: AtomicBool::default(),
            sending: AtomicBool::default(),
            head_waits: AtomicBool::default(),
            idle: Since::now(),
            pushing: AtomicBool::default(),
            sent: AtomicU64::default(),
            body_sent: AtomicU64::default(),
            reset: AtomicBool::default(),
            stalled: AtomicBool::default(),
            without_notify: AtomicBool::default(),
            news: AtomicBool::default(),
            scripts: Mutex::default(),
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
        self.sending.store(false, Ordering::Release);
        self.head_waits.store(false, Ordering::Release);
        self.head.end();
        self.idle.end();
    }

    /// Notes that the next byte is the first one of an answer, and what is to happen to its bytes;
    /// `None` for nothing.
    ///
    /// With pipelined requests the last bytes of the answer before may still wait; they count for
    /// this one then, unless that one had a script too.
    pub fn answer_begins(&self, pushing: bool, bytes: Option<AnswerBytes>) {
        self.sent.store(0, Ordering::Release);
        self.body_sent.store(0, Ordering::Release);
        self.reading_body.store(false, Ordering::Release);
        self.pushing.store(pushing, Ordering::Release);
        self.ended.store(false, Ordering::Release);
        if let Some(bytes) = bytes {
            self.scripts().coming.push_back(bytes);
            self.news.store(true, Ordering::Release);
        }
        self.answering.store(true, Ordering::Release);
        self.sending.store(true, Ordering::Release);
    }

    /// Changes what happens to the bytes of the answer under way, which was begun with a script.
    pub fn answer_changes(&self, script: Script) {
        self.scripts().changed = Some(script);
        self.news.store(true, Ordering::Release);
    }

    /// Tells how the answer under way ends at once under a script although nothing of it waits.
    pub fn ends_now(&self, script: &Script) -> Option<Ending> {
        let body_sent = self.body_sent.load(Ordering::Acquire).checked_sub(1);
        script.ends_now(self.sent(), body_sent)
    }

    /// Notes that the last byte of the answer under way is on its way to the stream: once that is
    /// flushed, the exchange is over.
    pub fn answer_ends(&self) {
        self.ended.store(true, Ordering::Release);
    }

    /// Tells whether an exchange is under way, or a push goes on.
    pub fn is_busy(&self) -> bool {
        self.is_pushing() || !self.idle.is_so()
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

    /// Tells whether an answer without an end is going on.
    pub fn is_pushing(&self) -> bool {
        self.pushing.load(Ordering::Acquire)
    }

    /// Counts the bytes of the present answer sent so far.
    pub fn sent(&self) -> u64 {
        self.sent.load(Ordering::Acquire)
    }

    /// Makes the closing of the connection a reset.
    pub fn reset_on_close(&self) {
        self.reset.store(true, Ordering::Release);
    }

    /// Tells whether the connection is being reset.
    pub fn is_reset(&self) -> bool {
        self.reset.load(Ordering::Acquire)
    }

    /// Tells whether nothing more will ever be sent, although the connection stays open.
    pub fn is_stalled(&self) -> bool {
        self.stalled.load(Ordering::Acquire)
    }

    pub(super) fn stalls(&self) {
        self.stalled.store(true, Ordering::Release);
    }

    /// Lets TLS end without its farewell.
    pub fn close_without_notify(&self) {
        self.without_notify.store(true, Ordering::Release);
    }

    /// Tells whether TLS ends without its farewell.
    pub fn closes_without_notify(&self) -> bool {
        self.without_notify.load(Ordering::Acquire)
    }

    pub(super) fn bytes_came(&self) {
        if self.sending.load(Ordering::Acquire) {
            // Nobody reads on in a head before the answer is out, which may take the client long.
            self.head_waits.store(true, Ordering::Release);
            return;
        }
        if !self.reading_body.load(Ordering::Acquire) && !self.is_pushing() {
            self.head.begin();
            self.idle.end();
        }
    }

    pub(super) fn all_sent(&self) {
        if self.is_answering() && self.ended.load(Ordering::Acquire) {
            self.sending.store(false, Ordering::Release);
            if self.head_waits.swap(false, Ordering::AcqRel) {
                self.head.begin();
            } else {
                self.idle.begin();
            }
        }
    }

    pub(super) fn is_answering(&self) -> bool {
        self.answering.load(Ordering::Acquire)
    }

    pub(super) fn count_sent(&self, bytes: usize) {
        self.sent.fetch_add(bytes as u64, Ordering::AcqRel);
    }

    /// Notes how much of the body of an answer with a script is out or about to be.
    pub(super) fn note_body(&self, body_sent: Option<u64>) {
        let body_sent = body_sent.map_or(0, |sent| sent + 1);
        self.body_sent.store(body_sent, Ordering::Release);
    }

    /// Takes what has changed. A new answer's bytes are given only where the one before is done, and
    /// what has changed since it began only after them.
    pub(super) fn news(&self, is_free: bool) -> Option<News> {
        if !self.news.load(Ordering::Acquire) {
            return None;
        }
        let mut scripts = self.scripts();
        let news = match scripts.coming.pop_front() {
            Some(bytes) if is_free => Some(News::Begins(bytes)),
            Some(bytes) => {
                scripts.coming.push_front(bytes);
                None
            }
            None => scripts.changed.take().map(News::Changed),
        };
        let is_empty = scripts.coming.is_empty() && scripts.changed.is_none();
        self.news.store(!is_empty, Ordering::Release);
        news
    }

    fn scripts(&self) -> MutexGuard<'_, Scripts> {
        // Nothing is left half changed.
        self.scripts.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
