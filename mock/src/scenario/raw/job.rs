//! One job.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::super::bounds;
use super::super::quantity::{At, Count, Degrees, Number, Seconds};
use super::super::schema::targets;
use super::word::read_as_word;

/// A job. It takes one of `at` and `after-previous`, and one of `duration`, `program` and `print`.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Job")]
pub(in super::super) struct RawJob {
    /// The job's name, as the host shows it.
    pub(in super::super) name: At<String>,
    /// When it is started.
    #[schemars(transform = bounds::MOMENT_S.shown())]
    pub(in super::super) at: Option<At<Seconds>>,
    /// How long after the end of the job before it, whichever end, it is started.
    #[schemars(transform = bounds::MOMENT_S.shown())]
    pub(in super::super) after_previous: Option<At<Seconds>>,
    /// How long it prints once everything is hot.
    #[schemars(transform = bounds::JOB_S.shown())]
    pub(in super::super) duration: Option<At<Seconds>>,
    /// With duration: how many layers that is. Default 100.
    #[schemars(transform = bounds::LAYERS.shown())]
    pub(in super::super) layers: Option<At<Count>>,
    /// A part program beside this file, which it carries out.
    pub(in super::super) program: Option<At<String>>,
    /// A test print, whose part program is made.
    pub(in super::super) print: Option<At<RawPrint>>,
    /// With program or print: what the machine's drives can do.
    pub(in super::super) motion: Option<At<RawMotion>>,
    /// With program: whether a line that cannot be carried out stops all, or is left out. Default stop.
    pub(in super::super) on_broken_line: Option<At<RawOnBrokenLine>>,
    /// Targets by heater, in Celsius, that are set at its start and waited for.
    #[serde(default)]
    #[schemars(schema_with = "targets")]
    pub(in super::super) targets_celsius: IndexMap<At<String>, At<Degrees>>,
    /// How long it waits once everything is hot, so that the machine warms through. Default 0s.
    #[schemars(transform = bounds::MOMENT_S.shown())]
    pub(in super::super) soak: Option<At<Seconds>>,
    /// How long a cancelled job goes on until it can stop. Default 0s.
    #[schemars(transform = bounds::STOP_POINT_S.shown())]
    pub(in super::super) stop_point_delay: Option<At<Seconds>>,
    /// How the host guesses the time left.
    #[serde(default)]
    pub(in super::super) estimate: RawEstimate,
    /// How the host counts progress.
    #[serde(default)]
    pub(in super::super) progress: RawProgress,
}

/// A test print of a simple shape; its targets are the job's.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Print")]
pub(in super::super) struct RawPrint {
    /// Its outline. Default hollow-box.
    pub(in super::super) shape: Option<At<RawShape>>,
    /// Length of a side, or diameter, in mm. Default 40.
    #[schemars(transform = bounds::PRINT_SIZE.shown())]
    pub(in super::super) size_millimetres: Option<At<Number>>,
    /// Height, in mm; rounded to whole layers. Default 4.
    #[schemars(transform = bounds::PRINT_HEIGHT.shown())]
    pub(in super::super) height_millimetres: Option<At<Number>>,
    /// Height of a layer, in mm. Default 0.2.
    #[schemars(transform = bounds::LAYER_HEIGHT.shown())]
    pub(in super::super) layer_height_millimetres: Option<At<Number>>,
    /// Distance between lines of filling, in mm; 0 leaves it hollow. Default 4.
    #[schemars(transform = bounds::INFILL.shown())]
    pub(in super::super) infill_millimetres: Option<At<Number>>,
    /// Speed while laying, in mm/s. Default 60.
    #[schemars(transform = bounds::PRINT_SPEED.shown())]
    pub(in super::super) speed_millimetres_per_second: Option<At<Number>>,
    /// Speed of travel, in mm/s. Default 120.
    #[schemars(transform = bounds::PRINT_SPEED.shown())]
    pub(in super::super) travel_millimetres_per_second: Option<At<Number>>,
    /// The layer, counted from 1, that switches the part fan on; 0 leaves it off. Default 2.
    #[schemars(range(min = 0))]
    pub(in super::super) fan_from_layer: Option<At<Count>>,
    /// Layers, counted from 1, before which the program waits for a person. Default none.
    #[serde(default)]
    pub(in super::super) pause_before_layers: Vec<At<Count>>,
}

