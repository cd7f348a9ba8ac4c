//! TLS before clients that are not ours.

use std::os::unix::fs::PermissionsExt;
use std::path::PathBuf;
use std::process::{Command, Output};

use tempfile::TempDir;

use crate::common::{Served, run, stderr, stdout};
use crate::watchers::python_with;

/// Is a host with TLS and the file of its authority.
struct Secure {
    host: Served,
    authority: PathBuf,
    _dir: TempDir,
}

impl Secure {
    fn start(certificate: &str) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let authority = dir.path().join("ca.pem");
        let file = authority.to_str().unwrap();
        let host = Served::start(&["printing", "--tls", file, "--tls-certificate", certificate]);
        Self {
            host,
            authority,
            _dir: dir,
        }
    }

    fn curl(&self, flags: &[&str]) -> Output {
        Command::new("curl")
            .args(["--silent", "--show-error", "--max-time", "20", "--cacert"])
            .arg(&self.authority)
            .args(flags)
            .arg(format!("{}/printer", self.host.url))
            .output()
            .unwrap()
    }

    /// Runs a Python program with the file and the URL as its arguments.
    fn python(&self, program: &str) -> Output {
        Command::new("python3")
            .args(["-c", program])
            .arg(&self.authority)
            .arg(format!("{}/printer", self.host.url))
            .output()
            .unwrap()
    }
}

#[test]
fn a_good_certificate_passes_with_curl_in_both_versions_of_tls() {
    let secure = Secure::start("good");
    assert!(secure.host.url.starts_with("https://127.0.0.1:"));
    for version in ["1.2", "1.3"] {
        let least = format!("--tlsv{version}");
        let output = secure.curl(&[&least, "--tls-max", version]);
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        let printer: serde_json::Value = serde_json::from_str(&stdout(&output)).unwrap();
        assert!(printer["printer-state"].is_string());
    }
    let mode = std::fs::metadata(&secure.authority).unwrap().permissions();
    assert_eq!(mode.mode() & 0o777, 0o644);
    let untrusting = Command::new("curl")
        .args(["--silent", "--max-time", "20"])
        .arg(format!("{}/printer", secure.host.url))
        .output()
        .unwrap();
    assert_eq!(untrusting.status.code(), Some(60));
}

/// # Source
/// curl's manual, "EXIT CODES", 60: "Peer certificate cannot be authenticated with known CA
/// certificates."
#[test]
fn each_bad_certificate_is_refused_by_curl_for_its_own_reason() {
    for (certificate, reason) in [
        ("expired", "certificate has expired"),
        ("wrong-name", "does not match target host name"),
        ("unknown-issuer", "unable to get local issuer certificate"),
    ] {
        let secure = Secure::start(certificate);
        for version in ["1.2", "1.3"] {
            let output = secure.curl(&["--tls-max", version]);
            let said = stderr(&output);
            assert_eq!(output.status.code(), Some(60), "{certificate}: {said}");
            // curl words one of them by the form of the name, host or address.
            let told = said.contains(reason)
                || (certificate == "wrong-name" && said.contains("no alternative certificate"));
            assert!(told, "{certificate}: {said}");
        }
        // A client that does not look gets its answer: that is what the check is there for.
        assert_eq!(secure.curl(&["--insecure"]).status.code(), Some(0));
    }
}

/// # Source
/// Python's documentation, `ssl.SSLCertVerificationError.verify_code`; the numbers are OpenSSL's
/// (`X509_V_ERR_…`): 10 has expired, 20 no local issuer, 62 host name mismatch, 64 address mismatch.
#[test]
fn python_refuses_each_bad_certificate_with_its_own_code() {
    let program = "
import ssl, sys, urllib.request, urllib.error
context = ssl.create_default_context(cafile=sys.argv[1])
context.verify_flags |= ssl.VERIFY_X509_STRICT
try:
    print(urllib.request.urlopen(sys.argv[2], context=context, timeout=20).status)
except urllib.error.URLError as error:
    assert isinstance(error.reason, ssl.SSLCertVerificationError), error
    print('refused', error.reason.verify_code)
";
    for (certificate, said) in [
        ("good", "200\n"),
        ("expired", "refused 10\n"),
        ("wrong-name", "refused 64\n"),
        ("unknown-issuer", "refused 20\n"),
    ] {
        let output = Secure::start(certificate).python(program);
        assert_eq!(stdout(&output), said, "{certificate}: {}", stderr(&output));
    }
}

