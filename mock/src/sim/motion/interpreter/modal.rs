//! The state that lasts from line to line.

use super::code::Motion;
use super::command::Position;
use super::options::InterpreterOptions;

/// Millimetres of an inch, exact by definition.
const MM_PER_INCH: f64 = 25.4;

/// The axes with the letters of their words; the material axis is last.
pub(super) const AXES: [u8; 4] = *b"XYZE";
/// The place of the material axis in [`AXES`].
pub(super) const MATERIAL: usize = 3;

/// Holds modes, feed, place and offsets. Small, so that a line can try on a copy.
#[derive(Debug, Clone, Copy)]
pub(super) struct Modal {
    pub(super) motion: Option<Motion>,
    pub(super) inch: bool,
    pub(super) absolute: bool,
    pub(super) material_absolute: bool,
    pub(super) feed_mm_per_s: Option<f64>,
    /// Place in the machine's own coordinates, material last.
    pub(super) place_mm: [f64; 4],
    /// Machine coordinate minus program coordinate, set by G92.
    pub(super) offset_mm: [f64; 4],
}

impl Modal {
    /// Starts in millimetres, absolute, with no motion and no feed.
    pub(super) fn new(options: &InterpreterOptions) -> Self {
        let [x, y, z] = options.start_mm;
        Self {
            motion: None,
            inch: false,
            absolute: true,
            material_absolute: true,
            feed_mm_per_s: None,
            place_mm: [x, y, z, 0.0],
            offset_mm: [0.0; 4],
        }
    }

    /// Gives the millimetres of one unit in force.
    pub(super) fn mm_per_unit(&self) -> f64 {
        if self.inch { MM_PER_INCH } else { 1.0 }
    }

    /// Gives the machine coordinate that a word of an axis means now.
    pub(super) fn target_mm(&self, axis: usize, word: f64) -> f64 {
        let absolute = if axis == MATERIAL {
            self.material_absolute
        } else {
            self.absolute
        };
        word * self.mm_per_unit()
            + if absolute {
                self.offset_mm[axis]
            } else {
                self.place_mm[axis]
            }
    }

    pub(super) fn position(&self) -> Position {
        let [x, y, z, material_mm] = self.place_mm;
        Position {
            xyz_mm: [x, y, z],
            material_mm,
        }
    }
}
