//! A WebSocket from its opening to its close.
//!
//! # Source
//! RFC 6455.

use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use bytes::Bytes;
use futures_util::stream::{SplitSink, SplitStream};
use futures_util::{SinkExt as _, StreamExt as _};
use hyper::upgrade::{OnUpgrade, Upgraded};
use hyper_util::rt::TokioIo;
use tokio::io::AsyncWriteExt as _;
use tokio::sync::watch;
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::protocol::frame::CloseFrame;
use tokio_tungstenite::tungstenite::protocol::frame::coding::CloseCode;
use tokio_tungstenite::tungstenite::protocol::{Role, WebSocketConfig};
use tokio_tungstenite::tungstenite::{Error, Message as Wire, Utf8Bytes};
use tokio_util::sync::CancellationToken;

use super::Place;
use super::feed::Look;
use super::follower::Follower;
use super::grid;
use super::pong_filter::PongFilter;
use crate::dialect::{PingPlan, PushPlan, WebSocketPlan};
use crate::fault::Ending;
use crate::server::limits::{CLOSE_TIMEOUT, MAX_BODY_BYTES};
use crate::server::{FrameKind, WireEvent};

type Stream = PongFilter<TokioIo<Upgraded>, Box<dyn Fn() -> bool + Send>>;
type Socket = WebSocketStream<Stream>;
type Sender = SplitSink<Socket, Wire>;
type Receiver = SplitStream<Socket>;

/// Holds the session that a connection goes on with once its HTTP is over.
#[derive(Clone, Default)]
pub(in crate::server) struct SessionSlot(Arc<Mutex<Option<Session>>>);

impl SessionSlot {
    pub(super) fn put(&self, session: Session) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(session);
    }

    /// Takes the session out, if there is one.
    pub(in crate::server) fn take(&self) -> Option<Session> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).take()
    }
}

impl fmt::Debug for SessionSlot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("SessionSlot")
    }
}

/// Is a WebSocket whose opening has been accepted.
pub(in crate::server) struct Session {
    place: Place,
    plan: PushPlan,
    form: WebSocketPlan,
    upgrade: OnUpgrade,
}

/// Says how a session ends.
#[derive(Debug)]
enum End {
    /// With a close frame of the host's.
    Close(CloseCode, &'static str),
    /// With a close frame that a fault asks for, which has this code or nothing in it.
    Fault(Option<u16>),
    /// With the client's close frame, answered.
    Closed,
    /// The client has left without a word, or nothing can be sent to it.
    Left,
    /// With a reset: a fault, or the host has gone.
    Reset,
    /// At once.
    Cut,
}

/// What the two halves tell each other of the pings: the number of the last one sent, and of the
/// last one answered.
struct Pings {
    sent: watch::Sender<u64>,
    answered: watch::Sender<u64>,
}

impl Session {
    pub(super) fn new(
        place: Place,
        plan: PushPlan,
        form: WebSocketPlan,
        upgrade: OnUpgrade,
    ) -> Self {
        Self {
            place,
            plan,
            form,
            upgrade,
        }
    }

