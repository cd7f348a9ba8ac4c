//! The room, the clock on its wall and what is melted.

use std::f64::consts::TAU;

use super::super::bounds;
use super::super::plan::{MaterialPlan, RoomPlan};
use super::super::quantity::Quantity as _;
use super::super::raw::{RawMaterial, RawScenario};
use super::{Checked, Checker};

/// An ordinary room.
const ROOM_CELSIUS: f64 = 22.0;
/// Three in the afternoon by the default clock (own choice).
const WARMEST_AT_S: f64 = 7.0 * 3600.0;
/// 2026-01-05T08:00:00Z, a Monday morning (own choice).
const CLOCK_UNIX_S: f64 = 1_767_600_000.0;
/// The usual filament (common practice, figure from memory).
const DENSITY_GRAMS_PER_CM3: f64 = 1.24;
/// As for the density.
const SPECIFIC_HEAT: f64 = 1.8;

const DAY_S: f64 = 86_400.0;

/// Gives the room's temperature at the start, the swing included.
pub(super) fn at_start_celsius(room: &RoomPlan) -> f64 {
    // Without a swing the number is the author's own to the last bit.
    if room.swing_celsius <= 0.0 {
        return room.celsius;
    }
    room.celsius + room.swing_celsius * (TAU * room.warmest_at_s / DAY_S).cos()
}

impl Checker<'_> {
    pub(super) fn room(&self, raw: &RawScenario) -> Checked<RoomPlan> {
        let celsius = self.or_default(
            "room-celsius",
            raw.room_celsius.as_ref(),
            bounds::ROOM_CELSIUS,
            ROOM_CELSIUS,
        )?;
        let key = "room-swing-celsius";
        let swing = raw.room_swing_celsius.as_ref();
        let swing_celsius = self.or_default(key, swing, bounds::ROOM_SWING, 0.0)?;
        let range = bounds::ROOM_CELSIUS;
        if let Some(swing) = swing
            && !(range.holds(celsius - swing_celsius) && range.holds(celsius + swing_celsius))
        {
            let problem = format!(
                "{} K round {celsius} C leaves {}",
                swing.get().number(),
                range.words()
            );
            return Err(self.error(swing, key, problem));
        }
        Ok(RoomPlan {
            celsius,
            swing_celsius,
            warmest_at_s: self.or_default(
                "room-warmest-at",
                raw.room_warmest_at.as_ref(),
                bounds::WARMEST_AT_S,
                WARMEST_AT_S,
            )?,
        })
    }

    pub(super) fn clock(&self, raw: &RawScenario) -> Checked<f64> {
        let Some(clock) = &raw.clock_at_start else {
            return Ok(CLOCK_UNIX_S);
        };
        let unix_s = clock.get().number();
        if bounds::CLOCK_UNIX_S.holds(unix_s) {
            return Ok(unix_s);
        }
        let problem = "is outside 1970-01-01T00:00:00Z to 2100-01-01T00:00:00Z";
        Err(self.error(clock, "clock-at-start", problem))
    }

    pub(super) fn material(&self, raw: &RawMaterial) -> Checked<MaterialPlan> {
        let density_g_per_cm3 = self.or_default(
            "material.density-grams-per-cubic-centimetre",
            raw.density_grams_per_cubic_centimetre.as_ref(),
            bounds::DENSITY,
            DENSITY_GRAMS_PER_CM3,
        )?;
        Ok(MaterialPlan {
            density_g_per_mm3: density_g_per_cm3 / 1000.0,
            specific_heat_joules_per_g_kelvin: self.or_default(
                "material.specific-heat-joules-per-gram-kelvin",
                raw.specific_heat_joules_per_gram_kelvin.as_ref(),
                bounds::SPECIFIC_HEAT,
                SPECIFIC_HEAT,
            )?,
        })
    }
}
