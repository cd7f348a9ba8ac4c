//! The drawing: where everything goes, then the lines and the words.

mod canvas;
mod dodge;
mod events;
mod font;
mod frame;
mod hang;
mod head;
mod heaters;
mod layout;
mod palette;
mod progress;
mod strip;
#[cfg(test)]
mod tests;

pub(super) use font::FAMILY as FONT_FAMILY;
pub use font::missing_sign;

use self::canvas::Canvas;
use self::layout::Layout;
use super::ticks::TimeForm;
use super::{Chart, PlotError};

/// Is the size of a drawing in pixels of the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// From left to right, one of [`Self::WIDTHS`].
    pub width: u32,
    /// From top to bottom, one of [`Self::HEIGHTS`].
    pub height: u32,
}

impl Size {
    /// The widths there are: below it the labels have no room, above it a picture fills the memory.
    pub const WIDTHS: std::ops::RangeInclusive<u32> = 640..=8000;
    /// The heights there are.
    pub const HEIGHTS: std::ops::RangeInclusive<u32> = 480..=8000;
}

impl Default for Size {
    /// Fits a page of documentation and a laptop's screen.
    fn default() -> Self {
        Self {
            width: 1200,
            height: 720,
        }
    }
}

/// Draws a chart. The same chart gives the same text.
///
/// # Errors
/// [`PlotError::Draw`] when the drawing library fails.
pub fn svg(chart: &Chart, size: Size) -> Result<String, PlotError> {
    let layout = Layout::new(chart, size);
    let mut body = String::new();
    {
        let canvas = Canvas::on(&mut body, size);
        frame::background(&canvas, size)?;
        strip::shade_stops(&canvas, chart, &layout)?;
        frame::grid(&canvas, &layout)?;
        events::draw(&canvas, chart, &layout)?;
        progress::draw(&canvas, chart, &layout)?;
        heaters::draw(&canvas, chart, &layout)?;
        strip::draw(&canvas, chart, &layout)?;
        frame::axes(&canvas, &layout)?;
        head::draw(&canvas, chart, &layout)?;
        canvas.finish()?;
    }
    let words = description(chart);
    Ok(canvas::with_own_head(&body, size, &chart.title, &words))
}

/// Tells in words what the drawing shows, for those who do not see it.
fn description(chart: &Chart) -> String {
    let form = TimeForm::of_moments(chart.window);
    let heaters: Vec<&str> = chart.heaters.iter().map(|h| h.name.as_str()).collect();
    let phases = chart.phases.iter();
    let phases: Vec<String> = phases
        .map(|span| format!("{} from {}", span.value, form.write(span.from)))
        .collect();
    let marks = chart.marks.iter();
    let marks: Vec<String> = marks
        .map(|mark| format!("{} at {}", mark.text, form.write(mark.at)))
        .collect();
    let happens = if marks.is_empty() {
        String::new()
    } else {
        format!(" What happens: {}.", marks.join(", "))
    };
    format!(
        "Temperatures of {} and progress over virtual time ({}). Phases: {}, until {}.{happens}",
        heaters.join(", "),
        form.letters(),
        phases.join(", "),
        form.write(chart.window.until()),
    )
}
