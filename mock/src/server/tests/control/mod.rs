//! The control API of a host.

mod changes;
mod desk;
mod page;
mod replay;
mod resources;
mod turned_away;

use super::common::{Bench, Client, PRINTING, Reply, options};
use crate::server::{Control, ControlOptions, HostOptions};

/// Starts a host in the middle of a print with a control API on a free port.
async fn bench() -> Bench {
    let bench = with(|_| {}).await;
    bench.host.clock().jump_to(PRINTING).unwrap();
    bench
}

/// Starts one at the beginning, with options changed.
async fn with(change: impl FnOnce(&mut HostOptions)) -> Bench {
    Bench::with(|options| {
        options.control = Some(ControlOptions {
            listen: Some("127.0.0.1:0".parse().unwrap()),
            ..ControlOptions::default()
        });
        change(options);
    })
    .await
}

fn control(bench: &Bench) -> &Control {
    bench.host.control().unwrap()
}

/// Asks the control API, by its address and with JSON unless the request says otherwise.
async fn ask(bench: &Bench, request: &str) -> Reply {
    let mut client = client(bench, request).await;
    client.reply(!request.starts_with("HEAD")).await
}

async fn client(bench: &Bench, request: &str) -> Client {
    let address = bench.host.control_addr().unwrap();
    let (head, body) = request.split_once("\n\n").unwrap_or((request, ""));
    let mut lines = head.lines();
    let mut text = format!("{} HTTP/1.1\r\n", lines.next().unwrap());
    for field in lines {
        text.push_str(&format!("{field}\r\n"));
    }
    if !head.contains("Host:") {
        text.push_str(&format!("Host: {address}\r\n"));
    }
    if !body.is_empty() {
        if !head.contains("Content-Type:") {
            text.push_str("Content-Type: application/json\r\n");
        }
        text.push_str(&format!("Content-Length: {}\r\n", body.len()));
    }
    let mut client = Client::to(address).await.unwrap();
    client.raw(format!("{text}\r\n{body}").as_bytes()).await;
    client
}

/// Asks one after the other and gives what was said, with what differs from run to run taken out.
async fn talk(bench: &Bench, requests: &[&str]) -> String {
    let mut said = String::new();
    for request in requests {
        let reply = ask(bench, request).await;
        let line = request.replace('\n', " ");
        said.push_str(&format!(
            "{line}\n  {} {}\n",
            reply.status,
            reply.body.trim_end()
        ));
    }
    said.replace(&bench.host.local_addr().to_string(), "HOST")
}
