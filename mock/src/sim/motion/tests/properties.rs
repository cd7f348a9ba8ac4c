//! What holds for any input.

use std::io::BufReader;

use proptest::prelude::*;

use super::{plan, resting};
use crate::sim::motion::interpreter::{Move, MoveKind, Path, Position};
use crate::sim::motion::plan::{OnBrokenLine, PlanOptions, ProgramStep, plan_program};
use crate::sim::motion::planner::{
    AxisSpeeds, CornerRule, LookAhead, MotionLimits, Planned, Segment, corner_speed_squared,
};

fn skipping() -> PlanOptions {
    PlanOptions {
        on_broken_line: OnBrokenLine::Skip,
        ..PlanOptions::default()
    }
}

/// Programs of words that mostly mean something.
fn programs() -> impl Strategy<Value = String> {
    let number = prop_oneof![
        4 => (-200_i32..200).prop_map(|n| n.to_string()),
        4 => (-200.0..200.0_f64).prop_map(|n| format!("{n:.3}")),
        1 => "[-+]?[0-9]{0,3}\\.?[0-9]{0,3}",
        1 => "[0-9]{20}",
    ];
    let code = prop::sample::select(vec![
        "G0", "G1", "G1", "G1", "G2", "G3", "G4", "G20", "G21", "G28", "G90", "G91", "G92", "M0",
        "M82", "M83", "M84", "M104", "M106", "M107", "M109", "M140", "M190", "G5", "M999", "", "",
        "(c)", ";", "/", "N7",
    ]);
    let word = (
        prop::sample::select(vec!["X", "Y", "Z", "E", "F", "I", "J", "R", "S", "P"]),
        number,
    )
        .prop_map(|(letter, number)| format!("{letter}{number}"));
    let line = (code, prop::collection::vec(word, 0..5))
        .prop_map(|(code, words)| format!("{code} {}", words.join(" ")));
    prop::collection::vec(line, 0..60).prop_map(|lines| lines.join("\n"))
}

fn check_sums(text: &[u8], options: &PlanOptions) -> Result<(), TestCaseError> {
    let plan = plan_program(text, options).unwrap();
    let (mut motion_s, mut dwell_s, mut filament_mm, mut moves) = (0.0, 0.0, 0.0, 0);
    let mut last_byte = 0;
    for step in &plan.steps {
        match step {
            ProgramStep::Motion(chunk) => {
                motion_s += chunk.duration_s;
                filament_mm += chunk.filament_mm;
                moves += chunk.moves;
                prop_assert!(chunk.duration_s.is_finite() && chunk.duration_s > 0.0);
                prop_assert!(chunk.filament_mm >= 0.0);
                prop_assert!(last_byte <= chunk.start.byte && chunk.start.byte < chunk.end.byte);
                last_byte = chunk.end.byte;
            }
            ProgramStep::Dwell { duration_s, .. } => dwell_s += duration_s,
            _ => {}
        }
    }
    let totals = plan.totals;
    prop_assert!((motion_s - totals.motion_s).abs() <= 1e-9 * totals.motion_s.max(1.0));
    prop_assert!((dwell_s - totals.dwell_s).abs() <= 1e-9 * totals.dwell_s.max(1.0));
    prop_assert!((filament_mm - totals.filament_mm).abs() <= 1e-9 * totals.filament_mm.max(1.0));
    prop_assert_eq!(moves, totals.moves);
    let ends_once = plan
        .steps
        .iter()
        .filter(|step| matches!(step, ProgramStep::End { .. }))
        .count();
    prop_assert_eq!(ends_once, 1);
    Ok(())
}

/// Moves along a random path, with lengths on a grid of 0.01 mm.
fn paths() -> impl Strategy<Value = Vec<(u32, f64, f64)>> {
    prop::collection::vec((1_u32..1500, -3.2..3.2_f64, 1.0..200.0_f64), 1..40)
}

