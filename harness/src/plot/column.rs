//! A long series cut down to what a column of pixels can show.

use coldbed_mock::sim::Tick;

use super::Window;

/// Is one value at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// When.
    pub at: Tick,
    /// How much, in the series' unit.
    pub value: f64,
}

/// Is an unbroken part of a series, in order of time, with at least one point.
pub type Run = Vec<Point>;

/// Cuts a series down, point by point, so that its length does not matter.
///
/// Of every column it keeps the first, the lowest, the highest and the last point. A line through
/// those covers the same pixels as the line through all of them, so noise keeps its width and a
/// spike of one sample its height.
///
/// # Source
/// Jugel, Jerzak, Hackenbroich, Markl: M4, a visualization-oriented time series data aggregation,
/// PVLDB 7(10), 2014 (from memory).
#[derive(Debug)]
pub(super) struct Columns {
    window: Window,
    columns: u32,
    runs: Vec<Run>,
    open: Option<Column>,
    broken: bool,
}

#[derive(Debug)]
struct Column {
    index: u64,
    first: Point,
    low: Point,
    high: Point,
    last: Point,
}

impl Columns {
    pub(super) fn new(window: Window, columns: u32) -> Self {
        Self {
            window,
            columns: columns.max(1),
            runs: Vec::new(),
            open: None,
            broken: true,
        }
    }

    /// Takes the next value; `None` when there is none, which breaks the line.
    pub(super) fn push(&mut self, at: Tick, value: Option<f64>) {
        // A reading that is no number is no reading.
        let Some(value) = value.filter(|value| value.is_finite()) else {
            self.break_line();
            return;
        };
        let point = Point { at, value };
        let index = self.window.column(at, self.columns);
        match &mut self.open {
            Some(column) if column.index == index => column.add(point),
            _ => {
                self.close_column();
                self.open = Some(Column::new(index, point));
            }
        }
    }

    /// Lets the next value start a new line.
    pub(super) fn break_line(&mut self) {
        self.close_column();
        self.broken = true;
    }

    pub(super) fn finish(mut self) -> Vec<Run> {
        self.close_column();
        self.runs
    }

    fn close_column(&mut self) {
        let Some(column) = self.open.take() else {
            return;
        };
        if std::mem::take(&mut self.broken) {
            self.runs.push(Run::new());
        }
        if let Some(run) = self.runs.last_mut() {
            run.extend(column.points());
        }
    }
}

impl Column {
    fn new(index: u64, point: Point) -> Self {
        Self {
            index,
            first: point,
            low: point,
            high: point,
            last: point,
        }
    }

    fn add(&mut self, point: Point) {
        if point.value < self.low.value {
            self.low = point;
        }
        if point.value > self.high.value {
            self.high = point;
        }
        self.last = point;
    }

    /// Gives the points kept, in order of time and each once.
    fn points(self) -> impl Iterator<Item = Point> {
        let mut points = vec![self.first, self.low, self.high, self.last];
        points.sort_by_key(|point| point.at);
        points.dedup_by_key(|point| point.at);
        points.into_iter()
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use proptest::prelude::*;

    use super::*;

    fn cut(values: &[Option<f64>], columns: u32) -> Vec<Run> {
        let ticks = u64::try_from(values.len()).unwrap() - 1;
        let until = Tick(ticks).start().since_start();
        let window = Window::new(Duration::ZERO, until).unwrap();
        let mut series = Columns::new(window, columns);
        for (tick, value) in (0..).zip(values) {
            series.push(Tick(tick), *value);
        }
        series.finish()
    }

    #[test]
    fn a_spike_of_one_sample_among_a_million_is_kept() {
        let mut values = vec![Some(20.0); 1_000_000];
        values[123_457] = Some(400.0);
        values[876_543] = Some(-40.0);
        let runs = cut(&values, 100);
        let spikes = |value: f64| {
            let points = runs[0].iter();
            points
                .filter(|point| point.value.to_bits() == value.to_bits())
                .count()
        };
        assert_eq!((spikes(400.0), spikes(-40.0)), (1, 1));
        assert!(runs[0].len() <= 400, "{}", runs[0].len());
    }

    #[test]
    fn a_missing_or_impossible_reading_breaks_the_line() {
        let runs = cut(&[Some(1.0), None, Some(2.0), Some(f64::NAN), Some(3.0)], 50);
        let values: Vec<Vec<f64>> = runs
            .iter()
            .map(|run| run.iter().map(|point| point.value).collect())
            .collect();
        assert_eq!(values, [vec![1.0], vec![2.0], vec![3.0]]);
    }

    #[test]
    fn a_gap_inside_one_column_still_breaks_the_line() {
        let values = [Some(1.0), None, Some(2.0)];
        assert_eq!(cut(&values, 1).len(), 2);
    }

    proptest! {
        #[test]
        fn every_column_keeps_its_first_last_lowest_and_highest(
            values in prop::collection::vec(-300.0..600.0_f64, 2..400),
            columns in 1..60_u32,
        ) {
            let all: Vec<Option<f64>> = values.iter().copied().map(Some).collect();
            let kept = cut(&all, columns).remove(0);
            prop_assert!(kept.is_sorted_by(|a, b| a.at < b.at));
            prop_assert!(kept.len() <= 4 * columns as usize);
            let until = Tick(values.len() as u64 - 1).start().since_start();
            let window = Window::new(Duration::ZERO, until).unwrap();
            for column in 0..u64::from(columns) {
                let of = |at: u64| window.column(Tick(at), columns) == column;
                let full = (0..).zip(&values).filter(|(at, _)| of(*at));
                let full: Vec<f64> = full.map(|(_, value)| *value).collect();
                let cut = kept.iter().filter(|point| of(point.at.0));
                let cut: Vec<f64> = cut.map(|point| point.value).collect();
                let ends = |values: &[f64]| (values.first().copied(), values.last().copied());
                let range = |values: &[f64]| (
                    values.iter().copied().reduce(f64::min),
                    values.iter().copied().reduce(f64::max),
                );
                prop_assert_eq!(ends(&full), ends(&cut));
                prop_assert_eq!(range(&full), range(&cut));
            }
        }
    }
}
