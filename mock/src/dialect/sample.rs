//! Truths to try a dialect's bodies with before it is used.

use indexmap::IndexMap;

use crate::sim::{
    HeaterKind, HeaterTruth, JobState, JobTruth, Phase, PrinterState, PrinterTruth, Truth,
    VirtualTime,
};

/// Is a truth with words for what is special in it.
#[derive(Debug, Clone)]
pub(super) struct Sample {
    pub(super) name: String,
    pub(super) truth: Truth,
}

/// Gives truths that between them have every phase, every printer state, every job state and no
/// job, with and without reasons, with the remaining time known and unknown.
pub(super) fn samples() -> Vec<Sample> {
    let mut samples = vec![sample("no job", Phase::Idle, PrinterState::Idle, None)];
    for (phase, printer, job) in [
        (Phase::Idle, PrinterState::Idle, JobState::Pending),
        (Phase::Idle, PrinterState::Idle, JobState::PendingHeld),
        (
            Phase::Heating,
            PrinterState::Processing,
            JobState::Processing,
        ),
        (
            Phase::Printing,
            PrinterState::Processing,
            JobState::Processing,
        ),
        (
            Phase::Paused,
            PrinterState::Stopped,
            JobState::ProcessingStopped,
        ),
        (Phase::Error, PrinterState::Stopped, JobState::Aborted),
        (Phase::Finished, PrinterState::Idle, JobState::Completed),
        (Phase::Cancelled, PrinterState::Idle, JobState::Canceled),
    ] {
        let word = serde_json::to_value(job).unwrap_or_default();
        let name = format!("phase {phase}, job {}", word.as_str().unwrap_or_default());
        samples.push(sample(&name, phase, printer, Some(job)));
    }
    samples
}

fn sample(name: &str, phase: Phase, printer: PrinterState, job: Option<JobState>) -> Sample {
    let reasons = match phase {
        Phase::Heating => vec!["extruder-heating-report", "platform-heating-report"],
        Phase::Paused => vec!["paused"],
        Phase::Error => vec!["extruder-temperature-high"],
        Phase::Idle | Phase::Printing | Phase::Finished | Phase::Cancelled => Vec::new(),
    };
    let heaters: IndexMap<_, _> = [
        ("extruder", HeaterKind::Extruder, 209.96, 210.0),
        ("platform", HeaterKind::Platform, 60.04, 60.0),
        ("chamber", HeaterKind::Chamber, 31.5, 0.0),
    ]
    .into_iter()
    .map(|(name, kind, actual_celsius, target_celsius)| {
        let heater = HeaterTruth {
            kind,
            actual_celsius: Some(actual_celsius),
            true_celsius: actual_celsius,
            target_celsius,
            power_watts: 12.5,
            on: target_celsius > 0.0,
            safe_to_touch: false,
        };
        (name.to_owned(), heater)
    })
    .collect();
    let truth = Truth {
        at: VirtualTime::new(std::time::Duration::from_millis(600_100)),
        phase,
        printer: PrinterTruth {
            state: printer,
            reasons: reasons.iter().map(|&reason| reason.to_owned()).collect(),
            up_time_seconds: 601,
            clock_unix_seconds: 1_767_600_601.0,
            host_answers: true,
            key_is_good: true,
            host_version: (phase == Phase::Paused).then(|| "1.1".to_owned()),
            host_updates: u32::from(phase == Phase::Paused),
        },
        heaters,
        safe_to_touch: false,
        job: job.map(|state| job_truth(phase, state)),
    };
    Sample {
        name: name.to_owned(),
        truth,
    }
}

fn job_truth(phase: Phase, state: JobState) -> JobTruth {
    JobTruth {
        id: 7,
        name: "cable clip".to_owned(),
        state,
        reasons: if state == JobState::ProcessingStopped {
            vec!["printer-stopped".to_owned()]
        } else {
            Vec::new()
        },
        progress_percent: 41.666,
        true_progress_percent: 41.0,
        elapsed_seconds: 599.6,
        remaining_seconds: (phase != Phase::Heating).then_some(840.4),
        true_remaining_seconds: Some(851.0),
        layer: 12,
        height_mm: 2.4,
        filament_mm: (phase != Phase::Heating).then_some(812.5),
    }
}
