//! The fit: Gauss-Newton with damping (Levenberg 1944, Marquardt 1963) over all spans at once.

use nalgebra::{DMatrix, DVector};

use super::control::{self, Control};
use super::estimate::{Estimate, Known};
use super::model::Shared;
use super::spans::{self, Reading, Span};

/// Is what recorded temperatures say of a heater.
#[derive(Debug, Clone, PartialEq)]
pub struct HeaterFit {
    /// How far full power raises it above the room at last, K.
    pub full_power_rise_kelvin: Known,
    /// Its time constant, s.
    pub time_constant_s: Known,
    /// From a change of power to the first change that is read, s.
    pub dead_time_s: Known,
    /// The room, °C.
    pub room_celsius: Known,
    /// How it is controlled.
    pub control: Control,
    /// The standard deviation of what the fit leaves, K; 0 without a fit.
    pub residual_kelvin: f64,
    /// The spans it rests on.
    pub spans: Vec<Span>,
}

/// Dead times and time constants that are tried to begin with, s.
const DEAD_TIMES: [f64; 4] = [0.0, 3.0, 8.0, 20.0];
const TAUS: [f64; 3] = [100.0, 300.0, 900.0];
const STEPS: usize = 60;

/// Fits a heater whose power is known from its target alone.
pub fn fit(readings: &[Reading]) -> HeaterFit {
    let readings = spans::sorted(readings);
    let spans = spans::spans(&readings);
    HeaterFit {
        control: control::kind(&readings),
        ..fit_spans(&spans)
    }
}

/// Fits a heater whose power is told: time, s, temperature, °C, and the share of full power from then on. It
/// begins at rest, at the temperature of the room.
pub fn fit_inputs(readings: &[(f64, f64, f64)]) -> HeaterFit {
    let is_good = |(at, celsius, input): &&(f64, f64, f64)| {
        at.is_finite() && celsius.is_finite() && input.is_finite()
    };
    let mut good: Vec<_> = readings.iter().filter(is_good).copied().collect();
    good.sort_by(|one, other| one.0.total_cmp(&other.0));
    fit_spans(&spans::spans_of_inputs(&good))
}

fn fit_spans(spans: &[Span]) -> HeaterFit {
    let heats = spans.iter().any(|span| span.input > 0.0);
    // Without a bend in it a curve says nothing of where it leads.
    let bends = |span: &&Span| {
        let level = |(_, celsius): &(f64, f64)| *celsius;
        let first = span.points.first().map_or(0.0, level);
        let last = span.points.last().map_or(0.0, level);
        (first - last).abs() > 10.0
    };
    let cools = spans
        .iter()
        .filter(|span| span.input <= 0.0)
        .any(|span| bends(&span));
    let unknown = |why: &str| HeaterFit {
        full_power_rise_kelvin: Known::Unknown(why.to_owned()),
        time_constant_s: Known::Unknown(why.to_owned()),
        dead_time_s: Known::Unknown(why.to_owned()),
        room_celsius: Known::Unknown(why.to_owned()),
        control: Control::Unknown,
        residual_kelvin: 0.0,
        spans: spans.to_vec(),
    };
    if !heats && !cools {
        return unknown("the session has neither a heat-up nor a cool-down from their beginnings");
    }
    let problem = Problem::of(spans, heats);
    let Some(solved) = problem.solve() else {
        return unknown("no curve of first order goes through the readings");
    };
    let no_heat = || Known::Unknown("the session has no heat-up from its beginning".to_owned());
    let known = |place: usize| Known::Known(problem.estimate(&solved, place));
    let fit = HeaterFit {
        full_power_rise_kelvin: if heats { known(RISE) } else { no_heat() },
        time_constant_s: known(TAU),
        dead_time_s: problem.dead_time(&solved),
        room_celsius: known(ROOM),
        control: Control::Unknown,
        residual_kelvin: solved.variance.sqrt(),
        spans: spans.to_vec(),
    };
    let is_wide = |known: &Known| {
        let estimate = known.estimate();
        estimate.is_some_and(|estimate| estimate.standard_error >= 0.5 * estimate.value.abs())
    };
    match is_wide(&fit.time_constant_s) || (heats && is_wide(&fit.full_power_rise_kelvin)) {
        true => unknown("the readings are too few, or too flat, to tell one curve from another"),
        false => fit,
    }
}

const TAU: usize = 0;
const ROOM: usize = 1;
const RISE: usize = 2;

