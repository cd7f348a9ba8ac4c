//! The boards and cells that come with the binary, each figure with its source.
//!
//! Boards are named for what they are: a maker's data sheet is where the figures come from, not what
//! is judged. "Data sheet" is the one named at the board's first figure of that kind.

use super::board::Board;
use super::cell::Cell;
use super::error::PowerError;
use super::figure::Figure;
use super::figure::Mark::{CommonPractice, FromMemory, LookedUp, OwnChoice};

type Named<T> = (&'static str, fn() -> T);

const BOARDS: &[Named<Board>] = &[
    ("wifi-two-core", wifi_two_core),
    ("wifi-one-core", wifi_one_core),
    ("wifi-small", wifi_small),
    ("wifi-two-core-usb", wifi_two_core_usb),
    ("wall-display", wall_display),
];

const CELLS: &[Named<Cell>] = &[
    ("lipo-400", || any_cell(400.0)),
    ("lipo-1000", || any_cell(1000.0)),
    ("lipo-2000", || any_cell(2000.0)),
    ("18650-2500", || any_cell(2500.0)),
];

pub(super) fn board(name: &str) -> Result<Board, PowerError> {
    let mut board = find("board", BOARDS, name)?;
    name.clone_into(board.name.to_mut());
    Ok(board)
}

pub(super) fn board_names() -> Vec<&'static str> {
    names(BOARDS)
}

pub(super) fn cell(name: &str) -> Result<Cell, PowerError> {
    let mut cell = find("cell", CELLS, name)?;
    name.clone_into(cell.name.to_mut());
    Ok(cell)
}

pub(super) fn cell_names() -> Vec<&'static str> {
    names(CELLS)
}

/// Gives a name that `like` takes in that section.
pub(super) fn example(section: &str) -> &'static str {
    match section {
        "cell" => "lipo-1000",
        _ => "wifi-two-core",
    }
}

fn names<T>(known: &[Named<T>]) -> Vec<&'static str> {
    known.iter().map(|(name, _)| *name).collect()
}

fn find<T>(what: &'static str, known: &[Named<T>], name: &str) -> Result<T, PowerError> {
    match known.iter().find(|(known, _)| *known == name) {
        Some((_, make)) => Ok(make()),
        None => Err(PowerError::unknown_name(what, name, &names(known))),
    }
}

/// A module with two cores, nothing else on the board.
pub(super) fn wifi_two_core() -> Board {
    Board {
        name: "wifi-two-core".into(),
        active: Figure::new(
            110.0,
            "listening at 95 to 100 mA with short bursts of 180 to 240 mA",
            OwnChoice,
        ),
        receive: Figure::new(
            100.0,
            "ESP32 Series data sheet, RF current table: 95 to 100 mA",
            FromMemory,
        ),
        joined: Figure::new(
            1.2,
            "ESP-WROOM-32 manual, Table 5: light-sleep between beacons, DTIM1",
            LookedUp,
        ),
        deep_sleep: Figure::new(
            0.01,
            "ESP32 Series data sheet, power modes: timer and its memory",
            FromMemory,
        ),
        always: Figure::new(0.005, "a thrifty regulator: from 5 uA", CommonPractice),
        display: Figure::new(0.0, "none", OwnChoice),
        wake: Figure::new(0.2, "0.1 to 0.5 s", CommonPractice),
        join: Figure::new(
            0.3,
            "channel kept: 0.1 s of scan and 20 to 300 ms of handshakes",
            CommonPractice,
        ),
        address: Figure::new(
            0.005,
            "address kept, ARP 1 to 10 ms; with DHCP add 0.01 to 1 s",
            CommonPractice,
        ),
        connect: Figure::new(0.01, "RFC 9293: one round trip of 10 ms", CommonPractice),
        request: Figure::new(0.02, "LAN over Wi-Fi, 2 to 20 ms", CommonPractice),
        handshake: Figure::new(
            1.0,
            "public-key arithmetic on a small controller, 0.2 to 2 s",
            CommonPractice,
        ),
        beacon: Figure::new(
            0.1024,
            "IEEE 802.11 beacon interval, usual value 100 TU of 1.024 ms, DTIM1",
            FromMemory,
        ),
        rate: Figure::new(1.0, "the slowest rate; 1 kB costs 8 ms", OwnChoice),
    }
}

/// A module with one core.
fn wifi_one_core() -> Board {
    Board {
        active: Figure::new(
            80.0,
            "listening at 63 to 68 mA with short bursts of 120 to 190 mA",
            OwnChoice,
        ),
        receive: Figure::new(
            68.0,
            "ESP32-S2-WROOM data sheet V1.1: 63 to 68 mA",
            LookedUp,
        ),
        joined: Figure::new(
            1.2,
            "no figure in its data sheet: light-sleep 0.55 mA, beacons as on two cores",
            OwnChoice,
        ),
        deep_sleep: Figure::new(
            0.025,
            "ESP32-S2-WROOM data sheet V1.1: timer and its memory",
            LookedUp,
        ),
        ..wifi_two_core()
    }
}

/// A small module of an older kind.
fn wifi_small() -> Board {
    Board {
        active: Figure::new(
            80.0,
            "listening at 56 mA with short bursts of 120 to 170 mA",
            OwnChoice,
        ),
        receive: Figure::new(56.0, "ESP8266EX data sheet, RF current table", FromMemory),
        joined: Figure::new(
            0.9,
            "ESP8266EX data sheet, Table 3-4: light-sleep",
            LookedUp,
        ),
        deep_sleep: Figure::new(0.02, "ESP8266EX data sheet, Table 3-4", LookedUp),
        ..wifi_two_core()
    }
}

/// The two-core module on a development board.
fn wifi_two_core_usb() -> Board {
    Board {
        always: Figure::new(
            10.0,
            "USB chip and power LED of a development board: 1 to 15 mA",
            CommonPractice,
        ),
        ..wifi_two_core()
    }
}

/// The two-core module behind a display that is always lit.
fn wall_display() -> Board {
    Board {
        display: Figure::new(50.0, "backlight: 20 to 100 mA", CommonPractice),
        ..wifi_two_core()
    }
}

/// A lithium cell of that many mAh.
pub(super) fn any_cell(capacity_milliamp_hours: f64) -> Cell {
    Cell {
        name: "".into(),
        capacity: Figure::new(
            capacity_milliamp_hours,
            "a usual size; what is printed on it",
            CommonPractice,
        ),
        usable: Figure::new(
            80.0,
            "about 0.8: regulator drop-out, ageing, cold",
            CommonPractice,
        ),
        self_discharge: Figure::new(3.0, "2 to 5 % a month", CommonPractice),
    }
}
