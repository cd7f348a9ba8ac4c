//! A scenario drawn over its length, or written as a table.
//!
//! Owns: what is shown of the truth ([`Chart`], a value), where it goes on the page, the drawing as
//! SVG and PNG, the table as CSV. Does not own: the simulation, files, the command line.
//!
//! The order of things: a [`Window`] is simulated tick by tick into a [`Chart`], which keeps the
//! extremes of every column of pixels, so that no spike is lost however long the window is; the
//! chart is drawn once, as SVG; the PNG is that SVG, rendered.

mod chart;
mod column;
mod draw;
mod error;
mod format;
mod marks;
mod png;
mod spans;
mod table;
mod ticks;
mod window;

pub use chart::{Chart, HeaterSeries};
pub use column::{Point, Run};
pub use draw::{Size, missing_sign, svg};
pub use error::PlotError;
pub use format::Format;
pub use marks::Mark;
pub use png::png;
pub use spans::Span;
pub use table::{DEFAULT_STEP, step_ticks, write_table};
pub use window::Window;
