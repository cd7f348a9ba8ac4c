//! Serial lines over a pair of pseudo-terminals, and callbacks with real clients.

use std::io::Write as _;
use std::time::Duration;

use serialport::{SerialPort as _, TTYPort};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;
use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

use crate::watcher::{Call, Claim, Output, RunningWatcher, StartError, Watcher, WatcherFile};

/// What is waited for comes at once; only a failure waits this long.
const PATIENCE: Duration = Duration::from_secs(20);

async fn start(text: &str) -> (RunningWatcher, UnboundedReceiver<Output>) {
    let (sink, output) = unbounded_channel();
    let watcher = watcher(text);
    assert!(watcher.is_attached());
    let running = watcher.start(&call(), sink).await.unwrap();
    (running, output)
}

fn watcher(text: &str) -> Watcher {
    Watcher::from_file(WatcherFile::parse("watcher.toml", text).unwrap())
}

fn call() -> Call {
    Call {
        url: "http://127.0.0.1:9".to_owned(),
        key: String::new(),
        dialect: "plain".to_owned(),
        interval: None,
        authority: None,
    }
}

async fn next(output: &mut UnboundedReceiver<Output>) -> Output {
    let next = tokio::time::timeout(PATIENCE, output.recv());
    next.await.expect("in time").expect("still running")
}

async fn next_progress(output: &mut UnboundedReceiver<Output>) -> f64 {
    match next(output).await {
        Output::Sighting(sighting) => match sighting.progress_percent {
            Claim::Value(progress) => progress,
            other => panic!("no progress: {other:?}"),
        },
        other => panic!("no sighting: {other:?}"),
    }
}

fn serial(device: &str) -> String {
    format!(
        "[sightings]\nfrom = {{ serial = {{ device = \"{device}\" }} }}\n\
         lines = {{ pattern = '^(?<part>\\d+) %$' }}\nfields = {{ progress-percent = \"part\" }}\n"
    )
}

