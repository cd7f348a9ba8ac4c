//! A watcher's process: started, observed, ended with everything it started itself.

use std::path::PathBuf;
use std::process::Stdio;
use std::time::Duration;

use rustix::process::{Pid, Signal, kill_process_group};
use tokio::io::{AsyncBufReadExt, BufReader};
use tokio::process::{Child, Command};
use tokio::sync::mpsc;

use super::{CommandKind, Sighting};

/// Is what only a run knows and a watcher is told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Call {
    /// Where the host is.
    pub url: String,
    /// The key it asks for.
    pub key: String,
    /// The dialect it speaks, as named on the command line.
    pub dialect: String,
    /// How often to ask, where the run wants another pace than the watcher's own.
    pub interval: Option<Duration>,
    /// The certificate of the authority to trust, as a PEM file, where the host speaks TLS.
    pub authority: Option<PathBuf>,
}

/// Is a client under test: how it is started and how its claims are read.
#[derive(Debug, Clone)]
pub struct Watcher {
    words: Vec<String>,
}

/// Is what a watcher's processes use at a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Resources {
    /// Resident memory of all its processes, bytes.
    pub resident_bytes: u64,
    /// Files, sockets and pipes that its processes have open.
    pub open_files: u64,
    /// The processor time they have used.
    pub cpu: Duration,
    /// How many processes there are.
    pub processes: u32,
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
    /// A claim.
    Sighting(Sighting),
    /// A line that is no sighting.
    Line {
        /// Whether it came on the error stream.
        on_stderr: bool,
        /// The line, without its end.
        text: String,
    },
    /// The process ended by itself: `exit status: 1`.
    Exited(String),
}

/// Is a running watcher. Dropping it kills it; [`Self::stop`] asks first.
#[derive(Debug)]
pub struct RunningWatcher {
    group: Option<Pid>,
    ended: tokio::task::JoinHandle<()>,
}

/// How long a watcher may take to end after it was asked to.
const GRACE: Duration = Duration::from_millis(500);

/// Longer lines are cut: a watcher gone wild must not fill the memory.
const LINE_LIMIT: usize = 64 * 1024;

impl Watcher {
    /// Is a command, with places for what only a run knows, that writes JSON Lines.
    pub fn from_command(words: Vec<String>) -> Self {
        Self { words }
    }

    /// Tells whether it is a device that is not started by a command.
    pub fn is_attached(&self) -> bool {
        false
    }

    /// Tells whether it can be told how often to ask.
    pub fn takes_interval(&self) -> bool {
        self.words.iter().any(|word| word.contains("{interval}"))
    }

    /// Gives what it can be told to ask of the printer.
    pub fn commands(&self) -> Vec<CommandKind> {
        Vec::new()
    }

    /// Tells it to ask something of the printer.
    ///
    /// # Errors
    /// [`StartError`] when the system cannot run the program that tells it.
    pub async fn give(
        &self,
        _command: CommandKind,
        _call: &Call,
        _running: &RunningWatcher,
    ) -> Result<(), StartError> {
        Ok(())
    }

    /// Gives the command as the user wrote it.
    pub fn name(&self) -> String {
        self.words.join(" ")
    }

    /// Starts the process in a group of its own and sends its output to `sink`.
    ///
    /// # Errors
    /// [`StartError`] when the system cannot run the program.
    pub async fn start(
        &self,
        call: &Call,
        sink: mpsc::UnboundedSender<Output>,
    ) -> Result<RunningWatcher, StartError> {
        let interval = call.interval.unwrap_or(Duration::from_secs(1));
        let interval = interval.as_secs_f64().to_string();
        let mut words = self.words.iter().map(|word| {
            word.replace("{url}", &call.url)
                .replace("{key}", &call.key)
                .replace("{dialect}", &call.dialect)
                .replace("{interval}", &interval)
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
        Ok(RunningWatcher { group, ended })
    }
}

impl RunningWatcher {
    /// Asks the watcher to end, and ends it if it does not.
    pub async fn stop(mut self) {
        self.signal(Signal::TERM);
        self.signal(Signal::CONT);
        if tokio::time::timeout(GRACE, &mut self.ended).await.is_err() {
            self.signal(Signal::KILL);
        }
    }

    /// Stops the processes, as sleep stops a device.
    pub fn suspend(&self) -> bool {
        self.signal(Signal::STOP)
    }

    /// Lets them go on.
    pub fn resume(&self) -> bool {
        self.signal(Signal::CONT)
    }

    /// Gives what they use.
    pub fn resources(&self) -> Option<Resources> {
        None
    }

    fn signal(&self, signal: Signal) -> bool {
        // It may have ended in the meantime: then there is nobody to tell.
        self.group
            .is_some_and(|group| kill_process_group(group, signal).is_ok())
    }
}

impl Drop for RunningWatcher {
    fn drop(&mut self) {
        self.signal(Signal::KILL);
    }
}

async fn follow(child: &mut Child, sink: mpsc::UnboundedSender<Output>) {
    let stdout = child.stdout.take();
    let stderr = child.stderr.take();
    let lines =
        async { tokio::join!(forward(stdout, &sink, false), forward(stderr, &sink, true),) };
    lines.await;
    if let Ok(status) = child.wait().await {
        // Nobody listens any more once the run is over.
        let _ = sink.send(Output::Exited(status.to_string()));
    }
}

async fn forward<R: tokio::io::AsyncRead + Unpin>(
    stream: Option<R>,
    sink: &mpsc::UnboundedSender<Output>,
    on_stderr: bool,
) {
    let Some(stream) = stream else { return };
    let mut reader = BufReader::new(stream);
    let mut line = Vec::new();
    while let Ok(1..) = reader.read_until(b'\n', &mut line).await {
        line.truncate(LINE_LIMIT);
        let text = String::from_utf8_lossy(&line);
        // Sent even if nobody listens: a full pipe would stop the watcher.
        let text = text.trim_end();
        let sighting = Some(text).filter(|_| !on_stderr);
        let _ = sink.send(match sighting.and_then(Sighting::from_line) {
            Some(sighting) => Output::Sighting(sighting),
            None => Output::Line {
                on_stderr,
                text: text.to_owned(),
            },
        });
        line.clear();
    }
}
