//! Every limit a scenario's numbers are held to, in one table.
//!
//! A bound is also what an editor is told: it is a schema transform, named at the key it belongs to.

use schemars::Schema;
use schemars::transform::Transform;

use super::quantity::span_words;
use crate::sim::motion::bounds as motion;

/// Is one bounded quantity: its range and the unit both ends are in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bound {
    pub(super) min: f64,
    pub(super) max: f64,
    /// The unit as a message writes it; `s` is written as people write a duration, and empty is a
    /// plain number.
    pub(super) unit: &'static str,
}

impl Bound {
    const fn new(min: f64, max: f64, unit: &'static str) -> Self {
        Self { min, max, unit }
    }

    const fn of(bound: motion::Bound) -> Self {
        Self::new(bound.min, bound.max, bound.unit)
    }

    pub(super) fn holds(&self, value: f64) -> bool {
        (self.min..=self.max).contains(&value)
    }

    /// Gives the bound as what tells an editor about it; a constant itself cannot be one.
    pub(super) const fn shown(self) -> Self {
        self
    }

    /// Says what is wrong with a value that is outside.
    pub(super) fn problem(&self, value: f64) -> String {
        format!("{} is outside {}", self.value_words(value), self.words())
    }

    /// Gives the range in words: `0 to 290 C`, `100ms to 10h`.
    pub(super) fn words(&self) -> String {
        let Self { min, max, unit } = self;
        match *unit {
            "s" => format!("{} to {}", span_words(*min), span_words(*max)),
            "" => format!("{min} to {max}"),
            _ => format!("{min} to {max} {unit}"),
        }
    }

    fn value_words(&self, value: f64) -> String {
        match self.unit {
            "s" => span_words(value),
            "" => value.to_string(),
            unit => format!("{value} {unit}"),
        }
    }
}

impl Transform for Bound {
    /// Tells an editor the range: numbers as such, durations in words, as they are strings.
    fn transform(&mut self, schema: &mut Schema) {
        if self.unit == "s" {
            let words = self.words();
            let described = match schema.get("description").and_then(|text| text.as_str()) {
                Some(text) => format!("{text}\n\nRange: {words}."),
                None => format!("Range: {words}."),
            };
            schema.insert("description".to_owned(), described.into());
        } else {
            schema.insert("minimum".to_owned(), self.min.into());
            schema.insert("maximum".to_owned(), self.max.into());
        }
    }
}

/// A workshop between frost and a hot attic; beyond that the sensor tables end (own choice).
pub(super) const ROOM_CELSIUS: Bound = Bound::new(-40.0, 60.0, "C");
/// An attic under a summer sun swings by 15 K each way (own choice, twice that).
pub(super) const ROOM_SWING: Bound = Bound::new(0.0, 30.0, "K");
/// Once round the day.
pub(super) const WARMEST_AT_S: Bound = Bound::new(0.0, 86_400.0, "s");
/// 1970 is what a host without a battery wakes up with; the end is far enough (own choice).
pub(super) const CLOCK_UNIX_S: Bound = Bound::new(0.0, 4_102_444_800.0, "s");
/// Foamed filament to one filled with metal (common practice, figures from memory, then some).
pub(super) const DENSITY: Bound = Bound::new(0.1, 10.0, "g/cm3");
/// Plastics have 1 to 2.5 J/gK (common practice, figures from memory, then some).
pub(super) const SPECIFIC_HEAT: Bound = Bound::new(0.1, 10.0, "J/gK");
/// From two bodies that hardly feel each other to two that are one; the lowest is the plant's own.
pub(super) const COUPLING: Bound = Bound::new(1e-4, 1e3, "W/K");

