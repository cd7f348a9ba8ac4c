//! What each code does.
//!
//! Source: NISTIR 6556 for the codes it has (from memory), common practice for the others; see the module
//! `interpreter`.

use super::{assert_near, commands_of};
use crate::sim::HeaterKind;
use crate::sim::motion::interpreter::{
    Command, DwellUnit, InterpreterOptions, MaterialMode, Move, MoveKind, OptionalLines, Path,
    RapidSpeed,
};

fn all(text: &str) -> Vec<Command> {
    commands_of(text, InterpreterOptions::default())
}

fn moves_with(text: &str, options: InterpreterOptions) -> Vec<Move> {
    let keep = |command| {
        if let Command::Move(step) = command {
            Some(step)
        } else {
            None
        }
    };
    commands_of(text, options)
        .into_iter()
        .filter_map(keep)
        .collect()
}

fn moves(text: &str) -> Vec<Move> {
    moves_with(text, InterpreterOptions::default())
}

fn last_place(text: &str) -> [f64; 4] {
    let end = moves(text).last().unwrap().end;
    [end.xyz_mm[0], end.xyz_mm[1], end.xyz_mm[2], end.material_mm]
}

fn assert_place(text: &str, expected: [f64; 4]) {
    for (found, expected) in last_place(text).into_iter().zip(expected) {
        assert_near(found, expected, 1e-9);
    }
}

#[test]
fn feed_is_per_minute_and_lasts() {
    let found = moves("G1 X10 F1200\nX20\nG0 Y5\n");
    let speeds: Vec<f64> = found.iter().map(|step| step.feed_mm_per_s).collect();
    assert!(
        speeds.iter().all(|speed| (speed - 20.0).abs() < 1e-12),
        "{speeds:?}"
    );
    assert_eq!(found[2].kind, MoveKind::Rapid);
}

#[test]
fn a_rapid_may_have_a_speed_of_its_own() {
    let options = InterpreterOptions {
        rapid: RapidSpeed::Fixed { mm_per_s: 150.0 },
        ..InterpreterOptions::default()
    };
    assert_near(moves_with("G0 X10", options)[0].feed_mm_per_s, 150.0, 1e-12);
}

#[test]
fn an_inch_is_25_4_mm_for_places_and_feed() {
    assert_place("G20 G1 X1 E1 F60", [25.4, 0.0, 0.0, 25.4]);
    assert_near(moves("G20 G1 X1 F60")[0].feed_mm_per_s, 25.4, 1e-12);
    assert_place("G20\nG1 X1 F60\nG21\nX50.8", [50.8, 0.0, 0.0, 0.0]);
}

#[test]
fn incremental_counts_from_the_last_place() {
    assert_place("G91 G1 X10 Y-5 F600\nX1\nG90 Y2", [11.0, 2.0, 0.0, 0.0]);
}

#[test]
fn the_material_axis_has_its_own_mode() {
    assert_place("G91\nG1 X10 E5 F600\nX10 E6", [20.0, 0.0, 0.0, 6.0]);
    assert_place("M83\nG1 X10 E5 F600\nX20 E6", [20.0, 0.0, 0.0, 11.0]);
    assert_place("M83\nG1 X10 E5 F600\nM82\nX20 E6", [20.0, 0.0, 0.0, 6.0]);
}

#[test]
fn the_distance_mode_may_switch_the_material_axis_too() {
    let options = InterpreterOptions {
        material_mode: MaterialMode::FollowsDistanceMode,
        ..InterpreterOptions::default()
    };
    let found = moves_with("G91\nG1 X10 E5 F600\nX10 E6", options);
    assert_near(found[1].end.material_mm, 11.0, 1e-12);
}

#[test]
fn setting_the_position_moves_nothing_and_shifts_what_follows() {
    let text = "G1 X10 E5 F600\nG92 X0 E0\nG1 X1 E1";
    assert_eq!(moves(text).len(), 2);
    assert_place(text, [11.0, 0.0, 0.0, 6.0]);
}

#[test]
fn homing_drives_to_the_switches_and_ends_their_offsets() {
    let options = InterpreterOptions {
        start_mm: [50.0, 60.0, 7.0],
        ..InterpreterOptions::default()
    };
    let home = moves_with("G28", options)[0];
    assert_eq!(
        (home.kind, home.end.xyz_mm.map(f64::to_bits)),
        (MoveKind::Home, [0.0; 3].map(f64::to_bits))
    );
    let only_x = moves_with("G28 X", options)[0];
    assert_eq!(
        only_x.end.xyz_mm.map(f64::to_bits),
        [0.0_f64, 60.0, 7.0].map(f64::to_bits)
    );
    assert_place("G1 X10 F600\nG92 X100\nG28\nG1 X1", [1.0, 0.0, 0.0, 0.0]);
    assert_eq!(all("G28"), [Command::Settle]);
}

#[test]
fn dwell_takes_p_in_milliseconds_and_s_in_seconds_and_s_wins() {
    assert_eq!(all("G4 P1500"), [Command::Dwell { duration_s: 1.5 }]);
    assert_eq!(all("G4 S2"), [Command::Dwell { duration_s: 2.0 }]);
    assert_eq!(all("G4 P1500 S2"), [Command::Dwell { duration_s: 2.0 }]);
    assert_eq!(all("G4 P0"), [Command::Settle]);
}

#[test]
fn dwell_takes_p_in_seconds_where_the_report_is_followed() {
    let options = InterpreterOptions {
        dwell: DwellUnit::Seconds,
        ..InterpreterOptions::default()
    };
    assert_eq!(
        commands_of("G4 P1.5", options),
        [Command::Dwell { duration_s: 1.5 }]
    );
}

