//! The limits of the server.

use std::time::Duration;

/// The largest request body that is read: 64 KiB. More is answered 413 (RFC 9110 section 15.5.14).
///
/// Chosen: a command's body has some 30 bytes.
pub const MAX_BODY_BYTES: usize = 64 * 1024;

/// How long a request's head, and then its body, may take to come in; 408 after that for a body
/// (RFC 9110 section 15.5.9), a closed connection for a head.
///
/// Chosen: a client on a bad link gets through, one that stands still does not hold a task for ever.
pub const READ_TIMEOUT: Duration = Duration::from_secs(30);

/// How long answers under way may take when the host stops.
pub const STOP_TIMEOUT: Duration = Duration::from_secs(1);

/// How long the client of a WebSocket may take to answer a close frame. No longer than
/// [`STOP_TIMEOUT`], which all connections together have.
///
/// # Source
/// RFC 6455 section 7.1.1 asks for "a reasonable time period" (from memory); chosen.
pub(super) const CLOSE_TIMEOUT: Duration = Duration::from_millis(800);

/// How long a connection may be silent before the system probes whether the client is still there.
///
/// An idle connection is never closed by the host, so one whose client has lost its network would
/// stay for ever. The probes are TCP's own (RFC 9293 section 3.8.4); the client sees nothing of them.
pub(super) const PROBE_AFTER: Duration = Duration::from_secs(60);

/// How many connections may wait to be accepted.
///
/// Chosen: more than the clients of any one test. The kernel caps it (`net.core.somaxconn`, 4096 on
/// Linux since 5.4, from memory).
pub(super) const ACCEPT_QUEUE: i32 = 4096;

/// How many different bodies of one tick are kept.
///
/// Chosen: a dialect has some ten routes; a client that asks for ever new paths must not fill memory.
pub(super) const KEPT_BODIES: usize = 256;
