//! What all connections of a capture share.

use std::net::SocketAddr;

use super::import::{CaptureError, Options};
use super::left_out::{Reason, Tally};

/// Is what all connections share.
#[derive(Debug)]
pub(super) struct Shared {
    options: Options,
    pub(super) left_out: Tally,
    exchanges: u64,
    connections: u64,
    stream_bytes: u64,
}

impl Shared {
    pub(super) fn new(options: Options) -> Self {
        Self {
            options,
            left_out: Tally::default(),
            exchanges: 0,
            connections: 0,
            stream_bytes: 0,
        }
    }

    /// Tells whether that host is one to take.
    pub(super) fn wants(&self, host: SocketAddr) -> bool {
        self.options.port.is_none_or(|port| port == host.port())
            && self.options.host.is_none_or(|address| address == host.ip())
    }

    pub(super) fn max_body_bytes(&self) -> usize {
        self.options.max_body_bytes
    }

    /// Gives the number of the next exchange.
    pub(super) fn next_exchange(&mut self) -> u64 {
        self.exchanges += 1;
        self.exchanges
    }

    /// Gives the number of the next connection.
    pub(super) fn next_connection(&mut self) -> u64 {
        self.connections += 1;
        self.connections
    }

    /// Counts bytes that are kept.
    pub(super) fn keep(&mut self, bytes: usize) -> Result<(), CaptureError> {
        self.stream_bytes += bytes as u64;
        let limit_bytes = self.options.max_stream_bytes;
        match self.stream_bytes > limit_bytes {
            true => Err(CaptureError::TooMuch { limit_bytes }),
            false => Ok(()),
        }
    }

    pub(super) fn leave_out(&mut self, reason: Reason, host: SocketAddr) {
        self.left_out.add(reason, Some(host), 1);
    }
}