#[test]
fn heaters_get_targets_with_and_without_a_wait() {
    let (extruder, platform) = (HeaterKind::Extruder, HeaterKind::Platform);
    let set = |heater, celsius| Command::SetTarget { heater, celsius };
    let wait = |heater, celsius| Command::WaitTarget { heater, celsius };
    assert_eq!(all("M104 S200"), [set(extruder, 200.0)]);
    assert_eq!(
        all("M109 S200"),
        [set(extruder, 200.0), wait(extruder, 200.0)]
    );
    assert_eq!(all("M140 S60"), [set(platform, 60.0)]);
    assert_eq!(all("M190 S60"), [set(platform, 60.0), wait(platform, 60.0)]);
    assert_eq!(all("M109 S0"), [set(extruder, 0.0)]);
}

#[test]
fn the_fan_counts_to_255_and_is_full_without_a_number() {
    assert_eq!(all("M106 S51"), [Command::Fan { fraction: 0.2 }]);
    assert_eq!(all("M106"), [Command::Fan { fraction: 1.0 }]);
    assert_eq!(all("M107"), [Command::Fan { fraction: 0.0 }]);
}

#[test]
fn stops_pause_and_ends_end() {
    assert_eq!(all("M0"), [Command::Pause]);
    assert_eq!(all("M1"), []);
    let stops = InterpreterOptions {
        optional_stop: true,
        ..InterpreterOptions::default()
    };
    assert_eq!(commands_of("M1", stops), [Command::Pause]);
    assert_eq!(all("M2"), [Command::End]);
    assert_eq!(all("M30"), [Command::End]);
    assert_eq!(all("M84"), [Command::Settle]);
}

#[test]
fn words_of_a_line_are_carried_out_in_a_fixed_order() {
    let found = all("M0 X10 G1 G4 S1 F600 M106 S255"
        .replace(" S255", "")
        .as_str());
    assert!(matches!(
        found[..],
        [
            Command::Fan { .. },
            Command::Dwell { .. },
            Command::Move(_),
            Command::Pause
        ]
    ));
}

#[test]
fn lines_marked_optional_are_left_out_when_block_delete_is_on() {
    let on = InterpreterOptions {
        optional_lines: OptionalLines::LeaveOut,
        ..InterpreterOptions::default()
    };
    assert_eq!(commands_of("/M0\nM2", on), [Command::End]);
    assert_eq!(all("/M0\nM2"), [Command::Pause, Command::End]);
}

#[test]
fn arcs_by_centre_and_by_radius_go_the_same_way() {
    let by_centre = moves("G1 X10 F600\nG3 X0 Y10 I-10 J0");
    let by_radius = moves("G1 X10 F600\nG3 X0 Y10 R10");
    for found in [by_centre[1], by_radius[1]] {
        let Path::Arc(arc) = found.path else {
            panic!("{found:?}")
        };
        assert_near(arc.length_mm(), 10.0 * std::f64::consts::FRAC_PI_2, 1e-9);
        assert_near(arc.centre_mm[0].hypot(arc.centre_mm[1]), 0.0, 1e-6);
    }
}

#[test]
fn an_arc_without_an_end_is_a_full_circle() {
    let Path::Arc(arc) = moves("G2 I5 F600")[0].path else {
        panic!()
    };
    assert_near(arc.sweep_rad, std::f64::consts::TAU, 1e-12);
}

#[test]
fn the_centre_of_an_arc_counts_from_its_start_in_both_modes_and_in_inches() {
    let Path::Arc(arc) = moves("G1 X10 Y10 F600\nG20\nG2 I1")[1].path else {
        panic!()
    };
    assert_near(arc.centre_mm[0], 35.4, 1e-9);
    assert_near(arc.centre_mm[1], 10.0, 1e-9);
}

#[test]
fn a_move_to_the_same_place_is_none() {
    assert_eq!(moves("G1 X10 F600\nG1 X10\nG1 F900\nG1").len(), 1);
}

#[test]
fn axis_words_beside_an_unknown_code_belong_to_it() {
    assert_eq!(moves("G1 X1 F600\nM201 X500 Y500\nG10 X7 F1").len(), 1);
    assert_eq!(moves("G1 X1 F600\nG1 X2 M777").len(), 2);
}

// Common practice: M84 may name the axes whose motors it switches off.
#[test]
fn axis_letters_beside_motors_off_move_nothing() {
    assert_eq!(all("G1 F600\nM84 X Y E"), [Command::Settle]);
}

#[test]
fn a_radius_word_alone_is_no_arc_left_over_from_before() {
    assert_eq!(moves("G2 X10 R8 F600\nM104 S200 R180").len(), 1);
}

// NISTIR 6556 (from memory): motion codes last, arcs too.
#[test]
fn an_arc_goes_on_with_axis_or_centre_words_alone() {
    assert_eq!(moves("G2 X10 R8 F600\nX20 R8\nI5").len(), 3);
}

#[test]
fn a_position_set_in_inches_is_in_inches() {
    assert_place("G20\nG1 X1 F60\nG92 X2\nG1 X3", [50.8, 0.0, 0.0, 0.0]);
}

#[test]
fn a_feed_beside_an_unknown_code_belongs_to_it() {
    assert_near(
        moves("G1 X1 F600\nG64 F6\nX2")[1].feed_mm_per_s,
        10.0,
        1e-12,
    );
}
