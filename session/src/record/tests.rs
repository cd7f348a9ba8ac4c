//! The recorder between a raw client and a host of canned bytes.

use std::net::SocketAddr;
use std::path::Path;
use std::time::Duration;

use socket2::SockRef;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

use super::*;
use crate::format::{Body, End, Framing, SessionFile, StreamKind};
use crate::model::{Content, Outcome, Pushed, Session};

/// How a host of canned bytes ends a connection.
#[derive(Debug, Clone, Copy, PartialEq)]
enum After {
    Stays,
    Closes,
    Resets,
}

/// Answers each request on one connection after the other with the same bytes, in the parts given.
async fn host(parts: Vec<&'static [u8]>, after: After) -> SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(async move {
        while let Ok((mut tcp, _)) = listener.accept().await {
            let mut asked = Vec::new();
            'connection: loop {
                while !asked.windows(4).any(|end| end == b"\r\n\r\n") {
                    if tcp.read_buf(&mut asked).await.unwrap_or(0) == 0 {
                        break 'connection;
                    }
                }
                asked.clear();
                for part in &parts {
                    tcp.write_all(part).await.unwrap();
                    // Two packets are two pieces; nothing waits for it.
                    tokio::time::sleep(Duration::from_millis(15)).await;
                }
                if after != After::Stays {
                    break;
                }
            }
            if after == After::Resets {
                SockRef::from(&tcp)
                    .set_linger(Some(Duration::ZERO))
                    .unwrap();
            }
        }
    });
    address
}

struct Bench {
    recorder: Recorder,
    folder: tempfile::TempDir,
}

impl Bench {
    async fn before(upstream: SocketAddr) -> Self {
        Self::with(upstream, |_| {}).await
    }

    async fn with(upstream: SocketAddr, change: impl FnOnce(&mut RecordOptions)) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut options = RecordOptions {
            listen: "127.0.0.1:0".parse().unwrap(),
            upstream: Upstream::parse(&format!("http://{upstream}")).unwrap(),
            file: folder.path().join("night.jsonl"),
            recorded_at: None,
            filter: None,
            allows_commands: false,
            tls: None,
            limits: Limits {
                min_free_bytes: 0,
                ..Limits::default()
            },
        };
        change(&mut options);
        Self {
            recorder: Recorder::start(options).await.unwrap(),
            folder,
        }
    }

    async fn connect(&self) -> TcpStream {
        TcpStream::connect(self.recorder.local_addr())
            .await
            .unwrap()
    }

    /// Asks on a connection of its own and gives all that comes until its end.
    async fn ask(&self, request: &str) -> (Vec<u8>, std::io::Result<()>) {
        let mut client = self.connect().await;
        client.write_all(request.as_bytes()).await.unwrap();
        let mut bytes = Vec::new();
        let end = client.read_to_end(&mut bytes).await;
        (bytes, end.map(drop))
    }

    async fn session(self) -> Session {
        self.recorder.stop().await.unwrap();
        read(&self.folder.path().join("night.jsonl"))
    }
}

fn read(file: &Path) -> Session {
    let text = std::fs::read_to_string(file).unwrap();
    let read = SessionFile::read(&text).unwrap();
    assert_eq!(read.torn_bytes, 0);
    read.session
}

fn end_of(session: &Session, number: u64) -> End {
    session
        .exchange(number)
        .unwrap()
        .outcome
        .as_ref()
        .unwrap()
        .end()
        .unwrap()
}

fn content(session: &Session, number: u64) -> &Content {
    &session.exchange(number).unwrap().answer().unwrap().content
}

const GET: &str = "GET /printer HTTP/1.1\r\nHost: here\r\nConnection: close\r\n\r\n";

#[tokio::test]
async fn an_answer_comes_as_it_was_and_is_written_with_its_pieces() {
    const HEAD: &[u8] = b"HTTP/1.1 200 OK\r\nContent-Length: 11\r\n\r\n";
    let bench = Bench::before(host(vec![HEAD, b"{\"a\":", b" 12.5}"], After::Stays).await).await;
    let (bytes, end) = bench.ask(GET).await;
    assert_eq!(
        bytes,
        b"HTTP/1.1 200 OK\r\nContent-Length: 11\r\n\r\n{\"a\": 12.5}"
    );
    assert!(end.is_ok());
    let session = bench.session().await;
    let Content::Whole {
        body, pieces, raw, ..
    } = content(&session, 1)
    else {
        panic!("{session:?}");
    };
    assert_eq!(body.text().unwrap().len(), 11);
    assert_eq!(
        pieces.iter().map(|piece| piece.bytes).sum::<u64>(),
        HEAD.len() as u64 + 11
    );
    assert_eq!(*raw, None);
}

