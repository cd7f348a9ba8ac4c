//! What can be wrong with a plot.

use std::path::PathBuf;
use std::time::Duration;

use coldbed_mock::sim::VirtualTime;

/// Says why there is no plot.
#[derive(Debug, thiserror::Error)]
pub enum PlotError {
    /// The file's ending names no format.
    #[error(
        "--to `{}` ends in none of .svg, .png and .csv [the ending chooses the format]",
        file.display()
    )]
    UnknownFormat {
        /// The file asked for.
        file: PathBuf,
    },
    /// A flag was given that the format has no use for.
    #[error("{flag} does not go with a .{format} file [it {meaning}]")]
    NotOfTheFormat {
        /// The flag.
        flag: &'static str,
        /// The format's usual ending.
        format: &'static str,
        /// What the flag does where it belongs.
        meaning: &'static str,
    },
    /// There is nothing between the two moments.
    #[error(
        "nothing lies between --from {from} and --until {until} \
         [--until must be the later one; without it the scenario's length is taken]"
    )]
    EmptyWindow {
        /// The first moment.
        from: VirtualTime,
        /// The last moment.
        until: VirtualTime,
    },
    /// The last moment is later than any scenario's.
    #[error("--until {until} is too late [a scenario ends within {latest}]")]
    TooLate {
        /// The last moment.
        until: VirtualTime,
        /// The latest one there is.
        latest: VirtualTime,
    },
    /// The table's step is none of the simulation's grid.
    #[error("--step {step:?} is not a whole multiple of {period:?} [the simulation's period]")]
    OffTheGrid {
        /// The step asked for.
        step: Duration,
        /// The simulation's period.
        period: Duration,
    },
    /// The file cannot be written.
    #[error("cannot write `{}`", file.display())]
    Write {
        /// The file asked for.
        file: PathBuf,
        /// Why not.
        source: std::io::Error,
    },
    /// A row could not be written.
    #[error("cannot write the table")]
    Table(#[from] csv::Error),
    /// The drawing failed: our own fault.
    #[error("cannot draw: {why}")]
    Draw {
        /// What the drawing library said.
        why: String,
    },
}

impl PlotError {
    /// Tells whether the command line, a file or the disk is at fault, and not this program.
    pub fn is_bad_input(&self) -> bool {
        !matches!(self, Self::Draw { .. })
    }
}
