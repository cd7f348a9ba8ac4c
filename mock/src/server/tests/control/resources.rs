//! What each resource says.

use super::{ask, bench, client, control, talk};
use crate::sim::Phase;

#[tokio::test]
async fn the_truth_is_told_whole_and_as_it_is() {
    let bench = bench().await;
    let reply = ask(&bench, "GET /truth").await;
    assert_eq!(reply.field("cache-control"), Some("no-store"));
    let truth = serde_json::to_value(&*bench.host.truth()).unwrap();
    assert_eq!(reply.json(), truth);
    assert_eq!(truth["phase"], "printing");
}

#[tokio::test]
async fn the_clock_is_read_set_and_put_forward() {
    let bench = bench().await;
    insta::assert_snapshot!(
        talk(
            &bench,
            &[
                "GET /clock",
                "PUT /clock\n\n{\"rate\":0}",
                "PUT /clock\n\n{\"paused\":false}",
                "PUT /clock\n\n{\"paused\":true,\"rate\":60}",
                "POST /clock/jump\n\n{\"by\":\"90s\"}",
                "POST /clock/jump\n\n{\"to\":\"3h\"}",
                "POST /clock/jump\n\n{\"to\":\"1h\"}",
                "POST /clock/jump\n\n{\"to\":\"1h\",\"by\":\"1h\"}",
                "POST /clock/jump\n\n{\"to\":90}",
                "POST /clock/jump\n\n{\"by\":\"2399h\"}",
                "PUT /clock\n\n{\"rate\":-1}",
                "PUT /clock\n\n{\"rate\":1e9}",
                "PUT /clock\n\n{\"speed\":1}",
                "GET /log",
            ]
        )
        .await
    );
}

#[tokio::test]
async fn a_fault_is_raised_shown_and_cleared() {
    let bench = bench().await;
    insta::assert_snapshot!(talk(&bench, &[
        "GET /faults",
        "POST /faults\n\n{\"fault\":{\"status\":{\"code\":503}},\"scope\":{\"route\":\"/job\",\"times\":1}}",
        "POST /faults\n\n{\"fault\":\"silent\",\"scope\":{\"after\":\"5m\"}}",
        "GET /faults/1",
        "GET /faults",
        "DELETE /faults/1",
        "DELETE /faults/1",
        "GET /faults/1",
        "DELETE /faults/x",
        "DELETE /faults",
        "GET /faults",
        "POST /faults\n\n{\"fault\":\"refuse\",\"scope\":{\"times\":2}}",
        "POST /faults\n\n{\"fault\":\"tls-without-notify\"}",
        "POST /faults\n\n{\"fault\":\"refusee\"}",
        "POST /faults\n\n{\"fault\":\"refuse\",\"scope\":{\"probability\":0}}",
        "POST /faults\n\n{\"falt\":\"refuse\"}",
        "POST /faults\n\n{\"fault\":",
        "GET /log",
    ]).await);
}

#[tokio::test]
async fn what_was_made_says_where_it_is_rfc_9110_s15_3_2() {
    let bench = bench().await;
    let reply = ask(&bench, "POST /faults\n\n{\"fault\":\"silent\"}").await;
    assert_eq!(
        (reply.status, reply.field("location")),
        (201, Some("/faults/1"))
    );
    let drift = "POST /drifts\n\n{\"name\":\"n\",\"pointer\":\"/job\",\"change\":\"replace-by-null\",\"class\":\"breaking\"}";
    let reply = ask(&bench, drift).await;
    assert_eq!(
        (reply.status, reply.field("location")),
        (201, Some("/drifts/2"))
    );
}

#[tokio::test]
async fn a_fault_is_in_force_when_its_answer_comes_and_gone_when_it_is_deleted() {
    let bench = bench().await;
    for _ in 0..5 {
        let raised = ask(&bench, "POST /faults\n\n{\"fault\":\"refuse\"}").await;
        let address = bench.host.local_addr();
        assert!(tokio::net::TcpStream::connect(address).await.is_err());
        let id = &raised.json()["id"];
        assert_eq!(
            ask(&bench, &format!("DELETE /faults/{id}")).await.status,
            204
        );
        assert_eq!(bench.ask("GET /job").await.status, 200);
    }
}

