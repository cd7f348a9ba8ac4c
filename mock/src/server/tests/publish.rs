//! What is published, seen by a broker that does as it is told here. What a real broker makes of it is
//! seen by the end-to-end tests.

use std::sync::Arc;

use bytes::BytesMut;
use rumqttc::mqttbytes::v4::{ConnAck, ConnectReturnCode, Packet, PubAck, Publish};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

use super::common::{Bench, PATIENCE, PRINTING};
use crate::dialect::DialectFile;
use crate::drift::{Change, Drift, DriftClass, ReplaceByNull};
use crate::server::{Broker, WireEvent};

const DIALECT: &str = r#"
auth = { scheme = "none" }
problem = { body = '"{{ title }}"' }
routes = [{ method = "GET", path = "/printer", body = '"{{ phase }}"' }]

[mqtt]
client-id = "bench"
keep-alive-s = 7
period-ms = 10
qos = 1
will = { topic = "online", text = "no" }
birth = { topic = "online", text = "yes" }

[[mqtt.topics]]
topic = "job"
body = '{ "phase": "{{ phase }}" }'
retain = true

[[mqtt.topics]]
topic = "phase"
text = "{{ phase }}"
qos = 0
"#;

/// Is a broker that takes clients in one after the other.
pub(super) struct Scripted(TcpListener);

/// Is a client of it.
pub(super) struct Taken {
    stream: TcpStream,
    left: BytesMut,
}

impl Scripted {
    pub(super) async fn start() -> Self {
        Self(TcpListener::bind("127.0.0.1:0").await.unwrap())
    }

    fn url(&self, login: &str) -> Broker {
        let port = self.0.local_addr().unwrap().port();
        Broker::parse(&format!("mqtt://{login}127.0.0.1:{port}")).unwrap()
    }

    pub(super) async fn host(&self, change: impl Fn(&str) -> String) -> Bench {
        let dialect = DialectFile::parse("bench.toml", &change(DIALECT)).unwrap();
        Bench::with(|options| {
            options.dialect = Arc::new(dialect);
            options.broker = Some(self.url("u:p@"));
            options.clock.jump_to(PRINTING).unwrap();
        })
        .await
    }

    /// Waits for a client, and answers it with a code.
    pub(super) async fn take(&self, code: ConnectReturnCode) -> (Taken, Packet) {
        let (stream, _) = tokio::time::timeout(PATIENCE, self.0.accept())
            .await
            .expect("nobody comes")
            .unwrap();
        let left = BytesMut::new();
        let mut taken = Taken { stream, left };
        let connect = taken.packet().await.unwrap();
        taken.send(Packet::ConnAck(ConnAck::new(code, false))).await;
        (taken, connect)
    }
}

impl Taken {
    async fn send(&mut self, packet: Packet) {
        let mut bytes = BytesMut::new();
        packet.write(&mut bytes, 1000).unwrap();
        self.stream.write_all(&bytes).await.unwrap();
    }

    /// Reads a packet; `None` at the end.
    pub(super) async fn packet(&mut self) -> Option<Packet> {
        loop {
            if let Ok(packet) = Packet::read(&mut self.left, 100_000) {
                return Some(packet);
            }
            let more = self.stream.read_buf(&mut self.left);
            let more = tokio::time::timeout(PATIENCE, more).await;
            if more.expect("nothing comes").unwrap_or(0) == 0 {
                return None;
            }
        }
    }

    /// Reads a message and acknowledges it.
    pub(super) async fn message(&mut self) -> String {
        match self.packet().await {
            Some(Packet::Publish(message)) => {
                if message.pkid != 0 {
                    self.send(Packet::PubAck(PubAck::new(message.pkid))).await;
                }
                written(&message)
            }
            other => panic!("{other:?}"),
        }
    }
}

fn written(message: &Publish) -> String {
    format!(
        "{} {} {} {}",
        message.topic,
        String::from_utf8_lossy(&message.payload),
        message.retain,
        message.qos as u8
    )
}

#[tokio::test]
async fn the_client_introduces_itself_as_the_dialect_says() {
    let broker = Scripted::start().await;
    let _bench = broker.host(str::to_owned).await;
    let (_client, connect) = broker.take(ConnectReturnCode::Success).await;
    let Packet::Connect(connect) = connect else {
        panic!("{connect:?}");
    };
    assert_eq!(
        (connect.client_id.as_str(), connect.keep_alive),
        ("bench", 7)
    );
    assert!(connect.clean_session);
    let login = connect.login.unwrap();
    assert_eq!(
        (login.username.as_str(), login.password.as_str()),
        ("u", "p")
    );
    let will = connect.last_will.unwrap();
    assert_eq!(
        (will.topic.as_str(), &will.message[..]),
        ("online", &b"no"[..])
    );
    assert_eq!((will.retain, will.qos as u8), (true, 1));
}

#[tokio::test]
async fn the_birth_comes_first_then_every_topic_in_the_files_order_and_each_is_told() {
    let broker = Scripted::start().await;
    let bench = broker.host(str::to_owned).await;
    let (mut client, _) = broker.take(ConnectReturnCode::Success).await;
    let first = [
        client.message().await,
        client.message().await,
        client.message().await,
    ];
    assert_eq!(
        first,
        [
            "online yes true 1",
            r#"job {"phase":"printing"} true 1"#,
            "phase printing false 0",
        ]
    );
    let told: Vec<String> = bench
        .notes
        .events()
        .into_iter()
        .filter_map(|event| match event {
            WireEvent::Published {
                topic,
                body,
                retain,
                qos,
                truth,
                virtual_time,
            } => {
                assert_eq!((virtual_time, truth.at), (PRINTING, PRINTING));
                let body = String::from_utf8_lossy(&body).into_owned();
                Some(format!("{topic} {body} {retain} {}", qos as u8))
            }
            _ => None,
        })
        .collect();
    assert_eq!(told, first);
}

