//! From a recorded evening to a dialect that can be served, and a printer that scenarios include.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::common::{Served, run, stderr, stdout};

/// Follows a heater of first order at full power or none, a second a step; it is kept once it is there.
struct Heater {
    celsius: f64,
    rise: f64,
    tau: f64,
}

impl Heater {
    fn step(&mut self, target: f64) {
        let full = if target > self.celsius {
            self.rise
        } else {
            0.0
        };
        let end = 22.0 + full;
        self.celsius = end + (self.celsius - end) * (-1.0 / self.tau).exp();
        if target > 0.0 && (target - self.celsius).abs() < 1.5 {
            self.celsius = target;
        }
    }
}

/// Writes an evening at an invented host: an idle printer, a heat-up, a print of 40 minutes, its end.
fn evening(dir: &Path) -> PathBuf {
    let mut text = String::new();
    let mut line = |value: Value| writeln!(text, "{value}").unwrap();
    line(json!({ "line": "session", "version": 1 }));
    line(json!({ "line": "connection-opened", "at-seconds": 0, "connection": 1 }));
    let mut nozzle = Heater {
        celsius: 22.0,
        rise: 330.0,
        tau: 160.0,
    };
    let mut plate = Heater {
        celsius: 22.0,
        rise: 110.0,
        tau: 430.0,
    };
    let (mut printed, mut warm) = (0_u32, false);
    for second in 0..5400_u32 {
        let is_job = (300..4800).contains(&second);
        let is_over = printed >= 2400;
        let (hot, bed) = if is_job && !is_over {
            (215.0, 60.0)
        } else {
            (0.0, 0.0)
        };
        nozzle.step(hot);
        plate.step(bed);
        warm |= nozzle.celsius >= 215.0 && plate.celsius >= 60.0;
        if is_job && warm && !is_over {
            printed += 1;
        }
        if second % 5 != 0 {
            continue;
        }
        let number = second / 5 + 1;
        let condition = match (is_job, warm, is_over) {
            (false, ..) => "free",
            (_, _, true) => "ready to take off",
            (_, true, _) => "making",
            _ => "warming up",
        };
        let share = f64::from(printed) / 2400.0;
        let task = json!({ "called": "tool-tray", "part": (share * 1000.0).round() / 1000.0, "left": 2400 - printed });
        let kelvin = |celsius: f64| ((celsius + 273.15) * 10.0).round() / 10.0;
        let body = json!({
            "model": "shed",
            "condition": condition,
            "up": 86_400 + second,
            "nozzle": { "is": kelvin(nozzle.celsius), "wanted": if hot > 0.0 { json!(488.15) } else { json!(null) } },
            "plate": { "is": kelvin(plate.celsius), "wanted": if bed > 0.0 { json!(333.15) } else { json!(null) } },
            "task": if is_job { task } else { json!(null) },
            "air": 40.0 + f64::from((second * 7919) % 13) / 10.0,
        })
        .to_string();
        line(
            json!({ "line": "request", "at-seconds": second, "connection": 1, "exchange": number, "method": "GET",
            "target": "/status", "fields": [["Shed-Key", "r1xxxxxx"]] }),
        );
        line(
            json!({ "line": "answer", "at-seconds": second, "exchange": number, "status": 200, "reason": "OK",
            "fields": [["Content-Type", "application/json"]], "body": { "text": body }, "framing": "length",
            "pieces": [], "end": "complete" }),
        );
    }
    let file = dir.join("evening.jsonl");
    std::fs::write(&file, text).unwrap();
    file
}

#[test]
fn an_evening_gives_a_dialect_that_serves_phases_which_were_never_recorded() {
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let evening = evening(dir.path());
    let (dialect, printer) = (path("shed.toml"), path("printer.toml"));
    let output = run(&[
        "learn",
        evening.to_str().unwrap(),
        "--to",
        &dialect,
        "--printer",
        &printer,
    ]);
    let told = stdout(&output);
    assert_eq!(output.status.code(), Some(0), "{told}{}", stderr(&output));
    assert!(told.contains("2 heaters are in"), "{told}");
    let text = std::fs::read_to_string(&dialect).unwrap();
    assert!(text.contains("header = \"Shed-Key\""), "{text}");
    assert!(
        text.contains("# ? /air: it changes, and nothing tells what it is"),
        "{text}"
    );
    assert!(text.contains("heating = \"warming up\""), "{text}");
    // A fault was never recorded, and can be rehearsed on the same wire.
    let host = Served::start(&[
        "error",
        "--dialect",
        &dialect,
        "--from",
        "5m",
        "--rate",
        "0",
    ]);
    let body = host.get("/status");
    assert_eq!(body["model"], "shed", "{body}");
    assert_eq!(body["condition"], "error", "{body}");
    assert!(
        body["nozzle"]["is"]
            .as_f64()
            .is_some_and(|kelvin| kelvin > 290.0),
        "{body}"
    );
    // The heaters go where a scenario includes them.
    let scenario = path("mine.toml");
    let mine = format!(
        "include = \"heat-up\"\ntitle = \"My printer\"\n{}",
        std::fs::read_to_string(&printer).unwrap()
    );
    std::fs::write(&scenario, mine).unwrap();
    let host = Served::start(&[
        &scenario,
        "--dialect",
        &dialect,
        "--from",
        "5m",
        "--rate",
        "0",
    ]);
    let body = host.get("/status");
    assert_eq!(
        body["nozzle"]["wanted"].as_f64().map(f64::round),
        Some(483.0),
        "{body}"
    );
    for heater in ["extruder", "platform"] {
        let fitted = std::fs::read_to_string(&printer).unwrap();
        assert!(fitted.contains(&format!("[heaters.{heater}]")), "{fitted}");
    }
}

#[test]
fn a_session_without_answers_has_nothing_to_learn_from() {
    let dir = tempfile::tempdir().unwrap();
    let empty = dir.path().join("empty.jsonl");
    std::fs::write(&empty, "{\"line\":\"session\",\"version\":1}\n").unwrap();
    let to = dir.path().join("never.toml");
    let output = run(&[
        "learn",
        empty.to_str().unwrap(),
        "--to",
        to.to_str().unwrap(),
    ]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        stderr(&output).contains("nothing to learn from"),
        "{}",
        stderr(&output)
    );
    assert!(!to.exists());
}
