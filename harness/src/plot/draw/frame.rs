//! The page, the grid and the axes.

use super::canvas::{Align, Canvas};
use super::font::Face;
use super::layout::{Layout, Panel};
use super::palette::{EDGE, GRID, INK, MUTED, PAPER};
use super::{PlotError, Size};

/// Fills the page: a viewer with a dark background would hide the words otherwise.
pub(super) fn background(canvas: &Canvas<'_>, size: Size) -> Result<(), PlotError> {
    let corner = (f64::from(size.width), f64::from(size.height));
    canvas.fill([(0.0, 0.0), corner], PAPER, 1.0)
}

/// Draws the lines behind the curves.
pub(super) fn grid(canvas: &Canvas<'_>, layout: &Layout) -> Result<(), PlotError> {
    for panel in [&layout.temperature, &layout.progress] {
        let rect = panel.rect;
        for at in &layout.time.ticks {
            let x = layout.x(*at);
            canvas.line(&[(x, rect.top), (x, rect.bottom)], GRID, 1.0)?;
        }
        for value in &panel.axis.ticks {
            let y = panel.y(*value);
            canvas.line(&[(rect.left, y), (rect.right, y)], GRID, 1.0)?;
        }
    }
    Ok(())
}

/// Draws edges, ticks and their numbers, over the curves.
pub(super) fn axes(canvas: &Canvas<'_>, layout: &Layout) -> Result<(), PlotError> {
    for panel in [&layout.temperature, &layout.progress] {
        values(canvas, panel)?;
    }
    let (strip, form) = (layout.strip, layout.time.form);
    for at in &layout.time.ticks {
        let x = layout.x(*at);
        let ends = [(x, strip.bottom), (x, strip.bottom + 5.0)];
        canvas.line(&ends, EDGE, 1.0)?;
        let place = (x, strip.bottom + 15.0);
        canvas.text(&form.write(*at), place, Face::SMALL, MUTED, Align::Middle)?;
    }
    let name = format!("Virtual time, {}", form.letters());
    let y = strip.bottom + 38.0;
    canvas.text(&name, (strip.left, y), Face::BODY, INK, Align::Left)?;
    let left_out = layout.labels_left_out();
    if left_out > 0 {
        let note = format!("labels left out for want of room: {left_out}");
        canvas.text(&note, (strip.right, y), Face::SMALL, MUTED, Align::Right)?;
    }
    Ok(())
}

fn values(canvas: &Canvas<'_>, panel: &Panel) -> Result<(), PlotError> {
    let rect = panel.rect;
    let corner = (rect.left, rect.bottom);
    let edge = [(rect.left, rect.top), corner, (rect.right, rect.bottom)];
    canvas.line(&edge, EDGE, 1.0)?;
    for value in &panel.axis.ticks {
        let y = panel.y(*value);
        canvas.line(&[(rect.left - 5.0, y), (rect.left, y)], EDGE, 1.0)?;
        let (text, place) = (panel.axis.label(*value), (rect.left - 9.0, y));
        canvas.text(&text, place, Face::SMALL, MUTED, Align::Right)?;
    }
    Ok(())
}
