//! What a program cannot say about the machine that reads it.

use crate::sim::motion::bounds::{ARC_TOLERANCE, COORDINATE, OutOfBounds, SPEED};

/// Chooses the unit of the P word of G4.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DwellUnit {
    /// P in milliseconds, S in seconds (common practice in printing); S wins where both stand.
    #[default]
    Milliseconds,
    /// P in seconds, as NISTIR 6556 has it; S the same.
    Seconds,
}

/// Chooses the speed of G0.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum RapidSpeed {
    /// The F word in force, as for G1 (common practice in printing).
    #[default]
    LikeFeed,
    /// One speed of the machine, as NISTIR 6556 has it.
    Fixed {
        /// That speed.
        mm_per_s: f64,
    },
}

/// Chooses what G90 and G91 do to the material axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum MaterialMode {
    /// Nothing: only M82 and M83 switch it.
    #[default]
    OwnCodes,
    /// They switch it too; M82 or M83 afterwards switch it alone.
    FollowsDistanceMode,
}

/// Chooses what happens to lines and stops that the operator's panel can switch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum OptionalLines {
    /// Block delete is off: lines that start with `/` are carried out.
    #[default]
    Run,
    /// Block delete is on: lines that start with `/` are left out.
    LeaveOut,
}

/// Holds the choices of one machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InterpreterOptions {
    /// Unit of the P word of G4.
    pub dwell: DwellUnit,
    /// Speed of G0.
    pub rapid: RapidSpeed,
    /// What G90 and G91 do to the material axis.
    pub material_mode: MaterialMode,
    /// What happens to lines that start with `/`.
    pub optional_lines: OptionalLines,
    /// Whether M1 stops like M0; off it does nothing.
    pub optional_stop: bool,
    /// Where X, Y and Z are when the program starts.
    pub start_mm: [f64; 3],
    /// Where the end switches are.
    pub home_mm: [f64; 3],
    /// Speed of G28.
    pub homing_mm_per_s: f64,
    /// How much the radii at start and end of an arc may differ.
    ///
    /// # Source
    /// NISTIR 6556, arcs in centre format: 0.002 mm (from memory).
    pub arc_tolerance_mm: f64,
}

impl Default for InterpreterOptions {
    fn default() -> Self {
        Self {
            dwell: DwellUnit::default(),
            rapid: RapidSpeed::default(),
            material_mode: MaterialMode::default(),
            optional_lines: OptionalLines::default(),
            optional_stop: false,
            start_mm: [0.0; 3],
            home_mm: [0.0; 3],
            // Chosen: end switches are approached at well under travel speed.
            homing_mm_per_s: 40.0,
            arc_tolerance_mm: 0.002,
        }
    }
}

impl InterpreterOptions {
    /// Gives the options back if every number is within its bound.
    ///
    /// # Errors
    /// [`OutOfBounds`] for the first number that is not.
    pub fn checked(self) -> Result<Self, OutOfBounds> {
        for value in self.start_mm.into_iter().chain(self.home_mm) {
            COORDINATE.check(value)?;
        }
        SPEED.check(self.homing_mm_per_s)?;
        if let RapidSpeed::Fixed { mm_per_s } = self.rapid {
            SPEED.check(mm_per_s)?;
        }
        ARC_TOLERANCE.check(self.arc_tolerance_mm)?;
        Ok(self)
    }
}
