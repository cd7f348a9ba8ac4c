//! What the machine's drives can do.

use super::super::bounds::{self, Bound};
use super::super::error::join;
use super::super::quantity::{At, Number};
use super::super::raw::RawMotion;
use super::{Checked, Checker, place_of};
use crate::sim::motion::planner::{CornerRule, MotionLimits};

impl Checker<'_> {
    pub(super) fn limits(&self, path: &str, raw: Option<&RawMotion>) -> Checked<MotionLimits> {
        let mut limits = MotionLimits::default();
        let Some(raw) = raw else {
            return Ok(limits);
        };
        let at = |key| join(path, key);
        let set = |key: &'static str, value: Option<&At<Number>>, bound: Bound, into: &mut f64| {
            *into = self.or_default(&at(key), value, bound, *into)?;
            Ok(())
        };
        set(
            "acceleration-millimetres-per-second-squared",
            raw.acceleration_millimetres_per_second_squared.as_ref(),
            bounds::ACCELERATION,
            &mut limits.acceleration_mm_per_s2,
        )?;
        let speeds = &mut limits.axis_speeds;
        for (key, value, into) in [
            (
                "max-x-millimetres-per-second",
                &raw.max_x_millimetres_per_second,
                &mut speeds.x_mm_per_s,
            ),
            (
                "max-y-millimetres-per-second",
                &raw.max_y_millimetres_per_second,
                &mut speeds.y_mm_per_s,
            ),
            (
                "max-z-millimetres-per-second",
                &raw.max_z_millimetres_per_second,
                &mut speeds.z_mm_per_s,
            ),
            (
                "max-filament-millimetres-per-second",
                &raw.max_filament_millimetres_per_second,
                &mut speeds.material_mm_per_s,
            ),
        ] {
            set(key, value.as_ref(), bounds::AXIS_SPEED, into)?;
        }
        limits.corner = self.corner(path, raw)?.unwrap_or(limits.corner);
        Ok(limits)
    }

    fn corner(&self, path: &str, raw: &RawMotion) -> Checked<Option<CornerRule>> {
        let (key, corner) = ("corner-millimetres", raw.corner_millimetres.as_ref());
        let rests = raw.rests_at_corners.as_ref();
        if rests.is_some_and(|rests| *rests.get()) {
            let problem = "cannot stand beside `rests-at-corners = true`";
            self.no_strangers(path, &[(key, place_of(corner))], problem)?;
            return Ok(Some(CornerRule::Stop));
        }
        let Some(corner) = corner else {
            return Ok(None);
        };
        let mm = self.number(&join(path, key), corner, bounds::CORNER)?;
        Ok(Some(CornerRule::Deviation { mm }))
    }
}
