//! Recording, as a user does it: the command between a client and a host, killed at any moment.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use crate::common::{Served, coldbed, run, stderr};

fn recording(upstream: &Served, file: &Path) -> Served {
    let mut command = coldbed();
    command.args([
        "record",
        "--min-free",
        "0",
        "--upstream",
        &upstream.url,
        "--to",
    ]);
    Served::spawn(command.arg(file))
}

/// Reads a session's lines; a torn last line is left out.
fn lines(file: &Path) -> Vec<serde_json::Value> {
    let text = std::fs::read_to_string(file).unwrap();
    let whole = text.rfind('\n').map_or("", |end| &text[..end]);
    whole
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn stop(served: &mut Served) {
    let pid = served.child.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-INT", &pid])
            .status()
            .unwrap()
            .success()
    );
    assert!(served.child.wait().unwrap().success());
}

#[test]
fn what_a_client_sees_through_it_is_what_the_host_says_and_the_key_is_not_written() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("night.jsonl");
    let host = Served::start(&["printing", "--rate", "0", "--key", "planted-secret-key"]);
    let mut recorder = recording(&host, &file);
    let field = "Authorization: Bearer planted-secret-key\r\n";
    let body = |answer: String| answer.split_once("\r\n\r\n").unwrap().1.to_owned();
    let direct = body(host.ask("GET", "/printer", field));
    assert_eq!(body(recorder.ask("GET", "/printer", field)), direct);
    let refused = recorder.ask("POST", "/job/pause", field);
    assert!(refused.starts_with("HTTP/1.1 403 "), "{refused}");
    stop(&mut recorder);
    let text = std::fs::read_to_string(&file).unwrap();
    assert!(!text.contains("planted-secret-key"), "{text}");
    let answer = lines(&file)
        .into_iter()
        .find(|line| line["line"] == "answer")
        .unwrap();
    assert_eq!(answer["body"]["text"], direct);
}

/// Between a host and a client that both speak TLS, and then instead of the host.
#[test]
fn what_is_encrypted_on_both_sides_is_recorded_and_played_encrypted() {
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let (hosts, recorders, players) = (path("host.pem"), path("recorder.pem"), path("player.pem"));
    let file = path("night.jsonl");
    let host = Served::start(&["printing", "--rate", "0", "--tls", &hosts]);
    let mut command = coldbed();
    command.args(["record", "--min-free", "0", "--to", &file]);
    command.args(["--upstream", &host.url, "--upstream-authority", &hosts]);
    let mut recorder = Served::spawn(command.args(["--tls", &recorders]));
    let direct = curl(&host.url, &hosts);
    assert_eq!(direct.status.code(), Some(0), "{}", stderr(&direct));
    assert_eq!(curl(&recorder.url, &recorders).stdout, direct.stdout);
    // 60: an authority that is not trusted (the manual page of curl).
    assert_eq!(curl(&recorder.url, &hosts).status.code(), Some(60));
    stop(&mut recorder);
    let lines = lines(Path::new(&file));
    let opened = lines
        .iter()
        .find(|line| line["line"] == "connection-opened");
    assert_eq!(opened.unwrap()["tls"], true);
    let mut command = coldbed();
    let player = Served::spawn(command.args(["replay", &file, "--tls", &players]));
    assert!(player.url.starts_with("https://"), "{}", player.url);
    assert_eq!(curl(&player.url, &players).stdout, direct.stdout);
    assert_eq!(curl(&player.url, &hosts).status.code(), Some(60));
}

#[test]
fn a_host_that_is_not_trusted_is_not_asked() {
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let (hosts, others) = (path("host.pem"), path("other.pem"));
    let host = Served::start(&["printing", "--tls", &hosts]);
    drop(Served::start(&["printing", "--tls", &others]));
    let file = path("night.jsonl");
    let mut command = coldbed();
    command.args(["record", "--min-free", "0", "--to", &file]);
    command.args(["--upstream", &host.url, "--upstream-authority", &others]);
    let mut recorder = Served::spawn(&mut command);
    // 52 and 56: the connection ended without an answer, by a close or by a reset.
    let code = curl(&recorder.url, &others).status.code();
    assert!(matches!(code, Some(52 | 56)), "{code:?}");
    stop(&mut recorder);
    let lines = lines(Path::new(&file));
    assert!(lines.iter().any(|line| line["line"] == "no-answer"));
    assert!(!lines.iter().any(|line| line["line"] == "answer"));
}

