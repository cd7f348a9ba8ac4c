//! The sensor and the host's conversion.

use super::super::bounds;
use super::super::error::join;
use super::super::quantity::At;
use super::super::raw::{RawCurve, RawHeater, RawReports, RawSensor};
use super::{Checked, Checker, count, place_of};
use crate::sim::Tick;
use crate::sim::sensor::ntc::{Beta, NtcTable, SteinhartHart};
use crate::sim::sensor::platinum::Platinum;
use crate::sim::sensor::{
    Conversion, Curve, Divider, Element, Quantum, Rails, Reporting, Rounding, SensorError,
    SensorSetup, Wired,
};

/// Usual for thermistors (common practice).
const PULL_UP_OHMS: f64 = 4700.0;
/// Usual on a printer's board (common practice).
const ADC_BITS: f64 = 12.0;
/// The usual number on a thermistor's bag (common practice).
const BETA_KELVIN: f64 = 3950.0;
/// Usual for hot parts (common practice).
const R25_OHMS: f64 = 100e3;
/// Supply of the divider and reference of the ADC are one rail (common practice).
const REFERENCE_RATIO: f64 = 1.0;

/// The ends of what a host reports: none but absolute zero and what no part survives.
const REPORTED_CELSIUS: [f64; 2] = [-273.15, 2000.0];