#[tokio::test]
async fn a_reset_in_the_middle_is_one_after_as_many_bytes() {
    let cut: &[u8] = b"HTTP/1.1 200 OK\r\nContent-Length: 900\r\n\r\n{\"progress\": 4";
    let bench = Bench::before(host(vec![cut], After::Resets).await).await;
    let (bytes, end) = bench.ask(GET).await;
    assert_eq!(bytes, cut);
    assert_eq!(end.unwrap_err().kind(), std::io::ErrorKind::ConnectionReset);
    let session = bench.session().await;
    assert_eq!(end_of(&session, 1), End::Reset);
    assert_eq!(session.exchanges[0].answer().unwrap().bytes(), cut);
    assert!(session.connections[0].closed.unwrap().2);
}

#[tokio::test]
async fn a_close_before_the_end_is_no_whole_answer_and_one_without_a_length_is() {
    let short: &[u8] = b"HTTP/1.1 200 OK\r\nContent-Length: 900\r\n\r\n{}";
    let bench = Bench::before(host(vec![short], After::Closes).await).await;
    assert_eq!(bench.ask(GET).await.0, short);
    assert_eq!(end_of(&bench.session().await, 1), End::Closed);
    let open: &[u8] = b"HTTP/1.0 200 OK\r\n\r\n{}";
    let bench = Bench::before(host(vec![open], After::Closes).await).await;
    assert_eq!(bench.ask(GET).await.0, open);
    let session = bench.session().await;
    assert_eq!(end_of(&session, 1), End::Complete);
    assert_eq!(
        session.exchanges[0].answer().unwrap().framing,
        Framing::Close
    );
}

#[tokio::test]
async fn half_a_head_is_no_answer_and_comes_as_it_was() {
    let half: &[u8] = b"HTTP/1.1 200 OK\r\nConte";
    let bench = Bench::before(host(vec![half], After::Closes).await).await;
    assert_eq!(bench.ask(GET).await.0, half);
    let session = bench.session().await;
    let Some(Outcome::NoAnswer { end, received, .. }) = &session.exchanges[0].outcome else {
        panic!("{session:?}");
    };
    assert_eq!(
        (*end, received.text().unwrap().as_bytes()),
        (End::Closed, half)
    );
}

#[tokio::test]
async fn what_is_no_http_comes_as_it_was_and_is_told_as_such() {
    let noise: &[u8] = b"220 printer ready\r\n\r\n";
    let bench = Bench::before(host(vec![noise], After::Closes).await).await;
    assert_eq!(bench.ask(GET).await.0, noise);
    assert_eq!(end_of(&bench.session().await, 1), End::NotHttp);
}

#[tokio::test]
async fn odd_bytes_are_kept_raw() {
    let odd: &[u8] = b"HTTP/1.1 100 Continue\r\n\r\nHTTP/1.1 200 OK\nTransfer-Encoding:chunked\n\n2;x=y\r\n{}\r\n0\r\n\r\n";
    let bench = Bench::before(host(vec![odd], After::Stays).await).await;
    let (bytes, _) = bench.ask(GET).await;
    assert_eq!(bytes, odd);
    let session = bench.session().await;
    let Content::Whole {
        body, raw, chunks, ..
    } = content(&session, 1)
    else {
        panic!("{session:?}");
    };
    assert_eq!((body.text(), &chunks[..]), (Some("{}"), &[2][..]));
    assert_eq!(raw.as_ref().unwrap().text().unwrap().as_bytes(), odd);
    assert_eq!(session.exchanges[0].answer().unwrap().bytes(), odd);
}

#[tokio::test]
async fn what_could_change_something_is_not_passed_on() {
    let bench =
        Bench::before(host(vec![b"HTTP/1.1 204 No Content\r\n\r\n"], After::Stays).await).await;
    let (bytes, _) = bench
        .ask("POST /job/cancel HTTP/1.1\r\nHost: x\r\nContent-Length: 2\r\n\r\n{}")
        .await;
    insta::assert_snapshot!(String::from_utf8(bytes).unwrap().replace('\r', ""));
    let session = bench.session().await;
    assert_eq!(end_of(&session, 1), End::NotPassedOn);
    assert_eq!(session.exchanges[0].request.body, Body::from("{}"));
}

