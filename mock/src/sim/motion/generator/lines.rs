//! The text of a test print, line by line.

use std::collections::VecDeque;

use super::path::{Stroke, StrokeKind, end_of_layer, strokes};
use super::print::{MaterialAxis, Shape, TestPrint};

/// How far the nozzle is lifted off the finished print.
pub(super) const LIFT_OFF_MM: f64 = 5.0;

/// Gives the lines of a test print, without line ends. One layer is in memory at a time.
#[derive(Debug, Clone)]
pub struct Lines<'a> {
    print: &'a TestPrint,
    /// Lines made and not given yet.
    ready: VecDeque<String>,
    /// The layer to make next, counted from 1; 0 for what comes before, one above the last for what comes after.
    next: u32,
}

impl TestPrint {
    /// Gives the text, line by line.
    pub fn lines(&self) -> Lines<'_> {
        Lines {
            print: self,
            ready: VecDeque::new(),
            next: 0,
        }
    }

    /// Counts the bytes of a layer's text, line ends included.
    pub(super) fn layer_bytes(&self, layer: u32) -> u64 {
        let mut ready = VecDeque::new();
        Writer {
            print: self,
            out: &mut ready,
            fed_mm: 0.0,
        }
        .layer(layer);
        ready.iter().map(|line| line.len() as u64 + 1).sum()
    }
}

impl Iterator for Lines<'_> {
    type Item = String;

    fn next(&mut self) -> Option<String> {
        while self.ready.is_empty() && self.next <= self.print.options().layers + 1 {
            let mut writer = Writer {
                print: self.print,
                out: &mut self.ready,
                fed_mm: 0.0,
            };
            match self.next {
                0 => writer.before(),
                layer if layer <= self.print.options().layers => writer.layer(layer),
                _ => writer.after(),
            }
            self.next += 1;
        }
        self.ready.pop_front()
    }
}

struct Writer<'a> {
    print: &'a TestPrint,
    out: &'a mut VecDeque<String>,
    /// Material since the layer's start, for the absolute axis.
    fed_mm: f64,
}

impl Writer<'_> {
    fn say(&mut self, line: impl Into<String>) {
        self.out.push_back(line.into());
    }

    fn before(&mut self) {
        let options = self.print.options();
        let name = match options.shape {
            Shape::HollowBox { .. } => "hollow box",
            Shape::RingTower { .. } => "ring tower",
        };
        let axis = if options.material == MaterialAxis::Relative {
            "M83"
        } else {
            "M82"
        };
        self.say(format!("(test print: {name}, {} layers)", options.layers));
        self.say("G21");
        self.say("G90");
        self.say(axis);
        self.say(format!("M140 S{}", options.platform_celsius));
        self.say(format!("M104 S{}", options.extruder_celsius));
        self.say("G28");
        self.say(format!("M190 S{}", options.platform_celsius));
        self.say(format!("M109 S{}", options.extruder_celsius));
        self.say("G92 E0");
        self.say("M107");
    }

    fn layer(&mut self, layer: u32) {
        let options = self.print.options();
        self.say(format!("(layer {layer})"));
        if options.pause_before_layers.contains(&layer) {
            self.say("M0");
        }
        if options.fan_from_layer == Some(layer) {
            self.say("M106 S255");
        }
        if options.layer_dwell_s > 0.0 {
            self.say(format!("G4 S{}", options.layer_dwell_s));
        }
        if options.material == MaterialAxis::Absolute {
            self.say("G92 E0");
        }
        let lift = format!(
            "G0 Z{:.3} F{}",
            height_mm(self.print, layer),
            per_minute(options.travel_mm_per_s)
        );
        self.say(lift);
        let from_mm = if layer == 1 {
            [0.0; 2]
        } else {
            end_of_layer(self.print)
        };
        let mut returned = layer == 1;
        for stroke in strokes(self.print, from_mm) {
            if stroke.kind != StrokeKind::Travel && !returned {
                self.feed_alone(options.retract_mm);
                returned = true;
            }
            self.stroke(&stroke);
        }
        self.feed_alone(-options.retract_mm);
    }

    fn stroke(&mut self, stroke: &Stroke) {
        let options = self.print.options();
        let [x, y] = stroke.end_mm;
        let (travel, print) = (
            per_minute(options.travel_mm_per_s),
            per_minute(options.print_mm_per_s),
        );
        match stroke.kind {
            StrokeKind::Travel => self.say(format!("G0 X{x:.3} Y{y:.3} F{travel}")),
            StrokeKind::Line => {
                let e = self.material_word(self.print.filament_mm(stroke.length_mm));
                self.say(format!("G1 X{x:.3} Y{y:.3} E{e:.5} F{print}"));
            }
            StrokeKind::Circle { centre_mm: [i, j] } => {
                let e = self.material_word(self.print.filament_mm(stroke.length_mm));
                self.say(format!(
                    "G3 X{x:.3} Y{y:.3} I{i:.3} J{j:.3} E{e:.5} F{print}"
                ));
            }
        }
    }

    fn feed_alone(&mut self, feed_mm: f64) {
        if feed_mm.abs() > 0.0 {
            let speed = per_minute(self.print.options().retract_mm_per_s);
            let e = self.material_word(feed_mm);
            self.say(format!("G1 E{e:.5} F{speed}"));
        }
    }

    /// Gives the number of the E word that feeds so much.
    fn material_word(&mut self, feed_mm: f64) -> f64 {
        self.fed_mm += feed_mm;
        match self.print.options().material {
            MaterialAxis::Relative => feed_mm,
            MaterialAxis::Absolute => self.fed_mm,
        }
    }

    fn after(&mut self) {
        let options = self.print.options();
        let top_mm = height_mm(self.print, options.layers) + LIFT_OFF_MM;
        let travel = per_minute(options.travel_mm_per_s);
        self.say(format!("G0 Z{top_mm:.3} F{travel}"));
        self.say("G0 X0 Y0");
        for line in ["M104 S0", "M140 S0", "M107", "M84", "M2"] {
            self.say(line);
        }
    }
}

/// Gives the height of a layer counted from 1.
pub(super) fn height_mm(print: &TestPrint, layer: u32) -> f64 {
    f64::from(layer) * print.options().layer_height_mm
}

fn per_minute(mm_per_s: f64) -> f64 {
    mm_per_s * 60.0
}
