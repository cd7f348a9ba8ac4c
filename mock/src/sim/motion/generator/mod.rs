//! Writes test prints of simple shapes, whose time and material are known beforehand.
//!
//! The text is made line by line, so a program can be of any size. The same print gives the same text.
//! The shapes are for planners, not for printing: nobody has laid them on a bed. Whoever does all the same stays with
//! the machine, as with any print.

mod expected;
mod lines;
mod path;
mod print;
mod text;

pub use expected::Expected;
pub use lines::Lines;
pub use print::{BeadShape, MaterialAxis, PrintError, Shape, TestPrint, TestPrintOptions};
pub use text::ProgramText;
