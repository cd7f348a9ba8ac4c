//! Writes a test print of our own geometry to standard output:
//! `cargo run -p coldbed-mock --example test_print -- [box|ring] [LAYERS] [SIZE_MM] > print.gcode`
//!
//! For the mock's planner, not for a printer: nobody has laid these shapes on a bed.

use std::io::Write as _;

use coldbed_mock::sim::motion::generator::{Shape, TestPrint, TestPrintOptions};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let given: Vec<String> = std::env::args().skip(1).collect();
    let word =
        |at: usize, default: &'static str| given.get(at).map_or(default.to_owned(), String::clone);
    let size_mm: f64 = word(2, "40").parse()?;
    let shape = match word(0, "box").as_str() {
        "box" => Shape::HollowBox { side_mm: size_mm },
        "ring" => Shape::RingTower {
            radius_mm: size_mm / 2.0,
            sides: None,
        },
        other => return Err(format!("`{other}` is no shape [box or ring]").into()),
    };
    let print = TestPrint::new(TestPrintOptions {
        shape,
        layers: word(1, "20").parse()?,
        ..TestPrintOptions::default()
    })?;
    let mut out = std::io::stdout().lock();
    for line in print.lines() {
        writeln!(out, "{line}")?;
    }
    Ok(())
}
