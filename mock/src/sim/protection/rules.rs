//! Which rules are watched at a part, with their bounds.

use super::error::ProtectionError;
use super::rule::{
    AboveMaximum, AboveTarget, BelowMinimum, FallenAway, HeatingTooSlow, Jump, SensorLost,
};

/// The rules watched at one part; `None` leaves a rule out.
///
/// [`Rules::usual`] gives what is common practice, [`Rules::default`] nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Rules {
    /// No temperature for too long.
    pub sensor_lost: Option<SensorLost>,
    /// Above the hard maximum.
    pub above_maximum: Option<AboveMaximum>,
    /// Below the lowest believable temperature.
    pub below_minimum: Option<BelowMinimum>,
    /// More change than the physics allow.
    pub jump: Option<Jump>,
    /// Running away upwards.
    pub above_target: Option<AboveTarget>,
    /// Below the target after it had been reached.
    pub fallen_away: Option<FallenAway>,
    /// Heated, and does not rise.
    pub heating_too_slow: Option<HeatingTooSlow>,
}

impl Rules {
    /// Checks every bound.
    ///
    /// # Errors
    /// [`ProtectionError::OutOfRange`] names the first bound that makes no sense, [`ProtectionError::NoPeriod`] a
    /// rule that would trip at once without cause, [`ProtectionError::NoRoom`] limits the wrong way round.
    pub fn check(&self) -> Result<(), ProtectionError> {
        self.above_maximum.map_or(Ok(()), |rule| rule.check())?;
        self.below_minimum.map_or(Ok(()), |rule| rule.check())?;
        self.jump.map_or(Ok(()), |rule| rule.check())?;
        self.above_target.map_or(Ok(()), |rule| rule.check())?;
        self.fallen_away.map_or(Ok(()), |rule| rule.check())?;
        self.heating_too_slow.map_or(Ok(()), |rule| rule.check())?;
        match (self.above_maximum, self.below_minimum) {
            (Some(above), Some(below)) if above.maximum_celsius <= below.minimum_celsius => {
                Err(ProtectionError::NoRoom {
                    maximum_celsius: above.maximum_celsius,
                    minimum_celsius: below.minimum_celsius,
                })
            }
            _ => Ok(()),
        }
    }
}