#[tokio::test]
async fn with_leave_commands_are_passed_on() {
    let upstream = host(vec![b"HTTP/1.1 204 No Content\r\n\r\n"], After::Stays).await;
    let bench = Bench::with(upstream, |options| options.allows_commands = true).await;
    let (bytes, _) = bench
        .ask("POST /job/cancel HTTP/1.1\r\nConnection: close\r\nContent-Length: 2\r\n\r\n{}")
        .await;
    assert_eq!(bytes, b"HTTP/1.1 204 No Content\r\n\r\n");
    assert_eq!(end_of(&bench.session().await, 1), End::Complete);
}

#[tokio::test]
async fn one_connection_is_asked_again_and_again() {
    let bench = Bench::before(
        host(
            vec![b"HTTP/1.1 200 OK\r\nContent-Length: 2\r\n\r\n{}"],
            After::Stays,
        )
        .await,
    )
    .await;
    let mut client = bench.connect().await;
    for _ in 0..3 {
        client
            .write_all(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
            .await
            .unwrap();
        let mut answer = [0; 40];
        client.read_exact(&mut answer).await.unwrap();
    }
    drop(client);
    let session = bench.session().await;
    assert_eq!((session.connections.len(), session.exchanges.len()), (1, 3));
}

#[tokio::test]
async fn nobody_there_is_a_reset_and_told() {
    let nobody = TcpListener::bind("127.0.0.1:0")
        .await
        .unwrap()
        .local_addr()
        .unwrap();
    let bench = Bench::before(nobody).await;
    let (bytes, end) = bench.ask(GET).await;
    assert!(bytes.is_empty());
    assert_eq!(end.unwrap_err().kind(), std::io::ErrorKind::ConnectionReset);
    assert_eq!(end_of(&bench.session().await, 1), End::Refused);
}

#[tokio::test]
async fn events_are_written_one_by_one() {
    const HEAD: &[u8] = b"HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\n\r\n";
    let bench = Bench::before(
        host(
            vec![HEAD, b"data: 1\n\ndata:", b" 2\n\n: half"],
            After::Closes,
        )
        .await,
    )
    .await;
    let (bytes, _) = bench.ask(GET).await;
    assert!(bytes.ends_with(b"data: 1\n\ndata: 2\n\n: half"));
    let session = bench.session().await;
    let Content::Stream { kind, pushed, .. } = content(&session, 1) else {
        panic!("{session:?}");
    };
    assert_eq!(*kind, StreamKind::Events);
    let texts: Vec<&str> = pushed
        .iter()
        .map(|(_, pushed)| match pushed {
            Pushed::Bytes(body) => body.text().unwrap(),
            Pushed::Frame(_) => panic!("no frame"),
        })
        .collect();
    assert_eq!(texts, ["data: 1\n\n", "data: 2\n\n", ": half"]);
    assert_eq!(end_of(&session, 1), End::Complete);
}

#[tokio::test]
async fn messages_of_both_sides_of_a_websocket_are_written() {
    const BEGUN: &[u8] = b"HTTP/1.1 101 Switching Protocols\r\nUpgrade: websocket\r\n\r\n";
    let upstream = host(
        vec![BEGUN, b"\x81\x02{}", b"\x88\x02\x03\xe8"],
        After::Stays,
    )
    .await;
    let bench = Bench::with(upstream, |options| options.allows_commands = true).await;
    let mut client = bench.connect().await;
    client
        .write_all(b"GET /live HTTP/1.1\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n\r\n")
        .await
        .unwrap();
    let mut begun = vec![0; BEGUN.len()];
    client.read_exact(&mut begun).await.unwrap();
    client
        .write_all(&[
            0x81, 0x85, 0x37, 0xfa, 0x21, 0x3d, 0x7f, 0x9f, 0x4d, 0x51, 0x58,
        ])
        .await
        .unwrap();
    let mut rest = [0; 8];
    client.read_exact(&mut rest).await.unwrap();
    assert_eq!(&rest, b"\x81\x02{}\x88\x02\x03\xe8");
    let session = bench.session().await;
    let Content::Stream { pushed, .. } = content(&session, 1) else {
        panic!("{session:?}");
    };
    let told: Vec<String> = pushed
        .iter()
        .map(|(_, pushed)| match pushed {
            Pushed::Frame(frame) => {
                format!("{:?} {:?} {}", frame.from, frame.kind, frame.body.len())
            }
            Pushed::Bytes(_) => panic!("frames only"),
        })
        .collect();
    let mut told = told;
    told.sort_unstable();
    assert_eq!(told, ["Host Close 2", "Host Text 2", "Watcher Text 5"]);
}

#[tokio::test]
async fn of_a_body_that_is_too_long_only_the_length_is_written() {
    let upstream = host(
        vec![b"HTTP/1.1 200 OK\r\nContent-Length: 20\r\n\r\n01234567890123456789"],
        After::Stays,
    )
    .await;
    let bench = Bench::with(upstream, |options| options.limits.max_body_bytes = 10).await;
    assert!(bench.ask(GET).await.0.ends_with(b"01234567890123456789"));
    let session = bench.session().await;
    let Content::Whole {
        body: Body::Withheld(withheld),
        ..
    } = content(&session, 1)
    else {
        panic!("{session:?}");
    };
    assert_eq!(withheld.bytes, 20);
}

#[tokio::test]
async fn a_file_that_is_long_enough_is_followed_by_one_that_stands_by_itself() {
    let upstream = host(
        vec![b"HTTP/1.1 200 OK\r\nContent-Length: 2\r\n\r\n{}"],
        After::Stays,
    )
    .await;
    let bench = Bench::with(upstream, |options| {
        options.limits.max_file_bytes = Some(600);
    })
    .await;
    for _ in 0..6 {
        assert!(bench.ask(GET).await.1.is_ok());
    }
    let counts = bench.recorder.counts();
    assert!(counts.files >= 2, "{counts:?}");
    let folder = bench.folder.path().to_owned();
    bench.recorder.stop().await.unwrap();
    let mut exchanges = read(&folder.join("night.jsonl")).exchanges;
    for number in 2..=counts.files {
        exchanges.extend(read(&folder.join(format!("night.{number}.jsonl"))).exchanges);
    }
    let numbers: Vec<u64> = exchanges.iter().map(|exchange| exchange.number).collect();
    assert_eq!(numbers, [1, 2, 3, 4, 5, 6]);
    assert!(exchanges.iter().all(|exchange| exchange.outcome.is_some()));
}

#[tokio::test]
async fn a_file_that_is_there_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("night.jsonl");
    std::fs::write(&file, "precious").unwrap();
    let options = RecordOptions {
        listen: "127.0.0.1:0".parse().unwrap(),
        upstream: Upstream::parse("http://printer.example").unwrap(),
        file: file.clone(),
        recorded_at: None,
        filter: None,
        allows_commands: false,
        tls: None,
        limits: Limits {
            min_free_bytes: 0,
            ..Limits::default()
        },
    };
    assert!(matches!(
        Recorder::start(options).await,
        Err(RecordError::File { .. })
    ));
    assert_eq!(std::fs::read_to_string(file).unwrap(), "precious");
}

