//! A host announced on loopback, seen by another multicast DNS client there.

use mdns_sd::{IfKind, Receiver, ResolvedService, ServiceDaemon, ServiceEvent};

use super::common::{Bench, PATIENCE};
use crate::dialect::Announcement;

/// Looks for a service on loopback.
struct Browser {
    daemon: ServiceDaemon,
    events: Receiver<ServiceEvent>,
}

impl Browser {
    fn of(service: &str) -> Self {
        let daemon = ServiceDaemon::new().unwrap();
        daemon.disable_interface(IfKind::All).unwrap();
        daemon.enable_interface(IfKind::LoopbackV4).unwrap();
        let events = daemon.browse(&format!("{service}.local.")).unwrap();
        Self { daemon, events }
    }

    /// Waits for an event, and gives what is made of it.
    async fn wait<T: Send + 'static>(
        &self,
        what: &'static str,
        of: impl Fn(ServiceEvent) -> Option<T> + Send + 'static,
    ) -> T {
        let events = self.events.clone();
        let found = tokio::task::spawn_blocking(move || {
            loop {
                let event = events.recv_timeout(PATIENCE).map_err(|_| what)?;
                if let Some(found) = of(event) {
                    return Ok::<T, &str>(found);
                }
            }
        });
        found.await.unwrap().expect("an event in time")
    }

    async fn resolved(&self) -> ResolvedService {
        self.wait("resolved service", |event| match event {
            ServiceEvent::ServiceResolved(service) => Some(*service),
            _ => None,
        })
        .await
    }

    async fn removed(&self) -> String {
        self.wait("removed service", |event| match event {
            ServiceEvent::ServiceRemoved(_, name) => Some(name),
            _ => None,
        })
        .await
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.daemon.shutdown();
    }
}

async fn announced(service: &str) -> Bench {
    Bench::with(|options| {
        options.announcement = Some(Announcement {
            service: service.to_owned(),
            instance: "Desk. \u{e9}".to_owned(),
            txt: vec![("path".to_owned(), "/printer".to_owned())],
        });
    })
    .await
}

#[tokio::test]
async fn a_browser_finds_port_address_and_text_and_sees_the_good_bye() {
    let browser = Browser::of("_cb-stopped._tcp");
    let bench = announced("_cb-stopped._tcp").await;
    let service = browser.resolved().await;
    assert_eq!(service.get_port(), bench.host.local_addr().port());
    assert_eq!(service.get_property_val_str("path"), Some("/printer"));
    let addresses: Vec<String> = service
        .get_addresses_v4()
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(addresses, ["127.0.0.1"]);
    bench.host.stop().await;
    assert_eq!(browser.removed().await, service.get_fullname());
}

#[tokio::test]
async fn a_dropped_host_is_not_left_announced() {
    let browser = Browser::of("_cb-dropped._tcp");
    let bench = announced("_cb-dropped._tcp").await;
    let service = browser.resolved().await;
    drop(bench);
    assert_eq!(browser.removed().await, service.get_fullname());
}