/// Is the sum of squares to be made small. Parameters: the shared ones, then of each span where it begins and
/// after what time something is seen of its power. That time is no shared one: when a heater was switched is
/// known only to the gap between two readings.
struct Problem<'a> {
    spans: &'a [Span],
    heats: bool,
    places: Vec<Places>,
    parameter_count: usize,
}

/// Says where the parameters of a span are.
struct Places {
    start: Option<usize>,
    dead: Option<usize>,
}

struct Solved {
    parameters: DVector<f64>,
    covariance: DMatrix<f64>,
    variance: f64,
    freedom: usize,
}

impl<'a> Problem<'a> {
    fn of(spans: &'a [Span], heats: bool) -> Self {
        let mut next = if heats { 3 } else { 2 };
        let mut take = |is_there: bool| {
            let place = is_there.then_some(next);
            next += usize::from(is_there);
            place
        };
        let places = spans.iter().map(|span| Places {
            start: take(!span.at_rest),
            // Where the power is the same as before nothing is to be seen.
            dead: take(span.before != Some(span.input)),
        });
        let places = places.collect();
        Self {
            spans,
            heats,
            places,
            parameter_count: next,
        }
    }

    fn shared(&self, parameters: &DVector<f64>) -> Shared {
        Shared {
            tau_s: parameters[TAU].exp(),
            room_celsius: parameters[ROOM],
            rise_kelvin: if self.heats { parameters[RISE] } else { 0.0 },
        }
    }

    fn count(&self) -> usize {
        self.spans.iter().map(|span| span.points.len()).sum()
    }

    fn residuals(&self, parameters: &DVector<f64>) -> DVector<f64> {
        let shared = self.shared(parameters);
        let each = self
            .spans
            .iter()
            .zip(&self.places)
            .flat_map(|(span, places)| {
                let start = places
                    .start
                    .map_or(shared.room_celsius, |place| parameters[place]);
                let dead = places.dead.map_or(0.0, |place| parameters[place]);
                let points = span.points.iter();
                points.map(move |(at, celsius)| shared.at(span, start, dead, *at) - celsius)
            });
        DVector::from_iterator(self.count(), each)
    }

    /// By differences: the model has a corner at the dead time, which a step of some size looks across.
    fn jacobian(&self, parameters: &DVector<f64>) -> DMatrix<f64> {
        let mut jacobian = DMatrix::zeros(self.count(), parameters.len());
        for place in 0..parameters.len() {
            let step = if place == TAU { 1e-5 } else { 1e-3 };
            let mut moved = parameters.clone();
            moved[place] += step;
            let above = self.residuals(&moved);
            moved[place] -= 2.0 * step;
            let below = self.residuals(&moved);
            jacobian.set_column(place, &((above - below) / (2.0 * step)));
        }
        jacobian
    }

    /// Gives a point to begin at for a time constant and a dead time.
    fn start(&self, tau: f64, dead: f64) -> DVector<f64> {
        let all = || self.spans.iter().flat_map(|span| &span.points);
        let coldest = all()
            .map(|(_, celsius)| *celsius)
            .fold(f64::INFINITY, f64::min);
        let mut all_of_them = vec![tau.ln(), coldest];
        if self.heats {
            // From the steepest way up of a heat-up: rise/tau.
            let slope = self
                .spans
                .iter()
                .filter(|span| span.input > 0.0)
                .filter_map(|span| {
                    let (first, last) = (span.points.first()?, span.points.last()?);
                    Some((last.1 - first.1) / (last.0 - first.0).max(1e-3) / span.input)
                });
            let slope = slope.fold(0.05, f64::max);
            all_of_them.push(slope * tau * 1.3);
        }
        for (span, places) in self.spans.iter().zip(&self.places) {
            all_of_them.extend(places.start.map(|_| span.points[0].1));
            all_of_them.extend(places.dead.map(|_| dead));
        }
        DVector::from_vec(all_of_them)
    }

    fn solve(&self) -> Option<Solved> {
        let parameter_count = self.parameter_count;
        if self.count() < parameter_count + 3 {
            return None;
        }
        let starts = TAUS
            .iter()
            .flat_map(|tau| DEAD_TIMES.iter().map(|dead| (*tau, *dead)));
        let roughly = starts.map(|(tau, dead)| self.descend(self.start(tau, dead), 8));
        let best = roughly.min_by(|one, other| one.1.total_cmp(&other.1))?;
        let (parameters, sum) = self.descend(best.0, STEPS);
        if !sum.is_finite() || parameters.iter().any(|value| !value.is_finite()) {
            return None;
        }
        let freedom = self.count() - parameter_count;
        let jacobian = self.jacobian(&parameters);
        let normal = jacobian.transpose() * &jacobian;
        let inverse = normal.try_inverse()?;
        let variance = sum / freedom as f64;
        let residuals = self.residuals(&parameters);
        let covariance = inverse * variance * self.inflation(&residuals);
        let is_good = covariance.iter().all(|value| value.is_finite());
        is_good.then_some(Solved {
            parameters,
            covariance,
            variance,
            freedom,
        })
    }

