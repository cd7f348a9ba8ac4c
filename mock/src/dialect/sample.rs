//! Truths to try a dialect's bodies with before it is used.

use indexmap::IndexMap;

use crate::sim::protection::Rule;
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

/// Gives truths at the edges of what the simulation can come to: nothing read, nothing begun, each
/// reason by itself, and all of them at once.
///
/// An expression that holds for [`samples`] may still fail for these, in the middle of a run.
pub(super) fn edges() -> Vec<Sample> {
    let reasons = printer_reasons();
    let mut edges = Vec::new();
    // Without a job too the machine can be warmed by hand, and can stop itself.
    let mut bases = samples();
    for (phase, printer) in [
        (Phase::Heating, PrinterState::Idle),
        (Phase::Error, PrinterState::Stopped),
    ] {
        let name = format!("phase {phase}, no job");
        bases.push(sample(&name, phase, printer, None));
    }
    for base in bases {
        edges.extend([true, false].map(|known| unread(base.clone(), known, known)));
        edges.push(unread(base.clone(), true, false));
        edges.push(unread(base.clone(), false, true));
        edges.push(unbegun(base.clone()));
        let mut all = base.clone();
        all.name.push_str(", every reason at once");
        all.truth.printer.reasons = reasons.iter().map(|(_, reason)| reason.clone()).collect();
        if let Some(job) = &mut all.truth.job {
            job.reasons = JOB_REASONS
                .iter()
                .map(|&reason| reason.to_owned())
                .collect();
        }
        edges.push(all);
        let mut none = base;
        none.name.push_str(", no reason");
        none.truth.printer.reasons.clear();
        edges.push(none);
    }
    let job_reasons = JOB_REASONS.iter().cycle();
    for ((phase, reason), job_reason) in reasons.into_iter().zip(job_reasons) {
        let base = samples()
            .into_iter()
            .rfind(|base| base.truth.phase == phase);
        edges.extend(base.map(|mut edge| {
            edge.name = format!("phase {phase}, reasons {reason} and {job_reason}");
            edge.truth.printer.reasons = vec![reason];
            if let Some(job) = &mut edge.truth.job {
                job.reasons = vec![(*job_reason).to_owned()];
            }
            edge
        }));
    }
    edges
}

/// The `job-state-reasons` that the simulation gives.
const JOB_REASONS: &[&str] = &[
    "job-printing",
    "printer-stopped",
    "processing-to-stop-point",
    "job-completed-successfully",
    "job-canceled-by-user",
    "job-canceled-at-device",
    "aborted-by-system",
    "document-format-error",
];

/// Gives every `printer-state-reasons` keyword that the simulation gives, with a phase in which it
/// may come first.
fn printer_reasons() -> Vec<(Phase, String)> {
    let mut reasons = vec![
        (Phase::Paused, "paused".to_owned()),
        (Phase::Paused, "material-empty".to_owned()),
        (Phase::Paused, "extruder-jam".to_owned()),
        (Phase::Paused, "door-open".to_owned()),
        (Phase::Printing, "door-open-warning".to_owned()),
        (Phase::Printing, "stopping-report".to_owned()),
    ];
    for kind in HeaterKind::ALL {
        reasons.push((Phase::Heating, format!("{kind}-heating-report")));
        reasons.push((Phase::Finished, format!("{kind}-cooling-report")));
        for rule in Rule::ALL {
            let reason = (Phase::Error, rule.state_reason(kind).to_owned());
            if !reasons.contains(&reason) {
                reasons.push(reason);
            }
        }
    }
    reasons
}

/// Takes away what the host may not know: readings, and unless they are known the time left and what
/// was used.
fn unread(mut edge: Sample, time_left: bool, used: bool) -> Sample {
    edge.name.push_str(", no reading of any heater");
    for heater in edge.truth.heaters.values_mut() {
        heater.actual_celsius = None;
    }
    let Some(job) = &mut edge.truth.job else {
        return edge;
    };
    "a rather long name with an \u{e4} and a \u{6c34}".clone_into(&mut job.name);
    (job.remaining_seconds, job.true_remaining_seconds) = (Some(12.5), Some(13.5));
    job.filament_mm = Some(812.5);
    if !time_left {
        edge.name.push_str(", time left unknown");
        (job.remaining_seconds, job.true_remaining_seconds) = (None, None);
    }
    if !used {
        edge.name.push_str(", nothing known of the filament");
        job.filament_mm = None;
    }
    edge
}

/// Puts every count at its beginning, and a clock back to before 1970.
fn unbegun(mut edge: Sample) -> Sample {
    edge.name.push_str(", nothing begun");
    edge.truth.at = VirtualTime::ZERO;
    edge.truth.printer.up_time_seconds = 1;
    edge.truth.printer.clock_unix_seconds = -3600.0;
    for heater in edge.truth.heaters.values_mut() {
        (heater.target_celsius, heater.power_watts, heater.on) = (0.0, 0.0, false);
        (heater.actual_celsius, heater.true_celsius) = (Some(0.0), 0.0);
    }
    if let Some(job) = &mut edge.truth.job {
        (job.progress_percent, job.true_progress_percent) = (0.0, 0.0);
        (job.elapsed_seconds, job.remaining_seconds) = (0.0, Some(0.0));
        (job.layer, job.height_mm, job.filament_mm) = (0, 0.0, Some(0.0));
        "x".clone_into(&mut job.name);
    }
    edge
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
        in_force: Vec::new(),
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
