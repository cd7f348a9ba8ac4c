use std::io::ErrorKind;
use std::net::TcpStream;
use std::os::unix::process::ExitStatusExt;
use std::time::{Duration, Instant};

use rustix::process::{Pid, Signal, kill_process};

use crate::common::{Served, run, stderr};

#[test]
fn a_print_heats_up_prints_and_finishes_before_the_eyes_of_a_client() {
    // Ten hours in a minute; the print itself is over after 39 s. Twice that, for a busy machine.
    let host = Served::start(&["printing", "--rate", "600"]);
    let deadline = Instant::now() + Duration::from_secs(80);
    let mut seen: Vec<String> = Vec::new();
    while Instant::now() < deadline {
        let printer = host.get("/printer");
        let job = printer["job"]["job-state"].as_str().unwrap_or("no job");
        let heating = printer["printer-state-reasons"]
            .to_string()
            .contains("-heating-report");
        let word = if heating { "heating" } else { job };
        if seen.last().is_none_or(|last| last != word) {
            seen.push(word.to_owned());
        }
        if word == "completed" {
            break;
        }
    }
    assert_eq!(seen, ["no job", "heating", "processing", "completed"]);
}

#[test]
fn the_same_seed_and_moment_give_the_same_bytes_in_two_processes() {
    let args = ["finished", "--rate", "0", "--from", "12m34s", "--seed", "5"];
    let body = |host: &Served| host.get("/printer").to_string();
    assert_eq!(body(&Served::start(&args)), body(&Served::start(&args)));
}

#[test]
fn both_ending_signals_end_it_cleanly() {
    for signal in [Signal::INT, Signal::TERM] {
        let mut host = Served::start(&["printing"]);
        host.get("/printer");
        let pid = Pid::from_child(&host.child);
        kill_process(pid, signal).unwrap();
        let status = host.child.wait().unwrap();
        assert_eq!(
            (status.code(), status.signal()),
            (Some(0), None),
            "{signal:?}"
        );
    }
}

#[test]
fn a_key_is_asked_for_by_name() {
    let host = Served::start(&["printing", "--key", "sesame"]);
    let without = host.ask("GET", "/printer", "");
    assert!(without.starts_with("HTTP/1.1 401 "), "{without}");
    assert!(
        without.to_lowercase().contains("www-authenticate: bearer"),
        "{without}"
    );
    let with = host.ask("GET", "/printer", "Authorization: Bearer sesame\r\n");
    assert!(with.starts_with("HTTP/1.1 200 "), "{with}");
}

#[test]
fn a_key_that_is_revoked_during_the_print_is_refused_from_then_on() {
    let key = ["--key", "sesame", "--rate", "0"];
    let ask = |from: &str| {
        let host = Served::start(&[&["key-revoked", "--from", from], &key[..]].concat());
        host.ask("GET", "/printer", "Authorization: Bearer sesame\r\n")
    };
    assert!(ask("10m").starts_with("HTTP/1.1 200 "));
    assert!(ask("1h").starts_with("HTTP/1.1 401 "));
}

#[test]
fn a_host_that_restarts_answers_nobody_and_counts_its_up_time_anew() {
    // The first restart is at 20 min and lasts 40 s.
    let host = |from: &str| Served::start(&["host-restart", "--rate", "0", "--from", from]);
    let away = host("20m10s");
    let refused = TcpStream::connect(&away.address).unwrap_err();
    assert_eq!(refused.kind(), ErrorKind::ConnectionRefused);
    assert_eq!(host("21m").get("/printer")["printer-up-time"], 20);
}

#[test]
fn a_scenario_file_may_include_another_and_run_a_program_beside_it() {
    let dir = tempfile::tempdir().unwrap();
    let program = "G21\nG90\nM83\nG1 Z0.2 F600\nG1 X100 E3.3 F1800\nG1 X0 E3.3\nM2\n";
    std::fs::write(dir.path().join("two-lines.gcode"), program).unwrap();
    let scenario = "title = \"two lines\"\ninclude = \"desk-printer\"\nlength = \"10m\"\n[[job]]\nname = \"lines\"\nat = \"0s\"\nprogram = \"two-lines.gcode\"\n";
    let file = dir.path().join("mine.toml");
    std::fs::write(&file, scenario).unwrap();
    let host = Served::start(&[file.to_str().unwrap(), "--rate", "0", "--from", "1m"]);
    assert_eq!(host.get("/job")["job-state"], "completed");
}

#[test]
fn an_operator_on_the_wire_pauses_and_resumes_the_print() {
    let host = Served::start(&["heat-up", "--from", "5m"]);
    let empty = "Content-Length: 0\r\n";
    assert!(
        host.ask("POST", "/job/pause", empty)
            .starts_with("HTTP/1.1 200 ")
    );
    assert_eq!(host.get("/job")["job-state"], "processing-stopped");
    let again = host.ask("POST", "/job/pause", empty);
    assert!(again.starts_with("HTTP/1.1 409 "), "{again}");
    assert!(
        host.ask("POST", "/job/resume", empty)
            .starts_with("HTTP/1.1 200 ")
    );
    assert_eq!(host.get("/job")["job-state"], "processing");
}

#[test]
fn bad_input_is_told_in_one_line_with_exit_code_2() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("bad.toml");
    std::fs::write(&file, "title = \"x\"\nlenght = \"1h\"\n").unwrap();
    let bad_file = file.to_str().unwrap();
    let taken = Served::start(&["printing"]);
    let cases: [(&[&str], &str); 6] = [
        (
            &["no-such-scenario"],
            "neither a built-in scenario nor a file",
        ),
        (
            &[bad_file],
            "bad.toml:2: lenght: unknown key `lenght` [did you mean `length`?]",
        ),
        (
            &["--dialect", "no-such-dialect"],
            "neither a built-in dialect nor a file",
        ),
        (&["--listen", "0.0.0.0:0"], "needs --key"),
        (&["--listen", &taken.address], "cannot listen on"),
        (&["--from", "90"], "written with units"),
    ];
    for (args, said) in cases {
        let output = run(&[&["serve"], args].concat());
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(
            stderr(&output).contains(said),
            "{args:?}: {}",
            stderr(&output)
        );
    }
}
