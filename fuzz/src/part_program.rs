//! A part program.

use coldbed_mock::sim::motion::generator::{Shape, TestPrint, TestPrintOptions};
use coldbed_mock::sim::motion::plan::{
    Cursor, OnBrokenLine, Plan, PlanOptions, ProgramStep, plan_program,
};

/// Few, so that a short program already makes the plan grow coarser.
const MAX_STEPS: usize = 64;

/// Plans a program, broken lines treated in each way. Sums fit, times are numbers, and the plan can
/// be walked.
///
/// # Panics
/// One of these does not hold.
pub fn target(bytes: &[u8]) {
    if bytes.len() > super::MOST_BYTES {
        return;
    }
    for on_broken_line in [
        OnBrokenLine::Stop,
        OnBrokenLine::Skip,
        OnBrokenLine::BreakOff,
    ] {
        let options = PlanOptions {
            on_broken_line,
            max_steps: MAX_STEPS,
            ..PlanOptions::default()
        };
        match plan_program(bytes, &options) {
            Ok(plan) => check(&plan),
            Err(error) => assert!(!error.to_string().is_empty()),
        }
    }
}

fn check(plan: &Plan) {
    let (mut motion_s, mut moves) = (0.0, 0);
    for step in &plan.steps {
        match step {
            ProgramStep::Motion(chunk) => {
                assert!(chunk.duration_s.is_finite() && chunk.duration_s > 0.0);
                assert!(chunk.filament_mm >= 0.0, "{}", chunk.filament_mm);
                assert!(chunk.start.byte < chunk.end.byte);
                motion_s += chunk.duration_s;
                moves += chunk.moves;
            }
            ProgramStep::Dwell { duration_s, .. } => assert!(*duration_s >= 0.0),
            _ => {}
        }
    }
    let told_s = plan.totals.motion_s;
    assert!((motion_s - told_s).abs() <= 1e-9 * told_s.max(1.0));
    assert_eq!(moves, plan.totals.moves);
    let mut cursor = Cursor::new(0.0);
    for _ in 0..MAX_STEPS {
        cursor.walk(plan, 0.1);
        cursor.release(plan);
        let _moment = cursor.moment(plan);
    }
}

/// Gives the beginnings of test prints, and words that those do not use.
pub fn seeds() -> Vec<Vec<u8>> {
    const OTHER_WORDS: &str = "%\nO7 (a name)\nN1 G20 G91\nN2 G2 X1 Y1 I0.5 J0 F100\nG3 X0 Y0 R2\n\
        /G4 P500\nG4 S1.5\nM104 S200\nM109 S210\nM190 S60\nM106 S128\nM107\nG92 E0\nG28 X Y\nM0\n\
        T1\nM600\nG1 X1e3 Y-.5 Z+2. ; to the end\n*71\nM82\nM83\nG90\nM30\n%\nG1 X9\n";
    let shapes = [
        Shape::RingTower {
            radius_mm: 40.0,
            sides: Some(12),
        },
        Shape::RingTower {
            radius_mm: 5.0,
            sides: None,
        },
    ];
    let prints = shapes.into_iter().map(|shape| {
        let options = TestPrintOptions {
            shape,
            ..TestPrintOptions::default()
        };
        let print = TestPrint::new(options).expect("the numbers are within their bounds");
        let lines = print.lines().take(80).map(|line| line + "\n");
        lines.collect::<String>().into_bytes()
    });
    prints.chain([OTHER_WORDS.as_bytes().to_vec()]).collect()
}
