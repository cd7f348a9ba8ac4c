//! The strip of phases, in words.

use coldbed_mock::sim::Phase;

use super::canvas::{Align, Canvas};
use super::font::Face;
use super::layout::Layout;
use super::palette::{EDGE, PAPER, phase};
use super::{Chart, PlotError, events};

/// Tells whether a word has room in its part of the strip.
pub(super) fn has_room(word: f64, part: f64) -> bool {
    word + 8.0 <= part
}

/// Tints the panels while the printer stands still: there the curves mean something else.
pub(super) fn shade_stops(
    canvas: &Canvas<'_>,
    chart: &Chart,
    layout: &Layout,
) -> Result<(), PlotError> {
    for span in &chart.phases {
        let opacity = match span.value {
            Phase::Paused => 0.35,
            Phase::Error => 0.07,
            _ => continue,
        };
        let (fill, _) = phase(span.value);
        let (from, until) = (layout.x(span.from), layout.x(span.until));
        for panel in [&layout.temperature, &layout.progress] {
            let corners = [(from, panel.rect.top), (until, panel.rect.bottom)];
            canvas.fill(corners, fill, opacity)?;
        }
    }
    Ok(())
}

pub(super) fn draw(canvas: &Canvas<'_>, chart: &Chart, layout: &Layout) -> Result<(), PlotError> {
    let strip = layout.strip;
    let is_short = |index: usize| layout.short_phases.iter().any(|(short, _)| *short == index);
    for (index, span) in chart.phases.iter().enumerate() {
        let (fill, ink) = phase(span.value);
        let from = layout.x(span.from);
        // A phase of a moment is still to be seen.
        let until = layout.x(span.until).max(from + 1.5);
        canvas.fill([(from, strip.top), (until, strip.bottom)], fill, 1.0)?;
        // Phases are kept apart, unless one would vanish under the line.
        if index > 0 && until - from > 4.0 {
            canvas.line(&[(from, strip.top), (from, strip.bottom)], PAPER, 1.5)?;
        }
        if !is_short(index) {
            let middle = (
                f64::midpoint(from, until),
                f64::midpoint(strip.top, strip.bottom),
            );
            canvas.text(span.value.word(), middle, Face::SMALL, ink, Align::Middle)?;
        }
    }
    for (index, place) in &layout.short_phases {
        let (Some(place), Some(span)) = (place, chart.phases.get(*index)) else {
            continue;
        };
        let x = f64::midpoint(layout.x(span.from), layout.x(span.until));
        let y = events::label(canvas, span.value.word(), (x, strip.top - 4.0), *place)?;
        canvas.line(&[(x, y - 5.0), (x, strip.top)], EDGE, 1.0)?;
    }
    let foot = [(strip.left, strip.bottom), (strip.right, strip.bottom)];
    canvas.line(&foot, EDGE, 1.0)
}
