//! Times of whole small programs.

use std::fmt::Write as _;

use super::{assert_near, plan, resting};
use crate::sim::motion::plan::PlanOptions;
use crate::sim::motion::planner::{AxisSpeeds, CornerRule, MotionLimits};

const SQUARE: &str = "G1 X100 F3600\nY100\nX0\nY0\n";

fn cornering(acceleration_mm_per_s2: f64, deviation_mm: f64) -> PlanOptions {
    let resting = resting(acceleration_mm_per_s2);
    let limits = MotionLimits {
        corner: CornerRule::Deviation { mm: deviation_mm },
        ..resting.limits
    };
    PlanOptions { limits, ..resting }
}

// Source: uniform acceleration, worked by hand: each side d/v + v/a = 100/60 + 60/500 = 1.78667 s.
#[test]
fn a_square_with_a_stop_at_each_corner_takes_its_four_sides() {
    let totals = plan(SQUARE, &resting(500.0)).totals;
    assert_near(totals.motion_s, 7.146_666_667, 1e-8);
    assert_near(totals.naive_s, 6.666_666_667, 1e-8);
    // Distance by speed is 7 % short.
    assert_near(1.0 - totals.naive_s / totals.motion_s, 0.067, 0.0005);
}

// Source: as above; each 1 mm takes 2 sqrt(1/500) = 0.089443 s.
#[test]
fn the_same_square_in_steps_of_a_millimetre_takes_five_times_as_long_with_stops() {
    let mut text = String::from("G91\nF3600\n");
    for (axis, step) in [("X", "1"), ("Y", "1"), ("X", "-1"), ("Y", "-1")] {
        for _ in 0..100 {
            writeln!(text, "G1 {axis}{step}").unwrap();
        }
    }
    let stopping = plan(&text, &resting(500.0)).totals;
    assert_near(stopping.motion_s, 35.777_087_64, 1e-6);
    assert_near(stopping.naive_s, 6.666_666_667, 1e-8);
    // Going on where the path is straight, only the corners stop (deviation 0), as in the square of four moves.
    assert_near(
        plan(&text, &cornering(500.0, 0.0)).totals.motion_s,
        7.146_666_667,
        1e-6,
    );
}

// Source: the corner's circle, worked by hand: s = 0.707107, r = 0.1 * 0.707107 / 0.292893 = 0.241421 mm,
// v = sqrt(500 * 0.241421) = 10.98684 mm/s. Outer sides from 0 to v: (2 * 60 - v)/a + (100 - (2 * 60^2 - v^2)/(2a))/60
// = 1.7077028 s; inner sides: 2 * (60 - v)/a + (100 - (60^2 - v^2)/a)/60 = 1.7467433 s, both by s = v^2/(2a) ramps.
#[test]
fn corners_rounded_off_save_their_braking() {
    let (v, a, cruise) = (10.986_841_f64, 500.0, 60.0_f64);
    let outer =
        (2.0 * cruise - v) / a + (100.0 - (2.0 * cruise * cruise - v * v) / (2.0 * a)) / cruise;
    let inner = 2.0 * (cruise - v) / a + (100.0 - (cruise * cruise - v * v) / a) / cruise;
    assert_near(
        plan(SQUARE, &cornering(a, 0.1)).totals.motion_s,
        2.0 * outer + 2.0 * inner,
        1e-6,
    );
}

// Source: arc length 2 pi r, rest to rest d/v + v/a.
#[test]
fn a_circle_takes_its_circumference() {
    let length = 2.0 * std::f64::consts::PI * 20.0;
    let totals = plan("G2 I20 F3600", &resting(500.0)).totals;
    assert_near(totals.path_mm, length, 1e-9);
    assert_near(totals.motion_s, length / 60.0 + 60.0 / 500.0, 1e-9);
}

// Source: v^2 = a r = 500 * 2, so 31.623 mm/s although 60 is asked for.
#[test]
fn a_small_circle_is_slowed_by_its_curvature() {
    let (length, speed) = (2.0 * std::f64::consts::PI * 2.0, 1000.0_f64.sqrt());
    assert_near(
        plan("G2 I2 F3600", &resting(500.0)).totals.motion_s,
        length / speed + speed / 500.0,
        1e-9,
    );
}

