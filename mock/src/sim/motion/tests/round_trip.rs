//! Test prints: what their geometry says against what their text is planned to.

use std::fmt::Write as _;

use super::{assert_near, plan, resting};
use crate::sim::motion::generator::{
    BeadShape, MaterialAxis, ProgramText, Shape, TestPrint, TestPrintOptions,
};
use crate::sim::motion::plan::{ProgramStep, plan_program};

fn text_of(print: &TestPrint) -> String {
    print.lines().fold(String::new(), |mut text, line| {
        writeln!(text, "{line}").unwrap();
        text
    })
}

/// Plans the print's text on a machine that rests after every move, and compares all sums with its geometry.
fn assert_round_trip(options: TestPrintOptions, tolerance: f64) {
    let name = format!("{options:?}");
    let print = TestPrint::new(options).unwrap();
    let expected = print.expected(500.0);
    let planned = plan_program(ProgramText::new(print.lines()), &resting(500.0)).unwrap();
    let totals = planned.totals;
    for (what, found, expected) in [
        ("motion", totals.motion_s, expected.motion_s),
        ("naive", totals.naive_s, expected.naive_s),
        ("path", totals.path_mm, expected.path_mm),
        ("filament", totals.filament_mm, expected.filament_mm),
    ] {
        let off = (found / expected - 1.0).abs();
        assert!(
            off <= tolerance,
            "{what}: found {found}, expected {expected} for {name}"
        );
    }
    assert_near(totals.dwell_s, expected.dwell_s, 1e-9);
    assert_eq!(
        (totals.layers, totals.moves),
        (expected.layers, expected.moves),
        "{name}"
    );
    assert_eq!(planned.ignored.total(), 0, "{name}");
}

#[test]
fn every_shape_is_planned_to_what_its_geometry_says() {
    let ring = |sides| Shape::RingTower {
        radius_mm: 25.0,
        sides,
    };
    for shape in [
        Shape::HollowBox { side_mm: 40.0 },
        ring(None),
        ring(Some(90)),
    ] {
        for infill_spacing_mm in [None, Some(4.0)] {
            for material in [MaterialAxis::Relative, MaterialAxis::Absolute] {
                // Coordinates are written to 0.001 mm; the shortest side here is 1.7 mm.
                assert_round_trip(
                    TestPrintOptions {
                        shape,
                        infill_spacing_mm,
                        material,
                        ..TestPrintOptions::default()
                    },
                    1e-4,
                );
            }
        }
    }
}

#[test]
fn beads_dwells_pauses_and_retractions_are_planned_to_what_they_say() {
    assert_round_trip(
        TestPrintOptions {
            bead: BeadShape::RoundedEnds,
            layer_dwell_s: 1.5,
            pause_before_layers: vec![3, 7],
            retract_mm: 0.0,
            layers: 9,
            ..TestPrintOptions::default()
        },
        1e-5,
    );
}

// Worked by hand: 20 layers of four sides of 40 mm, 40/60 + 60/500 = 0.786667 s each, and nothing else but lifts.
#[test]
fn a_hollow_box_is_planned_to_its_sides() {
    let print = TestPrint::new(TestPrintOptions {
        infill_spacing_mm: None,
        retract_mm: 0.0,
        centre_mm: [20.0, 20.0],
        ..TestPrintOptions::default()
    });
    let totals = plan(&text_of(&print.unwrap()), &resting(500.0)).totals;
    // Lifts: twenty of 2 sqrt(0.2/500) = 0.04 s and one of 2 sqrt(5/500) = 0.2 s.
    assert_near(
        totals.motion_s,
        80.0 * (40.0 / 60.0 + 0.12) + 20.0 * 0.04 + 0.2,
        1e-6,
    );
    // 3200 mm of bead at 3.3260 mm of filament for 100 mm, written to 0.00001 mm.
    assert_near(totals.filament_mm, 32.0 * 3.326_016, 1e-3);
}

