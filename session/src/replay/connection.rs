//! One connection of a watcher.

use std::sync::Arc;
use std::time::Duration;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use bytes::{Bytes, BytesMut};
use coldbed_mock::sim::VirtualTime;
use sha1::{Digest as _, Sha1};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use super::options::Matching;
use super::play::{Ends, Play};
use super::server::Shared;
use crate::format::Spoken;
use crate::http::content::ContentReader;
use crate::http::head::{self, RequestHead};
use crate::model::Exchange;
use crate::stream::Stream;

/// Serves a connection to its end. One on which TLS is not agreed on is none.
pub(super) async fn serve(shared: Arc<Shared>, number: u64, tcp: TcpStream) {
    let stop = shared.stop.clone();
    let accepted = tokio::select! {
        biased;
        () = stop.cancelled() => return,
        accepted = Stream::of_watcher(tcp, shared.options.tls.as_ref()) => accepted,
    };
    let Ok(stream) = accepted else { return };
    let observer = shared.options.observer.clone();
    if let Some(observer) = &observer {
        observer.connected(number);
    }
    let mut connection = Connection {
        shared,
        number,
        stream,
        asked: BytesMut::new(),
    };
    tokio::select! {
        biased;
        () = stop.cancelled() => {}
        _over = connection.talk() => {}
    }
    if let Some(observer) = &observer {
        observer.disconnected(number);
    }
}

struct Connection {
    shared: Arc<Shared>,
    number: u64,
    stream: Stream,
    asked: BytesMut,
}

/// Says that the connection is over.
struct Over;

impl Connection {
    async fn talk(&mut self) -> Result<(), Over> {
        loop {
            let head = self.request().await?;
            let (number, found) = self.shared.answer_to(&head.method, &head.target);
            let session = Arc::clone(&self.shared.session);
            let recorded = found.map(|index| &session.exchanges[index]);
            if let Some(observer) = &self.shared.options.observer {
                observer.asked(self.number, number, &head.method, &head.target, recorded);
            }
            match recorded {
                Some(exchange) => self.play(number, &head, exchange).await?,
                None => self.give(&unknown(&head, &self.shared)).await?,
            }
            // Whoever wants it closed gets it closed, whatever the recorded client wanted (RFC 9112 s9.6).
            let is_old = head.version == Spoken::Http10
                && !head::has_word(&head.fields, "connection", "keep-alive");
            if is_old || head::has_word(&head.fields, "connection", "close") {
                let _ = self.stream.shutdown().await;
                return Err(Over);
            }
        }
    }

    /// Reads the next request; its content says nothing here.
    async fn request(&mut self) -> Result<RequestHead, Over> {
        let head = loop {
            match head::request(&self.asked) {
                Ok(Some((head, length))) => {
                    let _head = self.asked.split_to(length);
                    break head;
                }
                Ok(None) => self.more().await?,
                Err(_not_http) => return Err(Over),
            }
        };
        let (framing, length) = head.framing().map_err(|_| Over)?;
        if head::has_word(&head.fields, "expect", "100-continue") {
            self.give(b"HTTP/1.1 100 Continue\r\n\r\n").await?;
        }
        let mut reader = ContentReader::new(framing, length, 0);
        loop {
            let taken = reader.take(&self.asked).map_err(|_| Over)?;
            let _content = self.asked.split_to(taken);
            if reader.is_done() {
                return Ok(head);
            }
            self.more().await?;
        }
    }

    async fn more(&mut self) -> Result<(), Over> {
        match self.stream.read_buf(&mut self.asked).await {
            Ok(count) if count > 0 => Ok(()),
            _ => Err(Over),
        }
    }

