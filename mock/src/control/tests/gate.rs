//! Who is let in.

use http::HeaderMap;
use http::header::{AUTHORIZATION, HOST, HeaderName, ORIGIN};

use crate::control::{Gate, TurnedAway};

fn gate(address: &str, key: Option<&str>) -> Gate {
    Gate {
        address: address.parse().unwrap(),
        key: key.map(str::to_owned),
    }
}

fn fields(fields: &[(HeaderName, &str)]) -> HeaderMap {
    let mut headers = HeaderMap::new();
    for (name, value) in fields {
        headers.append(name, value.parse().unwrap());
    }
    headers
}

#[test]
fn a_request_for_the_address_or_for_loopback_is_let_in() {
    let open = gate("127.0.0.1:8632", None);
    for host in [
        "127.0.0.1:8632",
        "localhost:8632",
        "LOCALHOST:8632",
        "[::1]:8632",
        "127.1.2.3:8632",
    ] {
        assert_eq!(open.admit(&fields(&[(HOST, host)])), Ok(()), "{host}");
    }
    let usual_port = gate("127.0.0.1:80", None);
    assert_eq!(usual_port.admit(&fields(&[(HOST, "localhost")])), Ok(()));
}

#[test]
fn a_name_that_was_made_to_point_here_is_refused() {
    let open = gate("127.0.0.1:8632", None);
    for host in [
        "evil.example:8632",
        "localhost.evil.example:8632",
        "127.0.0.1:80",
        "127.0.0.1",
        "192.0.2.1:8632",
        "localhost@evil.example:8632",
    ] {
        let refused = open.admit(&fields(&[(HOST, host)]));
        assert_eq!(refused, Err(TurnedAway::OtherHost), "{host}");
    }
}

#[test]
fn a_request_names_its_host_once_rfc_9112_s3_2() {
    let open = gate("127.0.0.1:8632", None);
    let twice = [(HOST, "127.0.0.1:8632"), (HOST, "127.0.0.1:8632")];
    for wrong in [fields(&[]), fields(&twice)] {
        assert_eq!(open.admit(&wrong), Err(TurnedAway::NoHost));
    }
}

#[test]
fn another_origin_is_refused_and_the_same_let_in_rfc_6454_s5() {
    let host = (HOST, "localhost:8632");
    for gate in [
        gate("127.0.0.1:8632", None),
        gate("127.0.0.1:8632", Some("sesame")),
    ] {
        let key = (AUTHORIZATION, "Bearer sesame");
        let ask = |origin| gate.admit(&fields(&[host.clone(), key.clone(), (ORIGIN, origin)]));
        assert_eq!(ask("http://localhost:8632"), Ok(()));
        for other in [
            "null",
            "http://evil.example",
            "http://localhost:8631",
            "https://localhost:8632",
            "http://127.0.0.1:8632",
            "",
        ] {
            assert_eq!(ask(other), Err(TurnedAway::OtherOrigin), "{other}");
        }
    }
}

#[test]
fn a_key_is_asked_for_by_any_name_once_there_is_one() {
    let gate = gate("192.0.2.7:8632", Some("sesame"));
    let host = (HOST, "mock.example:8632");
    let ask = |key| gate.admit(&fields(&[host.clone(), (AUTHORIZATION, key)]));
    assert_eq!(ask("Bearer sesame"), Ok(()));
    assert_eq!(ask("bearer sesame"), Ok(()));
    assert_eq!(ask("Bearer sesam"), Err(TurnedAway::WrongKey));
    assert_eq!(ask("Bearer sesame2"), Err(TurnedAway::WrongKey));
    assert_eq!(ask("Basic c2VzYW1l"), Err(TurnedAway::NoKey));
    assert_eq!(
        gate.admit(&fields(std::slice::from_ref(&host))),
        Err(TurnedAway::NoKey)
    );
    let both = fields(&[
        host.clone(),
        (AUTHORIZATION, "Bearer sesame"),
        (AUTHORIZATION, "Bearer x"),
    ]);
    assert_eq!(gate.admit(&both), Err(TurnedAway::WrongKey));
}
