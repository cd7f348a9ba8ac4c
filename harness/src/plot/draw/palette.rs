//! The colours, and the shapes that say the same without them.

use coldbed_mock::sim::Phase;
use plotters::style::RGBColor;

pub(super) const PAPER: RGBColor = RGBColor(255, 255, 255);
pub(super) const INK: RGBColor = RGBColor(31, 41, 51);
pub(super) const MUTED: RGBColor = RGBColor(90, 100, 112);
pub(super) const GRID: RGBColor = RGBColor(226, 230, 234);
pub(super) const EDGE: RGBColor = RGBColor(150, 158, 168);
pub(super) const PROGRESS: RGBColor = RGBColor(58, 74, 94);

/// Is the marker on a heater's line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    Disc,
    Square,
    Triangle,
    Diamond,
}

/// Is how one heater looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Look {
    pub(super) colour: RGBColor,
    pub(super) shape: Shape,
}

/// Dark enough to be read as text on white, and apart from each other for eyes without red, green
/// or blue cones; the tests below hold them to both.
const COLOURS: [RGBColor; 5] = [
    RGBColor(192, 70, 8),
    RGBColor(20, 40, 190),
    RGBColor(0, 124, 96),
    RGBColor(116, 10, 120),
    RGBColor(36, 28, 32),
];

const SHAPES: [Shape; 4] = [Shape::Disc, Shape::Square, Shape::Triangle, Shape::Diamond];

/// Gives the look of the heater with that index: the first twenty differ from each other.
pub(super) const fn look(index: usize) -> Look {
    Look {
        colour: COLOURS[index % COLOURS.len()],
        shape: SHAPES[index % SHAPES.len()],
    }
}

/// Gives a phase's fill and the colour of a word on it.
pub(super) const fn phase(phase: Phase) -> (RGBColor, RGBColor) {
    match phase {
        Phase::Idle => (RGBColor(229, 232, 236), INK),
        Phase::Heating => (RGBColor(251, 211, 173), INK),
        Phase::Printing => (RGBColor(198, 221, 243), INK),
        Phase::Paused => (RGBColor(255, 236, 150), INK),
        Phase::Error => (RGBColor(142, 28, 24), PAPER),
        Phase::Finished => (RGBColor(196, 228, 208), INK),
        Phase::Cancelled => (RGBColor(216, 206, 230), INK),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    type Rgb = [f64; 3];

    fn linear(colour: RGBColor) -> Rgb {
        [colour.0, colour.1, colour.2].map(|channel| {
            let c = f64::from(channel) / 255.0;
            if c <= 0.04045 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        })
    }

    fn times(matrix: [Rgb; 3], colour: Rgb) -> Rgb {
        matrix.map(|row| row.iter().zip(colour).map(|(a, b)| a * b).sum())
    }

    /// Contrast ratio of two colours, 1 to 21.
    ///
    /// # Source
    /// WCAG 2.1, definitions "contrast ratio" and "relative luminance" (from memory).
    fn contrast(a: RGBColor, b: RGBColor) -> f64 {
        let luminance = |colour| {
            let [red, green, blue] = linear(colour);
            0.2126 * red + 0.7152 * green + 0.0722 * blue + 0.05
        };
        let (a, b): (f64, f64) = (luminance(a), luminance(b));
        a.max(b) / a.min(b)
    }

    /// CIE 1976 L*a*b* under D65.
    ///
    /// # Source
    /// IEC 61966-2-1 (sRGB to XYZ) and CIE 15 (L*a*b*), from memory.
    fn lab(colour: Rgb) -> Rgb {
        let xyz = times(
            [
                [0.4124, 0.3576, 0.1805],
                [0.2126, 0.7152, 0.0722],
                [0.0193, 0.1192, 0.9505],
            ],
            colour.map(|channel| channel.clamp(0.0, 1.0)),
        );
        let f = |value: f64, white: f64| {
            let t = value / white;
            if t > 0.008_856 {
                t.cbrt()
            } else {
                7.787 * t + 16.0 / 116.0
            }
        };
        let [x, y, z] = [f(xyz[0], 0.9505), f(xyz[1], 1.0), f(xyz[2], 1.089)];
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    /// How a colour looks to eyes without one kind of cone, applied to linear sRGB.
    ///
    /// # Source
    /// Machado, Oliveira, Fernandes: A physiologically-based model for simulation of color vision
    /// deficiency, IEEE TVCG 15(6), 2009, severity 1.0 (from memory).
    const EYES: [(&str, [Rgb; 3]); 4] = [
        (
            "all cones",
            [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
        ),
        (
            "no red cones",
            [
                [0.152_286, 1.052_583, -0.204_868],
                [0.114_503, 0.786_281, 0.099_216],
                [-0.003_882, -0.048_116, 1.051_998],
            ],
        ),
        (
            "no green cones",
            [
                [0.367_322, 0.860_646, -0.227_968],
                [0.280_085, 0.672_501, 0.047_413],
                [-0.011_820, 0.042_940, 0.968_881],
            ],
        ),
        (
            "no blue cones",
            [
                [1.255_528, -0.076_749, -0.178_779],
                [-0.078_411, 0.930_809, 0.147_602],
                [0.004_733, 0.691_367, 0.303_900],
            ],
        ),
    ];

    #[test]
    fn every_pair_of_heaters_is_told_apart_by_every_kind_of_eye() {
        for (eye, matrix) in EYES {
            for (index, a) in COLOURS.iter().enumerate() {
                for b in &COLOURS[index + 1..] {
                    let [one, two] = [a, b].map(|colour| lab(times(matrix, linear(*colour))));
                    let squares = one.iter().zip(two).map(|(a, b)| (a - b).powi(2));
                    let distance = squares.sum::<f64>().sqrt();
                    // 2.3 is just noticeable side by side (from memory); thin lines that lie apart
                    // need several times that (own choice).
                    assert!(distance > 20.0, "{eye}: {a:?} and {b:?}: {distance:.1}");
                }
            }
        }
    }

    #[test]
    fn every_text_has_the_contrast_that_small_text_needs() {
        // WCAG 2.1 success criterion 1.4.3: 4.5 to 1.
        for colour in COLOURS.into_iter().chain([INK, MUTED, PROGRESS]) {
            assert!(contrast(colour, PAPER) >= 4.5, "{colour:?}");
        }
        for word in Phase::ALL {
            let (fill, text) = phase(word);
            assert!(contrast(fill, text) >= 4.5, "{word}");
        }
    }

    #[test]
    fn the_first_twenty_heaters_differ_in_colour_or_shape() {
        for a in 0..20 {
            for b in a + 1..20 {
                assert_ne!(look(a), look(b), "{a} and {b}");
            }
        }
    }
}
