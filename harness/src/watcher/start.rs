//! How a watcher is started.

use std::fmt;
use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;

use tokio::sync::mpsc;
use tokio_util::task::AbortOnDropHandle;

use super::call::Filler;
use super::ear::{Ear, Tell};
use super::file::{Command, Way};
use super::form::Form;
use super::process::{self, Process, Stream};
use super::source::{Callback, Source};
use super::{Call, CommandKind, Output, RunningWatcher, Sighting, WatcherFile};

/// Is a client under test: how it is started, and how what it says is understood.
#[derive(Clone, Debug)]
pub struct Watcher {
    kind: Kind,
}

#[derive(Clone)]
enum Kind {
    File(Arc<WatcherFile>),
    Task(Task),
    /// A device of which nothing is known but its requests.
    Unseen,
}

type Task =
    Arc<dyn Fn(Call, SightingSink) -> Pin<Box<dyn Future<Output = ()> + Send>> + Send + Sync>;

impl fmt::Debug for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File(file) => file.fmt(f),
            Self::Task(_) => f.write_str("a task"),
            Self::Unseen => f.write_str("a device"),
        }
    }
}

/// Says why a watcher could not be started.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// The system cannot run the program.
    #[error("cannot start `{program}`")]
    Program {
        /// The program, as given.
        program: String,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// The folder to start it in is not there.
    #[error("`{directory}`, where the command is to be started, is no folder")]
    Directory {
        /// The folder.
        directory: String,
    },
    /// The serial device cannot be opened.
    #[error("cannot open the serial device `{device}`")]
    Serial {
        /// The device's file.
        device: String,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// The address for sightings cannot be listened on.
    #[error("cannot listen for sightings on {listen}")]
    Callback {
        /// Address and port.
        listen: std::net::SocketAddr,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
}

/// Takes what a watcher that is a task of this program sees.
#[derive(Clone)]
pub struct SightingSink {
    ear: Arc<Ear>,
}

impl fmt::Debug for SightingSink {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("SightingSink").finish_non_exhaustive()
    }
}

impl SightingSink {
    /// Claims something.
    pub fn send(&self, sighting: Sighting) {
        self.ear.sighting(sighting);
    }

    /// Says something that is no claim, for whoever looks into a failure.
    pub fn note(&self, text: impl Into<String>) {
        self.ear.other_line(false, text.into());
    }
}

impl Watcher {
    /// Takes a command that prints sightings in the standard form, one JSON object a line.
    pub fn from_command(words: Vec<String>) -> Self {
        Self::from_file(WatcherFile::of_command(words))
    }

    /// Takes what a watcher file says.
    pub fn from_file(file: WatcherFile) -> Self {
        Self {
            kind: Kind::File(Arc::new(file)),
        }
    }

    /// Takes a task of this program: it is called anew for each run, and dropped at the run's end. There
    /// is no process, so nothing can be suspended or measured.
    pub fn from_task<F, Fut>(task: F) -> Self
    where
        F: Fn(Call, SightingSink) -> Fut + Send + Sync + 'static,
        Fut: Future<Output = ()> + Send + 'static,
    {
        Self {
            kind: Kind::Task(Arc::new(move |call, sink| Box::pin(task(call, sink)))),
        }
    }

    /// Takes a device that polls by itself and whose claims nobody here sees.
    pub fn unseen() -> Self {
        Self { kind: Kind::Unseen }
    }

    /// Starts it and sends what it says to `sink`.
    ///
    /// # Errors
    /// [`StartError`] when the program cannot be run, or the place where sightings come from cannot be
    /// opened.
    pub async fn start(
        &self,
        call: &Call,
        sink: mpsc::UnboundedSender<Output>,
    ) -> Result<RunningWatcher, StartError> {
        let tell = move |told| {
            // Nobody listens any more once the run is over.
            let _ = sink.send(Output::from(told));
        };
        self.start_telling(call, Arc::new(tell)).await
    }

    /// Starts it and tells what it says, with how each line was understood.
    pub(crate) async fn start_telling(
        &self,
        call: &Call,
        tell: Tell,
    ) -> Result<RunningWatcher, StartError> {
        match &self.kind {
            Kind::File(file) => start_file(file, call, tell).await,
            Kind::Task(task) => Ok(start_task(task, call, tell)),
            Kind::Unseen => Ok(RunningWatcher::default()),
        }
    }

    /// Tells whether it is a device that is not started by a command: it polls by itself.
    pub fn is_attached(&self) -> bool {
        match &self.kind {
            Kind::File(file) => file.command().is_none(),
            Kind::Task(_) => false,
            Kind::Unseen => true,
        }
    }

    /// Tells whether it takes the interval at which it is to ask: `{interval}` occurs in its command.
    pub fn takes_interval(&self) -> bool {
        let Kind::File(file) = &self.kind else {
            return false;
        };
        let command = file.command().into_iter();
        let mut texts = command.flat_map(|it| it.words.iter().chain(it.environment.values()));
        texts.any(|text| text.contains("{interval}"))
    }

    /// Gives what it can be told to ask of the printer.
    pub fn commands(&self) -> Vec<CommandKind> {
        match &self.kind {
            Kind::File(file) => file.commands().iter().map(|(kind, _)| *kind).collect(),
            Kind::Task(_) | Kind::Unseen => Vec::new(),
        }
    }

    /// Tells it to ask something of the printer, if it can be told.
    ///
    /// # Errors
    /// [`StartError`] when the program that tells it cannot be run.
    pub async fn give(
        &self,
        command: CommandKind,
        call: &Call,
        running: &RunningWatcher,
    ) -> Result<(), StartError> {
        let Kind::File(file) = &self.kind else {
            return Ok(());
        };
        let way = file.commands().iter().find(|(kind, _)| *kind == command);
        match way.map(|(_, way)| way) {
            Some(Way::Line(line)) => running.say(line).await,
            Some(Way::Run(words)) => {
                let beside = Command {
                    words: words.clone(),
                    ..file.command().cloned().unwrap_or_default()
                };
                let filler = Filler::new(call, running.callback_url());
                process::run_beside(&beside, &filler).await?;
            }
            None => {}
        }
        Ok(())
    }

    /// Gives what to call it in reports: the command as the user wrote it, or the file's name.
    pub fn name(&self) -> String {
        match &self.kind {
            Kind::File(file) => file.name().to_owned(),
            Kind::Task(_) => "a task of this program".to_owned(),
            Kind::Unseen => "a device".to_owned(),
        }
    }

    /// Gives how its lines are understood, where it has lines.
    pub(crate) fn form(&self) -> Option<&Arc<Form>> {
        match &self.kind {
            Kind::File(file) => Some(file.form()),
            Kind::Task(_) | Kind::Unseen => None,
        }
    }
}

async fn start_file(
    file: &WatcherFile,
    call: &Call,
    tell: Tell,
) -> Result<RunningWatcher, StartError> {
    let ear = Arc::new(Ear::new(Arc::clone(file.form()), tell));
    let mut running = RunningWatcher::default();
    // The place for sightings is open before anybody can send one.
    match file.source() {
        Source::Stdout | Source::Stderr => {}
        Source::Serial(line) => {
            let opened = line.start(Arc::clone(&ear));
            running.serial = Some(opened.map_err(|source| StartError::Serial {
                device: line.device.clone(),
                source,
            })?);
        }
        Source::Callback(at) => {
            let listening = Callback::start(at, Arc::clone(&ear)).await;
            running.callback = Some(listening.map_err(|source| StartError::Callback {
                listen: at.listen,
                source,
            })?);
        }
    }
    if let Some(command) = file.command() {
        let stream = match file.source() {
            Source::Stdout => Stream::Stdout,
            Source::Stderr => Stream::Stderr,
            Source::Serial(_) | Source::Callback(_) => Stream::Neither,
        };
        let filler = Filler::new(call, running.callback_url());
        let process = Process::start(command, &filler, stream, ear, file.has_lines())?;
        running.process = Some(process);
    }
    Ok(running)
}

fn start_task(task: &Task, call: &Call, tell: Tell) -> RunningWatcher {
    let ear = Arc::new(Ear::new(Arc::default(), tell));
    let sink = SightingSink {
        ear: Arc::clone(&ear),
    };
    // Dropped with the outer one.
    let seeing = AbortOnDropHandle::new(tokio::spawn(task(call.clone(), sink)));
    let followed = tokio::spawn(async move {
        ear.exited(match seeing.await {
            Ok(()) => "the task returned".to_owned(),
            Err(error) => format!("the task ended: {error}"),
        });
    });
    RunningWatcher {
        task: Some(AbortOnDropHandle::new(followed)),
        ..RunningWatcher::default()
    }
}
