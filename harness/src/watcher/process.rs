//! A watcher's process: started, observed, ended with everything it started itself.

use std::process::Stdio;
use std::time::Duration;

use rustix::process::{Pid, Signal, kill_process_group};
use tokio::io::{AsyncBufReadExt, BufReader};
use tokio::process::{Child, Command};
use tokio::sync::mpsc;

/// Is how to start a watcher: program and arguments with places for what only a run knows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WatcherCommand {
    /// Program and arguments. `{url}`, `{key}` and `{dialect}` are replaced in each.
    pub words: Vec<String>,
}

/// Says why a watcher could not be started.
#[derive(Debug, thiserror::Error)]
#[error("cannot start `{program}`")]
pub struct StartError {
    /// The program, as given.
    pub program: String,
    /// What the system said.
    #[source]
    pub source: std::io::Error,
}

/// Is what a process wrote or did.
#[derive(Debug)]
pub enum Output {
    /// A line on the output stream.
    Stdout(String),
    /// A line on the error stream.
    Stderr(String),
    /// The process ended by itself.
    Exited(std::process::ExitStatus),
}

/// Is a running watcher. Dropping it kills it; [`Self::stop`] asks first.
#[derive(Debug)]
pub struct WatcherProcess {
    group: Option<Pid>,
    ended: tokio::task::JoinHandle<()>,
}

/// How long a watcher may take to end after it was asked to.
const GRACE: Duration = Duration::from_millis(500);

/// Longer lines are cut: a watcher gone wild must not fill the memory.
const LINE_LIMIT: usize = 64 * 1024;

impl WatcherCommand {
    /// Starts the process in a group of its own and sends its output to `sink`.
    ///
    /// # Errors
    /// [`StartError`] when the system cannot run the program.
    pub fn start(
        &self,
        url: &str,
        key: &str,
        dialect: &str,
        sink: mpsc::UnboundedSender<Output>,
    ) -> Result<WatcherProcess, StartError> {
        let mut words = self.words.iter().map(|word| {
            word.replace("{url}", url)
                .replace("{key}", key)
                .replace("{dialect}", dialect)
        });
        let program = words.next().unwrap_or_default();
        let mut child = Command::new(&program)
            .args(words)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            // A shell watcher starts other programs; they must end with it.
            .process_group(0)
            .kill_on_drop(true)
            .spawn()
            .map_err(|source| StartError {
                program: program.clone(),
                source,
            })?;
        let group = child
            .id()
            .and_then(|id| i32::try_from(id).ok())
            .and_then(Pid::from_raw);
        let ended = tokio::spawn(async move { follow(&mut child, sink).await });
        Ok(WatcherProcess { group, ended })
    }
}

impl WatcherProcess {
    /// Asks the watcher to end, and ends it if it does not.
    pub async fn stop(mut self) {
        self.signal(Signal::TERM);
        if tokio::time::timeout(GRACE, &mut self.ended).await.is_err() {
            self.signal(Signal::KILL);
        }
    }

    fn signal(&self, signal: Signal) {
        if let Some(group) = self.group {
            // It may have ended in the meantime: then there is nobody to tell.
            let _ = kill_process_group(group, signal);
        }
    }
}

impl Drop for WatcherProcess {
    fn drop(&mut self) {
        self.signal(Signal::KILL);
    }
}

async fn follow(child: &mut Child, sink: mpsc::UnboundedSender<Output>) {
    let stdout = child.stdout.take();
    let stderr = child.stderr.take();
    let lines = async {
        tokio::join!(
            forward(stdout, &sink, Output::Stdout),
            forward(stderr, &sink, Output::Stderr),
        )
    };
    lines.await;
    if let Ok(status) = child.wait().await {
        // Nobody listens any more once the run is over.
        let _ = sink.send(Output::Exited(status));
    }
}

async fn forward<R: tokio::io::AsyncRead + Unpin>(
    stream: Option<R>,
    sink: &mpsc::UnboundedSender<Output>,
    as_output: fn(String) -> Output,
) {
    let Some(stream) = stream else { return };
    let mut reader = BufReader::new(stream);
    let mut line = Vec::new();
    while let Ok(1..) = reader.read_until(b'\n', &mut line).await {
        line.truncate(LINE_LIMIT);
        let text = String::from_utf8_lossy(&line);
        // Sent even if nobody listens: a full pipe would stop the watcher.
        let _ = sink.send(as_output(text.trim_end().to_owned()));
        line.clear();
    }
}
