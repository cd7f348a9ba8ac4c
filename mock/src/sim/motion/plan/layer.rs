//! Finds the layers of a print from its moves.

use crate::sim::motion::interpreter::{Move, Path};

/// Counts layers: one begins where material is laid at another height than the layer's.
///
/// Nothing in the program says so, thus known faults: a first line laid higher than the first layer counts as a layer,
/// and a print that rises all the time counts one at each rise by the step.
#[derive(Debug)]
pub(super) struct LayerCounter {
    step_mm: f64,
    index: u32,
    z_mm: f64,
}

impl LayerCounter {
    pub(super) fn new(step_mm: f64) -> Self {
        Self {
            step_mm,
            index: 0,
            z_mm: 0.0,
        }
    }

    /// Gives the height of the layer that this move begins, if it does.
    pub(super) fn note(&mut self, step: &Move) -> Option<f64> {
        let [x, y, z_mm] = step.end.xyz_mm;
        let flat = (x - step.start.xyz_mm[0]).abs() + (y - step.start.xyz_mm[1]).abs();
        let curved = !matches!(step.path, Path::Straight);
        let lays = step.end.material_mm > step.start.material_mm && (flat > 0.0 || curved);
        // A hundredth of tolerance, because written heights are rounded.
        let other_height = (z_mm - self.z_mm).abs() >= 0.99 * self.step_mm;
        if !lays || (self.index > 0 && !other_height) {
            return None;
        }
        self.index = self.index.saturating_add(1);
        self.z_mm = z_mm;
        Some(z_mm)
    }

    /// Gives the layer counted from 1, 0 before the first.
    pub(super) fn index(&self) -> u32 {
        self.index
    }
}