#[test]
fn a_print_pauses_heats_and_blows_where_it_is_told() {
    let print = TestPrint::new(TestPrintOptions {
        layers: 4,
        pause_before_layers: vec![3],
        fan_from_layer: Some(2),
        ..TestPrintOptions::default()
    });
    let steps = plan(&text_of(&print.unwrap()), &resting(500.0)).steps;
    let (mut layer, mut seen) = (0, Vec::new());
    for step in &steps {
        match step {
            ProgramStep::LayerChange { index, .. } => layer = *index,
            ProgramStep::WaitTarget { .. } => seen.push((layer, "wait")),
            ProgramStep::Pause { .. } => seen.push((layer, "pause")),
            ProgramStep::Fan { fraction } => {
                seen.push((layer, if *fraction > 0.0 { "fan on" } else { "fan off" }));
            }
            _ => {}
        }
    }
    let expected = [
        (0, "wait"),
        (0, "wait"),
        (0, "fan off"),
        (1, "fan on"),
        (2, "pause"),
        (4, "fan off"),
    ];
    assert_eq!(seen, expected);
}

#[test]
fn the_same_print_gives_the_same_text() {
    let print = TestPrint::new(TestPrintOptions::default()).unwrap();
    assert_eq!(text_of(&print), text_of(&print.clone()));
}

#[test]
fn a_text_is_as_long_as_asked_for_and_not_much_longer() {
    let print = TestPrint::new(TestPrintOptions::default())
        .unwrap()
        .of_at_least(300_000)
        .unwrap();
    let bytes = text_of(&print).len();
    assert!((300_000..330_000).contains(&bytes), "{bytes} bytes");
}

#[test]
fn lines_that_only_some_layers_have_do_not_shorten_the_text() {
    let layers = |fan_from_layer, pause_before_layers| {
        let options = TestPrintOptions {
            fan_from_layer,
            pause_before_layers,
            infill_spacing_mm: None,
            retract_mm: 0.0,
            ..TestPrintOptions::default()
        };
        TestPrint::new(options)
            .unwrap()
            .of_at_least(300_000)
            .unwrap()
            .options()
            .layers
    };
    assert_eq!(layers(None, vec![2, 3]), layers(None, vec![]));
    assert_eq!(layers(Some(2), vec![]), layers(None, vec![]));
}

#[test]
fn the_first_lines_of_a_print_read_as_they_should() {
    let print = TestPrint::new(TestPrintOptions {
        infill_spacing_mm: None,
        ..TestPrintOptions::default()
    })
    .unwrap();
    let first: Vec<String> = print.lines().take(16).collect();
    assert_eq!(
        first,
        [
            "(test print: hollow box, 20 layers)",
            "G21",
            "G90",
            "M83",
            "M140 S60",
            "M104 S205",
            "G28",
            "M190 S60",
            "M109 S205",
            "G92 E0",
            "M107",
            "(layer 1)",
            "G0 Z0.200 F7200",
            "G0 X80.000 Y80.000 F7200",
            "G1 X120.000 Y80.000 E1.33041 F3600",
            "G1 X120.000 Y120.000 E1.33041 F3600",
        ]
    );
}

#[test]
fn filling_goes_to_and_fro() {
    let shape = Shape::HollowBox { side_mm: 10.0 };
    let options = TestPrintOptions {
        shape,
        retract_mm: 0.0,
        ..TestPrintOptions::default()
    };
    let print = TestPrint::new(options).unwrap();
    let filling: Vec<String> = print.lines().skip(18).take(4).collect();
    // Lines of 9.2 mm, 4 mm apart; 9.2 mm of bead take 0.30599 mm of filament.
    assert_eq!(
        filling,
        [
            "G0 X95.400 Y99.000 F7200",
            "G1 X104.600 Y99.000 E0.30599 F3600",
            "G0 X104.600 Y103.000 F7200",
            "G1 X95.400 Y103.000 E0.30599 F3600",
        ]
    );
}
