//! What was true, what was served and what was claimed over the time of a run, drawn.
//!
//! Owns where everything goes; the template writes it as SVG, the style sheet gives the colours of a
//! light and of a dark page. Nothing is told by colour alone: what was served is a thin line with
//! dots, what was claimed a thick one of steps, and every strip has its words.

mod axis;
mod bands;
mod panel;
mod series;
mod strip;
mod window;

use serde::Serialize;

use super::super::ViolationReport;
use crate::check::Field;
use crate::event::Event;
use axis::XTick;
use bands::Band;
use panel::Panel;
use series::Shown;
use strip::Strip;
pub(super) use window::Window;

/// Height of a strip and of a panel of numbers with the gaps below them, px.
const STRIP: f64 = 26.0;
const PANEL: f64 = 118.0;
/// Room for the labels of the time axis, px.
const FOOT: f64 = 40.0;
/// Room for the word at the moment, px.
const HEAD: f64 = 18.0;

/// Is a drawing.
#[derive(Debug, Serialize)]
pub(super) struct Plot {
    title: String,
    description: String,
    width: String,
    height: String,
    left: String,
    right: String,
    top: String,
    bottom: String,
    bands: Vec<Band>,
    strips: Vec<Strip>,
    panels: Vec<Panel>,
    ticks: Vec<XTick>,
    moment: String,
    moment_anchor: &'static str,
    moment_words: String,
    has_untold: bool,
}

impl Plot {
    /// Draws a window of a run; `None` if nothing was served or claimed in it.
    pub(super) fn of(
        events: &[Event],
        window: Window,
        violation: &ViolationReport,
        needs: Field,
    ) -> Option<Self> {
        let told = format!("{} {}", violation.allowed, violation.observed);
        let subjects = Shown::for_words(&told, needs, events);
        let mut y = HEAD;
        let mut strips = Vec::new();
        for strip in strip::strips(events, window) {
            strips.push(strip.at(y));
            y += STRIP;
        }
        y += 10.0;
        let mut panels = Vec::new();
        for subject in subjects {
            if let Some(panel) = Panel::of(&subject, events, window, y) {
                panels.push(panel);
                y += PANEL;
            }
        }
        if strips.is_empty() && panels.is_empty() {
            return None;
        }
        let at = window.moment().as_secs_f64();
        let moment = window.x(window.moment());
        let is_late = moment > f64::midpoint(window::LEFT, window::RIGHT);
        Some(Self {
            title: format!("What was served and what was claimed around {at:.2} s"),
            description: description(&strips, &panels),
            width: px(window::WIDTH),
            height: px(y + FOOT),
            left: px(window::LEFT),
            right: px(window::RIGHT),
            top: px(HEAD),
            bottom: px(y),
            bands: bands::bands(events, window),
            has_untold: panels.iter().any(Panel::has_untold),
            strips,
            panels,
            ticks: axis::ticks(window),
            moment: px(moment),
            moment_anchor: if is_late { "end" } else { "start" },
            moment_words: format!("the moment, {at:.2} s"),
        })
    }
}

/// Tells in words what the drawing shows, for those who do not see it.
fn description(strips: &[Strip], panels: &[Panel]) -> String {
    let strips = strips.iter().map(Strip::description);
    let panels = panels.iter().map(|panel| panel.description().to_owned());
    strips.chain(panels).collect::<Vec<_>>().join(" ")
}

/// Writes a place on the page.
fn px(place: f64) -> String {
    format!("{place:.1}")
}