#[tokio::test]
async fn what_is_under_way_at_the_stop_is_told_as_such() {
    let bench = Bench::before(
        host(
            vec![b"HTTP/1.1 200 OK\r\nContent-Length: 9\r\n\r\n{"],
            After::Stays,
        )
        .await,
    )
    .await;
    let mut client = bench.connect().await;
    client.write_all(GET.as_bytes()).await.unwrap();
    let mut head = [0; 20];
    client.read_exact(&mut head).await.unwrap();
    assert_eq!(end_of(&bench.session().await, 1), End::RecordingStopped);
}

#[tokio::test]
async fn a_watcher_that_gives_up_waiting_is_seen() {
    let bench = Bench::before(host(vec![], After::Stays).await).await;
    let mut client = bench.connect().await;
    client.write_all(GET.as_bytes()).await.unwrap();
    while bench.recorder.counts().exchanges == 0 {
        tokio::task::yield_now().await;
    }
    drop(client);
    let file = bench.folder.path().join("night.jsonl");
    while !std::fs::read_to_string(&file)
        .unwrap()
        .contains("connection-closed")
    {
        tokio::time::sleep(Duration::from_millis(1)).await;
    }
    assert_eq!(end_of(&bench.session().await, 1), End::WatcherLeft);
}

#[test]
fn an_upstream_is_an_origin_and_nothing_more() {
    assert_eq!(
        Upstream::parse("http://printer.example:80/")
            .unwrap()
            .to_string(),
        "http://printer.example"
    );
    assert_eq!(
        Upstream::parse("https://[::1]:8443").unwrap().to_string(),
        "https://[::1]:8443"
    );
    for (text, why) in [
        ("printer.example", "neither"),
        ("ftp://printer.example", "neither"),
        ("http://u:p@printer.example", "password"),
        ("http://printer.example/base", "path"),
    ] {
        let error = Upstream::parse(text).unwrap_err();
        assert!(error.contains(why), "{text}: {error}");
    }
}
