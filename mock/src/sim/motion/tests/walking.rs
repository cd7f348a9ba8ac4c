//! What a cursor shows on its way through a plan.

use super::{assert_near, plan, resting};
use crate::sim::HeaterKind;
use crate::sim::motion::plan::{Activity, Cursor, Place, Plan, ProgramStep, Walked};

const TEXT: &str =
    "M104 S200\nM109 S200\nM83\nG1 Z0.2 F600\nG1 X100 E4 F3600\nG4 S2\nM0\nG1 X0 E4\nM2\n";

/// Walks until the time is used or the program waits; gives what is left.
fn walk(cursor: &mut Cursor, plan: &Plan, mut left_s: f64, met: &mut Vec<ProgramStep>) -> f64 {
    loop {
        let walked = cursor.walk(plan, left_s);
        left_s -= walked.used_s;
        match walked.met {
            None => return left_s,
            Some(step) => met.push(step),
        }
        if met.last().and_then(ProgramStep::duration_s).is_none() {
            return left_s;
        }
    }
}

#[test]
fn a_program_is_walked_from_its_first_target_to_its_end() {
    let plan = plan(TEXT, &resting(500.0));
    let mut cursor = Cursor::new(0.0);
    let mut met = Vec::new();
    assert_near(walk(&mut cursor, &plan, 10.0, &mut met), 10.0, 1e-12);
    assert_eq!(
        cursor.moment(&plan).activity,
        Activity::WaitingForHeat(HeaterKind::Extruder)
    );
    // The wait is shown where it stands in the text, and however long it is waited for.
    assert_eq!(cursor.moment(&plan).place, Place { line: 2, byte: 20 });
    assert_near(walk(&mut cursor, &plan, 10.0, &mut met), 10.0, 1e-12);

    cursor.release(&plan);
    // 0.2 mm: 2 sqrt(0.2/500) = 0.04 s. Then 1.786667 s of bead, seen at its middle.
    assert_near(
        walk(&mut cursor, &plan, 0.04 + 1.786_666_667 / 2.0, &mut met),
        0.0,
        1e-12,
    );
    let seen = cursor.moment(&plan);
    assert_eq!((seen.activity, seen.layer), (Activity::Moving, 1));
    assert_near(seen.filament_mm, 2.0, 1e-6);
    assert_near(seen.z_mm, 0.2, 1e-12);
    assert_near(seen.done_s, 0.04 + 1.786_666_667 / 2.0, 1e-9);
    // 4 mm of 1.75 mm filament in 1.786667 s.
    assert_near(seen.flow_mm3_per_s, 4.0 * 2.405_28 / 1.786_667, 1e-4);
    assert_eq!(seen.place, Place { line: 5, byte: 45 });

    // At its middle the bad estimator has 0.2 mm at 10 mm/s and half of 100 mm at 60 mm/s.
    assert_near(seen.naive_done_s, 0.02 + 100.0 / 120.0, 1e-6);

    assert_near(walk(&mut cursor, &plan, 2.0, &mut met), 0.0, 1e-12);
    let seen = cursor.moment(&plan);
    assert_eq!((seen.activity, seen.layer), (Activity::Dwelling, 1));
    assert_near(seen.z_mm, 0.2, 1e-12);
    // All walked but for the wait.
    assert_near(seen.done_s, 0.04 + 1.786_666_667 / 2.0 + 2.0, 1e-9);
    let dwelt_s = seen.done_s - 0.04 - 1.786_666_667;
    assert_near(seen.naive_done_s, 0.02 + 100.0 / 60.0 + dwelt_s, 1e-6);
    walk(&mut cursor, &plan, 2.0, &mut met);
    assert_eq!(cursor.moment(&plan).activity, Activity::Paused);
    cursor.release(&plan);
    let left_s = walk(&mut cursor, &plan, 5.0, &mut met);
    assert_near(left_s, 5.0 - 1.786_666_667, 1e-8);
    let end = cursor.moment(&plan);
    assert_eq!(end.activity, Activity::Ended);
    assert_eq!(end.place.byte, TEXT.len() as u64);
    assert_near(end.done_s, plan.totals.known_s(), 1e-9);
    assert_near(end.naive_done_s, plan.totals.naive_s, 1e-9);
    assert_near(end.filament_mm, plan.totals.filament_mm, 1e-9);
}

#[test]
fn the_end_is_never_left() {
    let plan = plan("M2\n", &resting(500.0));
    let mut cursor = Cursor::new(0.0);
    for _ in 0..3 {
        assert!(matches!(
            cursor.walk(&plan, 1.0),
            Walked {
                met: Some(ProgramStep::End { .. }),
                ..
            }
        ));
        cursor.release(&plan);
    }
    assert_eq!(cursor.moment(&plan).activity, Activity::Ended);
}

#[test]
fn many_short_walks_come_to_the_same_as_a_long_one() {
    let text = "M83\nG1 X100 E4 F3600\nG4 S1\nM106 S9\nX0 E4\nY50\n";
    let plan = plan(text, &resting(500.0));
    let (mut short, mut long) = (Cursor::new(0.0), Cursor::new(0.0));
    let (mut met_short, mut met_long) = (Vec::new(), Vec::new());
    for _ in 0..40 {
        walk(&mut short, &plan, 0.1, &mut met_short);
    }
    walk(&mut long, &plan, 4.0, &mut met_long);
    let (one, other) = (short.moment(&plan), long.moment(&plan));
    assert_eq!(met_short, met_long);
    assert_eq!(
        (one.activity, one.place, one.layer),
        (other.activity, other.place, other.layer)
    );
    assert_near(one.filament_mm, other.filament_mm, 1e-9);
    assert_near(one.done_s, other.done_s, 1e-9);
}

#[test]
fn what_is_done_never_goes_back() {
    let plan = plan(TEXT, &resting(500.0));
    let mut cursor = Cursor::new(0.0);
    let mut before = cursor.moment(&plan);
    for _ in 0..100 {
        walk(&mut cursor, &plan, 0.1, &mut Vec::new());
        cursor.release(&plan);
        let now = cursor.moment(&plan);
        assert!(now.place.byte >= before.place.byte && now.filament_mm >= before.filament_mm);
        assert!(now.done_s >= before.done_s && now.naive_done_s >= before.naive_done_s);
        before = now;
    }
}