#[test]
fn a_host_on_ipv6_names_itself_in_brackets_with_and_without_tls() {
    let plain = Served::listening(&["printing"], "[::1]:0");
    assert!(plain.url.starts_with("http://[::1]:"), "{}", plain.url);
    assert!(plain.get("/printer")["printer-state"].is_string());
    let dir = tempfile::tempdir().unwrap();
    let authority = dir.path().join("ca.pem");
    let file = authority.to_str().unwrap();
    let host = Served::listening(&["printing", "--tls", file], "[::1]:0");
    assert!(host.url.starts_with("https://[::1]:"), "{}", host.url);
    let output = Command::new("curl")
        .args(["--silent", "--show-error", "--max-time", "20"])
        .args(["--cacert", file, &format!("{}/job", host.url)])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
}

#[test]
fn the_file_is_made_anew_and_another_s_is_left_alone() {
    let dir = tempfile::tempdir().unwrap();
    let authority = dir.path().join("ca.pem");
    let file = authority.to_str().unwrap();
    let made = || {
        drop(Served::start(&["printing", "--tls", file]));
        std::fs::read(&authority).unwrap()
    };
    assert_ne!(made(), made());
    std::fs::write(&authority, "somebody's key").unwrap();
    let output = run(&["serve", "--listen", "127.0.0.1:0", "--tls", file]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("is left as it is"));
    assert_eq!(std::fs::read(&authority).unwrap(), b"somebody's key");
}

#[test]
fn a_kind_of_certificate_needs_tls() {
    let output = run(&["serve", "--tls-certificate", "expired"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        stderr(&output).contains("--tls <FILE>"),
        "{}",
        stderr(&output)
    );
}

/// The connection that a watcher keeps goes on, so that one is reset meanwhile.
const BAD_FOR_A_WHILE: &str = r#"
include = "desk-printer"
title = "A print behind a certificate that is another host's for a while"
length = "8m"

[[job]]
name = "coat-hook"
at = "10s"
duration = "7m"
targets-celsius = { platform = 60, extruder = 210 }

[[event]]
at = "2m"
action = "fault-raised"
fault = { tls-certificate = { is = "wrong-name" } }
lasts = "3m"

[[event]]
at = "2m"
action = "fault-raised"
fault = "reset"
lasts = "30s"
"#;

#[test]
fn a_watcher_is_judged_on_a_scenario_in_which_the_certificate_is_bad_for_a_while() {
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    std::fs::write(path("bad.toml"), BAD_FOR_A_WHILE).unwrap();
    let judge = |mistake: Option<&str>| {
        let program = path("watch.py");
        std::fs::write(&program, python_with(mistake)).unwrap();
        let (scenario, pace) = (
            path("bad.toml"),
            ["--per-poll", "12s", "--interval", "0.4s"],
        );
        let command = [
            "--",
            "python3",
            &program,
            "{url}",
            "{key}",
            "{interval}",
            "{authority}",
        ];
        run(&[&["check", "--scenario", &scenario], &pace[..], &command].concat())
    };
    let careful = judge(None);
    assert!(
        stdout(&careful).contains("2 troubles"),
        "{}",
        stdout(&careful)
    );
    assert_eq!(careful.status.code(), Some(0), "{}", stdout(&careful));
    let careless = judge(Some("python-takes-any-name"));
    let wanted = "allowed   no request to a host that cannot say who it is";
    assert!(stdout(&careless).contains(wanted), "{}", stdout(&careless));
    assert_eq!(careless.status.code(), Some(1));
}
