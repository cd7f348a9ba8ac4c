//! The truth as a table, one row a step.

use std::io::Write;
use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::scenario::Scenario;
use coldbed_mock::sim::{Simulation, Tick, Truth, VirtualTime};

use super::chart::actual_celsius;
use super::{PlotError, Window};

/// The step when none is asked for: as often as a keen watcher polls.
pub const DEFAULT_STEP: Duration = Duration::from_secs(1);

/// Checks the table's step: a whole number of the simulation's periods, so that the seconds in the
/// table are exact and no row repeats the one before.
///
/// # Errors
/// [`PlotError::OffTheGrid`] for any other step, zero among them.
pub fn step_ticks(step: Duration) -> Result<Tick, PlotError> {
    let tick = VirtualTime::new(step).tick();
    if tick.0 > 0 && tick.start().since_start() == step {
        return Ok(tick);
    }
    Err(PlotError::OffTheGrid {
        step,
        period: Tick::PERIOD,
    })
}

/// Writes the table: a header, then the truth at the window's start and after every `step`.
///
/// A field is empty where the truth has none: no reading, no job, a remaining time that the host
/// does not know yet. Gives the number of rows below the header.
///
/// # Errors
/// [`PlotError::Table`] when `out` does not take a row.
///
/// # Source
/// RFC 4180 section 2: CRLF ends a line, a field that holds a comma, a quote or a line end is
/// quoted.
pub fn write_table(
    scenario: &Arc<Scenario>,
    seed: u64,
    window: Window,
    step: Tick,
    out: impl Write,
) -> Result<u64, PlotError> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(out);
    writer.write_record(header(scenario))?;
    let mut simulation = Simulation::new(Arc::clone(scenario), seed);
    let mut rows = 0;
    for at in window.moments(step) {
        writer.write_record(row(&simulation.truth_at(at.start())))?;
        rows += 1;
    }
    writer.flush().map_err(csv::Error::from)?;
    Ok(rows)
}

/// Names the columns as a dialect's expressions name the same things.
fn header(scenario: &Scenario) -> Vec<String> {
    let mut names = vec!["seconds".to_owned(), "phase".to_owned()];
    for heater in scenario.heaters.keys() {
        let columns = [
            "actual_celsius",
            "true_celsius",
            "target_celsius",
            "power_watts",
        ];
        names.extend(columns.map(|column| format!("{heater}_{column}")));
    }
    names.extend(["progress_percent", "elapsed_seconds", "remaining_seconds"].map(str::to_owned));
    names
}

fn row(truth: &Truth) -> Vec<String> {
    let mut fields = vec![
        number(1, Some(truth.at.as_seconds())),
        truth.phase.word().to_owned(),
    ];
    for heater in truth.heaters.values() {
        fields.push(number(2, actual_celsius(heater)));
        fields.push(number(2, Some(heater.true_celsius)));
        fields.push(number(2, Some(heater.target_celsius)));
        fields.push(number(2, Some(heater.power_watts)));
    }
    let job = truth.job.as_ref();
    // A six-hour job gains 0.0005 percent a tick.
    fields.push(number(4, job.map(|job| job.progress_percent)));
    fields.push(number(1, job.map(|job| job.elapsed_seconds)));
    fields.push(number(1, job.and_then(|job| job.remaining_seconds)));
    fields
}

fn number(decimals: usize, value: Option<f64>) -> String {
    let Some(value) = value else {
        return String::new();
    };
    let text = format!("{value:.decimals$}");
    // A little less than nothing is nothing: `-0.00` would be another text for the same number.
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|byte| matches!(byte, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(scenario: &Arc<Scenario>, from_s: u64, until_s: u64, step_s: u64) -> String {
        let window = Window::new(Duration::from_secs(from_s), Duration::from_secs(until_s));
        let step = step_ticks(Duration::from_secs(step_s)).unwrap();
        let mut bytes = Vec::new();
        write_table(scenario, 1, window.unwrap(), step, &mut bytes).unwrap();
        String::from_utf8(bytes).unwrap()
    }

    fn builtin(name: &str) -> Arc<Scenario> {
        Arc::new(Scenario::builtin(name).unwrap().unwrap())
    }

    #[test]
    fn a_small_table_line_by_line() {
        // Up to here both heaters are at full power, so that no tuning of a controller shows.
        let table = table(&builtin("heat-up"), 29, 149, 24);
        insta::assert_snapshot!(table.replace("\r\n", "\n"));
    }

    #[test]
    fn what_the_host_does_not_know_yet_is_an_empty_field() {
        let table = table(&builtin("heat-up"), 10, 310, 100);
        let rows = table.lines().skip(1);
        let known: Vec<(&str, [bool; 3])> = rows
            .map(|row| {
                let fields: Vec<&str> = row.split(',').collect();
                // Progress, elapsed, remaining.
                (
                    fields[1],
                    [10, 11, 12].map(|index| !fields[index].is_empty()),
                )
            })
            .collect();
        assert_eq!(
            known,
            [
                ("idle", [false, false, false]),
                ("heating", [true, true, false]),
                ("printing", [true, true, true]),
                ("printing", [true, true, true]),
            ]
        );
    }

    #[test]
    fn every_line_ends_as_rfc_4180_section_2_asks() {
        let table = table(&builtin("heat-up"), 0, 3, 1);
        assert_eq!(table.matches("\r\n").count(), 5);
        assert_eq!(table.matches('\n').count(), 5);
        assert!(table.ends_with("\r\n"));
    }

    #[test]
    fn a_heaters_name_with_comma_and_quote_is_quoted() {
        let mut scenario = Scenario::builtin("heat-up").unwrap().unwrap();
        let (_, extruder) = scenario.heaters.shift_remove_index(0).unwrap();
        let name = "left, \"hot\"".to_owned();
        scenario.heaters.shift_insert(0, name, extruder);
        let scenario = Arc::new(scenario);
        let table = table(&scenario, 0, 1, 1);
        assert!(
            table.starts_with("seconds,phase,\"left, \"\"hot\"\"_actual_celsius\","),
            "{table}"
        );
        // Read back, the header has as many fields as the rows.
        let mut reader = csv::Reader::from_reader(table.as_bytes());
        assert_eq!(reader.headers().unwrap().len(), 13);
        assert!(reader.records().all(|record| record.unwrap().len() == 13));
    }

    #[test]
    fn the_end_of_the_window_has_a_row_when_the_step_meets_it() {
        let last = |step_s| {
            let table = table(&builtin("heat-up"), 10, 20, step_s);
            let row = table.lines().last().unwrap();
            row.split(',').next().map(str::to_owned)
        };
        assert_eq!(last(5).as_deref(), Some("20.0"));
        assert_eq!(last(4).as_deref(), Some("18.0"));
    }

    #[test]
    fn a_little_less_than_nothing_is_written_as_nothing() {
        assert_eq!(number(2, Some(-0.004)), "0.00");
        assert_eq!(number(2, Some(-0.006)), "-0.01");
        assert_eq!(number(1, None), "");
    }

    #[test]
    fn a_step_off_the_simulations_grid_is_refused() {
        for ms in [0, 50, 150, 1_001] {
            let error = step_ticks(Duration::from_millis(ms)).unwrap_err();
            assert!(matches!(error, PlotError::OffTheGrid { .. }), "{ms}");
        }
        let message = step_ticks(Duration::from_millis(150)).unwrap_err();
        assert!(
            message.to_string().starts_with("--step 150ms is not"),
            "{message}"
        );
        assert_eq!(step_ticks(Duration::from_millis(300)).unwrap(), Tick(3));
    }
}
