//! What is shown of a scenario: one value, made of nothing but the truth.

use std::sync::Arc;

use coldbed_mock::scenario::Scenario;
use coldbed_mock::sim::{HeaterTruth, Phase, Simulation, Tick, Truth};

use super::column::{Columns, Run};
use super::marks::{Mark, Marks};
use super::spans::{Span, Spans};
use super::window::Window;

/// Is everything a drawing shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// What the scenario shows, in one line.
    pub title: String,
    /// The scenario's built-in name or file.
    pub name: String,
    /// The seed of the sensors' noise.
    pub seed: u64,
    /// The span shown.
    pub window: Window,
    /// The heaters, in the scenario's order.
    pub heaters: Vec<HeaterSeries>,
    /// Progress of the jobs in percent; one run or more for each job.
    pub progress: Vec<Run>,
    /// The name of the job at the end of the window.
    pub job_at_end: Option<String>,
    /// The phases, one after the other.
    pub phases: Vec<Span<Phase>>,
    /// What happens, in order of time.
    pub marks: Vec<Mark>,
}

/// Is what is shown of one heater.
#[derive(Debug, Clone, PartialEq)]
pub struct HeaterSeries {
    /// The heater's name in the scenario.
    pub name: String,
    /// What the host reads from the sensor, in Celsius; broken where there is no reading.
    pub actual_celsius: Vec<Run>,
    /// The targets above zero, in Celsius; no span where the heater is off.
    pub target_celsius: Vec<Span<f64>>,
    /// The target at the window's end, in Celsius; `None` when the heater is off then.
    pub target_at_end_celsius: Option<f64>,
}

impl Chart {
    /// Simulates a scenario and keeps what `columns` columns of pixels can show of the window.
    ///
    /// Every tick of the window is looked at: a spike may last no longer than one.
    pub fn of(scenario: &Arc<Scenario>, seed: u64, window: Window, columns: u32) -> Self {
        let mut simulation = Simulation::new(Arc::clone(scenario), seed);
        let mut sketch = Sketch::new(scenario, window, columns);
        if let Some(before) = window.from().0.checked_sub(1) {
            let truth = simulation.truth_at(Tick(before).start());
            sketch.marks.before(window, &truth);
        }
        for at in window.moments(Tick(1)) {
            sketch.see(at, &simulation.truth_at(at.start()));
        }
        sketch.finish(scenario, seed, window)
    }

    /// Gives the span of all temperatures, actual and target; `None` without any.
    pub(super) fn celsius_range(&self) -> Option<(f64, f64)> {
        let heaters = self.heaters.iter();
        let all = heaters.flat_map(|heater| {
            let actual = heater.actual_celsius.iter().flatten();
            let target = heater.target_celsius.iter().map(|span| span.value);
            actual.map(|point| point.value).chain(target)
        });
        all.fold(None, |range: Option<(f64, f64)>, value| {
            let (low, high) = range.unwrap_or((value, value));
            Some((low.min(value), high.max(value)))
        })
    }
}

impl HeaterSeries {
    /// Gives the last reading, if there is one at the window's very end.
    pub(super) fn celsius_at_end(&self, window: Window) -> Option<f64> {
        let last = self.actual_celsius.last()?.last()?;
        (last.at == window.until()).then_some(last.value)
    }
}

/// Is a chart while it is made, moment by moment.
struct Sketch {
    heaters: Vec<(Columns, Spans<Option<f64>>)>,
    progress: Columns,
    job: Option<(u32, String)>,
    phases: Spans<Phase>,
    marks: Marks,
}

impl Sketch {
    fn new(scenario: &Scenario, window: Window, columns: u32) -> Self {
        let heater = |_| (Columns::new(window, columns), Spans::new());
        Self {
            heaters: scenario.heaters.keys().map(heater).collect(),
            progress: Columns::new(window, columns),
            job: None,
            phases: Spans::new(),
            marks: Marks::default(),
        }
    }

    fn see(&mut self, at: Tick, truth: &Truth) {
        for ((actual, target), heater) in self.heaters.iter_mut().zip(truth.heaters.values()) {
            actual.push(at, actual_celsius(heater));
            target.push(at, heater.on.then_some(heater.target_celsius));
        }
        let job = truth.job.as_ref();
        if self.job.as_ref().map(|(id, _)| *id) != job.map(|job| job.id) {
            self.progress.break_line();
            self.job = job.map(|job| (job.id, job.name.clone()));
        }
        self.progress.push(at, job.map(|job| job.progress_percent));
        self.phases.push(at, truth.phase);
        self.marks.see(at, truth);
    }

    fn finish(self, scenario: &Scenario, seed: u64, window: Window) -> Chart {
        let heaters = scenario.heaters.keys().zip(self.heaters);
        let heaters = heaters.map(|(name, (actual, target))| {
            let targets = target.finish();
            HeaterSeries {
                name: name.clone(),
                actual_celsius: actual.finish(),
                target_celsius: set_targets(&targets),
                target_at_end_celsius: targets.last().and_then(|span| span.value),
            }
        });
        Chart {
            title: scenario.title.clone(),
            name: scenario.name.clone(),
            seed,
            window,
            heaters: heaters.collect(),
            progress: self.progress.finish(),
            job_at_end: self.job.map(|(_, name)| name),
            phases: self.phases.finish(),
            marks: self.marks.finish(),
        }
    }
}

/// Gives the reading, if there is one.
pub(super) fn actual_celsius(heater: &HeaterTruth) -> Option<f64> {
    number(heater.actual_celsius)
}

