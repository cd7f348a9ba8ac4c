//! How long a part program takes to plan: one million moves, and a text of 50 MB.
//!
//! Both are read from memory, so that only the reader and the planner are measured.

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};

use coldbed_mock::sim::motion::generator::{Shape, TestPrint, TestPrintOptions};
use coldbed_mock::sim::motion::plan::{PlanOptions, plan_program};

/// A ring of straight sides with filling: short moves, as real programs have.
fn text_of_at_least(bytes: u64) -> String {
    let options = TestPrintOptions {
        shape: Shape::RingTower {
            radius_mm: 40.0,
            sides: Some(720),
        },
        infill_spacing_mm: Some(2.0),
        ..TestPrintOptions::default()
    };
    let print = TestPrint::new(options).and_then(|print| print.of_at_least(bytes));
    let print = print.expect("the numbers are within their bounds");
    print.lines().map(|line| line + "\n").collect()
}

fn plan(text: &str) -> u64 {
    let plan = plan_program(text.as_bytes(), &PlanOptions::default());
    plan.expect("a test print has no broken line").totals.moves
}

fn planning(criterion: &mut Criterion) {
    let whole = text_of_at_least(50_000_000);
    let moves = plan(&whole);
    // The moves are spread evenly, so that share of the lines has a million of them.
    let lines = whole.lines().count();
    let share = 1_000_000.0 / moves as f64;
    let million: String = whole
        .lines()
        .take((lines as f64 * share) as usize)
        .flat_map(|line| [line, "\n"])
        .collect();
    let mut group = criterion.benchmark_group("planning");
    group.sample_size(10);
    for (name, text) in [("a million moves", &million), ("50 MB", &whole)] {
        println!("{name}: {} moves, {} bytes", plan(text), text.len());
        group.throughput(Throughput::Bytes(text.len() as u64));
        group.bench_function(name, |bencher| {
            bencher.iter_batched(|| text, |text| plan(text), BatchSize::LargeInput);
        });
    }
    group.finish();
}

criterion_group!(benches, planning);
criterion_main!(benches);