#[tokio::test]
async fn a_drift_is_raised_shown_and_cleared() {
    let bench = bench().await;
    let raise = "POST /drifts\n\n{\"name\":\"no-job\",\"pointer\":\"/job\",\"change\":\"replace-by-null\",\"class\":\"breaking\"}";
    insta::assert_snapshot!(talk(&bench, &[raise, raise, "GET /drifts", "GET /drifts/2"]).await);
    assert_eq!(
        bench.ask("GET /printer").await.json()["job"],
        serde_json::Value::Null
    );
    insta::assert_snapshot!(talk(&bench, &[
        "DELETE /drifts/1",
        "GET /drifts",
        "DELETE /drifts",
        "DELETE /drifts/2",
        "POST /drifts\n\n{\"name\":\"x\",\"pointer\":\"\",\"change\":{\"burn\":null},\"class\":\"breaking\"}",
    ]).await);
    assert_ne!(
        bench.ask("GET /printer").await.json()["job"],
        serde_json::Value::Null
    );
}

#[tokio::test]
async fn every_event_of_a_scenario_can_be_issued_in_the_same_keys() {
    let bench = bench().await;
    insta::assert_snapshot!(talk(&bench, &[
        "POST /events\n\n{\"action\":\"pause\"}",
        "POST /events\n\n{\"action\":\"resume\"}",
        "POST /events\n\n{\"action\":\"material-empty\"}",
        "POST /events\n\n{\"action\":\"resume\"}",
        "POST /events\n\n{\"action\":\"jam\"}",
        "POST /events\n\n{\"action\":\"door-opens\"}",
        "POST /events\n\n{\"action\":\"door-closes\"}",
        "POST /events\n\n{\"action\":\"heater-fails\",\"heater\":\"platform\"}",
        "POST /events\n\n{\"action\":\"heater-mended\",\"heater\":\"platform\"}",
        "POST /events\n\n{\"action\":\"sensor-fails\",\"heater\":\"extruder\",\"kind\":\"drifting\",\"kelvin-per-hour\":3}",
        "POST /events\n\n{\"action\":\"sensor-mended\",\"heater\":\"extruder\"}",
        "POST /events\n\n{\"action\":\"set-target\",\"heater\":\"platform\",\"celsius\":60.5}",
        "POST /events\n\n{\"action\":\"cancel\"}",
        "POST /events\n\n{\"action\":\"clear-job\"}",
        "POST /events\n\n{\"action\":\"reset\"}",
        "POST /events\n\n{\"action\":\"clock-set-back\",\"by\":\"1h\"}",
        "POST /events\n\n{\"action\":\"key-revoked\"}",
        "POST /events\n\n{\"action\":\"host-updated\",\"version\":\"1.1\",\"lasts\":\"20s\"}",
        "POST /events\n\n{\"action\":\"host-restart\",\"lasts\":\"30s\"}",
        "POST /events\n\n{\"action\":\"power-dip\",\"lasts\":\"30s\"}",
        "GET /truth",
        "GET /log",
    ]).await);
}

#[tokio::test]
async fn a_slip_in_an_event_is_told_as_a_scenario_file_would_be() {
    let bench = bench().await;
    insta::assert_snapshot!(talk(&bench, &[
        "POST /events\n\n{\"action\":\"jamm\"}",
        "POST /events\n\n{}",
        "POST /events\n\n[]",
        "POST /events\n\n{\"action\":\"jam\",\"at\":\"1m\"}",
        "POST /events\n\n{\"action\":\"jam\",\"repeat\":{\"every\":\"1m\",\"times\":2}}",
        "POST /events\n\n{\"action\":\"jam\",\"heater\":\"extruder\"}",
        "POST /events\n\n{\"action\":\"jam\",\"haeter\":\"extruder\"}",
        "POST /events\n\n{\"action\":\"heater-fails\"}",
        "POST /events\n\n{\"action\":\"heater-fails\",\"heater\":\"extrude\"}",
        "POST /events\n\n{\"action\":\"heater-fails\",\"heater\":null}",
        "POST /events\n\n{\"action\":\"set-target\",\"heater\":\"extruder\",\"celsius\":9000}",
        "POST /events\n\n{\"action\":\"power-dip\",\"lasts\":30}",
        "POST /events\n\n{\"action\":\"host-updated\",\"version\":\"9\"}",
        "GET /log",
    ]).await);
}