    /// Where what is left hangs together from reading to reading, there are fewer independent ones:
    /// (1 + r)/(1 - r) for a lag-1 correlation r (Bartlett 1946, from memory).
    fn inflation(&self, residuals: &DVector<f64>) -> f64 {
        let (mut with_next, mut own, mut place) = (0.0, 0.0, 0);
        for span in self.spans {
            let of = &residuals.as_slice()[place..place + span.points.len()];
            with_next += of.windows(2).map(|pair| pair[0] * pair[1]).sum::<f64>();
            own += of.iter().map(|value| value * value).sum::<f64>();
            place += span.points.len();
        }
        let correlation = if own > 0.0 {
            (with_next / own).clamp(0.0, 0.98)
        } else {
            0.0
        };
        (1.0 + correlation) / (1.0 - correlation)
    }

    fn descend(&self, mut parameters: DVector<f64>, steps: usize) -> (DVector<f64>, f64) {
        let mut sum = self.residuals(&parameters).norm_squared();
        let mut damping = 1e-3;
        for _ in 0..steps {
            let residuals = self.residuals(&parameters);
            let jacobian = self.jacobian(&parameters);
            let gradient = jacobian.transpose() * &residuals;
            let normal = jacobian.transpose() * &jacobian;
            let mut is_better = false;
            for _ in 0..8 {
                let mut damped = normal.clone();
                for place in 0..damped.nrows() {
                    damped[(place, place)] += damping * (normal[(place, place)] + 1e-9);
                }
                let Some(step) = damped.lu().solve(&gradient) else {
                    damping *= 10.0;
                    continue;
                };
                let mut moved = &parameters - step;
                // No heater is slower than half a day or quicker than a second, nothing acts before its cause.
                moved[TAU] = moved[TAU].clamp(0.0, 10.7);
                for place in self.places.iter().filter_map(|places| places.dead) {
                    moved[place] = moved[place].clamp(-30.0, 120.0);
                }
                let moved_sum = self.residuals(&moved).norm_squared();
                if moved_sum < sum {
                    is_better = (sum - moved_sum) > 1e-10 * sum;
                    (parameters, sum) = (moved, moved_sum);
                    damping = (damping / 5.0).max(1e-9);
                    break;
                }
                damping *= 5.0;
            }
            if !is_better {
                break;
            }
        }
        (parameters, sum)
    }

    fn estimate(&self, solved: &Solved, place: usize) -> Estimate {
        let own = solved.covariance[(place, place)].max(0.0).sqrt();
        let raw = solved.parameters[place];
        // The time constant is fitted by its logarithm.
        let (value, standard_error) = match place {
            TAU => (raw.exp(), raw.exp() * own),
            _ => (raw, own),
        };
        Estimate {
            value,
            standard_error,
            degrees_of_freedom: solved.freedom,
        }
    }

    /// Gives the mean of the spans' dead times by their weights. The moment of switching lies somewhere in its
    /// gap, evenly, which is a variance of a twelfth of its square.
    fn dead_time(&self, solved: &Solved) -> Known {
        let of_spans = || {
            let each = self.spans.iter().zip(&self.places);
            each.filter_map(|(span, places)| Some((places.dead?, span.gap_s.powi(2) / 12.0)))
        };
        let weight = |place: usize, gap: f64| {
            let variance = solved.covariance[(place, place)].max(0.0) + gap;
            1.0 / variance.max(1e-9)
        };
        let weights: f64 = of_spans().map(|(place, gap)| weight(place, gap)).sum();
        if weights <= 0.0 {
            return Known::Unknown("the session has no change of power".to_owned());
        }
        let share = |place, gap| weight(place, gap) / weights;
        let (mut mean, mut variance) = (0.0, 0.0);
        for (place, gap) in of_spans() {
            let own = share(place, gap);
            mean += own * solved.parameters[place];
            variance += own * own * gap;
            // All lean on the same time constant, so they are off together.
            for (other, other_gap) in of_spans() {
                variance += own * share(other, other_gap) * solved.covariance[(place, other)];
            }
        }
        Known::Known(Estimate {
            value: mean.max(0.0),
            standard_error: variance.max(0.0).sqrt(),
            degrees_of_freedom: solved.freedom,
        })
    }
}
