//! Jobs that carry out part programs.

use std::sync::Arc;

use super::super::{PlannedProgram, Program, Scenario};
use super::{CLIP, Shelf, WHOLE, with};

fn job(keys: &str, program: &str) -> Result<Arc<PlannedProgram>, String> {
    let text = with(WHOLE, "duration = \"45m\"", keys);
    let shelf = [("dir/clip.gcode", program)];
    let scenario =
        Scenario::load("dir/my.toml", &text, &Shelf(&shelf)).map_err(|e| e.to_string())?;
    match &scenario.jobs[0].program {
        Program::Planned(planned) => Ok(Arc::clone(planned)),
        Program::Duration { .. } => panic!("it is a program"),
    }
}

#[test]
fn a_broken_line_refuses_the_scenario_with_file_line_and_column_of_the_program() {
    assert_eq!(
        job("program = \"clip.gcode\"", CLIP).unwrap_err(),
        "dir/clip.gcode:9: column 5: unexpected `^` [job[0].program asks for this program; \
         on-broken-line = \"skip\" leaves such lines out, \"abort\" ends the job there]"
    );
}

#[test]
fn a_broken_line_is_left_out_and_counted_where_that_is_asked_for() {
    let planned = job("program = \"clip.gcode\"\non-broken-line = \"skip\"", CLIP).unwrap();
    assert_eq!(planned.plan.broken.count(), 1);
}

#[test]
fn a_program_may_break_off_before_its_broken_line() {
    let planned = job("program = \"clip.gcode\"\non-broken-line = \"abort\"", CLIP).unwrap();
    assert!(planned.plan.broken.breaks_off());
    let broken = &planned.plan.broken.first()[0];
    assert_eq!((broken.line, broken.column), (9, 5));
    // The move to X60 is carried out, the one to Y60 behind the broken line is not.
    assert!((planned.plan.totals.filament_mm - 2.5).abs() < 1e-9);
    assert_eq!(planned.bytes, CLIP.len() as u64);
}

#[test]
fn the_length_of_a_program_is_that_of_the_whole_text_beyond_its_end_too() {
    let planned = job("program = \"clip.gcode\"\non-broken-line = \"skip\"", CLIP).unwrap();
    assert_eq!(planned.bytes, CLIP.len() as u64);
    assert!(planned.plan.totals.bytes < planned.bytes);
}

#[test]
fn a_program_that_is_not_there_is_told_with_its_path() {
    assert_eq!(
        job("program = \"clop.gcode\"", CLIP).unwrap_err(),
        "dir/my.toml:27: job[0].program: `dir/clop.gcode` cannot be read: no such file"
    );
}

#[test]
fn a_program_in_which_nothing_takes_time_is_refused() {
    assert_eq!(
        job("program = \"clip.gcode\"", "G21\nM104 S200\n").unwrap_err(),
        "dir/my.toml:27: job[0].program: the program's time, 0s is outside 100ms to 744h"
    );
}

#[test]
fn a_program_for_a_hotter_printer_is_refused_unless_lines_may_be_skipped() {
    let hot = CLIP
        .replace("M109 S210", "M109 S320")
        .replace("G1 X^\n", "");
    assert_eq!(
        job("program = \"clip.gcode\"", &hot).unwrap_err(),
        "dir/my.toml:27: job[0].program: the program asks for 320 C of the extruder, which takes \
         0 to 290 C [on-broken-line = \"skip\" lets it ask]"
    );
    assert!(job("program = \"clip.gcode\"\non-broken-line = \"skip\"", &hot).is_ok());
}

#[test]
fn drives_without_limits_of_their_own_are_those_of_the_planner_and_slower_ones_take_longer() {
    let text = CLIP.replace("G1 X^\n", "");
    let usual = job("program = \"clip.gcode\"", &text).unwrap();
    let slow = job(
        "program = \"clip.gcode\"\nmotion = { max-x-millimetres-per-second = 5 }",
        &text,
    )
    .unwrap();
    // X goes 10 mm and then 50 mm; at 5 mm/s that alone is 12 s.
    assert!(usual.plan.totals.motion_s < 12.0);
    assert!(slow.plan.totals.motion_s > 12.0);
}

#[test]
fn a_made_print_has_the_layers_and_the_targets_that_the_job_says() {
    use crate::sim::motion::plan::ProgramStep;

    let planned = job(
        "print = { height-millimetres = 3, layer-height-millimetres = 0.3 }",
        "",
    )
    .unwrap();
    assert_eq!(planned.plan.totals.layers, 10);
    let waits: Vec<f64> = planned
        .plan
        .steps
        .iter()
        .filter_map(|step| match step {
            ProgramStep::WaitTarget { celsius, .. } => Some(*celsius),
            _ => None,
        })
        .collect();
    assert_eq!(waits, [60.0, 210.0]);
}