/// Takes a number that may be missing, or be none.
fn number(value: impl Into<Option<f64>>) -> Option<f64> {
    value.into().filter(|number| number.is_finite())
}

fn set_targets(spans: &[Span<Option<f64>>]) -> Vec<Span<f64>> {
    let set = |span: &Span<Option<f64>>| {
        Some(Span {
            from: span.from,
            until: span.until,
            value: span.value?,
        })
    };
    spans.iter().filter_map(set).collect()
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    fn chart(name: &str, from_s: u64, until_s: u64) -> Chart {
        let scenario = Arc::new(Scenario::builtin(name).unwrap().unwrap());
        let window = Window::new(Duration::from_secs(from_s), Duration::from_secs(until_s));
        Chart::of(&scenario, 1, window.unwrap(), 200)
    }

    fn words(chart: &Chart) -> Vec<&str> {
        chart.phases.iter().map(|span| span.value.word()).collect()
    }

    fn marks(chart: &Chart) -> Vec<&str> {
        let marks = chart.marks.iter();
        marks.map(|mark| mark.text.as_str()).collect()
    }

    #[test]
    fn the_phases_fill_the_window_without_gap_or_overlap() {
        let chart = chart("paused", 0, 8_100);
        assert_eq!(
            words(&chart),
            [
                "idle", "heating", "printing", "paused", "printing", "finished"
            ]
        );
        let mut at = chart.window.from();
        for span in &chart.phases {
            assert_eq!(span.from, at);
            at = span.until;
        }
        assert_eq!(at, chart.window.until());
    }

    #[test]
    fn a_reason_is_marked_when_it_appears_and_not_again() {
        let chart = chart("paused", 0, 8_100);
        assert_eq!(marks(&chart), ["job plant-pot", "material-empty"]);
        // The scenario's own times: the job at 1 min, the run-out at 40 min.
        let at: Vec<u64> = chart.marks.iter().map(|mark| mark.at.0).collect();
        assert_eq!(at, [600, 24_000]);
    }

    #[test]
    fn what_began_before_the_window_is_not_shown_as_if_it_began_there() {
        let chart = chart("paused", 3_000, 3_060);
        assert_eq!(
            marks(&chart),
            ["earlier: job plant-pot", "earlier: material-empty"]
        );
        assert!(chart.marks.iter().all(|mark| mark.at == Tick(30_000)));
    }

    #[test]
    fn what_begins_with_the_windows_first_moment_is_no_older() {
        // The filament runs out at 40 min.
        let chart = chart("paused", 2_400, 2_460);
        assert_eq!(marks(&chart), ["earlier: job plant-pot", "material-empty"]);
    }

    #[test]
    fn what_protection_trips_on_is_marked_and_what_affects_no_output_is_not() {
        let chart = chart("error", 0, 2_400);
        // The keyword is the IANA IPP registry's; heating and cooling are told by `-report` ones.
        assert_eq!(marks(&chart), ["job door-stop", "extruder-failure"]);
    }

    #[test]
    fn a_reading_that_is_none_or_no_number_is_missing() {
        assert_eq!(number(None), None);
        assert_eq!(number(f64::NAN), None);
        assert_eq!(number(Some(f64::INFINITY)), None);
        assert!(number(20.5).is_some());
    }

    #[test]
    fn a_heater_that_is_off_has_no_target() {
        let chart = chart("preheat", 0, 1_800);
        let targets = |index: usize| -> Vec<(u64, u64, String)> {
            let spans = chart.heaters[index].target_celsius.iter();
            spans
                .map(|span| (span.from.0, span.until.0, format!("{:.0}", span.value)))
                .collect()
        };
        let span = |from, until, celsius: &str| (from, until, celsius.to_owned());
        // The scenario's own events: 210 at 30 s, 150 at 6 min, off at 12 min.
        assert_eq!(
            targets(0),
            [span(300, 3_600, "210"), span(3_600, 7_200, "150")]
        );
        assert_eq!(
            targets(1),
            [span(1_800, 8_400, "60"), span(12_000, 18_000, "45")]
        );
        assert_eq!(chart.heaters[0].target_at_end_celsius, None);
        assert!(chart.heaters[1].target_at_end_celsius.is_some());
    }

    #[test]
    fn a_heater_switched_off_at_the_last_moment_is_off_at_the_end() {
        // Off at 12 min, and the window ends there.
        let chart = chart("preheat", 600, 720);
        assert_eq!(chart.heaters[0].target_celsius.len(), 1);
        assert_eq!(chart.heaters[0].target_at_end_celsius, None);
    }

    #[test]
    fn two_jobs_are_two_lines_of_progress() {
        let chart = chart("two-jobs", 0, 5_400);
        assert_eq!(chart.progress.len(), 2);
        assert_eq!(chart.job_at_end.as_deref(), Some("right-bracket"));
        let starts: Vec<u64> = chart.progress.iter().map(|run| run[0].at.0).collect();
        assert_eq!(starts, [600, 24_000]);
    }

    #[test]
    fn another_seed_gives_other_noise_and_the_same_phases() {
        let scenario = Arc::new(Scenario::builtin("heat-up").unwrap().unwrap());
        let window = Window::new(Duration::ZERO, Duration::from_secs(20)).unwrap();
        let [one, again, two] = [1, 1, 2].map(|seed| Chart::of(&scenario, seed, window, 200));
        assert_eq!(one, again);
        assert_ne!(one.heaters, two.heaters);
        assert_eq!(one.phases, two.phases);
    }
}
