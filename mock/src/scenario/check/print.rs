//! Test prints, whose part program is made.

use super::super::bounds::{self, Bound};
use super::super::error::join;
use super::super::quantity::{At, Number};
use super::super::raw::{RawPrint, RawShape};
use super::{Checked, Checker, Heaters, count, place_of, whole};
use crate::sim::HeaterKind;
use crate::sim::motion::generator::{Shape, TestPrint, TestPrintOptions};

/// Is how large a print is.
struct Size {
    side_mm: f64,
    layer_height_mm: f64,
    layers: f64,
}

/// Between the origin and a print, so that no size reaches below 0.
const MARGIN_MM: f64 = 10.0;
/// The size of the usual test print.
const SIDE_MM: f64 = 40.0;
/// Twenty of the usual layers.
const HEIGHT_MM: f64 = 4.0;

impl Checker<'_> {
    /// Checks a test print; its targets are the job's.
    pub(super) fn test_print(
        &self,
        path: &str,
        raw: &At<RawPrint>,
        targets_celsius: &[(usize, f64)],
        heaters: &Heaters,
    ) -> Checked<TestPrint> {
        let print = raw.get();
        let at = |key| join(path, key);
        let usual = TestPrintOptions::default();
        let size = self.size(path, print, &usual)?;
        let target = |kind: HeaterKind| {
            let of_kind = |(heater, _): &&(usize, f64)| heaters[*heater].kind == kind;
            let found = targets_celsius.iter().find(of_kind);
            found.map_or(0.0, |(_, celsius)| *celsius)
        };
        let speed = |key, value: Option<&At<Number>>, usual_mm_per_s| {
            self.or_default(&at(key), value, bounds::PRINT_SPEED, usual_mm_per_s)
        };
        let options = TestPrintOptions {
            shape: shape(print, size.side_mm),
            layers: count(size.layers),
            layer_height_mm: size.layer_height_mm,
            // A bead is at least as wide as it is high.
            line_width_mm: usual.line_width_mm.max(size.layer_height_mm),
            infill_spacing_mm: self.infill(&at("infill-millimetres"), print, &size)?,
            print_mm_per_s: speed(
                "speed-millimetres-per-second",
                print.speed_millimetres_per_second.as_ref(),
                usual.print_mm_per_s,
            )?,
            travel_mm_per_s: speed(
                "travel-millimetres-per-second",
                print.travel_millimetres_per_second.as_ref(),
                usual.travel_mm_per_s,
            )?,
            extruder_celsius: target(HeaterKind::Extruder),
            platform_celsius: target(HeaterKind::Platform),
            fan_from_layer: self.fan_from(&at("fan-from-layer"), print, usual.fan_from_layer)?,
            pause_before_layers: self.pauses(&at("pause-before-layers"), print, size.layers)?,
            centre_mm: [size.side_mm / 2.0 + MARGIN_MM; 2],
            ..usual
        };
        TestPrint::new(options).map_err(|error| self.error(raw, path, error.to_string()))
    }

    fn size(&self, path: &str, raw: &RawPrint, usual: &TestPrintOptions) -> Checked<Size> {
        let of = |key, value: Option<&At<Number>>, bound: Bound, usual_mm| {
            self.or_default(&join(path, key), value, bound, usual_mm)
        };
        let side = raw.size_millimetres.as_ref();
        let height = raw.height_millimetres.as_ref();
        let layer_height = raw.layer_height_millimetres.as_ref();
        let height_mm = of(
            "height-millimetres",
            height,
            bounds::PRINT_HEIGHT,
            HEIGHT_MM,
        )?;
        let layer_height_mm = of(
            "layer-height-millimetres",
            layer_height,
            bounds::LAYER_HEIGHT,
            usual.layer_height_mm,
        )?;
        Ok(Size {
            side_mm: of("size-millimetres", side, bounds::PRINT_SIZE, SIDE_MM)?,
            layer_height_mm,
            layers: (height_mm / layer_height_mm).round().max(1.0),
        })
    }

    fn infill(&self, field: &str, raw: &RawPrint, size: &Size) -> Checked<Option<f64>> {
        let value = raw.infill_millimetres.as_ref();
        let usual_mm = TestPrintOptions::default().infill_spacing_mm.unwrap_or(0.0);
        let spacing_mm = self.or_default(field, value, bounds::INFILL, usual_mm)?;
        let closest_mm = bounds::CLOSEST_INFILL_MM;
        let place = place_of(value)
            .or(place_of(raw.height_millimetres.as_ref()))
            .or(place_of(raw.size_millimetres.as_ref()));
        if spacing_mm > 0.0 && spacing_mm < closest_mm {
            let problem = format!("{spacing_mm} mm is neither none nor at least {closest_mm} mm");
            return Err(self.sources.error_at(place, field, problem));
        }
        let lines = if spacing_mm > 0.0 {
            size.side_mm / spacing_mm
        } else {
            0.0
        };
        if size.layers * (2.0 * lines + 8.0) > bounds::MOST_STROKES {
            let problem = format!(
                "makes a program of more than {} moves [make the print smaller or the infill wider]",
                bounds::MOST_STROKES
            );
            return Err(self.sources.error_at(place, field, problem));
        }
        Ok((spacing_mm > 0.0).then_some(spacing_mm))
    }

    fn fan_from(&self, field: &str, raw: &RawPrint, usual: Option<u32>) -> Checked<Option<u32>> {
        let Some(layer) = &raw.fan_from_layer else {
            return Ok(usual);
        };
        let range = Bound {
            min: 0.0,
            ..bounds::LAYERS
        };
        let layer = whole(self.number(field, layer, range)?);
        Ok(u32::try_from(layer).ok().filter(|layer| *layer > 0))
    }

    fn pauses(&self, field: &str, raw: &RawPrint, layers: f64) -> Checked<Vec<u32>> {
        let range = Bound {
            max: layers,
            ..bounds::LAYERS
        };
        let pause = |(index, layer)| {
            let field = format!("{field}[{index}]");
            self.number(&field, layer, range).map(count)
        };
        raw.pause_before_layers
            .iter()
            .enumerate()
            .map(pause)
            .collect()
    }
}

fn shape(raw: &RawPrint, side_mm: f64) -> Shape {
    match raw.shape.as_ref().map(|word| *word.get()) {
        None | Some(RawShape::HollowBox) => Shape::HollowBox { side_mm },
        Some(RawShape::RingTower) => Shape::RingTower {
            radius_mm: side_mm / 2.0,
            sides: None,
        },
    }
}
