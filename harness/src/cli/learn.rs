//! Arguments of `learn`.

use std::path::PathBuf;

use clap::Args;

/// Arguments of `learn`.
#[derive(Debug, Args)]
pub struct LearnArgs {
    /// The session: an hour or more, with an idle printer, a heat-up, a print and its end.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// The dialect to write. Its comments have the evidence, and its questions begin with `# ?`. It is replaced
    /// as a whole, or not touched.
    #[arg(long, value_name = "DIALECT.toml")]
    pub to: PathBuf,
    /// Fit the heaters, too, and write them to this file, which scenarios include.
    #[arg(long, value_name = "FILE")]
    pub printer: Option<PathBuf>,
    /// What the extruder's element is taken to have: temperatures alone give ratios only.
    #[arg(long, value_name = "W", default_value_t = 40.0, value_parser = parse_watts, requires = "printer")]
    pub extruder_watts: f64,
    /// What the platform's element is taken to have.
    #[arg(long, value_name = "W", default_value_t = 180.0, value_parser = parse_watts, requires = "printer")]
    pub platform_watts: f64,
}

fn parse_watts(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(watts) if (1.0..=5000.0).contains(&watts) => Ok(watts),
        _ => Err("a power is a number of watts from 1 to 5000".to_owned()),
    }
}
