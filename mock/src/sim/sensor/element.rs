//! What measures the temperature.

use super::conversion::Conversion;
use super::curve::Curve;
use super::divider::Divider;
use super::reporting::Reporting;

/// What measures the temperature, down to what the host makes of it.
#[derive(Clone, Debug, PartialEq)]
pub enum Element {
    /// The host is handed the true temperature and only presents it. When broken it behaves like a thermistor:
    /// open is cold, short is hot.
    Ideal(Reporting),
    /// A resistance on an ADC.
    Wired(Wired),
}

/// A resistive sensor, its divider, and the host's conversion.
#[derive(Clone, Debug, PartialEq)]
pub struct Wired {
    /// The curve that the element really has.
    pub curve: Curve,
    /// The pull-up resistor and the ADC.
    pub divider: Divider,
    /// What the host makes of the ADC's code.
    pub conversion: Conversion,
}

impl Wired {
    /// Makes a sensor whose host knows the element's true curve.
    #[must_use]
    pub fn known(curve: Curve, divider: Divider, reporting: Reporting) -> Self {
        Self {
            conversion: Conversion {
                curve: curve.clone(),
                reporting,
            },
            curve,
            divider,
        }
    }
}
