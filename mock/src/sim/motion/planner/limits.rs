//! How fast the machine may go.

use crate::sim::motion::bounds::{
    ACCELERATION, CORNER_DEVIATION, OutOfBounds, SPEED, WINDOW_MOVES,
};

/// Chooses how fast the machine goes from one move to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CornerRule {
    /// It rests after every move, even where the next goes on straight.
    Stop,
    /// It goes as fast as a circle that touches both moves and passes the corner at this distance allows.
    Deviation {
        /// That distance.
        mm: f64,
    },
}

/// Holds the highest speed of each axis; infinite where an axis has none of its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxisSpeeds {
    /// X.
    pub x_mm_per_s: f64,
    /// Y.
    pub y_mm_per_s: f64,
    /// Z.
    pub z_mm_per_s: f64,
    /// Filament.
    pub material_mm_per_s: f64,
}

/// Holds the limits of one machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MotionLimits {
    /// Acceleration along the path, and towards the centre of an arc.
    pub acceleration_mm_per_s2: f64,
    /// Highest speeds.
    pub axis_speeds: AxisSpeeds,
    /// Speed from move to move.
    pub corner: CornerRule,
    /// How many moves beyond a move are known when its speeds are settled (a stop comes after the last one known).
    pub window_moves: usize,
}

impl AxisSpeeds {
    /// Sets no limit to any axis.
    pub const UNLIMITED: Self = Self {
        x_mm_per_s: f64::INFINITY,
        y_mm_per_s: f64::INFINITY,
        z_mm_per_s: f64::INFINITY,
        material_mm_per_s: f64::INFINITY,
    };

    fn each(&self) -> [f64; 4] {
        [
            self.x_mm_per_s,
            self.y_mm_per_s,
            self.z_mm_per_s,
            self.material_mm_per_s,
        ]
    }
}

impl Default for MotionLimits {
    /// Gives a middling machine of our own invention.
    fn default() -> Self {
        let axis_speeds = AxisSpeeds {
            x_mm_per_s: 250.0,
            y_mm_per_s: 250.0,
            z_mm_per_s: 12.0,
            material_mm_per_s: 60.0,
        };
        Self {
            acceleration_mm_per_s2: 1500.0,
            axis_speeds,
            corner: CornerRule::Deviation { mm: 0.02 },
            window_moves: 64,
        }
    }
}

impl MotionLimits {
    /// Gives the limits back if every number is within its bound.
    ///
    /// # Errors
    /// [`OutOfBounds`] for the first number that is not; an infinite axis speed is allowed.
    pub fn checked(self) -> Result<Self, OutOfBounds> {
        ACCELERATION.check(self.acceleration_mm_per_s2)?;
        for speed in self.axis_speeds.each() {
            if speed != f64::INFINITY {
                SPEED.check(speed)?;
            }
        }
        if let CornerRule::Deviation { mm } = self.corner {
            CORNER_DEVIATION.check(mm)?;
        }
        #[expect(
            clippy::cast_precision_loss,
            reason = "only compared with a small bound"
        )]
        WINDOW_MOVES.check(self.window_moves as f64)?;
        Ok(self)
    }
}
