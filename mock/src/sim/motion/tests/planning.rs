//! What a plan holds: steps in order, layers, filament, bounded size.

use std::fmt::Write as _;

use super::{assert_near, plan, resting};
use crate::sim::HeaterKind;
use crate::sim::motion::plan::{MotionChunk, Place, Plan, PlanOptions, ProgramStep};
use crate::sim::motion::planner::MotionLimits;

fn chunks(plan: &Plan) -> Vec<MotionChunk> {
    let keep = |step: &ProgramStep| {
        if let ProgramStep::Motion(chunk) = step {
            Some(*chunk)
        } else {
            None
        }
    };
    plan.steps.iter().filter_map(keep).collect()
}

fn layers(plan: &Plan) -> Vec<(u32, f64)> {
    let keep = |step: &ProgramStep| match step {
        ProgramStep::LayerChange { index, z_mm } => Some((*index, *z_mm)),
        _ => None,
    };
    plan.steps.iter().filter_map(keep).collect()
}

#[test]
fn steps_stand_in_the_order_of_the_program() {
    let text = "M140 S60\nM190 S60\nG1 X10 F600\nM106 S255\nX20\nG4 S1\nM0\nM2\nG1 X99\n";
    let heater = HeaterKind::Platform;
    let found = plan(text, &resting(500.0)).steps;
    let [target, wait, first, fan, second, dwell, pause, end] = &found[..] else {
        panic!("{found:#?}")
    };
    assert_eq!(
        *target,
        ProgramStep::SetTarget {
            heater,
            celsius: 60.0
        }
    );
    assert_eq!(
        *wait,
        ProgramStep::WaitTarget {
            heater,
            celsius: 60.0,
            place: Place { line: 2, byte: 18 }
        }
    );
    assert!(
        matches!(first, ProgramStep::Motion(chunk) if chunk.start == Place { line: 3, byte: 18 })
    );
    assert_eq!(*fan, ProgramStep::Fan { fraction: 1.0 });
    assert!(
        matches!(second, ProgramStep::Motion(chunk) if chunk.end == Place { line: 5, byte: 44 })
    );
    assert_eq!(
        *dwell,
        ProgramStep::Dwell {
            duration_s: 1.0,
            place: Place { line: 6, byte: 50 }
        }
    );
    assert_eq!(
        *pause,
        ProgramStep::Pause {
            place: Place { line: 7, byte: 53 }
        }
    );
    assert_eq!(
        *end,
        ProgramStep::End {
            place: Place { line: 8, byte: 56 }
        }
    );
}

#[test]
fn a_step_of_no_length_keeps_its_place_within_the_window() {
    let mut text = String::from("G91\nF6000\n");
    for index in 0..200 {
        writeln!(text, "G1 X1\nM106 S{index}").unwrap();
    }
    let options = PlanOptions {
        limits: MotionLimits::default(),
        ..resting(500.0)
    };
    let mut moves = 0.0;
    for step in plan(&text, &options).steps {
        match step {
            #[expect(clippy::cast_precision_loss, reason = "two hundred")]
            ProgramStep::Motion(chunk) => moves += chunk.moves as f64,
            ProgramStep::Fan { fraction } => assert_near(fraction * 255.0, moves - 1.0, 1e-9),
            _ => {}
        }
    }
}

#[test]
fn a_program_without_an_end_code_ends_with_its_text() {
    let text = "G1 X10 F600\n(done)\n";
    let end = Place {
        line: 2,
        byte: text.len() as u64,
    };
    assert_eq!(
        plan(text, &resting(500.0)).steps.last(),
        Some(&ProgramStep::End { place: end })
    );
    assert_eq!(
        plan("", &resting(500.0)).steps,
        [ProgramStep::End {
            place: Place::default()
        }]
    );
}

#[test]
fn a_layer_begins_with_its_first_bead_and_not_with_a_lift() {
    let text = "M83\nF600\nG1 Z0.2\nG1 X10 E1\nG0 Z0.8\nG1 E2\nG0 X0\nG0 Z0.4\nG1 X10 E1\nG1 X0 E1\nG0 Z5\nG0 X50\n";
    let plan = plan(text, &resting(500.0));
    let found = layers(&plan);
    assert_eq!(
        found.iter().map(|layer| layer.0).collect::<Vec<_>>(),
        [1, 2]
    );
    assert_near(found[0].1, 0.2, 1e-12);
    assert_near(found[1].1, 0.4, 1e-12);
    assert_eq!(plan.totals.layers, 2);
    assert_eq!(chunks(&plan).iter().map(|chunk| chunk.layer).max(), Some(2));
}

