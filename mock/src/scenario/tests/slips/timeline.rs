//! Slips about jobs and events.

use super::{events, told, whole};

#[test]
fn slips_about_jobs_are_told() {
    let job = |keys: &str| whole("duration = \"45m\"", &format!("duration = \"45m\"\n{keys}"));
    let program = |keys: &str| whole("duration = \"45m\"", keys);
    let told = told(&[
        ("a job at no time", whole("at = \"30s\"\n", "")),
        ("a job at two times", job("after-previous = \"20s\"")),
        (
            "a first job after another",
            whole("at = \"30s\"", "after-previous = \"30s\""),
        ),
        ("a job of nothing", program("soak = \"1m\"")),
        ("a job of two things", job("program = \"parts/clip.gcode\"")),
        (
            "layers of a program",
            program("program = \"parts/clip.gcode\"\nlayers = 10"),
        ),
        ("half a layer", job("layers = 2.5")),
        (
            "drives for a plain duration",
            job("motion = { corner-millimetres = 0 }"),
        ),
        (
            "a corner of both kinds",
            program("print = {}\nmotion = { corner-millimetres = 0, rests-at-corners = true }"),
        ),
        (
            "broken lines of a made program",
            program("print = {}\non-broken-line = \"skip\""),
        ),
        (
            "an estimator of another host",
            job("estimate = { by = \"magic\" }"),
        ),
        ("a bias as a percentage", job("estimate = { bias = 120 }")),
        (
            "progress beyond full",
            job("progress = { full-at-percent = 101 }"),
        ),
        (
            "a stall that ends before it begins",
            job("progress = { stalls = [{ at-percent = 20, until-percent = 10 }] }"),
        ),
        (
            "stalls that overlap",
            job(
                "progress = { stalls = [{ at-percent = 20, until-percent = 30 }, { at-percent = 25, until-percent = 40 }] }",
            ),
        ),
        ("a stall as a number", job("progress = { stalls = [20] }")),
        (
            "a print of no known shape",
            program("print = { shape = \"vase\" }"),
        ),
        (
            "a print for a crane",
            program("print = { size-millimetres = 5000 }"),
        ),
        (
            "filling of solid metal",
            program("print = { infill-millimetres = 0.1 }"),
        ),
        (
            "a print that would take for ever to write",
            program(
                "print = { size-millimetres = 500, height-millimetres = 500, layer-height-millimetres = 0.05 }",
            ),
        ),
        (
            "a print that would take for ever to print",
            program(
                "print = { size-millimetres = 400, height-millimetres = 100, speed-millimetres-per-second = 0.1 }",
            ),
        ),
        (
            "a pause above the top",
            program("print = { height-millimetres = 4, pause-before-layers = [10, 21] }"),
        ),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn slips_about_events_are_told() {
    let told = told(&[
        (
            "an event that waits for nothing",
            events("action = \"pause\""),
        ),
        (
            "an event that waits for two things",
            events("at = \"5m\"\nat-layer = 3\naction = \"pause\""),
        ),
        (
            "a layer of none",
            events("at-layer = 0\naction = \"pause\""),
        ),
        (
            "more than all of the job",
            events("at-progress-percent = 110\naction = \"pause\""),
        ),
        (
            "a temperature of no heater",
            events("when = { heater = \"nozzle\", above-celsius = 50 }\naction = \"pause\""),
        ),
        (
            "a temperature passed both ways",
            events(
                "when = { heater = \"extruder\", above-celsius = 50, below-celsius = 40 }\naction = \"pause\"",
            ),
        ),
        (
            "a temperature passed no way",
            events("when = { heater = \"extruder\" }\naction = \"pause\""),
        ),
        (
            "something else than at that repeats",
            events("at-layer = 3\nrepeat = { every = \"1m\", times = 3 }\naction = \"pause\""),
        ),
        (
            "a jitter that could change the order",
            events(
                "at = \"5m\"\nrepeat = { every = \"1m\", times = 3, jitter = \"31s\" }\naction = \"pause\"",
            ),
        ),
        (
            "a repetition without an end",
            events("at = \"5m\"\nrepeat = { every = \"1m\" }\naction = \"pause\""),
        ),
        (
            "an action of nobody",
            events("at = \"5m\"\naction = \"door-open\""),
        ),
        (
            "a sensor that fails somehow",
            events("at = \"5m\"\naction = \"sensor-fails\"\nheater = \"extruder\""),
        ),
        (
            "a drift without a rate",
            events(
                "at = \"5m\"\naction = \"sensor-fails\"\nheater = \"extruder\"\nkind = \"drifting\"",
            ),
        ),
        (
            "a rate without a drift",
            events(
                "at = \"5m\"\naction = \"sensor-fails\"\nheater = \"extruder\"\nkind = \"open\"\nkelvin-per-hour = 3",
            ),
        ),
        (
            "a rate for another action",
            events("at = \"5m\"\naction = \"jam\"\nkelvin-per-hour = 3"),
        ),
        (
            "a probability in percent",
            events(
                "at = \"5m\"\naction = \"sensor-fails\"\nheater = \"extruder\"\nkind = \"loose\"\nprobability = 5",
            ),
        ),
        (
            "a power dip of no length",
            events("at = \"5m\"\naction = \"power-dip\""),
        ),
        (
            "a restart in no time",
            events("at = \"5m\"\naction = \"host-restart\"\nlasts = \"0s\""),
        ),
        (
            "a clock set back by ten years",
            events("at = \"5m\"\naction = \"clock-set-back\"\nby = \"87600h\""),
        ),
        (
            "an update to a version without a name",
            events("at = \"5m\"\naction = \"host-updated\"\nversion = \" \""),
        ),
        (
            "an update that lasts for days",
            events("at = \"5m\"\naction = \"host-updated\"\nlasts = \"48h\""),
        ),
        (
            "a restart to another version",
            events("at = \"5m\"\naction = \"host-restart\"\nlasts = \"40s\"\nversion = \"1.1\""),
        ),
        (
            "a key revoked at a heater",
            events("at = \"5m\"\naction = \"key-revoked\"\nheater = \"extruder\""),
        ),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn slips_about_faults_and_drifts_are_told() {
    let raised = |keys: &str| events(&format!("at = \"5m\"\naction = \"fault-raised\"\n{keys}"));
    let drifted = |keys: &str| events(&format!("at = \"5m\"\naction = \"drift-raised\"\n{keys}"));
    let told = told(&[
        ("a fault that is none", raised("lasts = \"1m\"")),
        ("a fault misspelt", raised("fault = \"refused\"")),
        (
            "a fault misspelt in a table",
            raised("fault = { rset = {} }"),
        ),
        (
            "a fault without what it needs",
            raised("fault = \"status\""),
        ),
        (
            "a fault with a key of another",
            raised("fault = { reset = { of = \"2s\" } }"),
        ),
        (
            "a fault out of its range",
            raised("fault = { status = { code = 700 } }"),
        ),
        (
            "two faults at once",
            raised("fault = { reset = {}, close = {} }"),
        ),
        ("a fault of a number", raised("fault = 503")),
        (
            "a fault of no length",
            raised("fault = \"refuse\"\nlasts = \"0s\""),
        ),
        (
            "a fault of a heater",
            raised("fault = \"refuse\"\nheater = \"extruder\""),
        ),
        (
            "a fault without a name",
            raised("fault = \"refuse\"\nname = \" \""),
        ),
        (
            "a fault at another action",
            events("at = \"5m\"\naction = \"jam\"\nfault = \"refuse\""),
        ),
        (
            "a scope that the fault cannot have",
            raised("fault = \"refuse\"\nscope = { times = 3 }"),
        ),
        (
            "a scope misspelt",
            raised("fault = \"reset\"\nscope = { rout = \"/printer\" }"),
        ),
        (
            "a route that is no path",
            raised("fault = \"reset\"\nscope = { route = \"printer\" }"),
        ),
        (
            "a probability in percent",
            raised("fault = \"reset\"\nscope = { probability = 20 }"),
        ),
        (
            "a time in the scope",
            raised("fault = \"reset\"\nscope = { lasts = \"90s\" }"),
        ),
        (
            "a delay in the scope",
            raised("fault = \"reset\"\nscope = { after = \"90s\" }"),
        ),
        (
            "a fault cleared that nobody raises",
            events("at = \"5m\"\naction = \"fault-cleared\"\nname = \"refuse\""),
        ),
        (
            "a fault cleared by a name misspelt",
            format!(
                "{}[[event]]\nat = \"6m\"\naction = \"fault-cleared\"\nname = \"refused\"\n",
                raised("fault = \"refuse\"")
            ),
        ),
        (
            "a fault cleared as a drift",
            format!(
                "{}[[event]]\nat = \"6m\"\naction = \"drift-cleared\"\nname = \"refuse\"\n",
                raised("fault = \"refuse\"")
            ),
        ),
        (
            "a fault cleared without a name",
            events("at = \"5m\"\naction = \"fault-cleared\""),
        ),
        ("a drift that is none", drifted("name = \"null\"")),
        (
            "a drift without a place",
            drifted("drift = { change = \"replace-by-null\" }"),
        ),
        (
            "a drift at a place without its slash",
            drifted("drift = { pointer = \"job\", change = \"replace-by-null\" }"),
        ),
        (
            "a drift at a place with an escape of nothing",
            drifted("drift = { pointer = \"/a~2\", change = \"replace-by-null\" }"),
        ),
        (
            "a change misspelt",
            drifted("drift = { pointer = \"/job\", change = \"replace-by-nul\" }"),
        ),
        (
            "a change without what it needs",
            drifted("drift = { pointer = \"/job\", change = \"scale\" }"),
        ),
        (
            "two changes at once",
            drifted("drift = { pointer = \"\", change = { scale = { factor = 2 }, deep = {} } }"),
        ),
        (
            "a class of nobody",
            drifted(
                "drift = { pointer = \"/job\", change = \"replace-by-null\", class = \"evil\" }",
            ),
        ),
    ]);
    insta::assert_snapshot!(told);
}
