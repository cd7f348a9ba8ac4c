//! The title, the headings and the legend.

use super::canvas::{Align, At, Canvas};
use super::font::Face;
use super::layout::{LEGEND_ROW, Layout, MARGIN, TITLE_LINE};
use super::palette::{INK, MUTED, look};
use super::{Chart, PlotError, events, heaters};
use crate::plot::ticks::TimeForm;

const TEMPERATURE: &str = "Temperature, °C";
const PROGRESS: &str = "Progress, %";

/// The length of a line in the legend, and the room to its words and to the next item.
const SAMPLE: f64 = 30.0;
const AFTER_SAMPLE: f64 = 7.0;
const AFTER_ITEM: f64 = 20.0;
/// No name takes more of the legend than this.
const LONGEST: f64 = 240.0;

/// Is one item of the legend.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Item<'a> {
    Heater(usize, &'a str),
    Actual,
    Target,
    Event,
}

impl Item<'_> {
    const fn words(&self) -> &str {
        match self {
            Self::Heater(_, name) => name,
            Self::Actual => "actual",
            Self::Target => "target",
            Self::Event => "what happens",
        }
    }

    fn width(self) -> f64 {
        SAMPLE + AFTER_SAMPLE + Face::BODY.width(self.words()).min(LONGEST)
    }
}

fn items(chart: &Chart) -> Vec<Item<'_>> {
    let heaters = chart.heaters.iter().enumerate();
    let heaters = heaters.map(|(index, heater)| Item::Heater(index, heater.name.as_str()));
    let event = (!chart.marks.is_empty()).then_some(Item::Event);
    let kinds = [Item::Actual, Item::Target];
    heaters.chain(kinds).chain(event).collect()
}

/// Finds the place of every item of the legend: in rows, from the heading on.
pub(super) fn flow(chart: &Chart, left: f64, right: f64, first_row: f64) -> Vec<At> {
    let after_heading = left + Face::HEADING.width(TEMPERATURE) + AFTER_ITEM;
    let (mut x, mut y) = (after_heading, first_row);
    let place = |item: Item<'_>| {
        if x + item.width() > right && x > left {
            (x, y) = (left, y + LEGEND_ROW);
        }
        let at = (x, y);
        x += item.width() + AFTER_ITEM;
        at
    };
    items(chart).into_iter().map(place).collect()
}

pub(super) fn draw(canvas: &Canvas<'_>, chart: &Chart, layout: &Layout) -> Result<(), PlotError> {
    let left = layout.strip.left;
    let mut y = MARGIN + TITLE_LINE / 2.0;
    for line in &layout.title {
        canvas.text(line, (left, y), Face::TITLE, INK, Align::Left)?;
        y += TITLE_LINE;
    }
    let width = f64::from(layout.size.width) - left - MARGIN;
    let subtitle = Face::BODY.fit(&subtitle(chart), width);
    canvas.text(&subtitle, (left, y - 2.0), Face::BODY, MUTED, Align::Left)?;

    let at = (left, layout.heading_y);
    canvas.text(TEMPERATURE, at, Face::HEADING, INK, Align::Left)?;
    let at = (left, layout.progress.rect.top - 14.0);
    canvas.text(PROGRESS, at, Face::HEADING, INK, Align::Left)?;
    let strip = layout.strip;
    let at = (left - 9.0, f64::midpoint(strip.top, strip.bottom));
    canvas.text("Phase", at, Face::HEADING, INK, Align::Right)?;

    for (item, at) in items(chart).into_iter().zip(&layout.legend) {
        sample(canvas, item, *at)?;
        let words = Face::BODY.fit(item.words(), LONGEST);
        let at = (at.0 + SAMPLE + AFTER_SAMPLE, at.1);
        canvas.text(&words, at, Face::BODY, INK, Align::Left)?;
    }
    Ok(())
}

fn sample(canvas: &Canvas<'_>, item: Item<'_>, (x, y): At) -> Result<(), PlotError> {
    let ends = [(x, y), (x + SAMPLE, y)];
    let middle = (x + SAMPLE / 2.0, y);
    match item {
        Item::Heater(index, _) => {
            let look = look(index);
            canvas.line(&ends, look.colour, heaters::ACTUAL_WIDTH)?;
            canvas.marker(look.shape, middle, look.colour)
        }
        Item::Actual => canvas.line(&ends, MUTED, heaters::ACTUAL_WIDTH),
        Item::Target => canvas.dashes(&ends, MUTED, heaters::TARGET_WIDTH, heaters::TARGET_DASH),
        Item::Event => events::sample(canvas, middle),
    }
}

fn subtitle(chart: &Chart) -> String {
    let form = TimeForm::of_ends(chart.window);
    format!(
        "{} · seed {} · {} to {} ({})",
        chart.name,
        chart.seed,
        form.write(chart.window.from()),
        form.write(chart.window.until()),
        form.letters(),
    )
}