fn segments(path: &[(u32, f64, f64)], limits: &MotionLimits) -> Vec<Segment> {
    let mut start = Position::default();
    let mut found = Vec::new();
    for (hundredths, angle_rad, feed_mm_per_s) in path {
        let (sine, cosine) = angle_rad.sin_cos();
        let length = f64::from(*hundredths) * GRID_MM;
        let [x, y, z] = start.xyz_mm;
        let end = Position {
            xyz_mm: [x + length * cosine, y + length * sine, z],
            material_mm: 0.0,
        };
        let step = Move {
            start,
            end,
            path: Path::Straight,
            feed_mm_per_s: *feed_mm_per_s,
            kind: MoveKind::Feed,
        };
        found.extend(Segment::of(&step, limits));
        start = end;
    }
    found
}

fn look_ahead(segments: &[Segment], limits: &MotionLimits) -> Vec<Planned<usize>> {
    let mut window = LookAhead::new(limits);
    let mut out = Vec::new();
    for (index, segment) in segments.iter().enumerate() {
        window.push(*segment, index, &mut |planned| out.push(planned));
    }
    window.rest(&mut |planned| out.push(planned));
    out
}

fn limits(window_moves: usize) -> MotionLimits {
    MotionLimits {
        acceleration_mm_per_s2: 1000.0,
        axis_speeds: AxisSpeeds {
            x_mm_per_s: 120.0,
            ..AxisSpeeds::UNLIMITED
        },
        corner: CornerRule::Deviation { mm: 0.05 },
        window_moves,
    }
}

const GRID_MM: f64 = 0.01;
/// Fine enough that the shortest move has points between its ends, where its speed is not 0.
const FINE_MM: f64 = GRID_MM / 4.0;

