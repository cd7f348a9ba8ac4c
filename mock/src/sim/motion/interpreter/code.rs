//! The codes that are carried out, and which of them exclude each other on a line.

use super::error::{CodeFault, CodeName};
use crate::sim::HeaterKind;
use crate::sim::motion::bounds::CODE_NUMBER;

/// Names what a code asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Code {
    Motion(Motion),
    Dwell,
    Inch,
    Millimetre,
    PlaneXy,
    Home,
    Absolute,
    Incremental,
    SetPosition,
    Pause,
    OptionalPause,
    End,
    MaterialAbsolute,
    MaterialRelative,
    MotorsOff,
    Heater { heater: HeaterKind, wait: bool },
    FanOn,
    FanOff,
}

/// Names the motion that axis words mean until another is named.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Motion {
    Rapid,
    Feed,
    ArcClockwise,
    ArcCounter,
}

/// Names the sets of which one code may stand on a line.
///
/// # Source
/// NISTIR 6556, modal groups (from memory): motion, plane, distance, units, stopping. Axis codes are here with the motion
/// because both use the axis words. Heaters and fan are of this project: their S words could not be told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Group {
    UsesAxes,
    Dwell,
    Plane,
    Units,
    Distance,
    Stopping,
    Material,
    Motors,
    UsesS,
}

pub(super) const GROUPS: usize = Group::UsesS as usize + 1;

impl Code {
    /// Finds the meaning of a code, none if it has none here.
    ///
    /// # Source
    /// See the module `interpreter`.
    pub(super) fn find(name: CodeName) -> Option<Self> {
        if !name.tenths.is_multiple_of(10) {
            return None;
        }
        let heater = |heater, wait| Some(Self::Heater { heater, wait });
        match (name.letter, name.tenths / 10) {
            (b'G', 0) => Some(Self::Motion(Motion::Rapid)),
            (b'G', 1) => Some(Self::Motion(Motion::Feed)),
            (b'G', 2) => Some(Self::Motion(Motion::ArcClockwise)),
            (b'G', 3) => Some(Self::Motion(Motion::ArcCounter)),
            (b'G', 4) => Some(Self::Dwell),
            (b'G', 17) => Some(Self::PlaneXy),
            (b'G', 20) => Some(Self::Inch),
            (b'G', 21) => Some(Self::Millimetre),
            (b'G', 28) => Some(Self::Home),
            (b'G', 90) => Some(Self::Absolute),
            (b'G', 91) => Some(Self::Incremental),
            (b'G', 92) => Some(Self::SetPosition),
            (b'M', 0) => Some(Self::Pause),
            (b'M', 1) => Some(Self::OptionalPause),
            (b'M', 2 | 30) => Some(Self::End),
            (b'M', 82) => Some(Self::MaterialAbsolute),
            (b'M', 83) => Some(Self::MaterialRelative),
            (b'M', 84) => Some(Self::MotorsOff),
            (b'M', 104) => heater(HeaterKind::Extruder, false),
            (b'M', 109) => heater(HeaterKind::Extruder, true),
            (b'M', 140) => heater(HeaterKind::Platform, false),
            (b'M', 190) => heater(HeaterKind::Platform, true),
            (b'M', 106) => Some(Self::FanOn),
            (b'M', 107) => Some(Self::FanOff),
            _ => None,
        }
    }

    pub(super) fn group(self) -> Group {
        match self {
            Self::Motion(_) | Self::Home | Self::SetPosition => Group::UsesAxes,
            Self::Dwell => Group::Dwell,
            Self::PlaneXy => Group::Plane,
            Self::Inch | Self::Millimetre => Group::Units,
            Self::Absolute | Self::Incremental => Group::Distance,
            Self::Pause | Self::OptionalPause | Self::End => Group::Stopping,
            Self::MaterialAbsolute | Self::MaterialRelative => Group::Material,
            Self::MotorsOff => Group::Motors,
            Self::Heater { .. } | Self::FanOn | Self::FanOff => Group::UsesS,
        }
    }
}

impl CodeName {
    /// Reads the number after G or M, which may have one decimal.
    pub(super) fn read(letter: u8, value: f64) -> Result<Self, CodeFault> {
        let tenths = CODE_NUMBER.check(value)? * 10.0;
        if (tenths - tenths.round()).abs() > 1e-6 {
            return Err(CodeFault::CodeNumber { value });
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "within 0 to 99999 by the bound"
        )]
        let tenths = tenths.round() as u32;
        Ok(Self { letter, tenths })
    }
}
