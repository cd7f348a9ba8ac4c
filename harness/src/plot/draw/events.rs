//! What happens: a line through the panels, and its words above them.

use super::canvas::{Align, At, Canvas};
use super::font::Face;
use super::hang::{GAP, Place};
use super::layout::{LANE, Layout};
use super::palette::{INK, MUTED};
use super::{Chart, PlotError};

const DOTS: [f64; 2] = [2.0, 3.0];

pub(super) fn draw(canvas: &Canvas<'_>, chart: &Chart, layout: &Layout) -> Result<(), PlotError> {
    let top = layout.temperature.rect.top;
    for (mark, place) in chart.marks.iter().zip(&layout.marks) {
        let x = layout.x(mark.at);
        for panel in [&layout.temperature, &layout.progress] {
            let ends = [(x, panel.rect.top), (x, panel.rect.bottom)];
            canvas.dashes(&ends, MUTED, 1.0, DOTS)?;
        }
        head(canvas, (x, top))?;
        if let Some(place) = place {
            let y = label(canvas, &mark.text, (x, top - 9.0), *place)?;
            canvas.line(&[(x, y - 5.0), (x, top - 7.0)], MUTED, 1.0)?;
        }
    }
    Ok(())
}

/// Draws the sign of an event for the legend.
pub(super) fn sample(canvas: &Canvas<'_>, (x, y): At) -> Result<(), PlotError> {
    canvas.dashes(&[(x, y), (x, y + 9.0)], MUTED, 1.0, DOTS)?;
    head(canvas, (x, y))
}

/// Writes a label into its lane over a point, and gives the height of its middle.
pub(super) fn label(
    canvas: &Canvas<'_>,
    text: &str,
    (x, y): At,
    place: Place,
) -> Result<f64, PlotError> {
    let lanes = (0..=place.lane).map(|_| LANE);
    let middle = y + LANE / 2.0 - lanes.sum::<f64>();
    let (x, align) = if place.leftward {
        (x - GAP, Align::Right)
    } else {
        (x + GAP, Align::Left)
    };
    canvas.text(text, (x, middle), Face::SMALL, INK, align)?;
    Ok(middle)
}

/// Draws a small arrow head that points down at a point.
fn head(canvas: &Canvas<'_>, (x, y): At) -> Result<(), PlotError> {
    let corners = [(x - 4.5, y - 7.0), (x + 4.5, y - 7.0), (x, y)];
    canvas.area(&corners, INK, 1.0)
}
