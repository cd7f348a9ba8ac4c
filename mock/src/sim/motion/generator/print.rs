//! What a test print is made of.

use std::f64::consts::PI;

use thiserror::Error;

use crate::sim::motion::bounds::{
    self, DWELL, FILAMENT_DIAMETER, HEATER_TARGET, INFILL_SPACING, LAYER_HEIGHT, LAYERS,
    LINE_WIDTH, OutOfBounds, PRINT_SIZE, RETRACTION, RING_SIDES, SPEED,
};

/// Chooses the outline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// Four sides.
    HollowBox {
        /// Length of a side, along the middle of the bead.
        side_mm: f64,
    },
    /// A circle.
    RingTower {
        /// Radius, to the middle of the bead.
        radius_mm: f64,
        /// Drawn as so many straight sides; none draws one arc.
        sides: Option<u32>,
    },
}

/// Chooses the cross-section of a bead.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum BeadShape {
    /// Width times height.
    #[default]
    Rectangle,
    /// A rectangle with half circles for its sides.
    RoundedEnds,
}

/// Chooses how the material axis counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum MaterialAxis {
    /// From move to move (M83).
    #[default]
    Relative,
    /// From the start of each layer (M82, G92).
    Absolute,
}

/// Holds the parameters of a test print.
#[derive(Debug, Clone, PartialEq)]
pub struct TestPrintOptions {
    /// Outline.
    pub shape: Shape,
    /// How many layers.
    pub layers: u32,
    /// Height of each.
    pub layer_height_mm: f64,
    /// Width of a bead.
    pub line_width_mm: f64,
    /// Cross-section of a bead.
    pub bead: BeadShape,
    /// Diameter of the filament.
    pub filament_diameter_mm: f64,
    /// Distance between lines of filling; none leaves the print hollow.
    pub infill_spacing_mm: Option<f64>,
    /// Speed while laying.
    pub print_mm_per_s: f64,
    /// Speed of travel.
    pub travel_mm_per_s: f64,
    /// Filament drawn back at the end of each layer; 0 for none.
    pub retract_mm: f64,
    /// Speed of that.
    pub retract_mm_per_s: f64,
    /// Target of the extruder.
    pub extruder_celsius: f64,
    /// Target of the platform.
    pub platform_celsius: f64,
    /// The layer, counted from 1, that switches the part fan on; none leaves it off.
    pub fan_from_layer: Option<u32>,
    /// Rest before each layer; 0 for none.
    pub layer_dwell_s: f64,
    /// Layers, counted from 1, before which the program pauses.
    pub pause_before_layers: Vec<u32>,
    /// How the material axis counts.
    pub material: MaterialAxis,
    /// Centre of the print in X and Y.
    pub centre_mm: [f64; 2],
}

impl Default for TestPrintOptions {
    fn default() -> Self {
        Self {
            shape: Shape::HollowBox { side_mm: 40.0 },
            layers: 20,
            layer_height_mm: 0.2,
            line_width_mm: 0.4,
            bead: BeadShape::default(),
            filament_diameter_mm: 1.75,
            infill_spacing_mm: Some(4.0),
            print_mm_per_s: 60.0,
            travel_mm_per_s: 120.0,
            retract_mm: 1.0,
            retract_mm_per_s: 30.0,
            extruder_celsius: 205.0,
            platform_celsius: 60.0,
            fan_from_layer: Some(2),
            layer_dwell_s: 0.0,
            pause_before_layers: Vec::new(),
            material: MaterialAxis::default(),
            centre_mm: [100.0, 100.0],
        }
    }
}

/// Says why there is no such print.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum PrintError {
    /// A number is outside its bound.
    #[error("test print: {0}")]
    Bounds(OutOfBounds),
    /// A bead higher than wide.
    #[error("test print: line width {line_width_mm} mm is below layer height {layer_height_mm} mm")]
    Narrow {
        /// The width.
        line_width_mm: f64,
        /// The height.
        layer_height_mm: f64,
    },
}

impl From<OutOfBounds> for PrintError {
    fn from(error: OutOfBounds) -> Self {
        Self::Bounds(error)
    }
}

/// Holds checked parameters.
#[derive(Debug, Clone, PartialEq)]
pub struct TestPrint {
    options: TestPrintOptions,
}

impl TestPrint {
    /// Checks the parameters.
    ///
    /// # Errors
    /// [`PrintError`] for the first that cannot be.
    pub fn new(options: TestPrintOptions) -> Result<Self, PrintError> {
        check_shape(&options)?;
        LAYERS.check(f64::from(options.layers))?;
        for speed in [
            options.print_mm_per_s,
            options.travel_mm_per_s,
            options.retract_mm_per_s,
        ] {
            SPEED.check(speed)?;
        }
        for celsius in [options.extruder_celsius, options.platform_celsius] {
            HEATER_TARGET.check(celsius)?;
        }
        RETRACTION.check(options.retract_mm)?;
        DWELL.check(options.layer_dwell_s)?;
        for centre in options.centre_mm {
            bounds::COORDINATE.check(centre)?;
        }
        Ok(Self { options })
    }

