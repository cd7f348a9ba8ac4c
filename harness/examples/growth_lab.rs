//! Prints made-up series and what their growth is estimated as, one JSON object a line, for
//! `tests/external/growth_lab.py`.

use std::io::{self, BufWriter, Write as _};

use coldbed::oracle::growth::{Growth, Sample};
use serde_json::json;

#[path = "../src/oracle/growth/series.rs"]
#[expect(dead_code, reason = "it is a module of the tests, which use all of it")]
mod series;

use series::{Noise, PAGE};

type Made = (&'static str, f64, fn(&mut Noise, usize) -> Vec<f64>);

const SERIES: [Made; 14] = [
    ("still", PAGE, series::still),
    ("flat", PAGE, series::flat),
    ("flat and slow", PAGE, series::flat_and_slow),
    ("sawtooth", PAGE, series::sawtooth),
    ("ragged sawtooth", PAGE, series::ragged_sawtooth),
    ("slow sawtooth", PAGE, series::slow_sawtooth),
    ("warm-up", PAGE, series::warm_up),
    ("long warm-up", PAGE, series::long_warm_up),
    ("late jump", PAGE, series::late_jump),
    ("leak", PAGE, |noise, polls| {
        series::leak(noise, polls, 100.0)
    }),
    ("leak in slow noise", PAGE, |noise, polls| {
        series::leak_in_slow_noise(noise, polls, 100.0)
    }),
    ("leak in steps", 131_072.0, |noise, polls| {
        series::leak_in_steps(noise, polls, 655.36, 131_072.0)
    }),
    ("open files", 1.0, series::open_files),
    ("forgotten files", 1.0, series::forgotten_files),
];
const SEEDS: u64 = 25;
/// An even number, one that is no multiple of the blocks, and the fewest that are judged.
const LENGTHS: [usize; 3] = [2000, 777, 80];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut out = BufWriter::new(io::stdout().lock());
    for (name, resolution, make) in SERIES {
        for seed in 0..SEEDS {
            for length in LENGTHS {
                let mut noise = Noise::new(seed);
                let values = make(&mut noise, length);
                // Polls that do not come at equal distances.
                let mut polls = 0.0;
                let samples: Vec<Sample> = values
                    .into_iter()
                    .map(|value| {
                        polls += 1.0 + (2.0 * noise.share()).floor();
                        Sample { polls, value }
                    })
                    .collect();
                let line = json!({
                    "series": name,
                    "seed": seed,
                    "resolution": resolution,
                    "polls": samples.iter().map(|sample| sample.polls).collect::<Vec<_>>(),
                    "values": samples.iter().map(|sample| sample.value).collect::<Vec<_>>(),
                    "growth": Growth::of(&samples, resolution)?,
                });
                writeln!(out, "{line}")?;
            }
        }
    }
    out.flush()?;
    Ok(())
}
