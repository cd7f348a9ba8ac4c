//! A move seen along its path: how long, which way, how fast at most.

use super::limits::MotionLimits;
use crate::sim::motion::interpreter::{Arc, Move, MoveKind, Path};

/// Shorter than this nothing moves: far below what four decimals can say.
const NOTHING_MM: f64 = 1e-9;

/// Holds what timing needs of a move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// Length of the path, or of filament where nothing else moves. Above 0.
    pub length_mm: f64,
    /// Highest speed: the feed asked for, cut to what axes and curvature allow.
    pub cruise_mm_per_s: f64,
    /// Speed asked for.
    pub feed_mm_per_s: f64,
    /// Acceleration.
    pub acceleration_mm_per_s2: f64,
    /// Direction (length 1) at the start, none if the machine rests there.
    pub entry_direction: Option<[f64; 3]>,
    /// Direction (length 1) at the end, none if the machine rests there.
    pub exit_direction: Option<[f64; 3]>,
    /// Whether anything but the material axis moves.
    pub travels: bool,
}

impl Segment {
    /// Measures a move, none if nothing moves.
    pub fn of(step: &Move, limits: &MotionLimits) -> Option<Self> {
        let way: [f64; 3] =
            std::array::from_fn(|axis| step.end.xyz_mm[axis] - step.start.xyz_mm[axis]);
        let material_mm = (step.end.material_mm - step.start.material_mm).abs();
        match step.path {
            Path::Arc(arc) => Some(Self::of_arc(step, &arc, way[2], material_mm, limits)),
            Path::Straight => {
                let length_mm = (way[0] * way[0] + way[1] * way[1] + way[2] * way[2]).sqrt();
                if length_mm > NOTHING_MM {
                    Some(Self::of_line(step, way, length_mm, material_mm, limits))
                } else if material_mm > NOTHING_MM {
                    let cruise_mm_per_s =
                        step.feed_mm_per_s.min(limits.axis_speeds.material_mm_per_s);
                    let fed = Self::new(step, material_mm, cruise_mm_per_s, [None; 2], limits);
                    Some(Self {
                        travels: false,
                        ..fed
                    })
                } else {
                    None
                }
            }
        }
    }

    fn of_line(
        step: &Move,
        way: [f64; 3],
        length_mm: f64,
        material_mm: f64,
        limits: &MotionLimits,
    ) -> Self {
        let speeds = &limits.axis_speeds;
        let cruise = step
            .feed_mm_per_s
            .min(share(speeds.x_mm_per_s, way[0], length_mm))
            .min(share(speeds.y_mm_per_s, way[1], length_mm))
            .min(share(speeds.z_mm_per_s, way[2], length_mm))
            .min(share(speeds.material_mm_per_s, material_mm, length_mm));
        let direction = way.map(|part| part / length_mm);
        Self::new(step, length_mm, cruise, [Some(direction); 2], limits)
    }

    /// # Source
    /// Length of a helix, and speed in a circle from the acceleration towards its centre, `a = v^2 / r` (textbook).
    fn of_arc(
        step: &Move,
        arc: &Arc,
        rise_mm: f64,
        material_mm: f64,
        limits: &MotionLimits,
    ) -> Self {
        let flat_mm = arc.length_mm();
        let length_mm = flat_mm.hypot(rise_mm);
        let speeds = &limits.axis_speeds;
        let turning_mm_per_s = (limits.acceleration_mm_per_s2 * arc.radius_mm).sqrt();
        let cruise = step
            .feed_mm_per_s
            // Somewhere on the arc the whole speed may lie along X or Y.
            .min(share(
                speeds
                    .x_mm_per_s
                    .min(speeds.y_mm_per_s)
                    .min(turning_mm_per_s),
                flat_mm,
                length_mm,
            ))
            .min(share(speeds.z_mm_per_s, rise_mm, length_mm))
            .min(share(speeds.material_mm_per_s, material_mm, length_mm));
        let [entry, exit] = [step.start.xyz_mm, step.end.xyz_mm].map(|at| {
            let [x, y] = arc.tangent([at[0], at[1]]);
            Some([
                x * flat_mm / length_mm,
                y * flat_mm / length_mm,
                rise_mm / length_mm,
            ])
        });
        Self::new(step, length_mm, cruise, [entry, exit], limits)
    }

    fn new(
        step: &Move,
        length_mm: f64,
        cruise_mm_per_s: f64,
        directions: [Option<[f64; 3]>; 2],
        limits: &MotionLimits,
    ) -> Self {
        let rests = step.kind == MoveKind::Home;
        let [entry_direction, exit_direction] =
            directions.map(|direction| direction.filter(|_| !rests));
        Self {
            length_mm,
            cruise_mm_per_s,
            feed_mm_per_s: step.feed_mm_per_s,
            acceleration_mm_per_s2: limits.acceleration_mm_per_s2,
            entry_direction,
            exit_direction,
            travels: true,
        }
    }
}

/// Gives the path speed at which one axis, covering `part` of `whole`, reaches its own limit.
fn share(limit_mm_per_s: f64, part_mm: f64, whole_mm: f64) -> f64 {
    let part_mm = part_mm.abs();
    if part_mm > 0.0 {
        limit_mm_per_s * whole_mm / part_mm
    } else {
        f64::INFINITY
    }
}
