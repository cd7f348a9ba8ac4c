//! What a watcher can be told to ask of the printer.

/// Names a command to the printer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CommandKind {
    /// Let the print stand still.
    Pause,
    /// Let it go on.
    Resume,
    /// Give it up.
    Cancel,
}

impl CommandKind {
    /// Every command.
    pub const ALL: [Self; 3] = [Self::Pause, Self::Resume, Self::Cancel];

    /// Gives the name in files and reports.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Pause => "pause",
            Self::Resume => "resume",
            Self::Cancel => "cancel",
        }
    }
}
