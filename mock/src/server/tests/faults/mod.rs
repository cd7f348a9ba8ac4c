//! Faults as a client meets them, byte by byte.

mod answers;
mod bytes;
mod connections;
mod first;
mod network;
mod scopes;
mod tls;

use serde_json::Value;

use super::common::{Bench, Client};
use crate::fault::{FaultGuard, ScopedFault};

impl Bench {
    /// Raises a fault that is written as in a file.
    pub(super) fn raise(&self, fault: Value) -> FaultGuard {
        let fault = match fault.get("fault") {
            Some(_) => fault,
            None => serde_json::json!({ "fault": fault }),
        };
        let fault: ScopedFault = serde_json::from_value(fault).unwrap();
        fault.check().unwrap();
        self.host.faults().raise(fault)
    }

    /// Gives the whole answer to a request, its connection closed behind it.
    async fn whole(&self, request: &str) -> String {
        let mut client = self.connect().await;
        client.send(&format!("{request}\nConnection: close")).await;
        let (bytes, end) = client.rest().await;
        end.unwrap();
        String::from_utf8(bytes).unwrap()
    }
}

/// Takes the date out of an answer: it may have moved on since.
fn undated(answer: &str) -> String {
    let fields = answer.split_inclusive("\r\n");
    fields
        .filter(|line| !line.to_ascii_lowercase().starts_with("date:"))
        .collect()
}

/// Asks for the printer and gives everything that comes, and how it ends.
async fn all(client: &mut Client) -> (String, std::io::Result<()>) {
    client.send("GET /printer").await;
    let (bytes, end) = client.rest().await;
    (String::from_utf8(bytes).unwrap(), end)
}
