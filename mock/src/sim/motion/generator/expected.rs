//! What a test print must come to, worked out from its geometry and not from its text.

use super::lines::LIFT_OFF_MM;
use super::path::{StrokeKind, end_of_layer, strokes};
use super::print::TestPrint;

/// Holds the sums of a test print on a machine that starts at home at 0, rests after every move, and has no other limits
/// than its acceleration.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Expected {
    /// Time in motion.
    pub motion_s: f64,
    /// Time in dwells.
    pub dwell_s: f64,
    /// Distance by speed, and the dwells.
    pub naive_s: f64,
    /// Length of all moves in space.
    pub path_mm: f64,
    /// Filament used.
    pub filament_mm: f64,
    /// Moves.
    pub moves: u64,
    /// Layers.
    pub layers: u32,
}

impl TestPrint {
    /// Works out what the print comes to if the machine rests after every move.
    pub fn expected(&self, acceleration_mm_per_s2: f64) -> Expected {
        let options = self.options();
        let (layers, end_mm) = (options.layers, end_of_layer(self));
        let mut sum = Expected {
            layers,
            ..Expected::default()
        };
        // All layers but the first start where the one before ended, so they come to the same.
        for (count, from_mm, returns) in [(1, [0.0; 2], false), (layers - 1, end_mm, true)] {
            let mut add =
                |length_mm, speed| sum.add(count, length_mm, speed, acceleration_mm_per_s2);
            add(options.layer_height_mm, options.travel_mm_per_s);
            if options.retract_mm > 0.0 {
                add(options.retract_mm, options.retract_mm_per_s);
                if returns {
                    add(options.retract_mm, options.retract_mm_per_s);
                }
            }
            let mut laid_mm = 0.0;
            let mut path_mm = options.layer_height_mm;
            for stroke in strokes(self, from_mm) {
                let lays = stroke.kind != StrokeKind::Travel;
                add(
                    stroke.length_mm,
                    if lays {
                        options.print_mm_per_s
                    } else {
                        options.travel_mm_per_s
                    },
                );
                laid_mm += if lays { stroke.length_mm } else { 0.0 };
                path_mm += stroke.length_mm;
            }
            sum.filament_mm += f64::from(count) * self.filament_mm(laid_mm);
            sum.path_mm += f64::from(count) * path_mm;
        }
        for length_mm in [LIFT_OFF_MM, end_mm[0].hypot(end_mm[1])] {
            if length_mm > 0.0 {
                sum.add(
                    1,
                    length_mm,
                    options.travel_mm_per_s,
                    acceleration_mm_per_s2,
                );
                sum.path_mm += length_mm;
            }
        }
        sum.dwell_s = f64::from(layers) * options.layer_dwell_s;
        sum.naive_s += sum.dwell_s;
        sum
    }
}

impl Expected {
    fn add(
        &mut self,
        count: u32,
        length_mm: f64,
        speed_mm_per_s: f64,
        acceleration_mm_per_s2: f64,
    ) {
        self.motion_s +=
            f64::from(count) * rest_to_rest_s(length_mm, speed_mm_per_s, acceleration_mm_per_s2);
        self.naive_s += f64::from(count) * length_mm / speed_mm_per_s;
        self.moves += u64::from(count);
    }
}

/// Gives the time of one move from rest to rest. Kept apart from the planner's own formula, which it checks.
///
/// # Source
/// Uniform acceleration (textbook): `d/v + v/a` where `d >= v^2/a`, else `2 sqrt(d/a)`.
fn rest_to_rest_s(length_mm: f64, speed_mm_per_s: f64, acceleration_mm_per_s2: f64) -> f64 {
    if length_mm >= speed_mm_per_s * speed_mm_per_s / acceleration_mm_per_s2 {
        length_mm / speed_mm_per_s + speed_mm_per_s / acceleration_mm_per_s2
    } else {
        2.0 * (length_mm / acceleration_mm_per_s2).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::super::print::{Shape, TestPrintOptions};
    use super::*;

    #[test]
    fn a_hollow_box_comes_to_its_sides_lifts_and_travels() {
        let print = TestPrint::new(TestPrintOptions {
            shape: Shape::HollowBox { side_mm: 100.0 },
            layers: 3,
            infill_spacing_mm: None,
            retract_mm: 0.0,
            layer_dwell_s: 2.0,
            centre_mm: [50.0, 50.0],
            ..TestPrintOptions::default()
        });
        let expected = print.unwrap().expected(500.0);
        // The box starts at 0, so nothing is travelled in X and Y. Twelve sides of 1.786667 s (100/60 + 60/500), three
        // lifts of 0.2 mm (2 sqrt(0.2/500) = 0.04 s) and one of 5 mm (2 sqrt(5/500) = 0.2 s).
        assert!((expected.motion_s - (12.0 * 1.786_666_667 + 3.0 * 0.04 + 0.2)).abs() < 1e-6);
        assert_eq!((expected.moves, expected.layers), (16, 3));
        // 1200 mm of bead at 3.3260 mm of filament for 100 mm.
        assert!((expected.filament_mm - 39.912).abs() < 1e-3);
        assert!((expected.path_mm - 1205.6).abs() < 1e-9);
        // 1200/60 + 0.6/120 + 5/120 + 3 * 2
        assert!((expected.naive_s - (20.0 + 5.6 / 120.0 + 6.0)).abs() < 1e-9);
    }
}
