//! Sockets that hear nothing.

use std::io;

use socket2::SockRef;

/// Lets a socket hear nothing: the system drops each packet for it before TCP sees it, so that nothing
/// is acknowledged, answered or refused, as if the host had gone.
///
/// # Errors
/// What the system says; not expected on Linux. Other systems have no such filter.
///
/// # Source
/// socket(7), `SO_ATTACH_FILTER`: a classic BPF program that returns 0 keeps nothing of the packet.
#[cfg(target_os = "linux")]
pub(crate) fn deafen(socket: &SockRef<'_>) -> io::Result<()> {
    /// `BPF_RET | BPF_K`: return the constant.
    const RETURN: u16 = 0x06;
    socket.attach_filter(&[socket2::SockFilter::new(RETURN, 0, 0, 0)])
}

/// Lets it hear again.
///
/// # Errors
/// What the system says; not expected.
#[cfg(target_os = "linux")]
pub(crate) fn hear(socket: &SockRef<'_>) -> io::Result<()> {
    socket.detach_filter()
}

#[cfg(not(target_os = "linux"))]
pub(crate) fn deafen(_socket: &SockRef<'_>) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}

#[cfg(not(target_os = "linux"))]
pub(crate) fn hear(_socket: &SockRef<'_>) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}
