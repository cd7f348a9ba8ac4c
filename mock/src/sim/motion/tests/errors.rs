//! What is said about broken lines, with line and column.

use std::io::{self, BufRead, Read};

use super::{plan, resting};
use crate::sim::motion::interpreter::RapidSpeed;
use crate::sim::motion::plan::{OnBrokenLine, PlanError, PlanOptions, plan_program};
use crate::sim::motion::planner::CornerRule;

/// Each program breaks at the line and column said.
const SAID: [(&str, &str); 29] = [
    ("G1 X-", "line 1, column 4: number after `X` has no digit"),
    ("G21\n\nG1 X1 ^", "line 3, column 7: unexpected `^`"),
    ("G1 X\u{e9}", "line 1, column 5: unexpected byte 0xc3"),
    (
        "G1 (a",
        "line 1, column 4: comment is not closed on its line",
    ),
    ("G1 (a(", "line 1, column 6: comment within a comment"),
    (
        "N123456",
        "line 1, column 7: line number has more than 5 digits",
    ),
    ("N", "line 1, column 1: line number has no digit"),
    (
        "G1 N1",
        "line 1, column 4: line number is not the first word of its line",
    ),
    (
        "X1 X2",
        "line 1, column 4: letter `X` appears twice on the line",
    ),
    (
        "M1 M2 M3 M4 M5",
        "line 1, column 13: more than 4 M words on the line",
    ),
    (
        "G1 X#1",
        "line 1, column 5: parameters and expressions are not carried out (found `#`)",
    ),
    ("G", "line 1, column 1: no number after `G`"),
    ("G1 F600 X", "line 1, column 9: no number after `X`"),
    (
        "G1.25",
        "line 1, column 1: code number 1.25 has more than one decimal",
    ),
    (
        "G-1",
        "line 1, column 1: code number -1 (no unit) is outside 0 to 9999.9 (no unit)",
    ),
    (
        "G90 G91",
        "line 1, column 5: G91 cannot share a line with G90",
    ),
    (
        "G1 G92 X0",
        "line 1, column 4: G92 cannot share a line with G1",
    ),
    (
        "M104 M140 S60",
        "line 1, column 6: M140 cannot share a line with M104",
    ),
    ("G4", "line 1, column 1: G4 has no P or S"),
    (
        "G4 P-1",
        "line 1, column 4: dwell -0.001 s is outside 0 to 604800 s",
    ),
    ("M109", "line 1, column 1: M109 has no S"),
    (
        "M104 S-5",
        "line 1, column 6: heater target -5 celsius is outside 0 to 1000 celsius",
    ),
    (
        "M106 S256",
        "line 1, column 6: fan setting 256 of 255 is outside 0 to 255 of 255",
    ),
    (
        "X10",
        "line 1, column 1: axis words without a motion code (no G0 to G3 so far)",
    ),
    (
        "G90 G1 X10",
        "line 1, column 5: no feed so far (give F with the first move)",
    ),
    (
        "G1 X1 F0",
        "line 1, column 7: speed 0 mm/s is outside 0.001 to 100000 mm/s",
    ),
    ("F600 G2 X10", "line 1, column 1: G2 has no I or J or R"),
    (
        "F600 G2 X10 R5 I5",
        "line 1, column 13: arc has both R and a centre (give R, or I and J)",
    ),
    (
        "F600 G2 X10 I6",
        "line 1, column 13: arc ends 2.0000 mm off its circle (up to 0.002 mm is accepted)",
    ),
];

#[test]
fn a_broken_line_is_named_with_line_column_and_fault() {
    for (text, said) in SAID {
        match plan_program(text.as_bytes(), &resting(500.0)) {
            Err(error) => assert_eq!(error.to_string(), said, "{text:?}"),
            Ok(plan) => panic!("{text:?} has a plan: {plan:?}"),
        }
    }
}

#[test]
fn skipped_lines_are_left_out_counted_and_listed() {
    let options = PlanOptions {
        on_broken_line: OnBrokenLine::Skip,
        ..resting(500.0)
    };
    let plan = plan(
        "G1 X10 F600\nG1 X20 Y-\nG1 X1e\nG90 G91\nG1 X11\n",
        &options,
    );
    let said: Vec<String> = plan
        .broken
        .first()
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(
        said,
        [
            "line 2, column 8: number after `Y` has no digit",
            "line 3, column 6: no number after `E`",
            "line 4, column 5: G91 cannot share a line with G90",
        ]
    );
    assert_eq!((plan.broken.count(), plan.totals.moves), (3, 2));
    // 10 mm and 1 mm, so nothing of the broken lines has moved anything.
    assert!((plan.totals.path_mm - 11.0).abs() < 1e-9);
}

