//! The progress of the jobs.

use super::canvas::{Align, At, Canvas};
use super::font::Face;
use super::layout::{LABEL_INDENT, Layout};
use super::palette::{INK, MUTED, PROGRESS};
use super::{Chart, PlotError};

const WIDTH: f64 = 1.8;

pub(super) fn draw(canvas: &Canvas<'_>, chart: &Chart, layout: &Layout) -> Result<(), PlotError> {
    let panel = &layout.progress;
    for run in &chart.progress {
        let points = run.iter();
        let points: Vec<At> = points
            .map(|point| (layout.x(point.at), panel.y(point.value)))
            .collect();
        let (Some(first), Some(last)) = (points.first(), points.last()) else {
            continue;
        };
        let feet = [(last.0, panel.rect.bottom), (first.0, panel.rect.bottom)];
        let area: Vec<At> = points.iter().copied().chain(feet).collect();
        canvas.area(&area, PROGRESS, 0.12)?;
        canvas.line(&points, PROGRESS, WIDTH)?;
    }
    if chart.progress.is_empty() {
        // An empty panel would look like a defect.
        let rect = panel.rect;
        let middle = (
            f64::midpoint(rect.left, rect.right),
            f64::midpoint(rect.top, rect.bottom),
        );
        return canvas.text("no job", middle, Face::SMALL, MUTED, Align::Middle);
    }
    label(canvas, chart, layout)
}

/// Writes the job's name and progress at the end of its line, if there is a job at the end.
fn label(canvas: &Canvas<'_>, chart: &Chart, layout: &Layout) -> Result<(), PlotError> {
    let last = chart.progress.last().and_then(|run| run.last());
    let (Some(name), Some(last)) = (&chart.job_at_end, last) else {
        return Ok(());
    };
    let rect = layout.progress.rect;
    let end = layout.progress.y(last.value);
    let (x, y) = (rect.right + LABEL_INDENT, end.min(rect.bottom - 8.0));
    let leader = [
        (rect.right + 3.0, end),
        (rect.right + 9.0, end),
        (x - 6.0, y),
    ];
    canvas.line(&leader, PROGRESS, 1.0)?;
    let room = f64::from(layout.size.width) - x;
    let name = Face::HEADING.fit(name, room);
    canvas.text(&name, (x, y - 8.0), Face::HEADING, PROGRESS, Align::Left)?;
    // Cut, not rounded: 100 % is said of what is done, not of what nearly is.
    let percent = format!("{:.0} % done", last.value.floor());
    canvas.text(&percent, (x, y + 8.0), Face::SMALL, INK, Align::Left)
}