    /// Serves the WebSocket until either side ends it. `cut` closes the connection at once.
    pub(in crate::server) async fn run(self, cut: &CancellationToken) {
        let Self {
            place,
            plan,
            form,
            upgrade,
        } = self;
        // Fails only if the connection was lost before the answer was out.
        let Ok(stream) = upgrade.await else {
            return;
        };
        // The library's buffers are for large messages and taken at once: 256 KiB for each client.
        let config = WebSocketConfig::default()
            .read_buffer_size(4 * 1024)
            .write_buffer_size(4 * 1024)
            .max_message_size(Some(MAX_BODY_BYTES))
            .max_frame_size(Some(MAX_BODY_BYTES));
        let place = Arc::new(place);
        let without_pongs: Box<dyn Fn() -> bool + Send> = Box::new({
            let place = Arc::clone(&place);
            move || {
                let faults = place.faults();
                faults.silent || faults.no_pong
            }
        });
        let stream = PongFilter::new(TokioIo::new(stream), without_pongs);
        let socket = WebSocketStream::from_raw_socket(stream, Role::Server, Some(config)).await;
        let (mut sender, mut receiver) = socket.split();
        let pings = Pings {
            sent: watch::Sender::new(0),
            answered: watch::Sender::new(0),
        };
        let end = tokio::select! {
            biased;
            () = cut.cancelled() => End::Cut,
            end = interrupted(&place) => end,
            () = place.shared.stop.cancelled() => {
                End::Close(CloseCode::Away, "the host stops")
            }
            end = receive(&place, &mut receiver, &pings) => end,
            end = send(&place, &plan, form.pings, &mut sender, &pings) => end,
            end = silence(&place, form.pings, &pings) => end,
        };
        part(&place, end, sender, receiver, cut).await;
    }
}

/// Ends a session the way it is to end.
async fn part(
    place: &Place,
    end: End,
    sender: Sender,
    receiver: Receiver,
    cut: &CancellationToken,
) {
    let frame = match end {
        End::Reset => return place.connection.control.reset_on_close(),
        // Nothing more would go out.
        _ if place.connection.control.is_stalled() => return,
        End::Close(code, reason) => Some(CloseFrame {
            code,
            reason: Utf8Bytes::from_static(reason),
        }),
        End::Fault(code) => code.map(|code| CloseFrame {
            code: code.into(),
            reason: Utf8Bytes::default(),
        }),
        End::Closed => {
            // The answer is out; the host closes the connection first (section 7.1.1).
            let _ = tokio::time::timeout(CLOSE_TIMEOUT, shut(sender, receiver)).await;
            return;
        }
        End::Left | End::Cut => return,
    };
    let closing = close(place, sender, receiver, frame);
    tokio::select! {
        () = cut.cancelled() => {}
        _ = tokio::time::timeout(CLOSE_TIMEOUT, closing) => {}
    }
}

/// Waits for a fault that ends the WebSocket although nothing is on the way.
async fn interrupted(place: &Place) -> End {
    let mut changes = place.shared.faults.changes();
    loop {
        match place.connection.meet(&place.shared) {
            Some(Ending::Reset) => return End::Reset,
            Some(Ending::Close) => return End::Cut,
            Some(Ending::Stall) | None => {}
        }
        if let Some(code) = place.faults().closed {
            return End::Fault(code);
        }
        if place.refusal().is_some() {
            return KEY_REVOKED;
        }
        // The sender lives in the board that `shared` holds.
        let _ = changes.changed().await;
    }
}

/// RFC 6455 section 7.4.1: 1008 is for a message against the host's policy, and for whatever has no
/// better code.
const KEY_REVOKED: End = End::Close(CloseCode::Policy, "the key is no longer good");

/// Reads what the client sends. Text is told to the observer and otherwise ignored; pings are
/// answered by the library.
async fn receive(place: &Place, receiver: &mut Receiver, pings: &Pings) -> End {
    while let Some(message) = receiver.next().await {
        match message {
            Ok(Wire::Text(text)) => heard(place, FrameKind::Text, text.into()),
            Ok(Wire::Ping(bytes)) => heard(place, FrameKind::Ping, bytes),
            Ok(Wire::Pong(bytes)) => {
                if let Ok(number) = <[u8; 8]>::try_from(&bytes[..]) {
                    let number = u64::from_be_bytes(number);
                    // One that was not asked for is allowed and says nothing (section 5.5.3).
                    if number <= *pings.sent.borrow() {
                        pings.answered.send_if_modified(|last| {
                            let is_news = number > *last;
                            *last = number.max(*last);
                            is_news
                        });
                    }
                }
                heard(place, FrameKind::Pong, bytes);
            }
            Ok(Wire::Binary(bytes)) => {
                heard(place, FrameKind::Binary, bytes);
                return End::Close(CloseCode::Unsupported, "only text is understood");
            }
            // The library answers with the same code; it goes out before the end of the stream.
            Ok(Wire::Close(frame)) => {
                let bytes = frame.map_or_else(Bytes::new, |frame| close_bytes(&frame));
                heard(place, FrameKind::Close, bytes.clone());
                said(place, FrameKind::Close, bytes);
            }
            // Made by the library for sending only.
            Ok(Wire::Frame(_)) => {}
            Err(Error::ConnectionClosed | Error::AlreadyClosed) => return End::Closed,
            Err(error) => return wrong(&error),
        }
    }
    End::Closed
}

/// Says how to end after something that was no good frame.
///
/// # Source
/// RFC 6455 section 7.4.1.
fn wrong(error: &Error) -> End {
    use tokio_tungstenite::tungstenite::error::ProtocolError::ResetWithoutClosingHandshake;
    match error {
        Error::Utf8(_) => End::Close(CloseCode::Invalid, "the text is not UTF-8"),
        Error::Capacity(_) => End::Close(CloseCode::Size, "the message is too big"),
        Error::Protocol(ResetWithoutClosingHandshake) => End::Left,
        Error::Protocol(_) => End::Close(CloseCode::Protocol, "this is against RFC 6455"),
        _ => End::Left,
    }
}

/// Sends messages and pings.
async fn send(
    place: &Place,
    plan: &PushPlan,
    ping: Option<PingPlan>,
    sender: &mut Sender,
    pings: &Pings,
) -> End {
    let mut looks = grid::looks(place.shared.printer().epoch(), plan.period);
    let mut follower = Follower::new(plan);
    let mut ask = std::pin::pin!(tokio::time::sleep(ping.map_or(NEVER, |ping| ping.every)));
    // A client that does not read keeps a ping from going out, and so from being missed.
    let patience = ping.map_or(NEVER, |ping| ping.every + ping.pong_within);
    let mut look_now = true;
    let mut changes = place.shared.faults.changes();
    loop {
        if place.faults().silent {
            if let Err(end) = look_silently(place, &mut follower) {
                return end;
            }
            tokio::select! {
                // The sender lives in the board that `shared` holds.
                _ = changes.changed() => {}
                _ = looks.tick() => {}
            }
            look_now = true;
            continue;
        }
        if std::mem::take(&mut look_now) {
            let (message, times) = match next(place, &mut follower) {
                Ok(Some(next)) => next,
                Ok(None) => continue,
                Err(end) => return end,
            };
            for _ in 0..times {
                if let Err(end) = put(place, sender, message.clone(), patience).await {
                    return end;
                }
            }
            continue;
        }
        tokio::select! {
            biased;
            () = ask.as_mut() => {
                let every = ping.map_or(NEVER, |ping| ping.every);
                ask.as_mut().reset(tokio::time::Instant::now() + every);
                if place.faults().silent {
                    continue;
                }
                let number = *pings.sent.borrow() + 1;
                pings.sent.send_replace(number);
                let bytes = Bytes::copy_from_slice(&number.to_be_bytes());
                said(place, FrameKind::Ping, bytes.clone());
                if let Err(end) = put(place, sender, Wire::Ping(bytes), patience).await {
                    return end;
                }
            }
            _ = looks.tick() => look_now = true,
        }
    }
}

/// Puts a message out. A client that takes longer than `patience` to let it pass is given up, unless
/// a fault holds it up.
async fn put(
    place: &Place,
    sender: &mut Sender,
    message: Wire,
    patience: Duration,
) -> Result<(), End> {
    let mut sending = std::pin::pin!(sender.send(message));
    loop {
        match tokio::time::timeout(patience, sending.as_mut()).await {
            Ok(sent) => return sent.map_err(|_lost| End::Left),
            Err(_elapsed) if place.connection.is_held_up() => {}
            Err(_elapsed) => return Err(End::Left),
        }
    }
}

/// Looks as ever and sends nothing. The state is noted for those who ask elsewhere.
fn look_silently(place: &Place, follower: &mut Follower) -> Result<(), End> {
    if place.refusal().is_some() {
        return Err(KEY_REVOKED);
    }
    match place.look() {
        Look::State { truth, .. } if !follower.has_lost(&truth) => Ok(()),
        Look::Nothing { .. } => Ok(()),
        Look::State { .. } | Look::Away => Err(End::Reset),
    }
}

/// A span that does not end while anybody waits: a year, which every timer can hold.
const NEVER: Duration = Duration::from_secs(365 * 24 * 3600);

/// Gives what to send after a look and how often, if there is something.
fn next(place: &Place, follower: &mut Follower) -> Result<Option<(Wire, usize)>, End> {
    if place.refusal().is_some() {
        return Err(KEY_REVOKED);
    }
    let (entry, truth) = match place.look() {
        Look::State { entry, truth, .. } => (entry, truth),
        Look::Nothing { answer, .. } if answer.status.is_server_error() => {
            return Err(End::Close(CloseCode::Error, "the body cannot be made"));
        }
        Look::Nothing { .. } => {
            // What the WebSocket was for is done (section 7.4.1, code 1000).
            return Err(End::Close(CloseCode::Normal, "there is no such thing now"));
        }
        Look::Away => return Err(End::Reset),
    };
    if follower.has_lost(&truth) {
        return Err(End::Reset);
    }
    let Some(message) = follower.next(entry) else {
        return Ok(None);
    };
    let faults = place.faults_of_message(false);
    if faults.missed {
        // The host does not know that it is lost.
        return Ok(None);
    }
    let times = 1 + usize::from(faults.repeated);
    let payload = message.payload().clone();
    for _ in 0..times {
        place.tell(&payload, &truth);
    }
    let message = match Utf8Bytes::try_from(payload.clone()) {
        Ok(text) => Wire::Text(text),
        Err(_) => Wire::Binary(payload),
    };
    Ok(Some((message, times)))
}

/// Waits until a pong is overdue.
async fn silence(place: &Place, ping: Option<PingPlan>, pings: &Pings) -> End {
    let Some(ping) = ping else {
        return std::future::pending().await;
    };
    let mut sent = pings.sent.subscribe();
    let mut answered = pings.answered.subscribe();
    loop {
        // The senders live as long as the session, so these cannot fail.
        let _ = sent.changed().await;
        let number = *sent.borrow_and_update();
        let pong = answered.wait_for(|last| *last >= number);
        let is_overdue = tokio::time::timeout(ping.pong_within, pong).await.is_err();
        // The client may not have the ping, or is to hear nothing of it.
        let is_excused = || place.connection.is_held_up() || place.faults().silent;
        if is_overdue && !is_excused() {
            // A ping must be answered (section 5.5.2).
            return End::Close(CloseCode::Protocol, "the pong did not come");
        }
    }
}

/// Closes: the close frame, then the client's, if it comes, then the connection.
async fn close(place: &Place, mut sender: Sender, receiver: Receiver, frame: Option<CloseFrame>) {
    let bytes = frame.as_ref().map_or_else(Bytes::new, close_bytes);
    said(place, FrameKind::Close, bytes);
    if sender.send(Wire::Close(frame)).await.is_ok() {
        shut(sender, receiver).await;
    }
}

/// Ends the sending and reads to the end of what the client sends.
///
/// A connection closed with bytes unread is reset by the system, and the client might lose the close
/// frame with it (RFC 9112 section 9.6 tells of the same trouble).
async fn shut(sender: Sender, receiver: Receiver) {
    // They are halves of one socket.
    let Ok(socket) = sender.reunite(receiver) else {
        return;
    };
    let mut stream = socket.into_inner();
    if stream.shutdown().await.is_ok() {
        let _ = tokio::io::copy(&mut stream, &mut tokio::io::sink()).await;
    }
}

/// Gives the payload of a close frame (section 5.5.1).
fn close_bytes(frame: &CloseFrame) -> Bytes {
    let mut bytes = u16::from(frame.code).to_be_bytes().to_vec();
    bytes.extend_from_slice(frame.reason.as_bytes());
    bytes.into()
}

fn heard(place: &Place, kind: FrameKind, bytes: Bytes) {
    place
        .shared
        .wire
        .tell(|virtual_time| WireEvent::FrameReceived {
            virtual_time,
            exchange: place.exchange,
            kind,
            bytes,
        });
}

fn said(place: &Place, kind: FrameKind, bytes: Bytes) {
    place.shared.wire.tell(|virtual_time| WireEvent::FrameSent {
        virtual_time,
        exchange: place.exchange,
        kind,
        bytes,
    });
}
