//! The speed at which one move may go over into the next.

use super::limits::CornerRule;
use super::segment::Segment;

/// Directions closer than this go straight on (about 0.00001 rad): far below what rounded coordinates can say.
const STRAIGHT: f64 = 1e-10;

/// Gives the square of the highest speed at the joint, in (mm/s)^2.
///
/// # Source
/// Plane geometry, worked here. Two moves meet at the inner angle t. A circle that touches both and passes the corner
/// at distance d has radius `r = d s / (1 - s)` with `s = sin(t / 2)`, and touches them at `r / tan(t / 2)` from the
/// corner, which must not be beyond the middle of the shorter move. In a circle `v^2 = a r`. With the directions of
/// travel u and w, `s^2 = (1 + u w) / 2` and `cos^2(t / 2) = (1 - u w) / 2`.
///
/// The second condition makes a circle drawn as many short lines as slow as the circle itself.
pub(crate) fn corner_speed_squared(rule: CornerRule, before: &Segment, after: &Segment) -> f64 {
    let CornerRule::Deviation { mm: deviation_mm } = rule else {
        return 0.0;
    };
    let (Some(u), Some(w)) = (before.exit_direction, after.entry_direction) else {
        return 0.0;
    };
    let slowest = before.cruise_mm_per_s.min(after.cruise_mm_per_s);
    let highest = slowest * slowest;
    let aligned = u[0] * w[0] + u[1] * w[1] + u[2] * w[2];
    if aligned >= 1.0 - STRAIGHT {
        return highest;
    }
    let half_sine = ((1.0 + aligned) / 2.0).max(0.0).sqrt();
    let half_cosine = ((1.0 - aligned) / 2.0).sqrt();
    let by_deviation_mm = deviation_mm * half_sine / (1.0 - half_sine);
    let by_length_mm = before.length_mm.min(after.length_mm) / 2.0 * half_sine / half_cosine;
    let acceleration = before
        .acceleration_mm_per_s2
        .min(after.acceleration_mm_per_s2);
    highest.min(acceleration * by_deviation_mm.min(by_length_mm))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn towards(angle_degrees: f64, length_mm: f64) -> Segment {
        let (sine, cosine) = angle_degrees.to_radians().sin_cos();
        let direction = Some([cosine, sine, 0.0]);
        Segment {
            length_mm,
            cruise_mm_per_s: 100.0,
            feed_mm_per_s: 100.0,
            acceleration_mm_per_s2: 1000.0,
            entry_direction: direction,
            exit_direction: direction,
            travels: true,
        }
    }

    fn speed_mm_per_s(turn_degrees: f64, length_mm: f64, deviation_mm: f64) -> f64 {
        let rule = CornerRule::Deviation { mm: deviation_mm };
        corner_speed_squared(
            rule,
            &towards(0.0, length_mm),
            &towards(turn_degrees, length_mm),
        )
        .sqrt()
    }

    #[test]
    fn a_right_angle_is_taken_at_the_speed_of_its_circle() {
        // s = sin 45 degrees = 0.70711; r = 0.05 * 0.70711 / 0.29289 = 0.12071 mm; v = sqrt(1000 * 0.12071) = 10.987.
        assert!((speed_mm_per_s(90.0, 50.0, 0.05) - 10.987).abs() < 0.001);
    }

    #[test]
    fn straight_on_is_as_fast_as_the_moves_and_back_again_is_a_stop() {
        assert!((speed_mm_per_s(0.0, 50.0, 0.05) - 100.0).abs() < 1e-9);
        assert!(speed_mm_per_s(180.0, 50.0, 0.05) < 1e-3);
    }

    #[test]
    fn a_polygon_is_as_slow_as_its_inner_circle() {
        // 360 sides of 0.1 mm: r = 0.05 / tan(0.5 degrees) = 5.7295 mm; v = sqrt(1000 * 5.7295) = 75.694 mm/s.
        assert!((speed_mm_per_s(1.0, 0.1, 10.0) - 75.694).abs() < 0.001);
    }

    #[test]
    fn the_stop_rule_rests_even_straight_on() {
        assert!(
            corner_speed_squared(CornerRule::Stop, &towards(0.0, 1.0), &towards(0.0, 1.0)) <= 0.0
        );
    }
}
