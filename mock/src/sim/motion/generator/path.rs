//! The lines of one layer, seen from above.

use std::f64::consts::TAU;

use super::print::{Shape, TestPrint};

/// Holds one stroke of the nozzle. It starts where the one before ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stroke {
    pub(super) end_mm: [f64; 2],
    pub(super) length_mm: f64,
    pub(super) kind: StrokeKind,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum StrokeKind {
    /// Nothing is laid.
    Travel,
    /// A bead is laid.
    Line,
    /// A bead is laid in a full counter-clockwise circle; the centre counts from the start.
    Circle { centre_mm: [f64; 2] },
}

/// Draws a layer from the given place on.
pub(super) fn strokes(print: &TestPrint, from_mm: [f64; 2]) -> Vec<Stroke> {
    let mut pen = Pen {
        at_mm: from_mm,
        strokes: Vec::new(),
    };
    outline(print, &mut pen);
    infill(print, &mut pen);
    pen.strokes
}

/// Gives the place where every layer ends.
pub(super) fn end_of_layer(print: &TestPrint) -> [f64; 2] {
    strokes(print, print.options().centre_mm)
        .last()
        .map_or(print.options().centre_mm, |stroke| stroke.end_mm)
}

fn outline(print: &TestPrint, pen: &mut Pen) {
    let [x, y] = print.options().centre_mm;
    match print.options().shape {
        Shape::HollowBox { side_mm } => {
            let half = side_mm / 2.0;
            pen.travel([x - half, y - half]);
            for corner in [
                [x + half, y - half],
                [x + half, y + half],
                [x - half, y + half],
                [x - half, y - half],
            ] {
                pen.line(corner);
            }
        }
        Shape::RingTower { radius_mm, sides } => {
            pen.travel([x + radius_mm, y]);
            match sides {
                None => pen.circle([-radius_mm, 0.0]),
                Some(sides) => {
                    for side in 1..=sides {
                        let (sine, cosine) = (TAU * f64::from(side) / f64::from(sides)).sin_cos();
                        pen.line([x + radius_mm * cosine, y + radius_mm * sine]);
                    }
                }
            }
        }
    }
}

/// Draws lines to and fro along X, a bead's width inside the outline.
fn infill(print: &TestPrint, pen: &mut Pen) {
    let Some(spacing_mm) = print.options().infill_spacing_mm else {
        return;
    };
    let [x, y] = print.options().centre_mm;
    let (reach_mm, half_width_mm): (f64, Box<dyn Fn(f64) -> f64>) = match print.options().shape {
        Shape::HollowBox { side_mm } => (side_mm / 2.0, Box::new(move |_| side_mm / 2.0)),
        Shape::RingTower { radius_mm, .. } => (
            radius_mm,
            Box::new(move |up: f64| (radius_mm * radius_mm - up * up).max(0.0).sqrt()),
        ),
    };
    let mut right = true;
    for index in 1_u32.. {
        let up = f64::from(index) * spacing_mm - reach_mm;
        if up >= reach_mm {
            break;
        }
        let half = half_width_mm(up) - print.options().line_width_mm;
        if half <= 0.0 {
            continue;
        }
        let side = if right { half } else { -half };
        pen.travel([x - side, y + up]);
        pen.line([x + side, y + up]);
        right = !right;
    }
}

struct Pen {
    at_mm: [f64; 2],
    strokes: Vec<Stroke>,
}

impl Pen {
    fn travel(&mut self, to_mm: [f64; 2]) {
        if self.distance_mm(to_mm) > 0.0 {
            self.draw(to_mm, self.distance_mm(to_mm), StrokeKind::Travel);
        }
    }

    fn line(&mut self, to_mm: [f64; 2]) {
        self.draw(to_mm, self.distance_mm(to_mm), StrokeKind::Line);
    }

    fn circle(&mut self, centre_mm: [f64; 2]) {
        let length_mm = TAU * centre_mm[0].hypot(centre_mm[1]);
        self.draw(self.at_mm, length_mm, StrokeKind::Circle { centre_mm });
    }

    fn draw(&mut self, end_mm: [f64; 2], length_mm: f64, kind: StrokeKind) {
        self.strokes.push(Stroke {
            end_mm,
            length_mm,
            kind,
        });
        self.at_mm = end_mm;
    }

    fn distance_mm(&self, to_mm: [f64; 2]) -> f64 {
        (to_mm[0] - self.at_mm[0]).hypot(to_mm[1] - self.at_mm[1])
    }
}