impl Checker<'_> {
    pub(super) fn sensor(&self, heater: &str, raw: &RawHeater) -> Checked<SensorSetup> {
        let noise_sd_kelvin = self.or_default(
            &join(heater, "noise-celsius"),
            raw.noise_celsius.as_ref(),
            bounds::NOISE,
            0.0,
        )?;
        let path = join(heater, "sensor");
        let reading_period = match &raw.sensor.reading_every {
            Some(every) => self
                .moment(&join(&path, "reading-every"), every, bounds::READING_S)?
                .start()
                .since_start(),
            None => Tick::PERIOD,
        };
        Ok(SensorSetup {
            element: self.element(&path, &raw.sensor)?,
            noise_sd_kelvin,
            reading_period,
        })
    }

    fn element(&self, path: &str, raw: &RawSensor) -> Checked<Element> {
        let element = raw
            .element
            .as_ref()
            .map_or(RawCurve::Ideal, |word| *word.get());
        let conversion = raw.conversion.as_ref().map_or(element, |word| *word.get());
        self.no_unused_keys(path, raw, element, conversion)?;
        let reporting = self.reporting(path, raw)?;
        let Some(curve) = self.curve(path, raw, element)? else {
            return Ok(Element::Ideal(reporting));
        };
        let Some(believed) = self.curve(path, raw, conversion)? else {
            let problem =
                "a host with an ADC has to have some curve [leave it out for the element's own]";
            let field = join(path, "conversion");
            return Err(self
                .sources
                .error_at(place_of(raw.conversion.as_ref()), field, problem));
        };
        Ok(Element::Wired(Wired {
            curve,
            divider: self.divider(path, raw)?,
            conversion: Conversion {
                curve: believed,
                reporting,
            },
        }))
    }

    /// Refuses keys that nothing of this sensor reads.
    fn no_unused_keys(
        &self,
        path: &str,
        raw: &RawSensor,
        element: RawCurve,
        conversion: RawCurve,
    ) -> Checked<()> {
        if element == RawCurve::Ideal {
            let keys = [
                ("conversion", place_of(raw.conversion.as_ref())),
                ("pull-up-ohms", place_of(raw.pull_up_ohms.as_ref())),
                ("adc-bits", place_of(raw.adc_bits.as_ref())),
            ];
            self.no_strangers(path, &keys, "does not belong to an ideal element")?;
        }
        if ![element, conversion].contains(&RawCurve::NtcBeta) {
            let keys = [
                ("beta-kelvin", place_of(raw.beta_kelvin.as_ref())),
                ("r25-ohms", place_of(raw.r25_ohms.as_ref())),
            ];
            let problem = "belongs to `ntc-beta` as element or conversion, and neither is";
            self.no_strangers(path, &keys, problem)?;
        }
        if ![element, conversion].contains(&RawCurve::NtcSteinhartHart) {
            let problem =
                "belongs to `ntc-steinhart-hart` as element or conversion, and neither is";
            self.no_strangers(
                path,
                &[("coefficients", place_of(raw.coefficients.as_ref()))],
                problem,
            )?;
        }
        Ok(())
    }

    /// Gives the curve of a word; an ideal element has none.
    fn curve(&self, path: &str, raw: &RawSensor, word: RawCurve) -> Checked<Option<Curve>> {
        let curve = match word {
            RawCurve::Ideal => return Ok(None),
            RawCurve::Ntc3950 => Curve::NtcTable(NtcTable::glass_bead_3950()),
            RawCurve::Ntc4200 => Curve::NtcTable(NtcTable::glass_bead_4200()),
            RawCurve::NtcBeta => {
                let (beta, r25) = (raw.beta_kelvin.as_ref(), raw.r25_ohms.as_ref());
                let beta_key = join(path, "beta-kelvin");
                let beta_kelvin = self.or_default(&beta_key, beta, bounds::BETA, BETA_KELVIN)?;
                let r25_key = join(path, "r25-ohms");
                let r25_ohms = self.or_default(&r25_key, r25, bounds::R25_OHMS, R25_OHMS)?;
                let curve = Beta::new(r25_ohms, beta_kelvin);
                Curve::NtcBeta(self.sound(path, beta, curve)?)
            }
            RawCurve::NtcSteinhartHart => Curve::NtcSteinhartHart(self.steinhart_hart(path, raw)?),
            RawCurve::Pt1000 => Curve::Platinum(Platinum::pt1000()),
            RawCurve::Pt100 => Curve::Platinum(Platinum::pt100()),
        };
        Ok(Some(curve))
    }

    fn steinhart_hart(&self, path: &str, raw: &RawSensor) -> Checked<SteinhartHart> {
        let key = join(path, "coefficients");
        let Some(coefficients) = &raw.coefficients else {
            let needs_it = [&raw.element, &raw.conversion]
                .into_iter()
                .flatten()
                .find(|word| *word.get() == RawCurve::NtcSteinhartHart);
            let problem = "`ntc-steinhart-hart` needs this key";
            return Err(self.sources.error_at(place_of(needs_it), key, problem));
        };
        let mut constants = [0.0; 3];
        if coefficients.get().len() != constants.len() {
            return Err(self.error(coefficients, &key, "are three: A, B and C"));
        }
        for (index, value) in coefficients.get().iter().enumerate() {
            let field = format!("{key}[{index}]");
            constants[index] = self.number(&field, value, bounds::STEINHART_HART[index])?;
        }
        let [a, b, c] = constants;
        self.sound(path, Some(coefficients), SteinhartHart::new(a, b, c))
    }

    fn divider(&self, path: &str, raw: &RawSensor) -> Checked<Divider> {
        let pull_up = raw.pull_up_ohms.as_ref();
        let ohms = self.or_default(
            &join(path, "pull-up-ohms"),
            pull_up,
            bounds::PULL_UP_OHMS,
            PULL_UP_OHMS,
        )?;
        let bits = self.or_default(
            &join(path, "adc-bits"),
            raw.adc_bits.as_ref(),
            bounds::ADC_BITS,
            ADC_BITS,
        )?;
        let bits = u8::try_from(count(bits)).unwrap_or(u8::MAX);
        self.sound(path, pull_up, Divider::new(ohms, bits, REFERENCE_RATIO))
    }

    fn reporting(&self, path: &str, raw: &RawSensor) -> Checked<Reporting> {
        let rails = match raw.reports.as_ref().map(|word| *word.get()) {
            None | Some(RawReports::Number) => Rails::Number,
            Some(RawReports::NotAvailable) => Rails::NotAvailable,
        };
        let quantum = match &raw.rounding_celsius {
            None => None,
            Some(step) => {
                let key = join(path, "rounding-celsius");
                let kelvin = self.number(&key, step, bounds::ROUNDING)?;
                let quantum = Quantum::new(kelvin, Rounding::Nearest);
                Some(self.sound(path, Some(step), quantum)?)
            }
        };
        let [lowest, highest] = REPORTED_CELSIUS;
        let step = raw.rounding_celsius.as_ref();
        self.sound(path, step, Reporting::new(lowest, highest, rails, quantum))
    }

    /// Takes a part of the sensor that was built, or tells why the sensor's own limits refuse it.
    fn sound<P, T>(
        &self,
        path: &str,
        at: Option<&At<P>>,
        part: Result<T, SensorError>,
    ) -> Checked<T> {
        part.map_err(|error| self.sources.error_at(place_of(at), path, error.to_string()))
    }
}