#[tokio::test(flavor = "multi_thread")]
async fn a_serial_line_is_read_whatever_its_line_ends_and_however_it_is_parted() {
    let (mut board, line) = TTYPort::pair().unwrap();
    let device = line.name().unwrap();
    drop(line);
    let (running, mut output) = start(&serial(&device)).await;
    board.write_all(b"12 %\r\n1").unwrap();
    assert!((next_progress(&mut output).await - 12.0).abs() < 1e-9);
    board.write_all(b"3 %\r14 %\n").unwrap();
    assert!((next_progress(&mut output).await - 13.0).abs() < 1e-9);
    assert!((next_progress(&mut output).await - 14.0).abs() < 1e-9);
    board.write_all(b"\xf0\x00\xff15 %\n16 %\n").unwrap();
    match next(&mut output).await {
        Output::Line { on_stderr, text } => {
            assert!(!on_stderr);
            assert_eq!(text, "\u{fffd}\0\u{fffd}15 %");
        }
        other => panic!("garbage is no sighting: {other:?}"),
    }
    assert!((next_progress(&mut output).await - 16.0).abs() < 1e-9);
    running.stop().await;
    // What read has ended, so nobody is left who could send.
    assert_eq!(output.recv().await, None);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_device_that_vanishes_is_waited_for() {
    let folder = tempfile::tempdir().unwrap();
    let device = folder.path().join("board");
    let (mut board, line) = TTYPort::pair().unwrap();
    std::os::unix::fs::symlink(line.name().unwrap(), &device).unwrap();
    drop(line);
    let (running, mut output) = start(&serial(device.to_str().unwrap())).await;
    board.write_all(b"1 %\nhalf a li").unwrap();
    assert!((next_progress(&mut output).await - 1.0).abs() < 1e-9);
    std::fs::remove_file(&device).unwrap();
    drop(board);
    assert!(note(next(&mut output).await).contains("board is gone: "));

    let (mut board, line) = TTYPort::pair().unwrap();
    std::os::unix::fs::symlink(line.name().unwrap(), &device).unwrap();
    drop(line);
    assert!(note(next(&mut output).await).ends_with("board is back"));
    board.write_all(b"2 %\n").unwrap();
    assert!((next_progress(&mut output).await - 2.0).abs() < 1e-9);
    running.stop().await;
}

fn note(output: Output) -> String {
    match output {
        Output::Line {
            on_stderr: true,
            text,
        } => text,
        other => panic!("no note: {other:?}"),
    }
}

#[tokio::test]
async fn a_device_that_is_not_there_is_told_at_the_start() {
    let (sink, _output) = unbounded_channel();
    let watcher = watcher(&serial("/dev/no-such-device"));
    let error = watcher.start(&call(), sink).await.unwrap_err();
    assert!(matches!(error, StartError::Serial { .. }), "{error:?}");
    assert_eq!(
        error.to_string(),
        "cannot open the serial device `/dev/no-such-device`"
    );
}

/// Is a file for a device with a free port; which, is asked for before.
async fn callback(more: &str) -> (RunningWatcher, UnboundedReceiver<Output>) {
    for _ in 0..20 {
        let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let listen = free.local_addr().unwrap();
        drop(free);
        let text = format!(
            "[sightings]\nfrom = {{ callback = {{ listen = \"{listen}\"{more} }} }}\n\
             lines = \"json\"\nfields = {{ progress-percent = \"/part\" }}\n"
        );
        let (sink, output) = unbounded_channel();
        match watcher(&text).start(&call(), sink).await {
            Ok(running) => return (running, output),
            // Somebody else was faster.
            Err(StartError::Callback { .. }) => {}
            Err(error) => panic!("{error}"),
        }
    }
    panic!("no port stays free");
}

/// Sends a request as bytes and gives the whole answer.
async fn send(running: &RunningWatcher, head: &str, body: &str) -> String {
    let url = running.callback_url().unwrap();
    let address = url
        .strip_prefix("http://")
        .unwrap()
        .split('/')
        .next()
        .unwrap();
    let mut stream = TcpStream::connect(address).await.unwrap();
    let request = format!(
        "{head}\r\nHost: {address}\r\nConnection: close\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    );
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).await.unwrap();
    answer
}

const POST: &str = "POST /sightings HTTP/1.1";

#[tokio::test]
async fn what_a_device_posts_is_taken_as_one_json_text_or_as_lines() {
    let (running, mut output) = callback("").await;
    let answer = send(&running, POST, "{\n \"part\": 12\n}").await;
    assert!(
        answer.starts_with("HTTP/1.1 204 No Content\r\n"),
        "{answer}"
    );
    assert!((next_progress(&mut output).await - 12.0).abs() < 1e-9);
    let answer = send(
        &running,
        POST,
        "{\"part\":13}\r\nbooting\n\n{\"part\":14}\n",
    )
    .await;
    assert!(answer.starts_with("HTTP/1.1 204 "), "{answer}");
    assert!((next_progress(&mut output).await - 13.0).abs() < 1e-9);
    assert!(matches!(next(&mut output).await, Output::Line { text, .. } if text == "booting"));
    assert!((next_progress(&mut output).await - 14.0).abs() < 1e-9);
    running.stop().await;
}

#[tokio::test]
async fn nonsense_a_wrong_method_path_or_size_is_told_as_a_problem() {
    let (running, _output) = callback("").await;
    let mut told = String::new();
    let long = "x".repeat(70_000);
    for (head, body) in [
        (POST, "booting"),
        (POST, "{\"other\":1}"),
        (POST, ""),
        (POST, &long),
        ("GET /sightings HTTP/1.1", ""),
        ("POST /other HTTP/1.1", "{\"part\":1}"),
    ] {
        let answer = send(&running, head, body).await;
        let shown: Vec<&str> = answer
            .lines()
            .filter(|line| !line.starts_with("date:") && !line.is_empty())
            .collect();
        told.push_str(&format!(
            "{head}, {} bytes\n{}\n\n",
            body.len(),
            shown.join("\n")
        ));
    }
    insta::assert_snapshot!(told);
    running.stop().await;
}

#[tokio::test]
async fn a_key_is_asked_for_where_the_file_names_one() {
    let (running, mut output) = callback(", key = \"desk-7\"").await;
    for head in [
        POST.to_owned(),
        format!("{POST}\r\nAuthorization: Bearer desk-8"),
        format!("{POST}\r\nAuthorization: Basic desk-7"),
    ] {
        let answer = send(&running, &head, "{\"part\":1}").await;
        assert!(
            answer.starts_with("HTTP/1.1 401 Unauthorized\r\n"),
            "{answer}"
        );
        assert!(answer.contains("www-authenticate: Bearer\r\n"), "{answer}");
    }
    let head = format!("{POST}\r\nauthorization: bearer desk-7");
    let answer = send(&running, &head, "{\"part\":2}").await;
    assert!(answer.starts_with("HTTP/1.1 204 "), "{answer}");
    assert!((next_progress(&mut output).await - 2.0).abs() < 1e-9);
    running.stop().await;
}

#[tokio::test]
async fn the_port_is_free_again_after_the_end_and_a_connection_does_not_keep_it() {
    let (running, mut output) = callback("").await;
    let url = running.callback_url().unwrap().to_owned();
    let address = url
        .strip_prefix("http://")
        .unwrap()
        .split('/')
        .next()
        .unwrap();
    let mut idle = TcpStream::connect(address).await.unwrap();
    let request = format!("{POST}\r\nHost: x\r\nContent-Length: 10\r\n\r\n{{\"part\":1}}");
    idle.write_all(request.as_bytes()).await.unwrap();
    next_progress(&mut output).await;
    running.stop().await;
    assert_eq!(output.recv().await, None);
    assert!(TcpStream::connect(address).await.is_err());
}
