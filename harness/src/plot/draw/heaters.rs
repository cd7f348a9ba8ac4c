//! The curves of the heaters, and their names at the curves' ends.

use super::canvas::{Align, At, Canvas};
use super::dodge::dodge;
use super::font::Face;
use super::layout::{LABEL_INDENT, Layout};
use super::palette::{INK, Look, look};
use super::{Chart, PlotError};
use crate::plot::{HeaterSeries, Run};

pub(super) const ACTUAL_WIDTH: f64 = 1.8;
pub(super) const TARGET_WIDTH: f64 = 1.4;
pub(super) const TARGET_DASH: [f64; 2] = [6.0, 4.0];

/// The distance between two markers on a curve.
const MARKER_EVERY: f64 = 170.0;
/// The height of a label of two lines, and of one that is the name only.
const LABEL_HEIGHT: f64 = 36.0;
const NAME_HEIGHT: f64 = 18.0;

/// Is the label at the end of a heater's curve.
pub(super) struct EndLabel {
    name: String,
    detail: String,
}

impl EndLabel {
    pub(super) fn width(&self) -> f64 {
        let name = Face::HEADING.width(&self.name);
        name.max(Face::SMALL.width(&self.detail))
    }
}

/// Gives a label for every heater: its name, and how it stands at the end of the window.
pub(super) fn end_labels(chart: &Chart) -> Vec<EndLabel> {
    let label = |heater: &HeaterSeries| {
        let actual = match heater.celsius_at_end(chart.window) {
            Some(celsius) => format!("{:.0} °C", celsius.round() + 0.0),
            None => "no reading".to_owned(),
        };
        let target = match heater.target_at_end_celsius {
            Some(celsius) => format!("target {celsius:.0}"),
            None => "off".to_owned(),
        };
        EndLabel {
            name: heater.name.clone(),
            detail: format!("{actual}, {target}"),
        }
    };
    chart.heaters.iter().map(label).collect()
}

pub(super) fn draw(canvas: &Canvas<'_>, chart: &Chart, layout: &Layout) -> Result<(), PlotError> {
    for (index, heater) in chart.heaters.iter().enumerate() {
        target(canvas, heater, layout, look(index))?;
    }
    for (index, heater) in chart.heaters.iter().enumerate() {
        for run in &heater.actual_celsius {
            line(canvas, run, layout, look(index))?;
        }
    }
    // Over all curves, so that none hides another's shape.
    for (index, heater) in chart.heaters.iter().enumerate() {
        for at in markers(&heater.actual_celsius, layout, index, chart.heaters.len()) {
            canvas.marker(look(index).shape, at, look(index).colour)?;
        }
    }
    labels(canvas, chart, layout)
}

fn target(
    canvas: &Canvas<'_>,
    heater: &HeaterSeries,
    layout: &Layout,
    look: Look,
) -> Result<(), PlotError> {
    // Targets that follow each other without a pause are one line of steps.
    let groups = heater
        .target_celsius
        .chunk_by(|one, next| one.until == next.from);
    for steps in groups {
        let corners = steps.iter().flat_map(|step| {
            let y = layout.temperature.y(step.value);
            [(layout.x(step.from), y), (layout.x(step.until), y)]
        });
        let corners: Vec<At> = corners.collect();
        canvas.dashes(&corners, look.colour, TARGET_WIDTH, TARGET_DASH)?;
    }
    Ok(())
}

fn line(canvas: &Canvas<'_>, run: &Run, layout: &Layout, look: Look) -> Result<(), PlotError> {
    let points: Vec<At> = places(run, layout).collect();
    if let [(x, y)] = points[..] {
        // One reading between two gaps has no length, and is there all the same.
        let corners = [(x - 1.0, y - 1.0), (x + 1.0, y + 1.0)];
        return canvas.fill(corners, look.colour, 1.0);
    }
    canvas.line(&points, look.colour, ACTUAL_WIDTH)
}

fn places(run: &Run, layout: &Layout) -> impl Iterator<Item = At> {
    let panel = &layout.temperature;
    run.iter()
        .map(|point| (layout.x(point.at), panel.y(point.value)))
}

/// Finds places for markers on a heater's curve: evenly, and not where another heater has its own.
fn markers(runs: &[Run], layout: &Layout, index: usize, heaters: usize) -> Vec<At> {
    let rect = layout.temperature.rect;
    let points: Vec<At> = runs.iter().flat_map(|run| places(run, layout)).collect();
    #[expect(clippy::cast_precision_loss, reason = "a handful of heaters")]
    let offset = MARKER_EVERY * (index as f64 + 0.5) / heaters as f64;
    let wanted = std::iter::successors(Some(rect.left + offset), |x| Some(x + MARKER_EVERY));
    let wanted = wanted.take_while(|x| *x < rect.right - 8.0);
    // No marker where the curve has a gap: the next point must be near.
    let near = |wanted: f64| {
        let after = points.partition_point(|(x, _)| *x < wanted);
        let point = points.get(after).copied();
        point.filter(|(x, _)| x - wanted < 12.0)
    };
    wanted.filter_map(near).collect()
}

fn labels(canvas: &Canvas<'_>, chart: &Chart, layout: &Layout) -> Result<(), PlotError> {
    let rect = layout.temperature.rect;
    let end = |heater: &HeaterSeries| {
        let last = heater.actual_celsius.last().and_then(|run| run.last());
        last.map_or(rect.bottom, |point| layout.temperature.y(point.value))
    };
    let ends: Vec<f64> = chart.heaters.iter().map(end).collect();
    let (top, bottom) = (rect.top - 18.0, rect.bottom + 18.0);
    let tallest = ends.iter().map(|_| LABEL_HEIGHT).sum::<f64>();
    let with_detail = tallest <= bottom - top;
    let height = if with_detail {
        LABEL_HEIGHT
    } else {
        NAME_HEIGHT
    };
    let middles = dodge(&ends, height, top, bottom);
    let room = f64::from(layout.size.width) - rect.right - LABEL_INDENT;
    let x = rect.right + LABEL_INDENT;
    for (index, label) in end_labels(chart).into_iter().enumerate() {
        let (look, y, end) = (look(index), middles[index], ends[index]);
        let leader = [
            (rect.right + 3.0, end),
            (rect.right + 9.0, end),
            (x - 18.0, y),
        ];
        canvas.line(&leader, look.colour, 1.0)?;
        canvas.marker(look.shape, (x - 12.0, y), look.colour)?;
        let name = Face::HEADING.fit(&label.name, room);
        let up = if with_detail { 8.0 } else { 0.0 };
        canvas.text(&name, (x, y - up), Face::HEADING, look.colour, Align::Left)?;
        if with_detail {
            let detail = Face::SMALL.fit(&label.detail, room);
            canvas.text(&detail, (x, y + 8.0), Face::SMALL, INK, Align::Left)?;
        }
    }
    Ok(())
}
