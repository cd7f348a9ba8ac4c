//! Where everything goes, worked out before anything is drawn.

use coldbed_mock::sim::Tick;

use super::font::Face;
use super::hang::{self, Flag, Place};
use super::{Size, head, heaters, strip};
use crate::plot::ticks::{TimeAxis, ValueAxis};
use crate::plot::{Chart, Mark, Window};

/// The margin of the page.
pub(super) const MARGIN: f64 = 16.0;
/// The height of a lane of labels.
pub(super) const LANE: f64 = 17.0;
/// The height of a row of the legend.
pub(super) const LEGEND_ROW: f64 = 22.0;
/// The height of a line of the title.
pub(super) const TITLE_LINE: f64 = 25.0;
/// The room between the panels' right edge and the words of the labels there.
pub(super) const LABEL_INDENT: f64 = 34.0;

const LEFT: f64 = 64.0;
const STRIP: f64 = 26.0;
const SUBTITLE: f64 = 22.0;
/// From the strip down to the page's edge: tick labels and the axis' name.
const BELOW_STRIP: f64 = 58.0;
/// The heading over the progress panel, with some air.
const BETWEEN_PANELS: f64 = 34.0;

/// Is a part of the page, in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rect {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
}

impl Rect {
    pub(super) const fn width(self) -> f64 {
        self.right - self.left
    }

    pub(super) const fn height(self) -> f64 {
        self.bottom - self.top
    }
}

/// Is a part of the page with an axis of values.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Panel {
    pub(super) rect: Rect,
    pub(super) axis: ValueAxis,
}

impl Panel {
    pub(super) fn y(&self, value: f64) -> f64 {
        let fraction = (value - self.axis.low) / (self.axis.high - self.axis.low);
        self.rect.bottom - fraction * self.rect.height()
    }
}

/// Is the whole page.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Layout {
    pub(super) size: Size,
    pub(super) window: Window,
    pub(super) title: Vec<String>,
    /// The legend's items: from the left, and the middle of the row.
    pub(super) legend: Vec<(f64, f64)>,
    /// The middle of the row with the temperatures' heading.
    pub(super) heading_y: f64,
    pub(super) temperature: Panel,
    pub(super) progress: Panel,
    pub(super) strip: Rect,
    pub(super) time: TimeAxis,
    /// The labels of what happens, above the temperatures.
    pub(super) marks: Vec<Option<Place>>,
    /// The labels of phases too short for their word, above the strip.
    pub(super) short_phases: Vec<(usize, Option<Place>)>,
}

impl Layout {
    pub(super) fn new(chart: &Chart, size: Size) -> Self {
        let (width, height) = (f64::from(size.width), f64::from(size.height));
        let across = Across {
            window: chart.window,
            left: LEFT,
            right: width - right_margin(chart, width),
        };
        let lanes = if size.height < 560 { 3 } else { 4 };
        let words = 8.0..width - 8.0;
        let marks = hang::hang(&across.mark_flags(chart), &words, lanes);
        let (short, flags) = across.short_phases(chart);
        let short_places = hang::hang(&flags, &words, lanes);
        let title = Face::TITLE.wrap(&chart.title, width - MARGIN - LEFT, 2);

        // From the top down to the temperatures.
        let heading_y = MARGIN + rows(title.len(), TITLE_LINE) + SUBTITLE + LEGEND_ROW / 2.0 + 6.0;
        let legend = head::flow(chart, LEFT, width - MARGIN, heading_y);
        let legend_bottom = legend.last().map_or(heading_y, |(_, y)| *y) + LEGEND_ROW / 2.0;
        let top = legend_bottom + rows(hang::lanes_used(&marks), LANE) + 12.0;
        // From the bottom up to the progress.
        let strip = across.rect(height - BELOW_STRIP - STRIP, height - BELOW_STRIP);
        let bottom = strip.top - rows(hang::lanes_used(&short_places), LANE) - 12.0;
        let split = top + 0.68 * (bottom - top - BETWEEN_PANELS);
        Self {
            size,
            window: chart.window,
            title,
            legend,
            heading_y,
            temperature: temperature(chart, across.rect(top, split)),
            progress: progress(across.rect(split + BETWEEN_PANELS, bottom)),
            strip,
            time: TimeAxis::over(chart.window, whole(strip.width() / 72.0).into()),
            marks,
            short_phases: short.into_iter().zip(short_places).collect(),
        }
    }

    /// Gives where a moment is, in pixels from the left.
    pub(super) fn x(&self, at: Tick) -> f64 {
        self.strip.left + self.window.fraction(at) * self.strip.width()
    }

    /// Counts the labels that found no room.
    pub(super) fn labels_left_out(&self) -> usize {
        let marks = self.marks.iter().filter(|place| place.is_none());
        let phases = self.short_phases.iter();
        marks.count() + phases.filter(|(_, place)| place.is_none()).count()
    }
}

/// Is what is known of the page before its heights are.
struct Across {
    window: Window,
    left: f64,
    right: f64,
}

impl Across {
    const fn rect(&self, top: f64, bottom: f64) -> Rect {
        Rect {
            left: self.left,
            top,
            right: self.right,
            bottom,
        }
    }

    fn x(&self, at: Tick) -> f64 {
        self.left + self.window.fraction(at) * (self.right - self.left)
    }

    fn mark_flags(&self, chart: &Chart) -> Vec<Flag> {
        let flag = |mark: &Mark| Flag {
            x: self.x(mark.at),
            width: Face::SMALL.width(&mark.text),
        };
        chart.marks.iter().map(flag).collect()
    }

    /// Finds the phases whose word does not fit into their part of the strip.
    fn short_phases(&self, chart: &Chart) -> (Vec<usize>, Vec<Flag>) {
        let spans = chart.phases.iter().enumerate();
        let short = spans.filter_map(|(index, span)| {
            let (from, until) = (self.x(span.from), self.x(span.until));
            let width = Face::SMALL.width(span.value.word());
            let x = f64::midpoint(from, until);
            (!strip::has_room(width, until - from)).then_some((index, Flag { x, width }))
        });
        short.unzip()
    }
}

fn right_margin(chart: &Chart, width: f64) -> f64 {
    let labels = heaters::end_labels(chart).into_iter();
    let job = chart
        .job_at_end
        .iter()
        .map(|name| Face::HEADING.width(name));
    let widths = labels.map(|label| label.width()).chain(job);
    let widest = widths.fold(70.0, f64::max);
    (LABEL_INDENT + widest + 8.0).min(0.3 * width)
}

fn temperature(chart: &Chart, rect: Rect) -> Panel {
    // Without a single reading the axis still says what it would show.
    let (low, high) = chart.celsius_range().unwrap_or((0.0, 100.0));
    let max_ticks = whole(rect.height() / 40.0).min(12);
    // From zero, because a curve says little without its distance from the room's temperature.
    let low = low.min(0.0);
    let air = 0.05 * (high - low);
    let low = if low < 0.0 { low - air } else { low };
    let axis = ValueAxis::over(low, high + air, max_ticks);
    Panel { rect, axis }
}

fn progress(rect: Rect) -> Panel {
    let max_ticks = whole(rect.height() / 24.0).min(5);
    let axis = ValueAxis::over(0.0, 100.0, max_ticks);
    Panel { rect, axis }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a length on the page; a negative one becomes 0"
)]
const fn whole(pixels: f64) -> u32 {
    pixels as u32
}

#[expect(clippy::cast_precision_loss, reason = "a handful of rows")]
fn rows(count: usize, height: f64) -> f64 {
    count as f64 * height
}
