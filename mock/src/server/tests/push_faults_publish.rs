//! Faults of what is published, seen by a broker that does as it is told.

use std::time::Duration;

use rumqttc::mqttbytes::v4::ConnectReturnCode;

use super::publish::Scripted;
use super::push_faults_stream::{happened, times};
use crate::fault::{Fault, Scope, ScopedFault};

const JOB: &str = r#"job {"phase":"printing"} true 1"#;

#[tokio::test(start_paused = true)]
async fn in_silence_nothing_is_published_and_then_the_present_state_is() {
    let broker = Scripted::start().await;
    let bench = broker.host(str::to_owned).await;
    let (mut client, _) = broker.take(ConnectReturnCode::Success).await;
    while client.message().await != "phase printing false 0" {}
    let guard = bench.host.faults().raise(Fault::SilentStream);
    bench.host.clock().step(Duration::from_secs(24 * 3600));
    let now = bench.ask("GET /printer").await.json();
    let now = now.as_str().unwrap();
    assert_ne!(now, "printing");
    // Less than the time after which the client would ask whether the broker is still there.
    let quiet = tokio::time::timeout(Duration::from_secs(5), client.packet());
    assert!(quiet.await.is_err());
    drop(guard);
    let job = client.message().await;
    assert_eq!(job, format!(r#"job {{"phase":"{now}"}} true 1"#));
}

#[tokio::test]
async fn a_message_in_scope_is_missed_and_the_host_does_not_know_it() {
    let broker = Scripted::start().await;
    let by_period = |text: &str| text.replace("[mqtt]", "[mqtt]\non = \"period\"");
    let bench = broker.host(by_period).await;
    let (mut client, _) = broker.take(ConnectReturnCode::Success).await;
    while client.message().await != "phase printing false 0" {}
    let fault = Fault::MissedMessages;
    let scope = Scope::route("/job").unwrap();
    let _guard = bench.host.faults().raise(ScopedFault { fault, scope });
    bench.notes.wait_for("FaultHappened", 1).await;
    // At most those of the look under way come before.
    let seen = [
        client.message().await,
        client.message().await,
        client.message().await,
        client.message().await,
        client.message().await,
    ];
    assert!(seen[2..].iter().all(|message| message != JOB), "{seen:?}");
}

#[tokio::test]
async fn a_message_comes_twice() {
    let broker = Scripted::start().await;
    let bench = broker.host(str::to_owned).await;
    let _guard = bench.host.faults().raise(times(Fault::RepeatedMessages, 2));
    let (mut client, _) = broker.take(ConnectReturnCode::Success).await;
    let first = [client.message().await, client.message().await];
    assert_eq!(first, ["online yes true 1", "online yes true 1"]);
    let second = [client.message().await, client.message().await];
    assert_eq!(second, [JOB, JOB]);
    assert_eq!(client.message().await, "phase printing false 0");
    assert_eq!(happened(&bench), (2, 2));
}
