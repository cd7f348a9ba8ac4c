//! Starting the built command.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::sync::OnceLock;

/// Gives the command: the one that `COLDBED` names, or one built with the profile of this test.
pub(crate) fn coldbed() -> Command {
    static BUILT: OnceLock<PathBuf> = OnceLock::new();
    Command::new(BUILT.get_or_init(|| {
        if let Some(built) = std::env::var_os("COLDBED") {
            return built.into();
        }
        let deps = std::env::current_exe().unwrap();
        let target = deps.parent().and_then(Path::parent).unwrap();
        let release = target.ends_with("release");
        let status = Command::new(env!("CARGO"))
            .args([
                "build",
                "--quiet",
                "--package",
                "coldbed",
                "--bin",
                "coldbed",
            ])
            .args(release.then_some("--release"))
            .status()
            .unwrap();
        assert!(status.success(), "the command can be built");
        target.join("coldbed")
    }))
}

/// Runs the command to its end.
pub(crate) fn run(args: &[&str]) -> Output {
    coldbed().args(args).output().unwrap()
}

pub(crate) fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

pub(crate) fn stderr(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// Gives a path below `tests/`.
pub(crate) fn in_tests(path: &str) -> String {
    format!("{}/{path}", env!("CARGO_MANIFEST_DIR"))
}

/// Is a running `coldbed serve`; killed when dropped.
pub(crate) struct Served {
    pub(crate) child: Child,
    pub(crate) address: String,
    pub(crate) url: String,
    /// The URL of the control API, if it was asked for.
    pub(crate) control: Option<String>,
}

impl Served {
    pub(crate) fn start(args: &[&str]) -> Self {
        Self::listening(args, "127.0.0.1:0")
    }

    pub(crate) fn listening(args: &[&str], listen: &str) -> Self {
        Self::spawn_at(coldbed().arg("serve").args(args), listen)
    }

    /// Starts a command that serves, on a free port.
    pub(crate) fn spawn(command: &mut Command) -> Self {
        Self::spawn_at(command, "127.0.0.1:0")
    }

    fn spawn_at(command: &mut Command, listen: &str) -> Self {
        let mut child = command
            .args(["--listen", listen])
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        let mut output = BufReader::new(child.stdout.take().unwrap());
        output.read_line(&mut line).unwrap();
        let mut args = command.get_args();
        let has_control = args.any(|arg| arg.to_str().unwrap().starts_with("--control="));
        let control = has_control.then(|| {
            let mut line = String::new();
            output.read_line(&mut line).unwrap();
            let url = line.trim().strip_prefix("control on ");
            url.expect("the second line").to_owned()
        });
        let url = line
            .trim()
            .strip_prefix("listening on ")
            .expect("the first line");
        let (_, address) = url.split_once("://").expect("a URL");
        Self {
            address: address.to_owned(),
            url: url.to_owned(),
            control,
            child,
        }
    }

    /// Sends one request and gives the whole answer.
    pub(crate) fn ask(&self, method: &str, path: &str, fields: &str) -> String {
        let mut stream = TcpStream::connect(&self.address).unwrap();
        let host = &self.address;
        write!(
            stream,
            "{method} {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{fields}\r\n"
        )
        .unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        answer
    }

    /// Gives the body of `GET path`, which must be a good answer.
    pub(crate) fn get(&self, path: &str) -> serde_json::Value {
        let answer = self.ask("GET", path, "");
        assert!(answer.starts_with("HTTP/1.1 200 "), "{answer}");
        let (_, body) = answer.split_once("\r\n\r\n").unwrap();
        serde_json::from_str(body).unwrap()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
