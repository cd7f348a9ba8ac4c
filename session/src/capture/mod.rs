//! Sessions from packet captures: plain HTTP/1.1 as it went over the network.
//!
//! Owns: the two file formats ([`is_capture`]), what of a packet counts, TCP put together again, and who
//! asked what on a connection ([`import()`]). Reading HTTP is [`crate::http`]'s. Works on bytes in memory,
//! with a bound on what is kept ([`Options::max_stream_bytes`]). What cannot be read is told, not guessed
//! ([`LeftOut`]): encrypted connections, and all that the capture does not have.
//!
//! # Source
//! pcap and pcapng: draft-ietf-opsawg-pcap and draft-ietf-opsawg-pcapng; link types: the registry of
//! draft-ietf-opsawg-pcaplinktype; TCP: RFC 9293.

mod assembler;
mod connection;
mod conversation;
mod file;
mod import;
mod left_out;
mod packet;
mod shared;
#[cfg(test)]
mod tests;

pub use file::is_capture;
pub use import::{CaptureError, Imported, Options, import};
pub use left_out::{LeftOut, Reason};
