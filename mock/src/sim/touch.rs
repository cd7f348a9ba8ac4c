//! From what surface temperature on a touch may burn.
//!
//! This is background for a display and for the texts of the mock. It is no safety advice and no limit for a
//! product: for a real machine the maker's instructions hold, and a mock proves nothing about a real printer. A
//! sensor also reads its own place, not the spot that a hand meets, and it may be wrong or frozen: a low number
//! on a screen is no reason to touch anything.
//!
//! # Source
//! ISO 13732-1:2006, burn thresholds for hot solid surfaces, bare metal (values from memory; the rows for 1 s and
//! 10 s are bands on a graph and left out on purpose). The standard speaks of no more than about a tenth of the
//! skin, of a surface that keeps its temperature, and says nothing of pain. Other materials have the same or
//! higher thresholds in these rows, so the metal row errs on the careful side.

/// Says how long skin stays on the surface.
///
/// The default is the longest, the only one at which a hand may be left lying there.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Contact {
    /// One minute.
    OneMinute,
    /// Ten minutes.
    TenMinutes,
    /// Eight hours and longer.
    #[default]
    EightHours,
}

impl Contact {
    /// Every length of contact, shortest first.
    pub const ALL: [Self; 3] = [Self::OneMinute, Self::TenMinutes, Self::EightHours];

    /// Returns the burn threshold of bare metal in degrees Celsius.
    ///
    /// # Source
    /// ISO 13732-1:2006, contact periods of 1 min, 10 min, 8 h and longer (values from memory).
    #[must_use]
    pub const fn burn_threshold_celsius(self) -> f64 {
        match self {
            Self::OneMinute => 51.0,
            Self::TenMinutes => 48.0,
            Self::EightHours => 43.0,
        }
    }
}

/// Tells whether bare metal of this temperature stays under the burn threshold for this contact.
///
/// At the threshold itself the answer is no, and so it is for a temperature that is not a number. Background
/// only, see the module's caution: it defers to the maker's instructions.
///
/// ```
/// # use coldbed_mock::sim::touch::{Contact, safe_to_touch};
/// assert!(safe_to_touch(42.9, Contact::default()));
/// assert!(!safe_to_touch(60.0, Contact::OneMinute));
/// ```
#[must_use]
pub fn safe_to_touch(surface_celsius: f64, contact: Contact) -> bool {
    surface_celsius < contact.burn_threshold_celsius()
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: ISO 13732-1:2006, metal, 1 min, 10 min, 8 h (values from memory).
    #[test]
    fn thresholds_are_those_of_the_metal_rows() {
        let rows = Contact::ALL.map(Contact::burn_threshold_celsius);
        assert_eq!(rows.map(|celsius| celsius.round() as i32), [51, 48, 43]);
    }

    #[test]
    fn leaving_a_hand_on_is_the_default_contact() {
        assert!(safe_to_touch(42.99, Contact::default()));
        assert!(!safe_to_touch(43.0, Contact::default()));
    }

    #[test]
    fn a_longer_contact_never_allows_a_hotter_surface() {
        for pair in Contact::ALL.windows(2) {
            assert!(pair[0].burn_threshold_celsius() > pair[1].burn_threshold_celsius());
        }
    }

    #[test]
    fn a_bed_at_sixty_is_safe_for_no_listed_contact() {
        assert!(
            Contact::ALL
                .iter()
                .all(|&contact| !safe_to_touch(60.0, contact))
        );
    }

    #[test]
    fn an_unknown_temperature_is_not_safe() {
        assert!(!safe_to_touch(f64::NAN, Contact::OneMinute));
    }
}
