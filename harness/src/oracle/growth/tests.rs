//! The estimate on made-up series: how often it sees what is not there, and what it misses.

use super::series::{Make, Noise, PAGE};
use super::*;

const SEEDS: u64 = 1000;
const POLLS: usize = 2000;

fn series(values: &[f64]) -> Vec<Sample> {
    let polls = (0_u32..).map(f64::from);
    polls
        .zip(values)
        .map(|(polls, value)| Sample {
            polls,
            value: *value,
        })
        .collect()
}

fn growth(values: &[f64], resolution: f64) -> Growth {
    Growth::of(&series(values), resolution).unwrap()
}

/// Gives in how many of so many runs the answer is that.
fn runs_that_say(
    answer: Growing,
    runs: u64,
    allowed: f64,
    resolution: f64,
    make: impl Fn(&mut Noise) -> Vec<f64>,
) -> u64 {
    let mut seen = 0;
    for seed in 0..runs {
        let values = make(&mut Noise::new(seed));
        seen += u64::from(grows(&growth(&values, resolution), allowed) == answer);
    }
    seen
}

/// Under 1 % of the runs, with nothing allowed at all.
fn assert_hardly_any_false_alarm(resolution: f64, make: Make) {
    let alarms = runs_that_say(Growing::Yes, SEEDS, 0.0, resolution, |noise| {
        make(noise, POLLS)
    });
    assert!(alarms < SEEDS / 100, "{alarms} of {SEEDS} runs");
}

/// Over 95 % of the runs.
fn assert_found(allowed: f64, resolution: f64, make: impl Fn(&mut Noise) -> Vec<f64>) {
    let found = runs_that_say(Growing::Yes, SEEDS, allowed, resolution, make);
    assert!(found > SEEDS * 95 / 100, "{found} of {SEEDS} runs");
}

#[test]
fn flat_memory_is_hardly_ever_said_to_grow() {
    assert_hardly_any_false_alarm(PAGE, series::flat);
}

#[test]
fn flat_memory_whose_noise_is_slow_is_hardly_ever_said_to_grow() {
    assert_hardly_any_false_alarm(PAGE, series::flat_and_slow);
}

#[test]
fn collected_memory_is_hardly_ever_said_to_grow() {
    assert_hardly_any_false_alarm(PAGE, series::sawtooth);
    assert_hardly_any_false_alarm(PAGE, series::ragged_sawtooth);
}

#[test]
fn memory_collected_only_twice_is_hardly_ever_said_to_grow() {
    assert_hardly_any_false_alarm(PAGE, series::slow_sawtooth);
}

#[test]
fn a_warm_up_is_hardly_ever_a_leak() {
    assert_hardly_any_false_alarm(PAGE, series::warm_up);
}

#[test]
fn a_warm_up_longer_than_what_is_dropped_is_hardly_ever_a_leak() {
    assert_hardly_any_false_alarm(PAGE, series::long_warm_up);
}

#[test]
fn one_jump_at_any_time_is_hardly_ever_a_leak() {
    assert_hardly_any_false_alarm(PAGE, series::late_jump);
    assert_hardly_any_false_alarm(PAGE, series::one_jump);
}

#[test]
fn open_files_that_come_and_go_are_hardly_ever_said_to_grow() {
    assert_hardly_any_false_alarm(1.0, series::open_files);
}

#[test]
fn a_leak_of_100_bytes_a_poll_is_found_in_2000_polls() {
    assert_found(20.0, PAGE, |noise| series::leak(noise, POLLS, 100.0));
    assert_found(20.0, PAGE, |noise| {
        series::leak_in_slow_noise(noise, POLLS, 100.0)
    });
}

#[test]
fn a_leak_under_a_sawtooth_is_found() {
    assert_found(100.0, PAGE, |noise| {
        series::leak_under_sawtooth(noise, POLLS, 1000.0)
    });
}

#[test]
fn steps_of_an_allocator_are_a_leak() {
    // 128 KiB each 200 polls.
    let leak = ALLOCATOR_STEP_BYTES / 200.0;
    let make = |noise: &mut Noise| series::leak_in_steps(noise, POLLS, leak, ALLOCATOR_STEP_BYTES);
    assert_found(100.0, PAGE, make);
    assert_found(100.0, ALLOCATOR_STEP_BYTES, make);
}

#[test]
fn a_file_forgotten_every_50_polls_is_found() {
    assert_found(0.005, 1.0, |noise| series::forgotten_files(noise, POLLS));
}

#[test]
fn flat_memory_is_cleared_where_a_leak_of_that_size_would_show() {
    let cleared = runs_that_say(Growing::No, SEEDS, 50.0, PAGE, |noise| {
        series::flat(noise, POLLS)
    });
    assert!(cleared > SEEDS * 95 / 100, "{cleared} of {SEEDS} runs");
}

#[test]
fn memory_that_never_changes_is_not_cleared_of_a_leak_below_its_resolution() {
    let still = growth(&series::still(&mut Noise::new(0), POLLS), PAGE);
    // A page in 1499 polls is 2.73 bytes a poll: the first kept sample is the 500th.
    assert!((still.high - PAGE / 1499.0).abs() < 1e-9);
    assert!((still.low + PAGE / 1499.0).abs() < 1e-9);
    assert_eq!(grows(&still, 2.0), Growing::CannotTell);
    assert_eq!(grows(&still, 3.0), Growing::No);
    assert_eq!(still.samples, 1500);
}

