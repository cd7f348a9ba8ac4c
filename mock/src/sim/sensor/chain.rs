//! The whole way from the true temperature to the reading.

use std::sync::Arc;
use std::time::Duration;

use super::element::{Element, Wired};
use super::error::{SensorError, within};
use super::fault::{Disturbance, Fault};
use super::grid::{Grid, exact_code};
use super::noise::{Chance, Noise, Stream};
use super::ntc;
use super::reading::{Break, Reading};
use super::reporting::Reporting;

/// Describes a sensor.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorSetup {
    /// What measures, down to what the host makes of it.
    pub element: Element,
    /// Standard deviation of the noise in kelvin, 0 to 50, as if the temperature itself shook: it comes before
    /// the element, so that the ADC and the host's rounding act on it.
    pub noise_sd_kelvin: f64,
    /// Time from one reading to the next, 1 ms to 1 h.
    pub reading_period: Duration,
}

/// A sensor, from the true temperature to the number that the host reports.
///
/// A reading is a pure function of this value, the true temperature and the reading's index: any moment can be
/// had at any time and in any order. Cloning shares the tables.
#[derive(Clone, Debug)]
pub struct SensorChain {
    path: Path,
    noise: Noise,
    contact: Chance,
    reading_period: Duration,
    /// In order of precedence: the first that does something to a reading has it.
    faults: Vec<Fault>,
}

#[derive(Clone, Debug)]
enum Path {
    Ideal(Reporting),
    Wired(Box<WiredPath>),
}

#[derive(Clone, Debug)]
struct WiredPath {
    wired: Wired,
    grid: Grid,
    /// The host's reading of every code.
    readings: Arc<[Reading]>,
}

impl SensorChain {
    /// Makes a sensor that has no fault; its noise belongs to this seed and this number among the sensors.
    ///
    /// # Errors
    /// [`SensorError::OutOfRange`] for noise or a reading period outside the bounds of [`SensorSetup`].
    pub fn new(setup: SensorSetup, seed: u64, sensor_index: u32) -> Result<Self, SensorError> {
        within(
            "reading period",
            setup.reading_period.as_secs_f64(),
            "s",
            1e-3,
            3600.0,
        )?;
        let path = match setup.element {
            Element::Ideal(reporting) => Path::Ideal(reporting),
            Element::Wired(wired) => Path::Wired(Box::new(WiredPath::new(wired))),
        };
        Ok(Self {
            path,
            noise: Noise::new(setup.noise_sd_kelvin, seed, sensor_index)?,
            contact: Chance::new(seed, sensor_index, Stream::Contact),
            reading_period: setup.reading_period,
            faults: Vec::new(),
        })
    }

    /// Returns the time from one reading to the next.
    #[must_use]
    pub const fn reading_period(&self) -> Duration {
        self.reading_period
    }

    /// Returns the index of the latest reading at a time since the start, where reading 0 is taken.
    #[must_use]
    pub fn reading_index_at(&self, since_start: Duration) -> u64 {
        // A period is at least a millisecond, so the quotient fits for half a thousand million years.
        (since_start.as_nanos() / self.reading_period.as_nanos()) as u64
    }

    /// Adds a fault, behind those already there: where two act on a reading, the earlier added has it.
    pub fn add_fault(&mut self, fault: Fault) {
        self.faults.push(fault);
    }

    /// Makes every fault end before this reading; earlier readings stay as they were.
    pub fn mend(&mut self, index: u64) {
        for fault in &mut self.faults {
            *fault = fault.until(index);
        }
    }

    /// Returns what the host has of a true temperature in degrees Celsius at one reading.
    ///
    /// Out of the host's range a reading is still a number, the end of the range; a broken circuit is a number too
    /// unless the host knows better, see [`Rails`](super::Rails).
    #[must_use]
    #[inline]
    pub fn read(&self, true_celsius: f64, reading_index: u64) -> Reading {
        if self.faults.is_empty() {
            return self
                .path
                .sound(true_celsius + self.noise.kelvin(reading_index));
        }
        self.read_with_faults(true_celsius, reading_index)
    }

    /// Returns what the host controls by: the reading as it is after the host's own filter has taken the noise out.
    #[must_use]
    #[inline]
    pub fn read_filtered(&self, true_celsius: f64, reading_index: u64) -> Reading {
        if self.faults.is_empty() {
            return self.path.sound(true_celsius);
        }
        self.disturbed(true_celsius, reading_index)
    }

