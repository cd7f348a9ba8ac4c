//! Announcing a host in its network: DNS-SD over multicast DNS.
//!
//! # Source
//! RFC 6762 (multicast DNS), RFC 6763 (DNS-SD), as cited at each rule.

use std::net::SocketAddr;

use mdns_sd::{DaemonStatus, IfKind, Receiver, ServiceDaemon, ServiceInfo, UnregisterStatus};

use super::limits::STOP_TIMEOUT;
use crate::dialect::Announcement;

/// Says why a host cannot be announced.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(transparent)]
pub struct AnnounceError(#[from] mdns_sd::Error);

/// Announces a host until it is stopped or dropped.
pub(super) struct Announcer {
    daemon: ServiceDaemon,
    fullname: String,
}

impl Announcer {
    /// Begins to announce a host that listens on `address`, where it can be reached: on loopback for
    /// a loopback address, on the one interface for one of its addresses, else on all but loopback.
    ///
    /// # Errors
    /// There is no socket to be had for it.
    pub(super) fn start(
        announcement: &Announcement,
        address: SocketAddr,
    ) -> Result<Self, AnnounceError> {
        let (ip, port) = (address.ip(), address.port());
        let info = |addresses: &str| {
            ServiceInfo::new(
                &format!("{}.local.", announcement.service),
                &announcement.instance,
                // A second one on the same port of another machine is renamed (RFC 6762 section 9).
                &format!("coldbed-{port}.local."),
                addresses,
                port,
                announcement.txt.as_slice(),
            )
        };
        let info = if ip.is_unspecified() {
            info("")?.enable_addr_auto()
        } else {
            info(&ip.to_string())?
        };
        let fullname = info.get_fullname().to_owned();
        let daemon = ServiceDaemon::new()?;
        let announcer = Self { daemon, fullname };
        announcer.choose_interfaces(address)?;
        announcer.daemon.register(info)?;
        Ok(announcer)
    }

    fn choose_interfaces(&self, address: SocketAddr) -> Result<(), AnnounceError> {
        let ip = address.ip();
        if ip.is_unspecified() {
            let mut others = vec![IfKind::LoopbackV4, IfKind::LoopbackV6];
            if ip.is_ipv4() {
                others.push(IfKind::IPv6);
            }
            self.daemon.disable_interface(others)?;
        } else {
            self.daemon.disable_interface(IfKind::All)?;
            self.daemon
                .enable_interface(match (ip.is_loopback(), ip.is_ipv4()) {
                    (true, true) => IfKind::LoopbackV4,
                    (true, false) => IfKind::LoopbackV6,
                    (false, _) => IfKind::Addr(ip),
                })?;
        }
        Ok(())
    }

    /// Withdraws the announcement: a good-bye, the records once more with a time to live of 0
    /// (RFC 6762 section 10.1).
    pub(super) async fn stop(self) {
        // The library answers on a channel that only blocks.
        let withdrawn = tokio::task::spawn_blocking(move || {
            if let Ok(answer) = self.daemon.unregister(&self.fullname) {
                let _: Option<UnregisterStatus> = wait(&answer);
            }
            if let Ok(answer) = self.daemon.shutdown() {
                let _: Option<DaemonStatus> = wait(&answer);
            }
        });
        // It cannot panic, and a runtime that ends takes it along.
        let _ = withdrawn.await;
    }
}

fn wait<T>(answer: &Receiver<T>) -> Option<T> {
    answer.recv_timeout(STOP_TIMEOUT).ok()
}

impl Drop for Announcer {
    fn drop(&mut self) {
        // Ends the library's thread, which would live on; after a stop it has ended already.
        let _ = self.daemon.shutdown();
    }
}

impl std::fmt::Debug for Announcer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Announcer({})", self.fullname)
    }
}