#[tokio::test]
async fn a_drift_shows_in_json_and_leaves_text_alone() {
    let broker = Scripted::start().await;
    let bench = broker.host(str::to_owned).await;
    let (mut client, _) = broker.take(ConnectReturnCode::Success).await;
    while client.message().await != "phase printing false 0" {}
    let guard = bench.host.drifts().raise(Drift {
        name: "sample".to_owned(),
        pointer: "/phase".to_owned(),
        change: Change::from(ReplaceByNull),
        class: DriftClass::Breaking,
    });
    assert_eq!(client.message().await, r#"job {"phase":null} true 1"#);
    drop(guard);
    // The text in between did not change, or it would stand here.
    assert_eq!(client.message().await, r#"job {"phase":"printing"} true 1"#);
}

#[tokio::test]
async fn by_the_period_the_same_is_published_again() {
    let broker = Scripted::start().await;
    let by_period = |text: &str| text.replace("[mqtt]", "[mqtt]\non = \"period\"");
    let _bench = broker.host(by_period).await;
    let (mut client, _) = broker.take(ConnectReturnCode::Success).await;
    assert_eq!(client.message().await, "online yes true 1");
    let first = [client.message().await, client.message().await];
    assert_eq!([client.message().await, client.message().await], first);
}

#[tokio::test]
async fn a_stop_waits_for_the_acknowledgement_before_it_says_good_bye() {
    let broker = Scripted::start().await;
    let bench = broker.host(str::to_owned).await;
    let (mut client, _) = broker.take(ConnectReturnCode::Success).await;
    while client.message().await != "phase printing false 0" {}
    let stopped = tokio::spawn(bench.host.stop());
    assert_eq!(client.message().await, "online no true 1");
    assert_eq!(client.packet().await, Some(Packet::Disconnect));
    stopped.await.unwrap();
}

#[tokio::test]
async fn without_an_acknowledgement_a_stop_cuts_the_connection_so_that_the_will_is_sent() {
    let broker = Scripted::start().await;
    let bench = broker.host(str::to_owned).await;
    let (mut client, _) = broker.take(ConnectReturnCode::Success).await;
    while client.message().await != "phase printing false 0" {}
    bench.host.stop().await;
    let good_bye = client.packet().await;
    assert!(matches!(good_bye, Some(Packet::Publish(_))), "{good_bye:?}");
    assert_eq!(client.packet().await, None);
}

#[tokio::test]
async fn a_dropped_host_cuts_the_connection_without_a_word() {
    let broker = Scripted::start().await;
    let bench = broker.host(str::to_owned).await;
    let (mut client, _) = broker.take(ConnectReturnCode::Success).await;
    while client.message().await != "phase printing false 0" {}
    drop(bench);
    assert_eq!(client.packet().await, None);
}

#[tokio::test]
async fn a_refusal_is_told_once_and_tried_again() {
    let broker = Scripted::start().await;
    let bench = broker.host(str::to_owned).await;
    for _ in 0..2 {
        broker.take(ConnectReturnCode::NotAuthorized).await;
    }
    let (mut client, _) = broker.take(ConnectReturnCode::Success).await;
    assert_eq!(client.message().await, "online yes true 1");
    let about = |event: &str| event.starts_with("Broker");
    assert_eq!(bench.notes.count(about), 2);
    assert_eq!(
        bench
            .notes
            .count(|event| event.starts_with("BrokerLost") && event.contains("NotAuthorized")),
        1
    );
}

#[tokio::test]
async fn a_broker_that_says_nothing_holds_up_neither_http_nor_the_stop() {
    let broker = Scripted::start().await;
    let bench = broker.host(str::to_owned).await;
    let (_silent, _) = broker.0.accept().await.unwrap();
    assert_eq!(bench.ask("GET /printer").await.json(), "printing");
    tokio::time::timeout(PATIENCE, bench.host.stop())
        .await
        .unwrap();
}

#[tokio::test]
async fn a_broker_without_anything_to_publish_is_refused() {
    let broker = Scripted::start().await.url("");
    let mut options = super::common::options();
    options.broker = Some(broker);
    let error = crate::server::Host::start(options).await.unwrap_err();
    assert_eq!(
        error.to_string(),
        "dialect `plain` has no `[mqtt]`, so there is nothing to publish"
    );
}

#[tokio::test]
async fn a_topic_for_a_heater_that_the_scenario_has_not_is_found_at_the_start() {
    let broker = Scripted::start().await;
    let text = DIALECT.replace(
        "text = \"{{ phase }}\"",
        "text = \"{{ heaters.chamber.on }}\"",
    );
    let mut options = super::common::options();
    options.dialect = Arc::new(DialectFile::parse("bench.toml", &text).unwrap());
    options.broker = Some(broker.url(""));
    let error = crate::server::Host::start(options).await.unwrap_err();
    assert!(
        error
            .to_string()
            .contains("does not fit the scenario's heaters"),
        "{error}"
    );
}