/// Nozzles reach 300 C and special ones 500 C (common practice); nothing printed needs more.
pub(super) const MAX_CELSIUS: Bound = Bound::new(40.0, 500.0, "C");
/// Any target of any heater; each heater's own limit is narrower.
pub(super) const TARGET: Bound = Bound::new(0.0, MAX_CELSIUS.max, "C");
/// From a bare resistor to a large cast plate (own choice, a decade beyond common practice).
pub(super) const HEAT_CAPACITY: Bound = Bound::new(0.1, 1e5, "J/K");
/// As for the heat capacity.
pub(super) const LOSS: Bound = Bound::new(1e-3, 1e3, "W/K");
/// As for the loss; 0 for a heater that no fan reaches.
pub(super) const LOSS_FAN: Bound = Bound::new(0.0, 1e3, "W/K");
/// Up to 1000 W of mains heating is usual (common practice); 0 is a heater without an element.
pub(super) const POWER: Bound = Bound::new(0.0, 5e3, "W");
/// 2 to 8 s is usual (common practice); a minute is a sensor in the wrong place.
pub(super) const DEAD_TIME_S: Bound = Bound::new(0.0, 60.0, "s");
/// Seconds are usual; five minutes is a sensor glued to the wrong side of a thick plate. 0 for none.
pub(super) const SENSOR_LAG_S: Bound = Bound::new(0.0, 300.0, "s");
/// The plant takes no lag between nothing and this: it would have no effect and cost digits.
pub(super) const SHORTEST_SENSOR_LAG_S: f64 = 1e-3;

/// Half the width of the on-off band.
pub(super) const HYSTERESIS: Bound = Bound::new(0.05, 50.0, "K");
/// Controller gain, watts per kelvin of error.
pub(super) const GAIN: Bound = Bound::new(1e-3, 1e4, "W/K");
/// Integral time: at least one control period, which is as fast as the sum can be changed.
pub(super) const INTEGRAL_TIME_S: Bound = Bound::new(0.1, 36_000.0, "s");
/// Derivative time; 0 for none.
pub(super) const DERIVATIVE_TIME_S: Bound = Bound::new(0.0, 3_600.0, "s");
/// Closed-loop time of the SIMC rules: from as fast as a control period to an hour's patience.
pub(super) const CLOSED_LOOP_S: Bound = Bound::new(0.1, 3_600.0, "s");

/// Time from one reading to the next: 1 to 10 a second is usual (common practice); once in ten seconds
/// is a host that hardly looks.
pub(super) const READING_S: Bound = Bound::new(0.1, 10.0, "s");
/// Shown noise of 0.1 to 0.5 K is usual (common practice).
pub(super) const NOISE: Bound = Bound::new(0.0, 20.0, "K");
/// 4.7 kohm for thermistors, 1 to 4 for platinum (common practice).
pub(super) const PULL_UP_OHMS: Bound = Bound::new(1.0, 1e7, "ohm");
/// 10 to 12 bits are usual (common practice).
pub(super) const ADC_BITS: Bound = Bound::new(6.0, 16.0, "bits");
/// 3950 and its neighbours are usual (common practice).
pub(super) const BETA: Bound = Bound::new(500.0, 1e4, "K");
/// 100 kohm is usual (common practice).
pub(super) const R25_OHMS: Bound = Bound::new(1.0, 1e8, "ohm");
/// Steinhart-Hart A, B and C in 1/K. Usual thermistors have about 1e-3, 2e-4 and 1e-7 (common
/// practice, from memory). C is above 0: at 0 the formula gives no number for a short circuit.
pub(super) const STEINHART_HART: [Bound; 3] = [
    Bound::new(1e-5, 1e-2, "1/K"),
    Bound::new(1e-6, 1e-2, "1/K"),
    Bound::new(1e-10, 1e-5, "1/K"),
];
/// Hosts show 1, 0.1, 0.0625 or 0.01 K (common practice).
pub(super) const ROUNDING: Bound = Bound::new(1e-3, 10.0, "K");

/// Rise asked for by the heating-too-slow rule.
pub(super) const RISE: Bound = Bound::new(0.1, 100.0, "K");
/// Periods in which something has to happen.
pub(super) const PROTECTION_S: Bound = Bound::new(1.0, 3_600.0, "s");
/// Periods for which something may go on; 0 trips at once.
pub(super) const PATIENCE_S: Bound = Bound::new(0.0, 3_600.0, "s");
/// How far below its target a heater may fall.
pub(super) const FALL: Bound = Bound::new(1.0, 200.0, "K");
/// How far above its highest target a heater may come.
pub(super) const ABOVE: Bound = Bound::new(0.0, 200.0, "K");
/// How far above its present target a heater may come.
pub(super) const ABOVE_TARGET: Bound = Bound::new(1.0, 200.0, "K");
/// The hard maximum.
pub(super) const HARD_MAXIMUM: Bound = Bound::new(30.0, 700.0, "C");
/// The lowest believable temperature: below the coldest room the tables know.
pub(super) const HARD_MINIMUM: Bound = Bound::new(-100.0, 25.0, "C");
/// Largest believable change from one reading to the next.
pub(super) const CHANGE: Bound = Bound::new(0.1, 500.0, "K");
/// Largest believable rate.
pub(super) const RATE: Bound = Bound::new(0.1, 1e4, "K/s");
/// How close below its target a heater counts as there; never wider than the fall allowed.
pub(super) const REACHED: Bound = Bound::new(0.0, 200.0, "K");
/// How far below its target a heater counts as heating up.
pub(super) const BELOW_TARGET: Bound = Bound::new(0.0, 200.0, "K");

