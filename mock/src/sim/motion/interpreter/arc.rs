//! Finds the circle of an arc in the XY plane.

use std::f64::consts::TAU;

use super::error::CodeFault;

/// Starts and ends closer than this are one place: far below what three or four decimals can say.
const SAME_PLACE_MM: f64 = 1e-9;

/// Holds an arc in the XY plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arc {
    /// Centre, X and Y.
    pub centre_mm: [f64; 2],
    /// Radius, above 0.
    pub radius_mm: f64,
    /// The angle swept, above 0 and at most a full turn.
    pub sweep_rad: f64,
    /// Whether it turns clockwise seen from above (G2).
    pub clockwise: bool,
}

impl Arc {
    /// Finds the arc from its centre, given from the start (I, J).
    ///
    /// # Source
    /// NISTIR 6556, arcs in centre format (from memory): I and J count from the start, and both radii must agree.
    pub(super) fn by_centre(
        ends: Ends,
        offset_mm: [f64; 2],
        tolerance_mm: f64,
    ) -> Result<Self, CodeFault> {
        let centre_mm = [
            ends.start_mm[0] + offset_mm[0],
            ends.start_mm[1] + offset_mm[1],
        ];
        let radius_mm = offset_mm[0].hypot(offset_mm[1]);
        if radius_mm <= SAME_PLACE_MM {
            return Err(CodeFault::ArcRadiusZero);
        }
        let end_from_centre = [ends.end_mm[0] - centre_mm[0], ends.end_mm[1] - centre_mm[1]];
        let off_mm = (end_from_centre[0].hypot(end_from_centre[1]) - radius_mm).abs();
        if off_mm > tolerance_mm {
            return Err(CodeFault::ArcOff {
                off_mm,
                tolerance_mm,
            });
        }
        let sweep_rad = if ends.distance_mm() <= SAME_PLACE_MM {
            TAU
        } else {
            let start_rad = (-offset_mm[1]).atan2(-offset_mm[0]);
            let turned = end_from_centre[1].atan2(end_from_centre[0]) - start_rad;
            let sweep = if ends.clockwise { -turned } else { turned }.rem_euclid(TAU);
            if sweep > 0.0 { sweep } else { TAU }
        };
        Ok(Self {
            centre_mm,
            radius_mm,
            sweep_rad,
            clockwise: ends.clockwise,
        })
    }

    /// Finds the arc from its radius (R): up to half a turn if above 0, more than half if below.
    ///
    /// # Source
    /// NISTIR 6556, arcs in radius format (from memory); the centre by plane geometry.
    pub(super) fn by_radius(
        ends: Ends,
        radius_mm: f64,
        tolerance_mm: f64,
    ) -> Result<Self, CodeFault> {
        let distance_mm = ends.distance_mm();
        let size_mm = radius_mm.abs();
        if size_mm <= SAME_PLACE_MM {
            return Err(CodeFault::ArcRadiusZero);
        }
        if distance_mm <= SAME_PLACE_MM {
            return Err(CodeFault::ArcRadiusFull);
        }
        if distance_mm / 2.0 > size_mm + tolerance_mm {
            return Err(CodeFault::ArcRadiusShort {
                radius_mm,
                distance_mm,
            });
        }
        // A radius within the tolerance of half the distance is taken as that half.
        let size_mm = size_mm.max(distance_mm / 2.0);
        let half_rad = (distance_mm / (2.0 * size_mm)).min(1.0).asin();
        let sweep_rad = if radius_mm > 0.0 {
            2.0 * half_rad
        } else {
            TAU - 2.0 * half_rad
        };
        // The centre lies left of the way from start to end for a short counter-clockwise arc.
        let left = if (radius_mm > 0.0) == ends.clockwise {
            -1.0
        } else {
            1.0
        };
        let height_mm = left
            * (size_mm * size_mm - distance_mm * distance_mm / 4.0)
                .max(0.0)
                .sqrt();
        let along = [
            (ends.end_mm[0] - ends.start_mm[0]) / distance_mm,
            (ends.end_mm[1] - ends.start_mm[1]) / distance_mm,
        ];
        let centre_mm = [
            f64::midpoint(ends.start_mm[0], ends.end_mm[0]) - along[1] * height_mm,
            f64::midpoint(ends.start_mm[1], ends.end_mm[1]) + along[0] * height_mm,
        ];
        Ok(Self {
            centre_mm,
            radius_mm: size_mm,
            sweep_rad,
            clockwise: ends.clockwise,
        })
    }

    /// Gives the length of the arc.
    pub fn length_mm(&self) -> f64 {
        self.radius_mm * self.sweep_rad
    }

    /// Gives the direction of travel (length 1) at a place on the circle.
    pub fn tangent(&self, at_mm: [f64; 2]) -> [f64; 2] {
        let out = [at_mm[0] - self.centre_mm[0], at_mm[1] - self.centre_mm[1]];
        let size = out[0].hypot(out[1]);
        let turn = if self.clockwise { -1.0 } else { 1.0 };
        [-turn * out[1] / size, turn * out[0] / size]
    }
}

/// Holds where an arc starts and ends, and which way round.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ends {
    pub(super) start_mm: [f64; 2],
    pub(super) end_mm: [f64; 2],
    pub(super) clockwise: bool,
}