    /// Says whether the filtered reading is the true temperature itself, whatever that is.
    #[must_use]
    #[inline]
    pub fn reads_the_truth(&self) -> bool {
        self.faults.is_empty()
            && matches!(&self.path, Path::Ideal(reporting) if reporting.changes_nothing())
    }

    fn read_with_faults(&self, true_celsius: f64, reading_index: u64) -> Reading {
        self.disturbed(
            true_celsius + self.noise.kelvin(reading_index),
            reading_index,
        )
    }

    fn disturbed(&self, noisy_celsius: f64, reading_index: u64) -> Reading {
        let disturb = |fault: &Fault| fault.at(reading_index, self.reading_period, self.contact);
        match self.faults.iter().find_map(disturb) {
            None => self.path.sound(noisy_celsius),
            Some(Disturbance::Bias { kelvin }) => self.path.sound(noisy_celsius + kelvin),
            Some(Disturbance::Held(reading)) => reading,
            Some(Disturbance::Broken(broken)) => self.path.broken(broken),
        }
    }
}

impl Path {
    #[inline]
    fn sound(&self, celsius: f64) -> Reading {
        match self {
            Self::Ideal(reporting) => Reading::Celsius(reporting.present(celsius)),
            Self::Wired(path) => path.sound(celsius),
        }
    }

    fn broken(&self, broken: Break) -> Reading {
        match (self, broken) {
            (Self::Ideal(reporting), Break::Open) => {
                reporting.present_broken(broken, ntc::COLDEST_CELSIUS)
            }
            (Self::Ideal(reporting), Break::Short) => {
                reporting.present_broken(broken, ntc::HOTTEST_CELSIUS)
            }
            (Self::Wired(path), Break::Open) => {
                path.reading_of(path.wired.divider.code(f64::INFINITY))
            }
            (Self::Wired(path), Break::Short) => path.reading_of(0),
        }
    }
}

impl WiredPath {
    fn new(wired: Wired) -> Self {
        Self {
            grid: Grid::new(&wired),
            readings: wired.conversion.tabulate(&wired.divider),
            wired,
        }
    }

    #[inline]
    fn sound(&self, celsius: f64) -> Reading {
        let fractional = self
            .grid
            .code(celsius)
            .unwrap_or_else(|| exact_code(&self.wired, celsius));
        self.reading_of(self.wired.divider.code_of_fractional(fractional))
    }

    #[inline]
    fn reading_of(&self, code: u16) -> Reading {
        self.readings[usize::from(code)]
    }
}

#[cfg(test)]
mod tests {
    use super::super::ntc::{Beta, NtcTable};
    use super::super::platinum::Platinum;
    use super::super::{Conversion, Curve, Divider, FaultKind, Quantum, Rails, Rounding};
    use super::*;
    use proptest::prelude::*;

    fn chain(element: Element, noise_sd_kelvin: f64, seed: u64) -> SensorChain {
        let setup = SensorSetup {
            element,
            noise_sd_kelvin,
            reading_period: Duration::from_millis(100),
        };
        SensorChain::new(setup, seed, 0).unwrap()
    }

    fn thermistor(bits: u8, rails: Rails) -> Element {
        let reporting = Reporting::new(-40.0, 400.0, rails, None).unwrap();
        let divider = Divider::new(4700.0, bits, 1.0).unwrap();
        Element::Wired(Wired::known(
            Curve::NtcTable(NtcTable::glass_bead_3950()),
            divider,
            reporting,
        ))
    }

    fn celsius(chain: &SensorChain, true_celsius: f64, index: u64) -> f64 {
        chain.read(true_celsius, index).celsius().unwrap()
    }

    // Source: computed from the maker's table, B25/50 3950; one ADC step is below 0.02 K at 16 bits, 200 °C, where
    // d(code)/dT = 65535 * 0.109 * 0.891 * B/T^2 (0.0186) = 118 codes/K.
    #[test]
    fn bare_beta_host_over_reads_through_the_whole_chain() {
        let conversion = Conversion {
            curve: Curve::NtcBeta(Beta::new(100e3, 3950.0).unwrap()),
            reporting: Reporting::default(),
        };
        let divider = Divider::new(4700.0, 16, 1.0).unwrap();
        let curve = Curve::NtcTable(NtcTable::glass_bead_3950());
        let chain = chain(
            Element::Wired(Wired {
                curve,
                divider,
                conversion,
            }),
            0.0,
            1,
        );
        for (real, shown) in [(25.0, 25.0), (100.0, 101.6), (200.0, 215.1), (250.0, 277.2)] {
            assert!(
                (celsius(&chain, real, 0) - shown).abs() < 0.07,
                "{real}: {}",
                celsius(&chain, real, 0)
            );
        }
    }

