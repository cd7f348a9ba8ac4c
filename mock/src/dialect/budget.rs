//! How large a body may become.

use super::render::RenderError;

/// The largest a body may be, counted as one for each value and one for each byte of text: a loop
/// over a loop must not fill the memory.
///
/// Chosen: far above any body that a small client could hold.
const MAX_SIZE: usize = 4_000_000;

/// The deepest a body may nest, parts included.
///
/// Half of what common JSON readers accept (128 in the one used here).
const MAX_DEPTH: usize = 64;

/// Counts down while a body is rendered.
#[derive(Debug)]
pub(super) struct Budget {
    left: usize,
}

impl Budget {
    pub(super) fn new() -> Self {
        Self { left: MAX_SIZE }
    }

    /// Takes one value at a depth off.
    ///
    /// # Errors
    /// The body nests too deep or is too large.
    pub(super) fn value(&mut self, depth: usize) -> Result<(), RenderError> {
        if depth > MAX_DEPTH {
            let message = format!("body nests deeper than {MAX_DEPTH}");
            return Err(RenderError::of_the_whole(message));
        }
        self.text(1)
    }

    /// Takes text of a length in bytes off.
    ///
    /// # Errors
    /// The body is too large.
    pub(super) fn text(&mut self, length: usize) -> Result<(), RenderError> {
        self.left = self.left.checked_sub(length).ok_or_else(|| {
            let message = format!("body is larger than {MAX_SIZE} values and bytes of text");
            RenderError::of_the_whole(message)
        })?;
        Ok(())
    }
}
