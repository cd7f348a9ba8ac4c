//! HTTP/1.1 as bytes: heads read, and content followed to its end while the bytes go on unchanged.
//!
//! Owns: [`head`] and [`content`] (RFC 9112), [`events`] (server-sent events), [`websocket`] (RFC 6455).
//! Does not own: sockets. What is no HTTP is told as such and not mended.

pub mod content;
pub mod events;
pub mod head;
pub mod websocket;