    async fn play(
        &mut self,
        number: u64,
        head: &RequestHead,
        exchange: &Exchange,
    ) -> Result<(), Over> {
        let now = self.shared.now();
        let joined = match (self.shared.options.matching, exchange.answer()) {
            // Who connects later gets what was pushed from then on.
            (Matching::ByTime, Some(answer)) if answer.body().is_none() => {
                now.saturating_sub(exchange.request.at)
            }
            _ => Duration::ZERO,
        };
        let own = self
            .shared
            .session
            .upstream
            .as_deref()
            .map(|upstream| (upstream, &self.shared.origin[..]));
        let mut play = Play::of(exchange, joined, own);
        if head.method == "HEAD" && exchange.request.method != "HEAD" {
            without_content(&mut play, exchange);
        }
        accept_websocket(&mut play, head, exchange);
        let began = now;
        for (index, (after, bytes)) in play.pieces.iter().enumerate() {
            self.reaches(began + *after).await?;
            self.give(bytes).await?;
            if let (true, Some(observer)) =
                (play.is_stream && index > 0, &self.shared.options.observer)
            {
                observer.pushed(number, exchange, bytes);
            }
        }
        let (after, ends) = play.ends;
        if ends != Ends::Whole {
            self.reaches(began + after).await?;
        }
        if let Some(observer) = &self.shared.options.observer {
            let end = exchange
                .outcome
                .as_ref()
                .and_then(crate::model::Outcome::end);
            observer.answered(number, exchange, end);
        }
        match ends {
            Ends::Whole => Ok(()),
            Ends::Closed => {
                let _ = self.stream.shutdown().await;
                Err(Over)
            }
            Ends::Reset => {
                // What was sent has to be read before it is thrown away by the reset.
                tokio::time::sleep(READ_BEFORE_RESET).await;
                self.stream.reset();
                Err(Over)
            }
            Ends::Silent => loop {
                self.more().await?;
                self.asked.clear();
            },
        }
    }

    /// Waits for a moment of the session. A watcher that leaves meanwhile ends it; what it says is kept.
    async fn reaches(&mut self, moment: Duration) -> Result<(), Over> {
        let clock = self.shared.options.clock.clone();
        let moment = VirtualTime::new(moment);
        if clock.now() >= moment {
            return Ok(());
        }
        let mut reaching = std::pin::pin!(clock.reaches(moment));
        loop {
            tokio::select! {
                biased;
                () = &mut reaching => return Ok(()),
                more = self.stream.read_buf(&mut self.asked) => match more {
                    Ok(count) if count > 0 => {}
                    _ => return Err(Over),
                },
            }
        }
    }

    async fn give(&mut self, bytes: &[u8]) -> Result<(), Over> {
        self.stream.write_all(bytes).await.map_err(|_| Over)?;
        // TLS keeps what the socket did not take.
        self.stream.flush().await.map_err(|_| Over)
    }
}

/// How long a watcher has to read what came before a reset (own choice: loopback and a home network
/// take milliseconds).
const READ_BEFORE_RESET: Duration = Duration::from_millis(20);

/// Leaves of an answer to GET what HEAD gets (RFC 9110 section 9.3.2).
fn without_content(play: &mut Play, exchange: &Exchange) {
    if let Some(answer) = exchange.answer() {
        let after = play
            .pieces
            .first()
            .map_or(Duration::ZERO, |(after, _)| *after);
        play.pieces = vec![(after, answer.head_bytes())];
        if play.ends.1 != Ends::Closed {
            play.ends.1 = Ends::Whole;
        }
    }
}

/// Answers the key of this handshake, not that of the recorded one (RFC 6455 section 4.2.2).
fn accept_websocket(play: &mut Play, head: &RequestHead, exchange: &Exchange) {
    const GUID: &str = "258EAFA5-E914-47DA-95CA-C5AB0DC85B11";
    let (Some(key), Some(answer)) = (
        head::field(&head.fields, "sec-websocket-key"),
        exchange.answer(),
    ) else {
        return;
    };
    if answer.status != 101 {
        return;
    }
    let accept = STANDARD.encode(Sha1::digest(format!("{key}{GUID}")));
    let mut answer = answer.clone();
    for (name, value) in &mut answer.fields {
        if name.eq_ignore_ascii_case("sec-websocket-accept") {
            value.clone_from(&accept);
        }
    }
    if let Some((_, first)) = play.pieces.first_mut() {
        *first = answer.head_bytes();
    }
}

/// Gives the answer to what the session never asked for (RFC 9457).
fn unknown(head: &RequestHead, shared: &Shared) -> Bytes {
    const SHOWN: usize = 12;
    let known: Vec<String> = shared.routes.known().into_iter().collect();
    let mut list = known[..known.len().min(SHOWN)].join(", ");
    if known.len() > SHOWN {
        list.push_str(&format!(" and {} more", known.len() - SHOWN));
    }
    let path = head.target.split(['?', '#']).next().unwrap_or_default();
    let body = serde_json::json!({
        "type": "about:blank",
        "title": "Not Found",
        "status": 404,
        "detail": format!("the session has no answer to {} {path} [it has: {list}]", head.method),
    })
    .to_string();
    let content = if head.method == "HEAD" { "" } else { &body };
    Bytes::from(format!(
        "HTTP/1.1 404 Not Found\r\nContent-Type: application/problem+json\r\nContent-Length: {}\r\n\r\n{content}",
        body.len()
    ))
}