impl Ends {
    fn distance_mm(&self) -> f64 {
        (self.end_mm[0] - self.start_mm[0]).hypot(self.end_mm[1] - self.start_mm[1])
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{FRAC_PI_2, PI};

    use proptest::prelude::*;

    use super::*;

    fn ends(start_mm: [f64; 2], end_mm: [f64; 2], clockwise: bool) -> Ends {
        Ends {
            start_mm,
            end_mm,
            clockwise,
        }
    }

    // Source of the lengths: circumference 2 pi r and its parts.
    #[test]
    fn a_quarter_counter_clockwise_is_three_quarters_clockwise() {
        let counter =
            Arc::by_centre(ends([10.0, 0.0], [0.0, 10.0], false), [-10.0, 0.0], 0.002).unwrap();
        let clockwise =
            Arc::by_centre(ends([10.0, 0.0], [0.0, 10.0], true), [-10.0, 0.0], 0.002).unwrap();
        assert!((counter.length_mm() - 10.0 * FRAC_PI_2).abs() < 1e-9);
        assert!((clockwise.length_mm() - 30.0 * FRAC_PI_2).abs() < 1e-9);
    }

    #[test]
    fn an_end_at_the_start_is_a_full_circle() {
        let full =
            Arc::by_centre(ends([10.0, 0.0], [10.0, 0.0], true), [-10.0, 0.0], 0.002).unwrap();
        assert!((full.length_mm() - 20.0 * PI).abs() < 1e-9);
    }

    #[test]
    fn an_end_straight_behind_the_start_is_a_full_circle_and_not_nothing() {
        let full =
            Arc::by_centre(ends([10.0, 0.0], [10.001, 0.0], false), [-10.0, 0.0], 0.002).unwrap();
        assert!((full.length_mm() - 20.0 * PI).abs() < 1e-9);
    }

    #[test]
    fn a_radius_a_hair_too_short_is_taken_as_half_the_distance() {
        let half = Arc::by_radius(ends([0.0, 0.0], [10.003, 0.0], false), 5.0, 0.002).unwrap();
        assert!((half.length_mm() - 5.0015 * PI).abs() < 1e-9);
    }

    #[test]
    fn half_a_turn_by_radius_has_its_centre_in_the_middle() {
        let half = Arc::by_radius(ends([0.0, 0.0], [20.0, 0.0], false), 10.0, 0.002).unwrap();
        assert!((half.length_mm() - 10.0 * PI).abs() < 1e-9);
        assert!((half.centre_mm[0] - 10.0).abs() < 1e-9 && half.centre_mm[1].abs() < 1e-6);
    }

    #[test]
    fn the_direction_of_travel_is_square_to_the_radius() {
        let quarter =
            Arc::by_centre(ends([10.0, 0.0], [0.0, 10.0], false), [-10.0, 0.0], 0.002).unwrap();
        let (start, end) = (quarter.tangent([10.0, 0.0]), quarter.tangent([0.0, 10.0]));
        assert!(start[0].abs() < 1e-12 && (start[1] - 1.0).abs() < 1e-12);
        assert!((end[0] + 1.0).abs() < 1e-12 && end[1].abs() < 1e-12);
    }

    #[test]
    fn an_end_off_the_circle_is_refused_from_the_tolerance_on() {
        let off = |by: f64| {
            Arc::by_centre(
                ends([10.0, 0.0], [0.0, 10.0 + by], false),
                [-10.0, 0.0],
                0.002,
            )
        };
        assert!(off(0.0019).is_ok());
        assert!(matches!(off(0.0021), Err(CodeFault::ArcOff { .. })));
    }

    #[test]
    fn arcs_by_radius_that_cannot_be_are_refused() {
        let by_radius = |end, radius| Arc::by_radius(ends([0.0, 0.0], end, false), radius, 0.002);
        assert_eq!(by_radius([0.0, 0.0], 5.0), Err(CodeFault::ArcRadiusFull));
        assert_eq!(by_radius([5.0, 0.0], 0.0), Err(CodeFault::ArcRadiusZero));
        assert!(matches!(
            by_radius([10.01, 0.0], 5.0),
            Err(CodeFault::ArcRadiusShort { .. })
        ));
        assert!(by_radius([10.003, 0.0], 5.0).is_ok());
    }

    proptest! {
        // Both forms describe the same arc: the centre found from R, given as I and J, gives the same length.
        #[test]
        fn both_forms_agree(
            x in -50.0..50.0_f64, y in -50.0..50.0_f64, extra in 0.01..100.0_f64,
            long: bool, clockwise: bool,
        ) {
            prop_assume!(x.hypot(y) > 0.1);
            let ends = ends([0.0, 0.0], [x, y], clockwise);
            let radius = x.hypot(y) / 2.0 + extra;
            let by_radius = Arc::by_radius(ends, if long { -radius } else { radius }, 0.002).unwrap();
            let by_centre = Arc::by_centre(ends, by_radius.centre_mm, 0.002).unwrap();
            prop_assert!((by_radius.sweep_rad - by_centre.sweep_rad).abs() < 1e-6);
            prop_assert!((by_radius.sweep_rad > PI) == long);
        }
    }
}
