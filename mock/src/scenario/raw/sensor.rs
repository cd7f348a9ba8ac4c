//! The sensor and the host's conversion.

use schemars::JsonSchema;
use serde::Deserialize;

use super::super::bounds;
use super::super::quantity::{At, Count, Degrees, Number, Seconds};
use super::word::read_as_word;

/// The sensor and what the host makes of it. Written anew with `element`, it replaces an included
/// one whole.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Sensor")]
pub(in super::super) struct RawSensor {
    /// What measures. Default ideal: the host is handed the true temperature.
    pub(in super::super) element: Option<At<RawCurve>>,
    /// The curve that the host takes the element to have. Default the element's own.
    pub(in super::super) conversion: Option<At<RawCurve>>,
    /// Pull-up resistor, ohm. Default 4700.
    #[schemars(transform = bounds::PULL_UP_OHMS.shown())]
    pub(in super::super) pull_up_ohms: Option<At<Number>>,
    /// Resolution of the ADC, bits. Default 12.
    #[schemars(transform = bounds::ADC_BITS.shown())]
    pub(in super::super) adc_bits: Option<At<Count>>,
    /// For ntc-beta: B, in kelvin. Default 3950.
    #[schemars(transform = bounds::BETA.shown())]
    pub(in super::super) beta_kelvin: Option<At<Number>>,
    /// For ntc-beta: resistance at 25 Celsius, ohm. Default 100000.
    #[schemars(transform = bounds::R25_OHMS.shown())]
    pub(in super::super) r25_ohms: Option<At<Number>>,
    /// For ntc-steinhart-hart: A, B and C, each in 1/K.
    #[schemars(length(equal = 3))]
    pub(in super::super) coefficients: Option<At<Vec<At<Number>>>>,
    /// Time from one reading to the next; in between the host goes by the last. Default 100ms.
    #[schemars(transform = bounds::READING_S.shown())]
    pub(in super::super) reading_every: Option<At<Seconds>>,
    /// The step in which the host rounds, in kelvin. Default none.
    #[schemars(transform = bounds::ROUNDING.shown())]
    pub(in super::super) rounding_celsius: Option<At<Degrees>>,
    /// What the host makes of a broken circuit. Default number: the end of its range, as if it were a
    /// temperature.
    pub(in super::super) reports: Option<At<RawReports>>,
}

/// A curve between temperature and resistance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(remote = "Self")]
#[schemars(!remote, inline, rename = "Curve")]
pub(in super::super) enum RawCurve {
    #[serde(rename = "ideal")]
    Ideal,
    #[serde(rename = "ntc-3950")]
    Ntc3950,
    #[serde(rename = "ntc-4200")]
    Ntc4200,
    #[serde(rename = "ntc-beta")]
    NtcBeta,
    #[serde(rename = "ntc-steinhart-hart")]
    NtcSteinhartHart,
    #[serde(rename = "pt1000")]
    Pt1000,
    #[serde(rename = "pt100")]
    Pt100,
}

/// What the host makes of a broken circuit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", remote = "Self")]
#[schemars(!remote, inline, rename = "Reports")]
pub(in super::super) enum RawReports {
    Number,
    NotAvailable,
}

read_as_word!(RawCurve, RawReports);