#[test]
fn the_interval_holds_the_true_leak_nearly_always() {
    let mut held = 0;
    for seed in 0..SEEDS {
        let values = series::leak_in_slow_noise(&mut Noise::new(seed), POLLS, 100.0);
        let growth = growth(&values, PAGE);
        held += u64::from((growth.low..=growth.high).contains(&100.0));
    }
    assert!(held >= SEEDS * 99 / 100, "{held} of {SEEDS} runs");
}

#[test]
fn the_answer_follows_from_the_interval_alone() {
    let growth = |low, high| Growth {
        per_poll: f64::midpoint(low, high),
        low,
        high,
        samples: 100,
        level: LEVEL,
    };
    assert_eq!(grows(&growth(11.0, 20.0), 10.0), Growing::Yes);
    assert_eq!(grows(&growth(10.0, 20.0), 10.0), Growing::CannotTell);
    assert_eq!(grows(&growth(-5.0, 10.0), 10.0), Growing::No);
    assert_eq!(grows(&growth(-5.0, 10.1), 10.0), Growing::CannotTell);
    assert_eq!(grows(&growth(-20.0, -10.0), 10.0), Growing::No);
}

#[test]
fn what_cannot_be_estimated_is_told() {
    let good = series(&vec![1.0; 100]);
    let of = |samples: &[Sample]| Growth::of(samples, 1.0).unwrap_err().to_string();
    assert_eq!(
        of(&good[..79]),
        "79 samples are too few [at least 80: let it poll longer]"
    );
    let mut bad = good.clone();
    bad[7].value = f64::NAN;
    assert_eq!(of(&bad), "sample 7 is not finite");
    bad = good.clone();
    bad[7].polls = 5.0;
    assert_eq!(of(&bad), "sample 7 is of fewer polls than the one before");
    bad = good.clone();
    for sample in &mut bad[40..] {
        sample.polls = 40.0;
    }
    assert_eq!(
        of(&bad),
        "15 polls are too few for 20 blocks [let it poll longer]"
    );
    let error = Growth::of(&good, -1.0).unwrap_err().to_string();
    assert_eq!(error, "resolution -1 is not a number from 0 up");
}

/// The page's rows: what grows, in what it is seen, and the making of it.
type Row = (&'static str, f64, fn(&mut Noise, usize, f64) -> Vec<f64>);

const ROWS: [Row; 4] = [
    ("8 KiB of noise, each sample by itself", PAGE, series::leak),
    (
        "16 KiB of noise that keeps 0.9 of itself from poll to poll",
        PAGE,
        series::leak_in_slow_noise,
    ),
    (
        "a collector that frees 512 KiB every 100 polls",
        PAGE,
        series::leak_under_sawtooth,
    ),
    (
        "an allocator that takes 128 KiB at once, and `resolution` says so",
        ALLOCATOR_STEP_BYTES,
        |noise, number, leak| series::leak_in_steps(noise, number, leak, ALLOCATOR_STEP_BYTES),
    ),
];
const LENGTHS: [usize; 5] = [200, 500, 1000, 2000, 5000];
const SIZES: [f64; 12] = [
    2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10_000.0,
];

/// The smallest leak that is found in over 95 % of 200 runs, nothing being allowed.
fn smallest_found((_, resolution, make): &Row, polls: usize) -> String {
    let found = |leak: f64| {
        let made = |noise: &mut Noise| make(noise, polls, leak);
        runs_that_say(Growing::Yes, 200, 0.0, *resolution, made) > 190
    };
    match SIZES.iter().find(|leak| found(**leak)) {
        Some(leak) => leak.to_string(),
        None => "none of these".to_owned(),
    }
}

fn table() -> String {
    let heads: String = LENGTHS
        .iter()
        .map(|polls| format!(" {polls} polls |"))
        .collect();
    let mut table = format!("| beside the leak |{heads}\n|---|{}\n", "---|".repeat(5));
    for row in &ROWS {
        let cells = LENGTHS.map(|polls| smallest_found(row, polls));
        table += &format!("| {} | {} |\n", row.0, cells.join(" | "));
    }
    table
}

const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/growth.md");
const BEGIN: &str = "<!-- made of the code: begin -->\n";
const END: &str = "<!-- made of the code: end -->\n";

#[test]
fn the_page_about_growth_says_what_is_found() {
    let fresh = format!("\n{}\n", table());
    let kept = std::fs::read_to_string(FILE).unwrap();
    let (before, rest) = kept.split_once(BEGIN).unwrap();
    let (made, after) = rest.split_once(END).unwrap();
    if std::env::var_os("COLDBED_REFRESH").is_some() {
        std::fs::write(FILE, format!("{before}{BEGIN}{fresh}{END}{after}")).unwrap();
        return;
    }
    assert!(
        made == fresh,
        "docs/growth.md is not fresh; refresh it with\n\
         COLDBED_REFRESH=1 cargo test -p coldbed the_page_about_growth_says_what_is_found"
    );
}
