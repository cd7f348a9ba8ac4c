//! What a board draws, and how long the parts of a poll take on it.

use super::builtin;
use super::error::PowerError;
use super::figure::sheet;
use super::file::Section;
use super::units::{Milliamps, Seconds};

sheet! {
    /// Is a board: its currents, and the times that the parts of a poll take.
    ///
    /// Currents fall from working over listening and staying joined to deep sleep; whatever the file
    /// says is held to that order.
    Board {
        active: "active-milliamps", 1.0 to 1000.0 "mA", "awake and at work, radio on, averaged over a poll";
        receive: "receive-milliamps", 1.0 to 1000.0 "mA", "listening, as while it waits for an answer";
        joined: "joined-milliamps", 0.01 to 1000.0 "mA", "joined to the access point, asleep between beacons";
        deep_sleep: "deep-sleep-milliamps", 0.0001 to 1000.0 "mA", "deep sleep, only a timer running";
        always: "always-milliamps", 0.0 to 1000.0 "mA", "what is never off: regulator, USB chip, power LED";
        display: "display-milliamps", 0.0 to 2000.0 "mA", "a display that is always lit; 0 if there is none";
        wake: "wake-seconds", 0.0 to 60.0 "s", "from deep sleep to the application";
        join: "join-seconds", 0.0 to 60.0 "s", "joining the access point, channel known";
        address: "address-seconds", 0.0 to 60.0 "s", "an address of its own, and the host's";
        connect: "connect-seconds", 0.0 to 60.0 "s", "opening a connection: one round trip";
        request: "request-seconds", 0.0 to 60.0 "s", "the way of a request and its answer through the air";
        handshake: "handshake-seconds", 0.0 to 60.0 "s", "a full TLS handshake";
        beacon: "beacon-seconds", 0.0 to 10.0 "s", "what a joined board waits for the next beacon it listens to";
        rate: "rate-megabits-per-second", 0.01 to 1000.0 "Mbit/s", "how fast bytes go through the air";
    }
}

impl Board {
    /// Gives a built-in board.
    ///
    /// # Errors
    /// [`PowerError::UnknownName`], with the nearest name there is.
    pub fn builtin(name: &str) -> Result<Self, PowerError> {
        builtin::board(name)
    }

    /// Lists the names of the built-in boards.
    pub fn names() -> Vec<&'static str> {
        builtin::board_names()
    }

    /// Reads the `[board]` of a file; `file` is its name for messages.
    ///
    /// A `[cell]` may stand beside it and is not looked into.
    ///
    /// ```
    /// use coldbed::power::Board;
    ///
    /// let text = "[board]\nlike = \"wifi-two-core\"\nalways-milliamps = 8\n";
    /// let board = Board::parse("desk.toml", text).expect("a board");
    /// assert_eq!(board.figure("always-milliamps").expect("a key").value, 8.0);
    ///
    /// let error = Board::parse("desk.toml", "[board]\nlike = \"wifi-two-cor\"\n").unwrap_err();
    /// assert_eq!(
    ///     error.to_string(),
    ///     "desk.toml:2: there is no board `wifi-two-cor` [did you mean `wifi-two-core`?]"
    /// );
    /// ```
    ///
    /// # Errors
    /// [`PowerError::Syntax`] if it is no TOML, and what else is wrong with it: a section or key that
    /// is unknown or missing, a value that is no number or out of bounds, currents out of order.
    pub fn parse(file: &str, text: &str) -> Result<Self, PowerError> {
        let section = Section::read(file, text, "board")?;
        let base = section.like(Self::builtin)?;
        let is_whole = base.is_some();
        let mut board = base.unwrap_or_else(builtin::wifi_two_core);
        board.name = section.name()?.into();
        for (key, figure) in section.figures(Self::KEYS, is_whole)? {
            if let Some(place) = board.figure_mut(key) {
                *place = figure;
            }
        }
        board.in_order(file)?;
        Ok(board)
    }

    /// Currents out of order would make a longer sleep cost more.
    fn in_order(&self, file: &str) -> Result<(), PowerError> {
        let falling = ["active", "receive", "joined", "deep-sleep"];
        let values = [&self.active, &self.receive, &self.joined, &self.deep_sleep];
        for (names, pair) in falling.windows(2).zip(values.windows(2)) {
            let [(upper, higher), (lower, less)] = [(names[0], pair[0]), (names[1], pair[1])];
            if less.value > higher.value {
                return Err(PowerError::OutOfOrder {
                    file: file.to_owned(),
                    lower,
                    lower_milliamps: less.value,
                    upper,
                    upper_milliamps: higher.value,
                });
            }
        }
        Ok(())
    }

    pub(super) fn active(&self) -> Milliamps {
        Milliamps(self.active.value)
    }

    pub(super) fn receive(&self) -> Milliamps {
        Milliamps(self.receive.value)
    }

    /// What flows whatever the radio does.
    pub(super) fn never_off(&self) -> Milliamps {
        Milliamps(self.always.value + self.display.value)
    }

    /// The time that so many bytes take in the air.
    pub(super) fn airtime(&self, bytes: f64) -> Seconds {
        Seconds(bytes * 8.0 / (self.rate.value * 1e6))
    }
}