#[test]
fn the_list_of_skipped_lines_is_bounded_and_the_count_is_not() {
    let options = PlanOptions {
        on_broken_line: OnBrokenLine::Skip,
        ..resting(500.0)
    };
    let plan = plan(&"?\n".repeat(5000), &options);
    assert_eq!(
        (plan.broken.count(), plan.broken.first().len()),
        (5000, 100)
    );
}

#[test]
fn a_failing_input_is_no_broken_line() {
    struct Failing;
    impl Read for Failing {
        fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
            Err(io::Error::other("gone"))
        }
    }
    impl BufRead for Failing {
        fn fill_buf(&mut self) -> io::Result<&[u8]> {
            Err(io::Error::other("gone"))
        }
        fn consume(&mut self, _: usize) {}
    }
    let options = PlanOptions {
        on_broken_line: OnBrokenLine::Skip,
        ..resting(500.0)
    };
    assert!(matches!(
        plan_program(Failing, &options),
        Err(PlanError::Input(_))
    ));
}

#[test]
fn every_option_out_of_bounds_is_refused_by_name() {
    type Change = fn(&mut PlanOptions);
    let changes: [(&str, Change); 13] = [
        ("start", |options| {
            options.interpreter.start_mm[1] = f64::NAN;
        }),
        ("home", |options| options.interpreter.home_mm[2] = 1e9),
        ("homing", |options| {
            options.interpreter.homing_mm_per_s = 0.0;
        }),
        ("rapid", |options| {
            options.interpreter.rapid = RapidSpeed::Fixed { mm_per_s: -1.0 }
        }),
        ("arc", |options| options.interpreter.arc_tolerance_mm = -0.1),
        ("acceleration", |options| {
            options.limits.acceleration_mm_per_s2 = 0.0;
        }),
        ("axis", |options| {
            options.limits.axis_speeds.z_mm_per_s = 0.0;
        }),
        ("corner", |options| {
            options.limits.corner = CornerRule::Deviation { mm: -1.0 }
        }),
        ("window", |options| options.limits.window_moves = 0),
        ("filament", |options| {
            options.filament_diameter_mm = f64::NAN;
        }),
        ("layer", |options| options.layer_step_mm = 0.0),
        ("chunk", |options| options.chunk_s = 0.0),
        ("steps", |options| options.max_steps = 1),
    ];
    let said: Vec<String> = changes
        .iter()
        .map(|(name, change)| {
            let mut options = resting(500.0);
            change(&mut options);
            plan_program(&b""[..], &options).map_or_else(
                |error| error.to_string(),
                |_| format!("{name} was accepted"),
            )
        })
        .collect();
    assert_eq!(
        said,
        [
            "plan option: coordinate NaN mm is outside -100000 to 100000 mm",
            "plan option: coordinate 1000000000 mm is outside -100000 to 100000 mm",
            "plan option: speed 0 mm/s is outside 0.001 to 100000 mm/s",
            "plan option: speed -1 mm/s is outside 0.001 to 100000 mm/s",
            "plan option: arc tolerance -0.1 mm is outside 0 to 1 mm",
            "plan option: acceleration 0 mm/s2 is outside 1 to 1000000 mm/s2",
            "plan option: speed 0 mm/s is outside 0.001 to 100000 mm/s",
            "plan option: corner deviation -1 mm is outside 0 to 10 mm",
            "plan option: look-ahead window 0 moves is outside 1 to 4096 moves",
            "plan option: filament diameter NaN mm is outside 0.1 to 20 mm",
            "plan option: layer step 0 mm is outside 0.0001 to 100 mm",
            "plan option: chunk length 0 s is outside 0.01 to 3600 s",
            "plan option: plan size 1 steps is outside 16 to 10000000 steps",
        ]
    );
}

#[test]
fn a_plan_full_of_stops_is_refused() {
    let options = PlanOptions {
        max_steps: 100,
        ..resting(500.0)
    };
    match plan_program("M0\n".repeat(200).as_bytes(), &options) {
        Err(PlanError::TooManySteps { max_steps, line }) => {
            assert_eq!((max_steps, line), (100, 100));
        }
        other => panic!("{other:?}"),
    }
}