// Source: a helix is the hypotenuse of its circle and its rise.
#[test]
fn a_rising_circle_is_a_helix() {
    let flat = 2.0 * std::f64::consts::PI * 20.0;
    assert_near(
        plan("G2 I20 Z30 F3600", &resting(500.0)).totals.path_mm,
        flat.hypot(30.0),
        1e-9,
    );
}

#[test]
fn a_circle_of_short_lines_takes_the_time_of_the_arc() {
    // Radius 5: the curvature allows sqrt(1500 * 5) = 86.6 mm/s of the 150 asked for, so it matters here.
    let arc = plan("G3 I-5 F9000\n", &cornering(1500.0, 10.0))
        .totals
        .motion_s;
    let mut text = String::from("G1 F9000\n");
    for index in 1..=720 {
        let (sine, cosine) = (f64::from(index) / 720.0 * std::f64::consts::TAU).sin_cos();
        writeln!(text, "G1 X{:.9} Y{:.9}", 5.0 * cosine - 5.0, 5.0 * sine).unwrap();
    }
    let lines = plan(&text, &cornering(1500.0, 10.0)).totals.motion_s;
    assert_near(lines / arc, 1.0, 0.002);
}

// Source: a straight move along (3, 4): at 5 mm/s of path X makes 3 and Y 4 mm/s.
#[test]
fn an_axis_at_its_limit_slows_the_whole_move() {
    let mut options = resting(500.0);
    options.limits.axis_speeds = AxisSpeeds {
        y_mm_per_s: 8.0,
        ..AxisSpeeds::UNLIMITED
    };
    // 50 mm of path at 10 mm/s: 5 s and 10/500.
    assert_near(
        plan("G1 X30 Y40 F3600", &options).totals.motion_s,
        5.02,
        1e-9,
    );
    options.limits.axis_speeds = AxisSpeeds {
        material_mm_per_s: 2.0,
        ..AxisSpeeds::UNLIMITED
    };
    // 10 mm of filament on 50 mm of path: 10 mm/s again.
    assert_near(
        plan("G1 X30 Y40 E10 F3600", &options).totals.motion_s,
        5.02,
        1e-9,
    );
}

// Source: rest to rest, d/v + v/a = 4/40 + 40/500 for 4 mm (4 >= 40^2/500 = 3.2).
#[test]
fn material_alone_moves_like_an_axis_of_its_own() {
    assert_near(
        plan("G1 E-4 F2400", &resting(500.0)).totals.motion_s,
        0.18,
        1e-12,
    );
}

#[test]
fn dwells_add_to_both_estimates() {
    let totals = plan("G1 X100 F3600\nG4 S3\nG4 P500\n", &resting(500.0)).totals;
    assert_near(totals.dwell_s, 3.5, 1e-12);
    assert_near(totals.known_s(), 1.786_666_667 + 3.5, 1e-8);
    assert_near(totals.naive_s, 1.666_666_667 + 3.5, 1e-8);
}

#[test]
fn what_stops_the_motion_costs_its_braking_and_what_does_not_costs_nothing() {
    let straight = |between: &str| {
        plan(
            &format!("G1 X100 F3600\n{between}\nG1 X200\n"),
            &cornering(500.0, 0.1),
        )
    };
    // 200/60 + 60/500 in one go; a stop costs v/a = 0.12 s more.
    for free in ["", "M106 S100", "M104 S200", "G92 E0", "M83"] {
        assert_near(straight(free).totals.motion_s, 200.0 / 60.0 + 0.12, 1e-9);
    }
    for stop in ["G4 P0", "M109 S200", "M190 S60", "M0", "M84"] {
        assert_near(straight(stop).totals.motion_s, 200.0 / 60.0 + 0.24, 1e-9);
    }
}

