//! The only place that knows the drawing library.
//!
//! Coordinates are pixels with fractions. The library draws at whole units, so it is given ten
//! units to a pixel: lines would be ragged otherwise.

use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, DrawingAreaErrorKind, IntoDrawingArea};
use plotters::element::{
    Circle, DashedPathElement, Drawable, PathElement, PointCollection, Polygon, Rectangle, Text,
};
use plotters::prelude::SVGBackend;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontDesc, FontFamily, FontStyle, RGBColor, ShapeStyle, TextStyle};

use super::Size;
use super::font::{FAMILIES, Face};
use super::palette::{PAPER, Shape};
use crate::plot::PlotError;

const UNITS_PER_PIXEL: u32 = 10;

/// The library divides a font's size by this before it writes it.
const FONT_SCALE: f64 = 1.24;

/// Is a point on the page: pixels from the left, pixels from the top.
pub(super) type At = (f64, f64);

/// Says which part of a line of text is at its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Align {
    Left,
    Middle,
    Right,
}

/// Is the page while it is drawn.
pub(super) struct Canvas<'a> {
    area: DrawingArea<SVGBackend<'a>, Shift>,
}

impl<'a> Canvas<'a> {
    pub(super) fn on(text: &'a mut String, size: Size) -> Self {
        let units = (size.width * UNITS_PER_PIXEL, size.height * UNITS_PER_PIXEL);
        Self {
            area: SVGBackend::with_string(text, units).into_drawing_area(),
        }
    }

    pub(super) fn finish(&self) -> Result<(), PlotError> {
        self.area.present().map_err(|error| failed(&error))
    }

    pub(super) fn line(
        &self,
        points: &[At],
        colour: RGBColor,
        width: f64,
    ) -> Result<(), PlotError> {
        self.draw(&PathElement::new(units(points), stroke(colour, width)))
    }

    pub(super) fn dashes(
        &self,
        points: &[At],
        colour: RGBColor,
        width: f64,
        [dash, gap]: [f64; 2],
    ) -> Result<(), PlotError> {
        let style = stroke(colour, width);
        self.draw(&DashedPathElement::new(
            units(points),
            whole(dash),
            whole(gap),
            style,
        ))
    }

    /// Fills a rectangle; `opacity` 1 hides what is below it.
    pub(super) fn fill(
        &self,
        [from, to]: [At; 2],
        colour: RGBColor,
        opacity: f64,
    ) -> Result<(), PlotError> {
        let style = colour.mix(opacity).filled();
        self.draw(&Rectangle::new([unit(from), unit(to)], style))
    }

    /// Fills the area inside a line.
    pub(super) fn area(
        &self,
        points: &[At],
        colour: RGBColor,
        opacity: f64,
    ) -> Result<(), PlotError> {
        self.draw(&Polygon::new(units(points), colour.mix(opacity)))
    }

    /// Draws a marker with a rim that keeps it apart from the lines it lies on.
    pub(super) fn marker(&self, shape: Shape, at: At, colour: RGBColor) -> Result<(), PlotError> {
        for (colour, radius) in [(PAPER, 5.2), (colour, 4.2)] {
            if shape == Shape::Disc {
                self.draw(&Circle::new(unit(at), whole(radius), colour.filled()))?;
            } else {
                self.area(&outline(shape, at, radius), colour, 1.0)?;
            }
        }
        Ok(())
    }

    /// Writes a line of text, its middle at the height of `at`.
    pub(super) fn text(
        &self,
        text: &str,
        at: At,
        face: Face,
        colour: RGBColor,
        align: Align,
    ) -> Result<(), PlotError> {
        let h_pos = match align {
            Align::Left => HPos::Left,
            Align::Middle => HPos::Center,
            Align::Right => HPos::Right,
        };
        let weight = if face.bold {
            FontStyle::Bold
        } else {
            FontStyle::Normal
        };
        let size = face.px * f64::from(UNITS_PER_PIXEL) * FONT_SCALE;
        let style = TextStyle {
            font: FontDesc::new(FontFamily::Name(FAMILIES), size, weight),
            color: colour.to_backend_color(),
            pos: Pos::new(h_pos, VPos::Center),
        };
        self.draw(&Text::new(legal(text), unit(at), style))
    }

    fn draw<'e, E>(&self, element: &'e E) -> Result<(), PlotError>
    where
        &'e E: PointCollection<'e, (i32, i32)>,
        E: Drawable<SVGBackend<'a>>,
    {
        self.area.draw(element).map_err(|error| failed(&error))
    }
}

/// Puts a head of our own before the drawing: its size in pixels, and what it shows in words.
pub(super) fn with_own_head(body: &str, size: Size, title: &str, description: &str) -> String {
    let Size { width, height } = size;
    let view = (width * UNITS_PER_PIXEL, height * UNITS_PER_PIXEL);
    let rest = body.split_once('\n').map_or("", |(_, rest)| rest);
    format!(
        "<svg width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {} {}\" role=\"img\" \
         xmlns=\"http://www.w3.org/2000/svg\">\n\
         <title>{}</title>\n<desc>{}</desc>\n{rest}",
        view.0,
        view.1,
        escaped(title),
        escaped(description),
    )
}

fn escaped(text: &str) -> String {
    let text = legal(text).replace('&', "&amp;");
    text.replace('<', "&lt;").replace('>', "&gt;")
}

/// Replaces what no XML document may hold, not even escaped (XML 1.0 section 2.2).
fn legal(text: &str) -> String {
    let swap = |sign: char| match sign {
        '\t' | '\n' | '\r' => ' ',
        '\u{0}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => '\u{fffd}',
        sign => sign,
    };
    text.chars().map(swap).collect()
}

fn outline(shape: Shape, (x, y): At, radius: f64) -> Vec<At> {
    let corners: &[At] = match shape {
        Shape::Disc => &[],
        Shape::Square => &[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)],
        Shape::Triangle => &[(0.0, -1.2), (1.15, 0.9), (-1.15, 0.9)],
        Shape::Diamond => &[(0.0, -1.25), (1.25, 0.0), (0.0, 1.25), (-1.25, 0.0)],
    };
    let scaled = corners.iter();
    scaled
        .map(|(dx, dy)| (x + radius * dx, y + radius * dy))
        .collect()
}

fn stroke(colour: RGBColor, width: f64) -> ShapeStyle {
    colour.stroke_width(whole(width).unsigned_abs())
}

fn units(points: &[At]) -> Vec<(i32, i32)> {
    points.iter().map(|at| unit(*at)).collect()
}

fn unit((x, y): At) -> (i32, i32) {
    (whole(x), whole(y))
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a place on a page of at most 80000 units"
)]
fn whole(pixels: f64) -> i32 {
    (pixels * f64::from(UNITS_PER_PIXEL)).round() as i32
}

fn failed<E: std::error::Error + Send + Sync>(error: &DrawingAreaErrorKind<E>) -> PlotError {
    PlotError::Draw {
        why: error.to_string(),
    }
}