/// Finds the least time by brute force: the speed limit at every point of a fine grid, lowered backwards and
/// forwards to what the acceleration allows. Shares nothing with the window but the corner speeds.
fn least_time_s(segments: &[Segment], limits: &MotionLimits) -> f64 {
    let mut ceiling = vec![0.0];
    for (index, segment) in segments.iter().enumerate() {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a few thousand points"
        )]
        let points = (segment.length_mm / FINE_MM).round() as usize;
        ceiling.extend(std::iter::repeat_n(
            segment.cruise_mm_per_s.powi(2),
            points - 1,
        ));
        let corner = segments.get(index + 1).map_or(0.0, |next| {
            corner_speed_squared(limits.corner, segment, next)
        });
        ceiling.push(corner);
    }
    let step = 2.0 * limits.acceleration_mm_per_s2 * FINE_MM;
    for index in (1..ceiling.len()).rev() {
        ceiling[index - 1] = f64::min(ceiling[index - 1], ceiling[index] + step);
    }
    for index in 1..ceiling.len() {
        ceiling[index] = f64::min(ceiling[index], ceiling[index - 1] + step);
    }
    ceiling
        .windows(2)
        .map(|pair| 2.0 * FINE_MM / (pair[0].sqrt() + pair[1].sqrt()))
        .sum()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn any_bytes_have_a_plan_when_broken_lines_are_skipped(text in prop::collection::vec(any::<u8>(), 0..2000)) {
        check_sums(&text, &skipping())?;
    }

    #[test]
    fn any_text_of_the_right_characters_has_a_plan(text in "[GMXYZEFIJRSPNgx0-9.+\\- ();/%#\n]{0,600}") {
        check_sums(text.as_bytes(), &skipping())?;
    }

    #[test]
    fn any_program_has_a_plan_whose_parts_add_up(text in programs(), window_moves in 1_usize..80, chunk_s in 0.01..5.0_f64) {
        let mut options = PlanOptions { chunk_s, ..skipping() };
        options.limits.window_moves = window_moves;
        check_sums(text.as_bytes(), &options)?;
    }

    #[test]
    fn how_the_input_is_cut_changes_nothing(text in programs(), capacity in 1_usize..64) {
        let whole = plan(&text, &skipping());
        let cut = plan_program(BufReader::with_capacity(capacity, text.as_bytes()), &skipping()).unwrap();
        prop_assert_eq!(whole, cut);
    }

    #[test]
    fn line_ends_of_two_characters_change_only_the_bytes(text in programs()) {
        let (one, two) = (plan(&text, &skipping()), plan(&text.replace('\n', "\r\n"), &skipping()));
        prop_assert_eq!(one.totals.motion_s.to_bits(), two.totals.motion_s.to_bits());
        prop_assert_eq!(one.steps.len(), two.steps.len());
        prop_assert_eq!(one.broken, two.broken);
    }

    #[test]
    fn no_speed_is_above_its_limit_and_no_change_above_the_acceleration(path in paths(), window_moves in 1_usize..50) {
        let limits = limits(window_moves);
        let segments = segments(&path, &limits);
        let planned = look_ahead(&segments, &limits);
        prop_assert_eq!(planned.len(), segments.len());
        prop_assert!(planned[0].profile.entry_mm_per_s <= 0.0);
        prop_assert!(planned[planned.len() - 1].profile.exit_mm_per_s <= 0.0);
        for (index, found) in planned.iter().enumerate() {
            prop_assert_eq!(found.tag, index);
            let (segment, profile) = (&found.segment, &found.profile);
            prop_assert!(profile.peak_mm_per_s <= segment.cruise_mm_per_s * (1.0 + 1e-12));
            prop_assert!(profile.entry_mm_per_s.max(profile.exit_mm_per_s) <= profile.peak_mm_per_s);
            let change = (profile.entry_mm_per_s.powi(2) - profile.exit_mm_per_s.powi(2)).abs();
            prop_assert!(change <= 2.0 * limits.acceleration_mm_per_s2 * segment.length_mm * (1.0 + 1e-9) + 1e-9);
            prop_assert!((profile.distance_mm() - segment.length_mm).abs() <= 1e-6);
            if let Some(next) = planned.get(index + 1) {
                let joint = profile.exit_mm_per_s;
                prop_assert!((joint - next.profile.entry_mm_per_s).abs() <= 1e-9);
                let corner = corner_speed_squared(limits.corner, segment, &next.segment).sqrt();
                prop_assert!(joint <= corner * (1.0 + 1e-12) + 1e-12);
            }
        }
    }

    #[test]
    fn a_window_over_the_whole_path_finds_the_least_time(path in paths()) {
        let limits = limits(64);
        let segments = segments(&path, &limits);
        let found: f64 = look_ahead(&segments, &limits).iter().map(|planned| planned.profile.duration_s()).sum();
        let least = least_time_s(&segments, &limits);
        // The grid cuts the tip of each triangle off, which can only cost time, and little.
        prop_assert!(found <= least * (1.0 + 1e-9), "found {found}, brute force {least}");
        prop_assert!(found >= least * 0.99 - 0.002, "found {found}, brute force {least}");
    }

    #[test]
    fn a_longer_look_ahead_is_never_slower_than_none(path in paths(), window_moves in 2_usize..50) {
        let time = |window_moves| -> f64 {
            let limits = limits(window_moves);
            let segments = segments(&path, &limits);
            look_ahead(&segments, &limits).iter().map(|planned| planned.profile.duration_s()).sum()
        };
        prop_assert!(time(64) <= time(window_moves) * (1.0 + 1e-9));
    }

    #[test]
    fn rests_at_every_joint_are_the_slowest_way(path in paths()) {
        let stopping = MotionLimits { corner: CornerRule::Stop, ..limits(64) };
        let segments = segments(&path, &stopping);
        let total = |limits: &MotionLimits| -> f64 {
            look_ahead(&segments, limits).iter().map(|planned| planned.profile.duration_s()).sum()
        };
        prop_assert!(total(&limits(64)) <= total(&stopping) * (1.0 + 1e-9));
        for planned in look_ahead(&segments, &stopping) {
            prop_assert!(planned.profile.exit_mm_per_s <= 0.0);
        }
    }
}

#[test]
fn planning_twice_gives_the_same_bits() {
    let text = "G1 X10.123 Y3 F6000\nG2 X20.123 Y3 I5 J1.9\nG1 X1 E2\n";
    assert_eq!(plan(text, &resting(777.0)), plan(text, &resting(777.0)));
}
