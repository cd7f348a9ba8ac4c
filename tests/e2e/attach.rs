//! A device that nobody starts: it asks by itself, and posts what it sees.

use std::net::TcpListener;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use crate::common::{coldbed, in_tests, run, stderr, stdout};

/// Gives two ports that nobody listens on now.
fn free_ports() -> (u16, u16) {
    let listeners = [(); 2].map(|()| TcpListener::bind("127.0.0.1:0").unwrap());
    let [host, callback] = listeners.map(|listener| listener.local_addr().unwrap().port());
    (host, callback)
}

/// Is a device on the desk, until it is dropped.
struct Device(Child);

impl Device {
    /// Polls a host and posts each claim, as a board with a program of its own would.
    fn switched_on(host: u16, callback: u16) -> Self {
        let watch = in_tests("watchers/python/watch.py");
        let script = format!(
            "python3 {watch} http://127.0.0.1:{host} desk-key 0.3 2>/dev/null | while read -r line; do \
             curl -s --data-binary \"$line\" http://127.0.0.1:{callback}/sightings; done"
        );
        let mut shell = Command::new("sh");
        shell.args(["-c", &script]).stdout(Stdio::null());
        // With everything it starts.
        std::os::unix::process::CommandExt::process_group(&mut shell, 0);
        Self(shell.spawn().unwrap())
    }
}

impl Drop for Device {
    fn drop(&mut self) {
        let group = rustix::process::Pid::from_child(&self.0);
        let _ = rustix::process::kill_process_group(group, rustix::process::Signal::KILL);
        let _ = self.0.wait();
    }
}

fn judged(dir: &Path, host: u16, callback: u16, only: &[&str]) -> std::process::Output {
    let file = dir.join("device.toml");
    let text =
        format!("[sightings]\nfrom = {{ callback = {{ listen = \"127.0.0.1:{callback}\" }} }}\n");
    std::fs::write(&file, text).unwrap();
    let _device = Device::switched_on(host, callback);
    coldbed()
        .args([
            "check",
            "--attach",
            "--key",
            "desk-key",
            "--patience",
            "60s",
        ])
        .args(["--listen", &format!("127.0.0.1:{host}"), "--watcher"])
        .arg(&file)
        .args(only.iter().flat_map(|id| ["--only", id]))
        .output()
        .unwrap()
}

#[test]
fn an_attached_device_is_told_what_to_do_and_judged_by_what_it_posts() {
    let dir = tempfile::tempdir().unwrap();
    let (host, callback) = free_ports();
    let only = [
        "phase-heat-up",
        "key-not-in-url",
        "wrong-certificate-accepted",
    ];
    let output = judged(dir.path(), host, callback, &only);
    let (said, report) = (stderr(&output), stdout(&output));
    assert!(said.contains("1. Tell the device its host"), "{said}");
    assert_eq!(output.status.code(), Some(0), "{report}{said}");
    assert!(report.contains("2 passed, 0 failed, 1 skipped"), "{report}");
    assert!(report.contains("keeps its address"), "{report}");
}

#[test]
fn a_device_needs_a_port_that_stays_and_a_key_where_others_reach_it() {
    for (arguments, said) in [
        (&["--listen", "127.0.0.1:0"][..], "a port that stays"),
        (&["--listen", "0.0.0.0:8631"][..], "there is no key"),
    ] {
        let output = run(&[&["check", "--attach"], arguments].concat());
        assert_eq!(output.status.code(), Some(2));
        assert!(stderr(&output).contains(said), "{}", stderr(&output));
    }
}