/// A job takes at least one control period; a month is longer than any filament lasts.
pub(super) const JOB_S: Bound = Bound::new(0.1, 2_678_400.0, "s");
/// Any moment of a scenario: two months, so that a month-long job fits with its cool-down.
pub(super) const MOMENT_S: Bound = Bound::new(0.0, 5_356_800.0, "s");
/// `printer-up-time` is an integer up to 2^31 - 1 (RFC 8011 section 5.4.29, from memory).
pub(super) const UP_TIME_S: Bound = Bound::new(0.0, 2_147_483_647.0, "s");
/// How many layers a job has.
pub(super) const LAYERS: Bound = Bound::new(1.0, 1e6, "layers");
/// Parking the head takes a minute at most (own choice, then some).
pub(super) const STOP_POINT_S: Bound = Bound::new(0.0, 3_600.0, "s");
/// A guess is off by half or by twice, hardly by ten times.
pub(super) const BIAS: Bound = Bound::new(0.1, 10.0, "times");
/// A share of a whole.
pub(super) const PERCENT: Bound = Bound::new(0.0, 100.0, "%");
/// Where progress is shown as full: 0 would be full before it began.
pub(super) const FULL_AT: Bound = Bound::new(1.0, 100.0, "%");
/// It catches up over twice as many, so more than half could never be caught up.
pub(super) const FALLS_BACK: Bound = Bound::new(0.0, 50.0, "%");

/// A cube that a desk printer can hold (own choice; also keeps the generated text short).
pub(super) const PRINT_SIZE: Bound = Bound::new(5.0, 500.0, "mm");
/// As for the size.
pub(super) const PRINT_HEIGHT: Bound = Bound::new(0.05, 500.0, "mm");
/// 0.06 to 0.4 mm is usual (common practice).
pub(super) const LAYER_HEIGHT: Bound = Bound::new(0.05, 2.0, "mm");
/// A bead is 0.4 mm wide, so lines nearer to each other would overlap; 0 leaves the print hollow.
pub(super) const INFILL: Bound = Bound::new(0.0, 500.0, "mm");
/// The nearest that lines of filling lie to each other.
pub(super) const CLOSEST_INFILL_MM: f64 = 0.4;
/// A printing speed; a tenth of a millimetre a second is slower than anybody prints.
pub(super) const PRINT_SPEED: Bound = Bound::new(0.1, 2e3, "mm/s");
/// How many strokes a generated program may have: some seconds of reading.
pub(super) const MOST_STROKES: f64 = 1e6;
/// As the planner has it.
pub(super) const ACCELERATION: Bound = Bound::of(motion::ACCELERATION);
/// As the planner has it.
pub(super) const AXIS_SPEED: Bound = Bound::of(motion::SPEED);
/// As the planner has it.
pub(super) const CORNER: Bound = Bound::of(motion::CORNER_DEVIATION);

/// Layers are counted from 1.
pub(super) const LAYER: Bound = LAYERS;
/// Any reading that a watcher's printer could show and still work on.
pub(super) const PASSED: Bound = Bound::new(-50.0, 700.0, "C");
/// How long a thing that is given a duration lasts: at least a control period, at most a day.
pub(super) const LASTS_S: Bound = Bound::new(0.1, 86_400.0, "s");
/// How often something happens again.
pub(super) const TIMES: Bound = Bound::new(1.0, 1e5, "times");
/// A clock that lost its battery can be decades off; a year shows the same (own choice).
pub(super) const SET_BACK_S: Bound = Bound::new(0.1, 31_622_400.0, "s");
/// As the sensor has it.
pub(super) const DRIFT: Bound = Bound::new(-1e5, 1e5, "K/h");
/// As the sensor has it.
pub(super) const PROBABILITY: Bound = Bound::new(0.0, 1.0, "of all readings");
