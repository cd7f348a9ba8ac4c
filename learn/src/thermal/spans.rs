//! The stretches of time in which a heater's power is known.

/// Is one reading of a heater.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// When it was read, s.
    pub at_s: f64,
    /// The temperature, °C.
    pub actual_celsius: f64,
    /// What was asked for, °C; `None` and 0 are off.
    pub target_celsius: Option<f64>,
}

/// Is a stretch in which a heater had one power all along.
#[derive(Debug, Clone, PartialEq)]
pub struct Span {
    /// When it was switched, s: the middle between the last reading before and the first one after.
    pub from_s: f64,
    /// How far apart those two readings were, s; 0 if it is known to be then.
    pub gap_s: f64,
    /// The share of full power, 0 to 1.
    pub input: f64,
    /// The share of full power before; `None` if a controller was keeping the temperature.
    pub before: Option<f64>,
    /// Whether it begins at rest, at the temperature of the room.
    pub at_rest: bool,
    /// Readings: time, s, and temperature, °C.
    pub points: Vec<(f64, f64)>,
}

/// A heater whose target is so far above it is at full power (own choice: a proportional band of filament
/// printers is narrower, common practice).
const FAR_KELVIN: f64 = 30.0;
/// A span with fewer readings says nothing about its shape.
const FEWEST: usize = 8;
/// A platform asked for 60 °C is never far below it: two fifths of the way are left to the controller.
const SHARE_LEFT: f64 = 0.4;

/// Gives readings in order, without those that are no numbers and without two of one moment.
pub(super) fn sorted(readings: &[Reading]) -> Vec<Reading> {
    let is_good =
        |reading: &&Reading| reading.at_s.is_finite() && reading.actual_celsius.is_finite();
    let mut good: Vec<Reading> = readings.iter().filter(is_good).copied().collect();
    good.sort_by(|one, other| one.at_s.total_cmp(&other.at_s));
    good.dedup_by(|one, other| one.at_s - other.at_s < 1e-9);
    good
}

/// Gives the target in force; `None` is off.
fn wanted(reading: &Reading) -> Option<f64> {
    reading
        .target_celsius
        .filter(|target| target.is_finite() && *target > 0.0)
}

/// Finds heat-ups at full power and cool-downs without any.
pub(super) fn spans(readings: &[Reading]) -> Vec<Span> {
    let mut spans = Vec::new();
    let mut begun = 0;
    for index in 1..=readings.len() {
        let is_same =
            index < readings.len() && same(wanted(&readings[index]), wanted(&readings[begun]));
        if is_same {
            continue;
        }
        match begun {
            0 => spans.extend(first_span(&readings[..index])),
            _ => spans.extend(span(readings, begun, index)),
        }
        begun = index;
    }
    spans.retain(|span| span.points.len() >= FEWEST);
    spans
}

/// Gives the beginning of a recording if the heater is off there: nothing is known of before, and nothing has
/// to be. What began before in another way has no beginning that could be seen.
fn first_span(readings: &[Reading]) -> Option<Span> {
    let first = readings.first()?;
    if wanted(first).is_some() {
        return None;
    }
    let points = readings
        .iter()
        .map(|reading| (reading.at_s, reading.actual_celsius));
    Some(Span {
        from_s: first.at_s,
        gap_s: 0.0,
        input: 0.0,
        before: Some(0.0),
        at_rest: false,
        points: points.collect(),
    })
}

fn same(one: Option<f64>, other: Option<f64>) -> bool {
    match (one, other) {
        (None, None) => true,
        (Some(one), Some(other)) => (one - other).abs() < 0.01,
        _ => false,
    }
}

fn span(readings: &[Reading], begun: usize, end: usize) -> Option<Span> {
    let (last, first) = (readings[begun - 1], readings[begun]);
    let gap_s = first.at_s - last.at_s;
    let start = last.actual_celsius;
    let of = |readings: &[Reading]| -> Vec<(f64, f64)> {
        let points = readings
            .iter()
            .map(|reading| (reading.at_s, reading.actual_celsius));
        points.collect()
    };
    let (input, points) = match wanted(&first) {
        None => (0.0, of(&readings[begun..end])),
        Some(target) if target > start => {
            let left = FAR_KELVIN.min(SHARE_LEFT * (target - start));
            let until = readings[begun..end]
                .iter()
                .position(|reading| reading.actual_celsius > target - left);
            (
                1.0,
                of(&readings[begun..until.map_or(end, |until| begun + until)]),
            )
        }
        // A lower target: off for a while, but nobody says until when.
        Some(_) => return None,
    };
    let before = match wanted(&last) {
        None => Some(0.0),
        // A heat-up that is broken off goes on for the dead time.
        Some(target) if target - start > FAR_KELVIN => Some(1.0),
        Some(_) => None,
    };
    let points = match before {
        Some(_) => points,
        // What it was kept at is where it begins to fall from.
        None => [of(&readings[level_from(readings, begun)..begun]), points].concat(),
    };
    Some(Span {
        from_s: f64::midpoint(last.at_s, first.at_s),
        gap_s,
        input,
        before,
        at_rest: false,
        points,
    })
}

/// Gives where the readings begin that tell what was kept before a moment: a dozen at most (own choice: an
/// on-off swing is longer, and its mean is not what it falls from).
fn level_from(readings: &[Reading], begun: usize) -> usize {
    const MOST: usize = 12;
    let last = readings[begun - 1];
    let is_kept = |reading: &&Reading| {
        same(wanted(reading), wanted(&last))
            && (reading.actual_celsius - last.actual_celsius).abs() < 3.0
    };
    let kept = readings[..begun]
        .iter()
        .rev()
        .take(MOST)
        .take_while(is_kept)
        .count();
    begun - kept
}

/// Finds the spans of a known input: readings with the share of full power in force from each on.
pub(super) fn spans_of_inputs(readings: &[(f64, f64, f64)]) -> Vec<Span> {
    let mut spans: Vec<Span> = Vec::new();
    let mut before = 0.0;
    let mut is_first = true;
    for &(at_s, celsius, input) in readings {
        match spans.last_mut() {
            Some(span) if (span.input - input).abs() < 1e-9 => span.points.push((at_s, celsius)),
            _ => spans.push(Span {
                from_s: at_s,
                gap_s: 0.0,
                input,
                before: Some(std::mem::replace(&mut before, input)),
                at_rest: std::mem::take(&mut is_first),
                points: vec![(at_s, celsius)],
            }),
        }
    }
    spans.retain(|span| span.points.len() >= 4);
    spans
}