    // Source: Python package tclab 1.0.0: T + noise (sd 0.043), then T - T % 0.3223.
    #[test]
    fn teaching_device_reads_in_whole_steps_of_its_adc() {
        let quantum = Quantum::new(0.3223, Rounding::Down).unwrap();
        let reporting = Reporting::new(-50.0, 132.2, Rails::Number, Some(quantum)).unwrap();
        let chain = chain(Element::Ideal(reporting), 0.043, 1);
        // Half way between steps 158 (50.9234) and 159 (51.2457) noise of this size never leaves the step.
        for index in 0..1000 {
            assert!((celsius(&chain, 51.08455, index) - 50.9234).abs() < 1e-9);
        }
        // On the edge it falls on either side about half of the time: 500 and 5 sqrt(250) = 79.
        let upper = (0..1000)
            .filter(|&index| celsius(&chain, 51.2457, index) > 51.0)
            .count();
        assert!(upper.abs_diff(500) < 80, "{upper}");
    }

    #[test]
    fn rounding_of_a_wired_host_leaves_whole_steps() {
        let quantum = Quantum::new(0.0625, Rounding::Nearest).unwrap();
        let reporting = Reporting::new(-40.0, 400.0, Rails::Number, Some(quantum)).unwrap();
        let divider = Divider::new(4700.0, 12, 1.0).unwrap();
        let wired = Wired::known(Curve::Platinum(Platinum::pt1000()), divider, reporting);
        let chain = chain(Element::Wired(wired), 0.2, 1);
        for index in 0..1000 {
            let sixteenths = celsius(&chain, 210.0, index) * 16.0;
            assert!(
                (sixteenths - sixteenths.round()).abs() < 1e-9,
                "{sixteenths}"
            );
        }
    }

    // n = 1e5, sd 0.2: standard error of the mean 0.00063, of the deviation 0.00045; five of each, and half an
    // ADC step of 16 bits at 210 °C (0.005 K).
    #[test]
    fn noise_reaches_the_reading_with_its_mean_and_deviation() {
        let chain = chain(thermistor(16, Rails::Number), 0.2, 9);
        let readings: Vec<f64> = (0..100_000)
            .map(|index| celsius(&chain, 210.0, index))
            .collect();
        let mean = readings.iter().sum::<f64>() / 1e5;
        let sd = (readings
            .iter()
            .map(|reading| (reading - mean).powi(2))
            .sum::<f64>()
            / 1e5)
            .sqrt();
        assert!((mean - 210.0).abs() < 0.0082, "{mean}");
        assert!((sd - 0.2).abs() < 0.003, "{sd}");
    }

    #[test]
    fn the_order_of_asking_changes_nothing() {
        let one = chain(thermistor(12, Rails::Number), 0.3, 77);
        let other = chain(thermistor(12, Rails::Number), 0.3, 77);
        let forward: Vec<_> = (0..500).map(|index| one.read(200.0, index)).collect();
        let mut backward: Vec<_> = (0..500)
            .rev()
            .map(|index| other.read(200.0, index))
            .collect();
        backward.reverse();
        assert_eq!(forward, backward);
        let stranger = chain(thermistor(12, Rails::Number), 0.3, 78);
        assert!((0..500).any(|index| stranger.read(200.0, index) != forward[index as usize]));
    }

    #[test]
    fn broken_circuits_read_as_their_host_reports_them() {
        let last = Reading::Celsius(200.0);
        for (element, kind, expected) in [
            (
                thermistor(12, Rails::Number),
                FaultKind::Open,
                Reading::Celsius(-40.0),
            ),
            (
                thermistor(12, Rails::Number),
                FaultKind::Short,
                Reading::Celsius(400.0),
            ),
            (
                thermistor(12, Rails::NotAvailable),
                FaultKind::Open,
                Reading::NotAvailable(Break::Open),
            ),
            (
                Element::Ideal(Reporting::default()),
                FaultKind::Open,
                Reading::Celsius(-100.0),
            ),
            (
                Element::Ideal(Reporting::default()),
                FaultKind::Short,
                Reading::Celsius(1000.0),
            ),
        ] {
            let mut chain = chain(element, 0.3, 1);
            chain.add_fault(Fault::new(kind, 5, last).unwrap());
            assert!((celsius(&chain, 200.0, 4) - 200.0).abs() < 3.0);
            assert_eq!(chain.read(200.0, 5), expected);
        }
    }