// Source: a straight move along (3, 4): at 10 mm/s of path X makes 6 and Z 8 mm/s; 50/10 + 10/500 as above.
#[test]
fn each_axis_has_a_limit_of_its_own() {
    let mut options = resting(500.0);
    options.limits.axis_speeds = AxisSpeeds {
        x_mm_per_s: 6.0,
        ..AxisSpeeds::UNLIMITED
    };
    assert_near(
        plan("G1 X30 Y40 F3600", &options).totals.motion_s,
        5.02,
        1e-9,
    );
    options.limits.axis_speeds = AxisSpeeds {
        z_mm_per_s: 8.0,
        ..AxisSpeeds::UNLIMITED
    };
    assert_near(
        plan("G1 X30 Z40 F3600", &options).totals.motion_s,
        5.02,
        1e-9,
    );
}

// Source: on a full circle the whole speed lies along X at two places and along Y at two others; rest to rest as above.
#[test]
fn an_axis_at_its_limit_slows_the_whole_circle() {
    let length = 2.0 * std::f64::consts::PI * 20.0;
    let expected = length / 10.0 + 10.0 / 500.0;
    for axis_speeds in [
        AxisSpeeds {
            x_mm_per_s: 10.0,
            ..AxisSpeeds::UNLIMITED
        },
        AxisSpeeds {
            y_mm_per_s: 10.0,
            ..AxisSpeeds::UNLIMITED
        },
    ] {
        let mut options = resting(500.0);
        options.limits.axis_speeds = axis_speeds;
        assert_near(
            plan("G2 I20 F3600", &options).totals.motion_s,
            expected,
            1e-9,
        );
    }
}

// Source: 4 mm of filament at its limit of 20 mm/s, 4/20 + 20/500 (4 >= 20^2/500).
#[test]
fn the_material_axis_has_its_limit_when_alone_too() {
    let mut options = resting(500.0);
    options.limits.axis_speeds = AxisSpeeds {
        material_mm_per_s: 20.0,
        ..AxisSpeeds::UNLIMITED
    };
    let totals = plan("G1 E-4 F2400", &options).totals;
    assert_near(totals.motion_s, 0.24, 1e-12);
    // The bad estimator believes the program.
    assert_near(totals.naive_s, 0.1, 1e-12);
    assert_near(totals.path_mm, 0.0, 0.0);
}

#[test]
fn homing_rests_at_both_ends_even_where_the_path_is_straight() {
    let mut options = cornering(500.0, 0.1);
    options.interpreter.homing_mm_per_s = 60.0;
    // Three times 100 mm in one line at 60 mm/s, home in the middle: each has its own 100/60 + 60/500.
    let text = "G1 X-100 F3600\nG28 X\nG1 X100\n";
    assert_near(
        plan(text, &options).totals.motion_s,
        3.0 * (100.0 / 60.0 + 0.12),
        1e-9,
    );
}

// Source: a helix of rise h and length l at path speed v rises at v h / l.
#[test]
fn a_slow_z_slows_a_rising_circle() {
    let length = (2.0 * std::f64::consts::PI * 20.0).hypot(30.0);
    let speed = 5.0 * length / 30.0;
    let mut options = resting(500.0);
    options.limits.axis_speeds = AxisSpeeds {
        z_mm_per_s: 5.0,
        ..AxisSpeeds::UNLIMITED
    };
    assert_near(
        plan("G2 I20 Z30 F3600", &options).totals.motion_s,
        length / speed + speed / 500.0,
        1e-9,
    );
}

#[test]
fn a_line_that_goes_on_from_an_arc_needs_no_braking_and_one_that_turns_back_needs_all() {
    // Half a circle of radius 20 that ends downwards, then 50 mm; the curvature allows 100 mm/s.
    let half = 20.0 * std::f64::consts::PI;
    let time = |y: i32| {
        plan(
            &format!("G3 X-40 I-20 F3600\nG1 Y{y}"),
            &cornering(500.0, 0.1),
        )
        .totals
        .motion_s
    };
    assert_near(time(-50), (half + 50.0) / 60.0 + 0.12, 1e-9);
    assert_near(time(50), (half + 50.0) / 60.0 + 0.24, 1e-4);
}