#[tokio::test]
async fn the_last_requests_are_remembered_with_what_became_of_them() {
    let bench = super::with(|options| options.key = Some("sesame".to_owned())).await;
    bench.ask("GET /printer").await;
    bench.ask("GET /job\nAuthorization: Bearer sesame").await;
    control(&bench)
        .raise_fault(crate::fault::Fault::reset_at(crate::fault::Position::Byte(
            3,
        )))
        .unwrap();
    let mut client = bench.connect().await;
    client
        .send(
            "PUT /heaters/platform/target\nAuthorization: Bearer sesame\n\n{\"target-celsius\":60}",
        )
        .await;
    client.rest().await.1.unwrap_err();
    insta::assert_snapshot!(
        talk(
            &bench,
            &[
                "GET /requests",
                "GET /requests?since=1&limit=1",
                "GET /requests?since=x"
            ]
        )
        .await
    );
}

#[tokio::test]
async fn open_connections_are_listed() {
    let bench = bench().await;
    let mut client = bench.connect().await;
    client.ask("GET /job").await;
    client.ask("GET /job").await;
    let shown = ask(&bench, "GET /connections").await.json();
    let [connection] = &shown["connections"].as_array().unwrap()[..] else {
        panic!("{shown}")
    };
    assert_eq!(connection["number"], 1);
    assert_eq!(connection["requests"], 2);
    assert_eq!(connection["since"], "2h");
}

#[tokio::test]
async fn the_kinds_are_named_and_their_schema_takes_what_the_api_takes() {
    let bench = bench().await;
    let shown = ask(&bench, "GET /fault-kinds").await.json();
    let kinds = shown["kinds"].as_array().unwrap();
    let names: Vec<&str> = kinds
        .iter()
        .map(|kind| kind["name"].as_str().unwrap())
        .collect();
    for known in ["refuse", "reset", "status", "drip", "no-pong"] {
        assert!(names.contains(&known), "{known} is not in {names:?}");
    }
    assert!(
        kinds.iter().all(|kind| kind["says"].is_string()),
        "{kinds:?}"
    );
    let schema = jsonschema::validator_for(&shown["schema"]).unwrap();
    let fault = serde_json::json!({ "fault": "refuse", "scope": { "after": "5m" } });
    assert!(schema.is_valid(&fault));
    assert!(!schema.is_valid(&serde_json::json!({ "fault": "refusee" })));
    let drifts = ask(&bench, "GET /drift-kinds").await.json();
    assert_eq!(
        drifts["kinds"].as_array().unwrap().len(),
        crate::drift::Change::names().len()
    );
}

#[tokio::test]
async fn the_stream_tells_of_phases_changes_and_requests_in_their_order() {
    let bench = bench().await;
    let mut stream = client(&bench, "GET /log/stream").await;
    let head = stream.until(b"\r\n\r\n").await;
    assert!(head.contains("content-type: text/event-stream"), "{head}");
    let first = stream.until(b"\n\n").await;
    assert!(
        first.contains("event: phase\ndata: {\"at\":\"2h\",\"phase\":\"printing\"}"),
        "{first}"
    );
    control(&bench).issue(jam()).unwrap();
    let told = stream.until(b"\n\n").await;
    assert!(told.contains("event: change\ndata: {\"number\":1,\"at\":\"2h\",\"change\":{\"event\":{\"action\":\"jam\"}}}"), "{told}");
    let told = stream.until(b"\"paused\"}\n\n").await;
    assert!(told.contains("event: phase"), "{told}");
    bench.ask("GET /job").await;
    let told = stream.until(b"event: answer\n").await;
    let request = told.find("event: request").unwrap();
    assert!(
        told.find("event: connection-opened").unwrap() < request,
        "{told}"
    );
    assert!(told.contains("\"target\":\"/job\""), "{told}");
    assert_eq!(bench.host.truth().phase, Phase::Paused);
}

#[tokio::test]
async fn a_stream_ends_in_order_when_the_host_stops() {
    let bench = bench().await;
    let mut stream = client(&bench, "GET /log/stream").await;
    stream.until(b"event: phase").await;
    bench.host.stop().await;
    let (rest, end) = stream.rest().await;
    // The last chunk (RFC 9112 section 7.1).
    assert!(rest.ends_with(b"0\r\n\r\n") && end.is_ok(), "{end:?}");
}

fn jam() -> serde_json::Map<String, serde_json::Value> {
    let keys = serde_json::json!({ "action": "jam" });
    keys.as_object().unwrap().clone()
}
