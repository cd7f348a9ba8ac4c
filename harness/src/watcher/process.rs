//! A watcher's process: started in a group of its own, ended with everything it started itself.

use std::process::Stdio;
use std::sync::Arc;
use std::time::Duration;

use rustix::process::{Pid, Signal, kill_process_group};
use tokio::io::{AsyncRead, AsyncReadExt as _, AsyncWriteExt as _};
use tokio::process::{Child, ChildStdin, Command as System};
use tokio::sync::Mutex;
use tokio::task::JoinHandle;

use super::call::Filler;
use super::cut::LineCutter;
use super::ear::Ear;
use super::file::Command;
use super::resources::{self, Resources};
use super::start::StartError;

/// How long a watcher may take to end after it was asked to (own choice).
const GRACE: Duration = Duration::from_millis(500);

/// Says which streams of a process sightings come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stream {
    /// Its output.
    Stdout,
    /// Its error output.
    Stderr,
    /// Neither: they come from elsewhere.
    Neither,
}

/// Is a process with its group. Dropping it kills the group; [`Self::stop`] asks first.
#[derive(Debug)]
pub(super) struct Process {
    group: Option<Pid>,
    followed: JoinHandle<()>,
    input: Option<Mutex<ChildStdin>>,
}

impl Process {
    /// Starts a command and tells what it writes and how it ends.
    pub(super) fn start(
        command: &Command,
        filler: &Filler<'_>,
        sightings: Stream,
        ear: Arc<Ear>,
        has_input: bool,
    ) -> Result<Self, StartError> {
        let (program, mut system) = prepared(command, filler)?;
        system
            .stdin(if has_input {
                Stdio::piped()
            } else {
                Stdio::null()
            })
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            // A shell watcher starts other programs; they must end with it.
            .process_group(0)
            .kill_on_drop(true);
        let mut child = system
            .spawn()
            .map_err(|source| StartError::Program { program, source })?;
        let group = child
            .id()
            .and_then(|id| i32::try_from(id).ok())
            .and_then(Pid::from_raw);
        let input = child.stdin.take().map(Mutex::new);
        let followed = tokio::spawn(async move { follow(&mut child, sightings, &ear).await });
        Ok(Self {
            group,
            followed,
            input,
        })
    }

    /// Writes a line to the process' input, where it has one.
    pub(super) async fn say(&self, line: &str) {
        if let Some(input) = &self.input {
            let mut input = input.lock().await;
            // One that has closed its input, or has ended, is told nothing; its silence is judged.
            let _ = input.write_all(format!("{line}\n").as_bytes()).await;
            let _ = input.flush().await;
        }
    }

    /// Asks the group to end, and ends it if it does not.
    pub(super) async fn stop(mut self) {
        // One that stands still hears nothing else.
        self.signal(Signal::CONT);
        self.signal(Signal::TERM);
        if tokio::time::timeout(GRACE, &mut self.followed)
            .await
            .is_err()
        {
            self.signal(Signal::KILL);
            // Output held open by somebody who left the group must not hold up the end.
            let _ = tokio::time::timeout(GRACE, &mut self.followed).await;
        }
    }

    /// Sends a signal to the group. Gives false if there is nobody left.
    pub(super) fn signal(&self, signal: Signal) -> bool {
        self.group
            .is_some_and(|group| kill_process_group(group, signal).is_ok())
    }

    /// Measures the group.
    pub(super) fn resources(&self) -> Option<Resources> {
        resources::of_group(self.group?.as_raw_nonzero().get())
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        self.signal(Signal::KILL);
        self.followed.abort();
    }
}

/// Runs a command beside a watcher, waits for its end and looks at nothing it says.
///
/// # Errors
/// [`StartError`] when the system cannot run it.
pub(super) async fn run_beside(command: &Command, filler: &Filler<'_>) -> Result<(), StartError> {
    let (program, mut system) = prepared(command, filler)?;
    let mut child = system
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .process_group(0)
        .kill_on_drop(true)
        .spawn()
        .map_err(|source| StartError::Program { program, source })?;
    // One that never ends is killed with the run's end of patience.
    let _ = tokio::time::timeout(BESIDE, child.wait()).await;
    Ok(())
}

/// How long a command beside a watcher may take (own choice: it sends one request).
const BESIDE: Duration = Duration::from_secs(20);

/// Gives the program's name, and what starts it.
fn prepared(command: &Command, filler: &Filler<'_>) -> Result<(String, System), StartError> {
    let mut words = command.words.iter().map(|word| filler.fill(word));
    let program = words.next().unwrap_or_default();
    let mut system = System::new(&program);
    system.args(words);
    for (name, value) in &command.environment {
        system.env(name, filler.fill(value));
    }
    if let Some(directory) = &command.directory {
        // The system says of either that it is not there, and not of which.
        if !directory.is_dir() {
            let directory = directory.display().to_string();
            return Err(StartError::Directory { directory });
        }
        system.current_dir(directory);
    }
    Ok((program, system))
}

async fn follow(child: &mut Child, sightings: Stream, ear: &Ear) {
    let stdout = child.stdout.take();
    let stderr = child.stderr.take();
    // Its last words come before its end.
    tokio::join!(
        listen(stdout, false, sightings == Stream::Stdout, ear),
        listen(stderr, true, sightings == Stream::Stderr, ear),
    );
    if let Ok(status) = child.wait().await {
        ear.exited(status.to_string());
    }
}

async fn listen<R: AsyncRead + Unpin>(
    stream: Option<R>,
    on_stderr: bool,
    has_sightings: bool,
    ear: &Ear,
) {
    let Some(mut stream) = stream else { return };
    let hear = |text| {
        if has_sightings {
            let _understood = ear.sighting_line(on_stderr, text);
        } else {
            ear.other_line(on_stderr, text);
        }
    };
    let mut cutter = LineCutter::default();
    let mut bytes = vec![0; 8192];
    // Read even if nobody listens: a full pipe would stop the watcher.
    while let Ok(count @ 1..) = stream.read(&mut bytes).await {
        cutter.take(&bytes[..count], hear);
    }
    if let Some(rest) = cutter.rest() {
        hear(rest);
    }
}