    /// Gives the same print with as many layers as make its text at least so long.
    ///
    /// # Errors
    /// [`PrintError`] if that takes more layers than allowed.
    pub fn of_at_least(self, bytes: u64) -> Result<Self, PrintError> {
        let per_layer = self.layer_bytes(self.plainest_layer()).max(1);
        let layers = u32::try_from(bytes.div_ceil(per_layer)).unwrap_or(u32::MAX);
        Self::new(TestPrintOptions {
            layers: layers.max(1),
            ..self.options
        })
    }

    /// Finds a layer that has nothing which others lack; those after it only grow by digits.
    fn plainest_layer(&self) -> u32 {
        let plain = |layer: &u32| {
            self.options.fan_from_layer != Some(*layer)
                && !self.options.pause_before_layers.contains(layer)
        };
        (2..).find(plain).unwrap_or(2)
    }

    /// Gives the parameters.
    pub fn options(&self) -> &TestPrintOptions {
        &self.options
    }

    /// Gives the filament that a bead of the given length takes.
    ///
    /// # Source
    /// Equal volumes: bead cross-section by length is filament cross-section by length. Rounded ends:
    /// `(w - h) h + pi h^2 / 4` (plane geometry).
    pub fn filament_mm(&self, bead_mm: f64) -> f64 {
        let (width, height) = (self.options.line_width_mm, self.options.layer_height_mm);
        let bead_mm2 = match self.options.bead {
            BeadShape::Rectangle => width * height,
            BeadShape::RoundedEnds => (width - height) * height + PI * height * height / 4.0,
        };
        let radius = self.options.filament_diameter_mm / 2.0;
        bead_mm * bead_mm2 / (PI * radius * radius)
    }
}

fn check_shape(options: &TestPrintOptions) -> Result<(), PrintError> {
    match options.shape {
        Shape::HollowBox { side_mm } => PRINT_SIZE.check(side_mm)?,
        Shape::RingTower { radius_mm, sides } => {
            sides.map_or(Ok(0.0), |sides| RING_SIDES.check(f64::from(sides)))?;
            PRINT_SIZE.check(2.0 * radius_mm)?
        }
    };
    LAYER_HEIGHT.check(options.layer_height_mm)?;
    LINE_WIDTH.check(options.line_width_mm)?;
    FILAMENT_DIAMETER.check(options.filament_diameter_mm)?;
    if let Some(spacing) = options.infill_spacing_mm {
        INFILL_SPACING.check(spacing)?;
    }
    if options.line_width_mm < options.layer_height_mm {
        let (line_width_mm, layer_height_mm) = (options.line_width_mm, options.layer_height_mm);
        return Err(PrintError::Narrow {
            line_width_mm,
            layer_height_mm,
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filament_of_100_mm(bead: BeadShape, filament_diameter_mm: f64) -> f64 {
        let options = TestPrintOptions {
            bead,
            filament_diameter_mm,
            ..TestPrintOptions::default()
        };
        TestPrint::new(options).unwrap().filament_mm(100.0)
    }

    // Source of the figures: equal volumes, worked by hand for a bead of 0.4 by 0.2 mm; filament cross-sections 2.40528
    // and 6.37940 mm2, bead cross-sections 0.08 and 0.071416 mm2.
    #[test]
    fn a_bead_takes_the_filament_of_equal_volume() {
        assert!((filament_of_100_mm(BeadShape::Rectangle, 1.75) - 3.3260).abs() < 5e-5);
        assert!((filament_of_100_mm(BeadShape::RoundedEnds, 1.75) - 2.9691).abs() < 5e-5);
        assert!(
            (filament_of_100_mm(BeadShape::Rectangle, 2.85) - 100.0 * 0.08 / 6.37940).abs() < 5e-5
        );
    }

    #[test]
    fn a_bead_higher_than_wide_is_refused() {
        let options = TestPrintOptions {
            line_width_mm: 0.1,
            ..TestPrintOptions::default()
        };
        let said = TestPrint::new(options).unwrap_err().to_string();
        assert_eq!(
            said,
            "test print: line width 0.1 mm is below layer height 0.2 mm"
        );
    }

    #[test]
    fn a_ring_of_two_sides_is_refused() {
        let shape = Shape::RingTower {
            radius_mm: 10.0,
            sides: Some(2),
        };
        let said = TestPrint::new(TestPrintOptions {
            shape,
            ..TestPrintOptions::default()
        })
        .unwrap_err()
        .to_string();
        assert_eq!(
            said,
            "test print: ring sides 2 sides is outside 3 to 100000 sides"
        );
    }
}