fn curl(origin: &str, authority: &str) -> std::process::Output {
    Command::new("curl")
        .args([
            "--silent",
            "--show-error",
            "--max-time",
            "20",
            "--cacert",
            authority,
        ])
        .arg(format!("{origin}/printer"))
        .output()
        .unwrap()
}

#[test]
fn a_kill_at_any_moment_loses_no_answer_that_a_client_has() {
    let dir = tempfile::tempdir().unwrap();
    let host = Served::start(&["printing", "--rate", "0"]);
    let mut answered_in_all = 0;
    for round in 0_u32..100 {
        let file = dir.path().join(format!("{round}.jsonl"));
        let mut recorder = recording(&host, &file);
        // Without a pattern, and the same each time: a linear congruential generator (Knuth's constants,
        // from memory).
        let moment = round.wrapping_mul(1_664_525).wrapping_add(1_013_904_223) >> 16;
        let moment = Duration::from_micros(u64::from(moment % 30_000));
        let address = recorder.address.clone();
        let client = std::thread::spawn(move || answers(&address));
        std::thread::sleep(moment);
        recorder.child.kill().unwrap();
        let answered = client.join().unwrap();
        answered_in_all += answered;
        let written = lines(&file)
            .iter()
            .filter(|line| line["line"] == "answer")
            .count();
        assert!(
            written >= answered,
            "round {round}: {answered} answered, {written} written"
        );
    }
    assert!(
        answered_in_all > 30,
        "{answered_in_all} answers are too few to tell"
    );
}

/// Asks over and over until nothing comes any more, and counts the answers that came whole.
fn answers(address: &str) -> usize {
    let mut count = 0;
    let Ok(mut stream) = TcpStream::connect(address) else {
        return 0;
    };
    loop {
        let mut answer = Vec::new();
        if stream
            .write_all(b"GET /job HTTP/1.1\r\nHost: x\r\n\r\n")
            .is_err()
        {
            return count;
        }
        loop {
            let mut some = [0; 4096];
            match stream.read(&mut some) {
                Ok(length) if length > 0 => answer.extend_from_slice(&some[..length]),
                _ => return count,
            }
            if is_whole(&answer) {
                break;
            }
        }
        count += 1;
    }
}

fn is_whole(answer: &[u8]) -> bool {
    let text = String::from_utf8_lossy(answer);
    let Some((head, body)) = text.split_once("\r\n\r\n") else {
        return false;
    };
    let length = head.lines().find_map(|line| {
        let (name, value) = line.split_once(':')?;
        name.eq_ignore_ascii_case("content-length")
            .then(|| value.trim().parse::<usize>().unwrap())
    });
    body.len() >= length.expect("an answer with a length")
}

#[test]
fn bad_input_is_told_before_anything_is_written() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("night.jsonl");
    let name = file.to_str().unwrap();
    for (args, said) in [
        (
            vec!["--upstream", "printer.example"],
            "neither http nor https",
        ),
        (
            vec![
                "--upstream",
                "http://p.example",
                "--upstream-authority",
                name,
            ],
            "https host only",
        ),
        (
            vec!["--upstream", "http://p.example", "--replace-field", ""],
            "--replace-field: a name is empty",
        ),
    ] {
        let output = run(&[
            &["record", "--to", name, "--listen", "127.0.0.1:0"][..],
            &args,
        ]
        .concat());
        assert_eq!(output.status.code(), Some(2));
        assert!(stderr(&output).contains(said), "{}", stderr(&output));
        assert!(!file.exists());
    }
}