    #[test]
    fn a_frozen_sensor_repeats_the_last_reading_to_the_bit() {
        let mut chain = chain(thermistor(12, Rails::Number), 0.3, 1);
        let last = chain.read(200.0, 99);
        chain.add_fault(Fault::new(FaultKind::Frozen, 100, last).unwrap());
        assert!((100..200).all(|index| chain.read(150.0, index) == last));
    }

    // 36 K/h at 10 readings a second: 0.001 K a reading.
    #[test]
    fn a_drifting_sensor_is_off_by_its_rate() {
        let mut chain = chain(Element::Ideal(Reporting::default()), 0.0, 1);
        let kind = FaultKind::Drifting {
            kelvin_per_hour: -36.0,
        };
        chain.add_fault(Fault::new(kind, 1000, chain.read(60.0, 999)).unwrap());
        assert!((celsius(&chain, 60.0, 11_000) - 50.0).abs() < 1e-9);
    }

    #[test]
    fn the_first_fault_that_acts_has_the_reading() {
        let mut chain = chain(Element::Ideal(Reporting::default()), 0.0, 1);
        let last = Reading::Celsius(60.0);
        chain.add_fault(Fault::new(FaultKind::Loose { probability: 0.5 }, 0, last).unwrap());
        chain.add_fault(Fault::new(FaultKind::Frozen, 0, last).unwrap());
        let open = (0..1000)
            .filter(|&index| chain.read(20.0, index) == Reading::Celsius(-100.0))
            .count();
        let frozen = (0..1000)
            .filter(|&index| chain.read(20.0, index) == last)
            .count();
        assert_eq!(open + frozen, 1000);
        assert!(open.abs_diff(500) < 80, "{open}");
    }

    #[test]
    fn mending_ends_a_fault_and_keeps_the_past() {
        let mut chain = chain(Element::Ideal(Reporting::default()), 0.0, 1);
        chain.add_fault(Fault::new(FaultKind::Open, 10, Reading::Celsius(60.0)).unwrap());
        chain.mend(20);
        assert_eq!(chain.read(60.0, 19), Reading::Celsius(-100.0));
        assert_eq!(chain.read(60.0, 20), Reading::Celsius(60.0));
    }

    #[test]
    fn a_reading_lasts_until_the_next_is_due() {
        let chain = chain(Element::Ideal(Reporting::default()), 0.0, 1);
        for (at_ms, index) in [(0, 0), (100, 1), (299, 2), (300, 3), (86_400_000, 864_000)] {
            assert_eq!(chain.reading_index_at(Duration::from_millis(at_ms)), index);
        }
        assert_eq!(chain.reading_index_at(Duration::from_nanos(99_999_999)), 0);
    }

    #[test]
    fn a_reading_period_of_nothing_is_refused() {
        let setup = SensorSetup {
            element: Element::Ideal(Reporting::default()),
            noise_sd_kelvin: 0.0,
            reading_period: Duration::ZERO,
        };
        let refusal = SensorChain::new(setup, 0, 0).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "reading period is 0 s, outside 0.001 to 3600 s"
        );
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn a_host_that_knows_its_element_is_right_within_one_adc_step(
            bits in 10_u8..=16, temperatures in prop::collection::vec(-30.0..350.0_f64, 50),
        ) {
            let Element::Wired(wired) = thermistor(bits, Rails::Number) else { unreachable!() };
            let chain = chain(Element::Wired(wired.clone()), 0.0, 1);
            let host = |code: u16| wired.curve.celsius(wired.divider.ohms(code)).clamp(-40.0, 400.0);
            for real in temperatures {
                let code = wired.divider.code(wired.curve.ohms(real));
                let step = (host(code.saturating_add(1)) - host(code.saturating_sub(1))).abs();
                let shown = celsius(&chain, real, 0);
                prop_assert!((shown - real).abs() <= step, "{} for {}, step {}", shown, real, step);
            }
        }

        #[test]
        fn without_noise_hotter_never_reads_colder(
            bits in 8_u8..=16, low in -150.0..900.0_f64, steps in prop::collection::vec(0.0..5.0_f64, 50),
        ) {
            let chain = chain(thermistor(bits, Rails::Number), 0.0, 1);
            let mut real = low;
            let mut before = celsius(&chain, real, 0);
            for step in steps {
                real += step;
                let now = celsius(&chain, real, 0);
                prop_assert!(now >= before, "{} after {} at {}", now, before, real);
                before = now;
            }
        }
    }
}