#[test]
fn a_second_object_from_the_bottom_up_counts_its_layers_on() {
    let text = "M83\nF600\nG1 Z0.2\nX10 E1\nZ0.4\nX0 E1\nZ5\nX50\nZ0.2\nX60 E1\n";
    assert_eq!(plan(text, &resting(500.0)).totals.layers, 3);
}

#[test]
fn filament_is_what_was_fed_farthest_so_retractions_count_nothing() {
    let text = "M83\nF600\nG1 X10 E5\nE-2\nX20\nE2\nX30 E5\nE-2\n";
    assert_near(plan(text, &resting(500.0)).totals.filament_mm, 10.0, 1e-9);
    let absolute = "F600\nG1 X10 E5\nE3\nX20\nE5\nX30 E10\nE8\nG92 E0\nE2\nX40 E3\n";
    assert_near(
        plan(absolute, &resting(500.0)).totals.filament_mm,
        11.0,
        1e-9,
    );
}

// Source: volume flow is bead cross-section by speed: 0.08 mm2 * 60 mm/s = 4.8 mm3/s.
#[test]
fn a_long_bead_flows_at_cross_section_by_speed() {
    let filament_mm = 10_000.0 * 0.08 / (std::f64::consts::PI * 0.875 * 0.875);
    let plan = plan(
        &format!("G1 X10000 E{filament_mm:.6} F3600"),
        &resting(500.0),
    );
    assert_near(
        chunks(&plan)[0].flow_mm3_per_s(plan.filament_area_mm2),
        4.8,
        0.005,
    );
    // Source: 1.75 mm of diameter make 2.40528 mm2.
    assert_near(plan.filament_area_mm2, 2.405_28, 5e-6);
}

#[test]
fn unknown_codes_are_counted_by_name() {
    let plan = plan(
        "G21\nM900 K1\nG64\nM900 K2\nG10.1 X5\nT0\n",
        &resting(500.0),
    );
    let found: Vec<_> = plan
        .ignored
        .each()
        .map(|ignored| (ignored.code.to_string(), ignored.count))
        .collect();
    let expected =
        [("G10.1", 1), ("G64", 1), ("M900", 2)].map(|(code, count)| (code.to_owned(), count));
    assert_eq!(found, expected);
}

#[test]
fn a_long_program_fits_its_bound_and_keeps_its_sums() {
    let mut text = String::from("M83\nF6000\n");
    for layer in 1..=500 {
        writeln!(text, "G0 Z{:.1}", f64::from(layer) * 0.2).unwrap();
        for turn in 0..50 {
            writeln!(text, "G1 X{} E1\nM106 S{}", turn % 2 * 100, turn).unwrap();
        }
    }
    let free = plan(&text, &resting(500.0));
    let tight = plan(
        &text,
        &PlanOptions {
            max_steps: 1000,
            ..resting(500.0)
        },
    );
    assert!(free.steps.len() > 10_000, "{} steps", free.steps.len());
    assert!(tight.steps.len() <= 1000, "{} steps", tight.steps.len());
    assert_eq!(free.totals, tight.totals);
    for plan in [&free, &tight] {
        let found = chunks(plan);
        assert_near(
            found.iter().map(|chunk| chunk.duration_s).sum(),
            plan.totals.motion_s,
            1e-6,
        );
        assert_near(
            found.iter().map(|chunk| chunk.naive_s).sum(),
            plan.totals.naive_s,
            1e-6,
        );
        assert_near(
            found.iter().map(|chunk| chunk.filament_mm).sum(),
            plan.totals.filament_mm,
            1e-6,
        );
        assert_eq!(
            found.iter().map(|chunk| chunk.moves).sum::<u64>(),
            plan.totals.moves
        );
    }
}

#[test]
fn a_step_below_the_least_layer_is_none_and_a_fine_one_counts_where_asked_for() {
    let text = "M83\nF600\nG1 Z0.2\nX10 E1\nZ0.201\nX0 E1\nX10 E1\n";
    assert_eq!(plan(text, &resting(500.0)).totals.layers, 1);
    let fine = PlanOptions {
        layer_step_mm: 2e-4,
        ..resting(500.0)
    };
    assert_eq!(plan(text, &fine).totals.layers, 2);
}

#[test]
fn a_chunk_reaches_from_its_first_line_to_its_last() {
    let text = "M83\nF600\nG1 Z1\n(note)\nX1\nX2 Z2\nX3\n";
    let options = PlanOptions {
        chunk_s: 100.0,
        ..resting(500.0)
    };
    let found = chunks(&plan(text, &options));
    assert_eq!(found.len(), 1);
    assert_eq!(
        (found[0].start, found[0].end),
        (Place { line: 3, byte: 9 }, Place { line: 7, byte: 34 })
    );
    assert_near(found[0].start_z_mm, 0.0, 1e-12);
    assert_near(found[0].end_z_mm, 2.0, 1e-12);
}
