//! Sockets that hold a port.

use std::io;
use std::net::SocketAddr;

use socket2::{Domain, Protocol, Socket, Type};
use tokio::net::TcpListener;

use super::limits::ACCEPT_QUEUE;

/// Holds a port for this process whether or not something listens on it.
///
/// A bound socket that never listens: while the listener is closed a client is refused (RST to its
/// SYN), and no program that asks for a free port is given this one. Every socket has
/// `SO_REUSEADDR`, without which the second bind would fail; Linux allows that as long as at most
/// one of them listens, and the others were bound before it did.
#[derive(Debug)]
pub(super) struct Port {
    address: SocketAddr,
    _placeholder: Socket,
}

impl Port {
    /// Takes the port of an address; 0 takes a free one.
    ///
    /// # Errors
    /// The address is not ours, or the port is taken.
    pub(super) fn take(address: SocketAddr) -> io::Result<Self> {
        let placeholder = bound(address)?;
        let address = placeholder
            .local_addr()?
            .as_socket()
            .ok_or(io::ErrorKind::AddrNotAvailable)?;
        Ok(Self {
            address,
            _placeholder: placeholder,
        })
    }

    pub(super) fn address(&self) -> SocketAddr {
        self.address
    }

    /// Listens on the port.
    ///
    /// # Errors
    /// Another program listens on it, which the placeholder cannot prevent if that program sets
    /// `SO_REUSEADDR` too.
    pub(super) fn listen(&self) -> io::Result<TcpListener> {
        let socket = bound(self.address)?;
        socket.listen(ACCEPT_QUEUE)?;
        socket.set_nonblocking(true)?;
        TcpListener::from_std(socket.into())
    }
}

fn bound(address: SocketAddr) -> io::Result<Socket> {
    let socket = Socket::new(
        Domain::for_address(address),
        Type::STREAM,
        Some(Protocol::TCP),
    )?;
    socket.set_reuse_address(true)?;
    socket.bind(&address.into())?;
    Ok(socket)
}
