//! What the simulated printer really is at one moment.

use indexmap::IndexMap;
use serde::Serialize;

use super::{HeaterKind, InForce, JobState, Phase, PrinterState, VirtualTime};

/// Is everything there is to know about the printer at one moment of virtual time.
///
/// The field names, as serialised, are the names a dialect's expressions use
/// (`printer.state`, `heaters.extruder.actual_celsius`, `job.progress_percent`).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Truth {
    /// The moment this is true of.
    pub at: VirtualTime,
    /// The phase, as a person would say it.
    pub phase: Phase,
    /// The printer as a whole.
    pub printer: PrinterTruth,
    /// Heaters by name, in the scenario's order.
    pub heaters: IndexMap<String, HeaterTruth>,
    /// The present job, or the last one until it is replaced or cleared.
    pub job: Option<JobTruth>,
    /// Whether a hand may be left on every heated part (ISO 13732-1, metal; the bodies' true
    /// temperatures). "Finished" is not "cool". See the cautions in [`touch`](super::touch).
    pub safe_to_touch: bool,
    /// The faults and drifts that the timeline has in force, in the order in which they began. No
    /// host knows of them, so no dialect can show them.
    #[serde(skip)]
    pub in_force: Vec<InForce>,
}

/// Is the printer's own state.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PrinterTruth {
    /// `printer-state`.
    pub state: PrinterState,
    /// `printer-state-reasons`, keywords of the IANA IPP registry; empty when there is none
    /// (a dialect writes `none`, RFC 8011 section 5.4.12).
    pub reasons: Vec<String>,
    /// `printer-up-time`, whole seconds since the host started, at least 1
    /// (RFC 8011 section 5.4.29, from memory).
    pub up_time_seconds: u64,
    /// The host's own clock, seconds since 1970-01-01T00:00:00Z; it may be set back.
    pub clock_unix_seconds: f64,
    /// Whether the host answers at all; while it restarts it does not.
    pub host_answers: bool,
    /// Whether the key that was good at the start still is.
    pub key_is_good: bool,
    /// The host's software as its last update named it; `None` before the first update, and after
    /// one that named none (the version after the one before).
    pub host_version: Option<String>,
    /// How many times the host got other software since the start.
    pub host_updates: u32,
}

/// Is one heater.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HeaterTruth {
    /// What it heats.
    pub kind: HeaterKind,
    /// The temperature the host reads from the sensor; `None` when it has no number for it.
    pub actual_celsius: Option<f64>,
    /// The temperature the part really has.
    pub true_celsius: f64,
    /// The temperature asked for; 0 is off.
    pub target_celsius: f64,
    /// The power going in.
    pub power_watts: f64,
    /// Whether a target above zero is set. A hot heater without a target is not on.
    pub on: bool,
    /// Whether a hand may be left on the body (see [`Truth::safe_to_touch`]).
    pub safe_to_touch: bool,
}

/// Is one job.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JobTruth {
    /// `job-id`, counted from 1.
    pub id: u32,
    /// `job-name`.
    pub name: String,
    /// `job-state`.
    pub state: JobState,
    /// `job-state-reasons`, keywords of RFC 8011 section 5.3.8; empty when there is none.
    pub reasons: Vec<String>,
    /// How much of the program is done as the host shows it, 0 to 100.
    pub progress_percent: f64,
    /// How much of the program's own time is done, 0 to 100: what no host knows.
    pub true_progress_percent: f64,
    /// Time spent processing (heating and printing, not standing still).
    pub elapsed_seconds: f64,
    /// The host's estimate of the time left; `None` while it does not know.
    pub remaining_seconds: Option<f64>,
    /// The time the program still takes by itself, waits for heat and people not counted; `None`
    /// for a job that was given up.
    pub true_remaining_seconds: Option<f64>,
    /// The layer last begun, counted from 1; 0 before the first.
    pub layer: u32,
    /// Height of the nozzle, mm.
    pub height_mm: f64,
    /// Filament used so far, mm; `None` for a job that is only a duration.
    pub filament_mm: Option<f64>,
}
