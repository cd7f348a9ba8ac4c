//! Every kind of request that is turned away, byte for byte.

use super::common::{Bench, Reply};
use crate::server::MAX_BODY_BYTES;

/// Gives an answer without the one thing that changes.
fn shown(request: &str, reply: &Reply) -> String {
    let head: Vec<&str> = reply
        .head
        .lines()
        .filter(|line| !line.starts_with("date: "))
        .collect();
    let head = head.join("\n");
    format!("# {request}\n{}\n{}\n\n", head.trim_end(), reply.body)
}

#[tokio::test]
async fn a_request_that_is_turned_away_is_told_why_rfc_9457() {
    let mut text = String::new();
    let locked = Bench::with(|options| options.key = Some("k".to_owned())).await;
    for request in [
        "GET /printer",
        "GET /printer\nAuthorization: Bearer wrong",
        "GET /printer\nAuthorization: Bearer",
    ] {
        text.push_str(&shown(request, &locked.ask(request).await));
    }
    let bench = Bench::printing().await;
    for request in [
        "GET /nothing",
        "GET /heaters/bedroom",
        "DELETE /printer",
        "BREW /printer",
        "POST /job/resume",
        "PUT /heaters/platform/target\n\n{\"target-celsius\": \"hot\"}",
        "PUT /heaters/platform/target\n\n{\"target-celsius\": 9999}",
        "PUT /heaters/bedroom/target\n\n{\"target-celsius\": 20}",
    ] {
        text.push_str(&shown(request, &bench.ask(request).await));
    }
    let mut client = bench.connect().await;
    let request = format!("POST /job/pause\nContent-Length: {}", MAX_BODY_BYTES + 1);
    client.send(&request).await;
    text.push_str(&shown(&request, &client.reply(true).await));
    insta::assert_snapshot!(text);
}
