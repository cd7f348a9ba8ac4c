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

/// How many bytes those bodies have at most, all together, the last one not counted.
///
/// Chosen: a drift can make bodies of 16 MiB, and who asks for one in 256 ways must not fill memory.
pub(super) const KEPT_BODY_BYTES: usize = 16 << 20;

/// How many connections there may be at once. Those above wait in the accept queue until one of
/// these ends, as they do when the process has no file descriptor left.
///
/// Chosen: more than a house full of watchers and than the ten thousand idle connections of the
/// tests. An idle connection costs some 24 KiB (measured), so this is some 280 MiB of them at most.
pub(super) const MAX_CONNECTIONS: usize = 12_000;

/// The longest head of a request that is read, and how much of a connection's pipelined requests is
/// kept: 64 KiB. More is answered 431 (RFC 6585 section 5), as are more than 100 fields, the
/// library's own limit.
///
/// Chosen: eight times what common servers read (common practice, from memory).
pub(super) const MAX_HEAD_BYTES: usize = 64 * 1024;

/// The longest target of a request, in bytes. More is answered 414 (RFC 9110 section 15.5.15), or
/// 431 where it fills [`MAX_HEAD_BYTES`].
///
/// # Source
/// RFC 9112 section 3 recommends to support request lines of 8000 octets at least (from memory).
pub(super) const MAX_TARGET_BYTES: usize = 8 * 1024;

/// How long a client may take no byte of what it is sent before its connection is given up.
///
/// Chosen: a device that sleeps between two looks keeps its connection, and its network has a while
/// to come back; who never reads does not hold an answer for ever.
pub(super) const UNREAD_TIMEOUT: Duration = Duration::from_secs(300);

/// How long, after the last answer of a connection, what the client still sends is read and thrown
/// away. No longer than [`STOP_TIMEOUT`], which all connections together have.
///
/// # Source
/// RFC 9112 section 9.6: a server that closes with bytes unread lets TCP reset the connection, and
/// the client may lose the answer. The length is chosen.
pub(super) const LINGER_TIMEOUT: Duration = Duration::from_millis(800);