/// An outline.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", remote = "Self")]
#[schemars(!remote, inline, rename = "Shape")]
pub(in super::super) enum RawShape {
    HollowBox,
    RingTower,
}

/// What the machine's drives can do.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Motion")]
pub(in super::super) struct RawMotion {
    /// Acceleration, in mm/s2. Default 1500.
    #[schemars(transform = bounds::ACCELERATION.shown())]
    pub(in super::super) acceleration_millimetres_per_second_squared: Option<At<Number>>,
    /// Highest speed of X, in mm/s. Default 250.
    #[schemars(transform = bounds::AXIS_SPEED.shown())]
    pub(in super::super) max_x_millimetres_per_second: Option<At<Number>>,
    /// Highest speed of Y, in mm/s. Default 250.
    #[schemars(transform = bounds::AXIS_SPEED.shown())]
    pub(in super::super) max_y_millimetres_per_second: Option<At<Number>>,
    /// Highest speed of Z, in mm/s. Default 12.
    #[schemars(transform = bounds::AXIS_SPEED.shown())]
    pub(in super::super) max_z_millimetres_per_second: Option<At<Number>>,
    /// Highest speed of the filament, in mm/s. Default 60.
    #[schemars(transform = bounds::AXIS_SPEED.shown())]
    pub(in super::super) max_filament_millimetres_per_second: Option<At<Number>>,
    /// How far a corner may be rounded off, in mm. Default 0.02.
    #[schemars(transform = bounds::CORNER.shown())]
    pub(in super::super) corner_millimetres: Option<At<Number>>,
    /// Whether it rests after every move instead. Default false.
    pub(in super::super) rests_at_corners: Option<At<bool>>,
}

/// What a line does that cannot be carried out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", remote = "Self")]
#[schemars(!remote, inline, rename = "OnBrokenLine")]
pub(in super::super) enum RawOnBrokenLine {
    Stop,
    Skip,
    Abort,
}

/// How the host guesses the time left.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Estimate")]
pub(in super::super) struct RawEstimate {
    /// The rule. Default exact.
    pub(in super::super) by: Option<At<RawEstimator>>,
    /// For how long after the program has begun it says nothing. Default 0s.
    #[schemars(transform = bounds::MOMENT_S.shown())]
    pub(in super::super) unknown_for: Option<At<Seconds>>,
    /// Factor on the result. Default 1.
    #[schemars(transform = bounds::BIAS.shown())]
    pub(in super::super) bias: Option<At<Number>>,
}

/// A rule for guessing the time left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", remote = "Self")]
#[schemars(!remote, inline, rename = "Estimator")]
pub(in super::super) enum RawEstimator {
    Exact,
    File,
    Elapsed,
    Naive,
}

/// How the host counts progress.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Progress")]
pub(in super::super) struct RawProgress {
    /// What is counted. Default time.
    pub(in super::super) by: Option<At<RawMeasure>>,
    /// At how many percent of the measure 100 is shown already. Default 100.
    #[schemars(transform = bounds::FULL_AT.shown())]
    pub(in super::super) full_at_percent: Option<At<Number>>,
    /// How many percent points it falls back by when the job goes on after standing still. Default 0.
    #[schemars(transform = bounds::FALLS_BACK.shown())]
    pub(in super::super) falls_back_percent: Option<At<Number>>,
    /// Where it stands still though the job goes on. Default nowhere.
    #[serde(default)]
    pub(in super::super) stalls: Vec<RawStall>,
}

/// What progress counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", remote = "Self")]
#[schemars(!remote, inline, rename = "Measure")]
pub(in super::super) enum RawMeasure {
    Time,
    File,
}

/// A stretch over which the progress shown stands still.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Stall")]
pub(in super::super) struct RawStall {
    /// Where it stops, percent.
    #[schemars(transform = bounds::PERCENT.shown())]
    pub(in super::super) at_percent: At<Number>,
    /// Where it goes on, percent.
    #[schemars(transform = bounds::PERCENT.shown())]
    pub(in super::super) until_percent: At<Number>,
}

read_as_word!(RawShape, RawOnBrokenLine, RawEstimator, RawMeasure);
