//! Heaters that warm each other, stepped together.

use super::element::{Element, FLOOR};
use super::matrix::exponential;
use super::{Coupling, HeaterSpec};

/// How many sets of losses a group remembers the step of. A fan that goes on and off and a few
/// speeds of filament fit; a loss that is new at every step is worked out every time.
const REMEMBERED: usize = 32;

/// Is the exact step for one set of losses.
#[derive(Debug, Clone)]
struct Step {
    losses: Vec<f64>,
    /// One row per state: its factors of all states, then of all powers.
    rows: Vec<f64>,
}

/// Simulates heaters that are joined by couplings, directly or through others.
///
/// The state is one temperature per heater, then one per sensor that lags, all in K above the room.
#[derive(Debug, Clone)]
pub(super) struct CoupledGroup {
    elements: Vec<Element>,
    couplings: Vec<Coupling>,
    /// Where in the state each heater's sensor is; the heater itself if the sensor has no lag.
    sensor_at: Vec<usize>,
    /// States, then the powers felt in this period: what a row is multiplied by.
    now: Vec<f64>,
    next: Vec<f64>,
    steps: Vec<Step>,
    current: usize,
    replace_next: usize,
    room_celsius: f64,
    period_s: f64,
}

impl CoupledGroup {
    /// Takes checked specs, and checked couplings that count within this group.
    pub(super) fn new(
        specs: &[HeaterSpec],
        couplings: Vec<Coupling>,
        period_s: f64,
        room_celsius: f64,
    ) -> Self {
        let mut states: Vec<f64> = specs
            .iter()
            .map(|spec| spec.start_celsius - room_celsius)
            .collect();
        let mut sensor_at = Vec::with_capacity(specs.len());
        for (heater, spec) in specs.iter().enumerate() {
            if spec.sensor_lag_s > 0.0 {
                sensor_at.push(states.len());
                states.push(spec.start_celsius - room_celsius);
            } else {
                sensor_at.push(heater);
            }
        }
        let next = states.clone();
        let mut now = states;
        now.resize(next.len() + specs.len(), 0.0);
        let mut group = Self {
            elements: specs
                .iter()
                .map(|spec| Element::new(*spec, period_s))
                .collect(),
            couplings,
            sensor_at,
            now,
            next,
            steps: Vec::new(),
            current: 0,
            replace_next: 0,
            room_celsius,
            period_s,
        };
        group.recall();
        group
    }

    /// Says what power is asked of one heater in the coming step.
    #[inline]
    pub(super) fn ask(&mut self, heater: usize, watts: f64) {
        let at = self.next.len() + heater;
        self.now[at] = self.elements[heater].felt_watts(watts);
    }

    /// Advances by one period with the powers asked for.
    #[inline]
    pub(super) fn step(&mut self) {
        let rows = self.steps[self.current].rows.chunks_exact(self.now.len());
        for (next, row) in self.next.iter_mut().zip(rows) {
            *next = row
                .iter()
                .zip(&self.now)
                .fold(FLOOR, |sum, (by, value)| sum + by * value);
        }
        self.now[..self.next.len()].copy_from_slice(&self.next);
    }

    pub(super) fn sensor_celsius(&self, heater: usize) -> f64 {
        self.room_celsius + self.now[self.sensor_at[heater]]
    }

    pub(super) fn block_celsius(&self, heater: usize) -> f64 {
        self.room_celsius + self.now[heater]
    }

    pub(super) fn element(&self, heater: usize) -> &Element {
        &self.elements[heater]
    }

    pub(super) fn set_room_celsius(&mut self, room_celsius: f64) {
        let fall = self.room_celsius - room_celsius;
        for state in &mut self.now[..self.next.len()] {
            *state += fall;
        }
        self.room_celsius = room_celsius;
    }

    pub(super) fn set_power_factor(&mut self, heater: usize, factor: f64) {
        self.elements[heater].set_power_factor(factor);
    }

    pub(super) fn set_fan_fraction(&mut self, heater: usize, fraction: f64) {
        if self.elements[heater].set_fan_fraction(fraction) {
            self.recall();
        }
    }

    pub(super) fn set_flow_watts_per_kelvin(&mut self, heater: usize, watts_per_kelvin: f64) {
        if self.elements[heater].set_flow_watts_per_kelvin(watts_per_kelvin) {
            self.recall();
        }
    }

    /// Finds the step for the present losses, or works it out.
    fn recall(&mut self) {
        let losses: Vec<f64> = self
            .elements
            .iter()
            .map(Element::loss_watts_per_kelvin)
            .collect();
        if let Some(known) = self.steps.iter().position(|step| step.losses == losses) {
            self.current = known;
            return;
        }
        let rows = self.solve(&losses);
        let step = Step { losses, rows };
        if self.steps.len() < REMEMBERED {
            self.current = self.steps.len();
            self.steps.push(step);
        } else {
            self.current = self.replace_next;
            self.steps[self.current] = step;
            self.replace_next = (self.replace_next + 1) % REMEMBERED;
        }
    }

    /// Solves the group for powers held over one period.
    ///
    /// # Source
    /// Zero-order hold by one exponential: exp([[A, B], [0, 0]] h) = [[Ad, Bd], [0, I]]
    /// (Van Loan 1978, Computing Integrals Involving the Matrix Exponential; from memory).
    fn solve(&self, losses: &[f64]) -> Vec<f64> {
        let (states, size) = (self.next.len(), self.now.len());
        let mut rates = vec![0.0; size * size];
        for (heater, (element, loss)) in self.elements.iter().zip(losses).enumerate() {
            let per_joule = self.period_s / element.spec.heat_capacity_joules_per_kelvin;
            rates[heater * size + heater] -= loss * per_joule;
            rates[heater * size + states + heater] = per_joule;
            for coupling in &self.couplings {
                let other = match heater {
                    end if end == coupling.one => coupling.other,
                    end if end == coupling.other => coupling.one,
                    _ => continue,
                };
                rates[heater * size + heater] -= coupling.watts_per_kelvin * per_joule;
                rates[heater * size + other] += coupling.watts_per_kelvin * per_joule;
            }
            let sensor = self.sensor_at[heater];
            if sensor != heater {
                let rate = self.period_s / element.spec.sensor_lag_s;
                rates[sensor * size + sensor] = -rate;
                rates[sensor * size + heater] = rate;
            }
        }
        let mut rows = exponential(size, &rates);
        rows.truncate(states * size);
        rows
    }
}

#[cfg(test)]
mod tests;
