//! Sightings that a device writes on a serial line.

use std::io::ErrorKind;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::Duration;

use serialport::SerialPort;
use tokio::sync::oneshot;

use crate::watcher::cut::LineCutter;
use crate::watcher::ear::Ear;

/// Is a serial line: eight data bits, no parity, one stop bit (common practice).
#[derive(Debug, Clone)]
pub(in crate::watcher) struct SerialLine {
    /// The device's file.
    pub(in crate::watcher) device: String,
    /// Bits per second.
    pub(in crate::watcher) baud: u32,
}

/// How long a read waits before it is looked whether to end (own choice).
const READ_TIMEOUT: Duration = Duration::from_millis(50);
/// How long to wait before a device that went away is looked for again (own choice: a board that
/// restarts is back within seconds).
const LOOK_AGAIN: Duration = Duration::from_millis(250);

/// Is a serial line being read. Dropping it ends that soon; [`Self::stop`] waits for it.
#[derive(Debug)]
pub(in crate::watcher) struct Serial {
    /// Never used to send: that it is dropped tells the thread to end.
    stop: Sender<()>,
    ended: oneshot::Receiver<()>,
}

impl SerialLine {
    /// Opens the device and reads it in a thread of its own, as its reads block.
    pub(in crate::watcher) fn start(&self, ear: Arc<Ear>) -> Result<Serial, std::io::Error> {
        let port = self.open()?;
        let (stop, stopped) = channel();
        let (end, ended) = oneshot::channel();
        let line = self.clone();
        std::thread::Builder::new()
            .name("serial-line".to_owned())
            .spawn(move || {
                line.follow(port, &ear, &stopped);
                drop(end);
            })?;
        Ok(Serial { stop, ended })
    }

    fn open(&self) -> Result<Box<dyn SerialPort>, std::io::Error> {
        let port = serialport::new(&self.device, self.baud).timeout(READ_TIMEOUT);
        port.open().map_err(Into::into)
    }

    /// Reads until told to end. A device that vanishes is waited for.
    fn follow(&self, port: Box<dyn SerialPort>, ear: &Ear, stop: &Receiver<()>) {
        let mut port = Some(port);
        let mut cutter = LineCutter::default();
        // While the device is there, its reads are what is waited for.
        let wait = |port: &Option<_>| match port {
            Some(_) => Duration::ZERO,
            None => LOOK_AGAIN,
        };
        while stop.recv_timeout(wait(&port)) == Err(RecvTimeoutError::Timeout) {
            let Some(open) = &mut port else {
                if let Ok(opened) = self.open() {
                    ear.note(&format!("{} is back", self.device));
                    port = Some(opened);
                }
                continue;
            };
            let Err(why) = read_some(open.as_mut(), &mut cutter, ear) else {
                continue;
            };
            // Half a line is none: its end went with the device.
            cutter = LineCutter::default();
            ear.note(&format!("{} is gone: {why}; waiting for it", self.device));
            port = None;
        }
    }
}

/// Reads what is there, or waits a little. An error says that the device is gone.
fn read_some(port: &mut dyn SerialPort, cutter: &mut LineCutter, ear: &Ear) -> Result<(), String> {
    let mut bytes = [0; 1024];
    match port.read(&mut bytes) {
        Ok(0) => Err("end of file".to_owned()),
        Ok(count) => {
            cutter.take(&bytes[..count], |line| {
                // A line with nothing in it is the rest of a line end, or noise.
                if !line.is_empty() {
                    let _understood = ear.sighting_line(false, line);
                }
            });
            Ok(())
        }
        Err(error) if matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::Interrupted) => {
            Ok(())
        }
        Err(error) => Err(error.to_string()),
    }
}

impl Serial {
    /// Ends the reading and waits until the device is closed.
    pub(in crate::watcher) async fn stop(self) {
        drop(self.stop);
        // The other end is dropped without a word when the thread ends.
        let _ = self.ended.await;
    }
}
