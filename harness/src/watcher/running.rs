//! A watcher that runs.

use rustix::process::Signal;
use tokio_util::task::AbortOnDropHandle;

use super::process::Process;
use super::resources::Resources;
use super::source::{Callback, Serial};

/// Is a running watcher. Dropping it ends it at once; [`Self::stop`] asks first.
#[derive(Debug, Default)]
pub struct RunningWatcher {
    pub(super) process: Option<Process>,
    pub(super) serial: Option<Serial>,
    pub(super) callback: Option<Callback>,
    pub(super) task: Option<AbortOnDropHandle<()>>,
}

impl RunningWatcher {
    /// Ends the watcher: asks its processes to end (SIGTERM), also ones that stand still, and kills
    /// them if they do not. Afterwards nothing is read any more, and the device or port is free.
    pub async fn stop(self) {
        if let Some(process) = self.process {
            process.stop().await;
        }
        if let Some(serial) = self.serial {
            serial.stop().await;
        }
        if let Some(callback) = self.callback {
            callback.stop().await;
        }
        if let Some(task) = self.task {
            task.abort();
            let _ = task.await;
        }
    }

    /// Lets all its processes stand still (SIGSTOP). Gives false where there is none.
    pub fn suspend(&self) -> bool {
        self.signal(Signal::STOP)
    }

    /// Lets all its processes go on (SIGCONT). Gives false where there is none.
    pub fn resume(&self) -> bool {
        self.signal(Signal::CONT)
    }

    /// Writes a line to its input, where it has one.
    pub(super) async fn say(&self, line: &str) {
        if let Some(process) = &self.process {
            process.say(line).await;
        }
    }

    /// Measures all its processes together; `None` where there is none, or no `/proc`.
    pub fn resources(&self) -> Option<Resources> {
        self.process.as_ref()?.resources()
    }

    /// Gives the address to which a device posts its sightings, if that is where they come from.
    pub fn callback_url(&self) -> Option<&str> {
        self.callback.as_ref().map(Callback::url)
    }

    fn signal(&self, signal: Signal) -> bool {
        let process = self.process.as_ref();
        process.is_some_and(|process| process.signal(signal))
    }
}
