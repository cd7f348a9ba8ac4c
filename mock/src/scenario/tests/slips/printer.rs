//! Slips about the room and the printer.

use super::super::EVERY_KEY;
use super::{every, extruder, told, top, whole};

#[test]
fn slips_about_room_clock_and_material_are_told() {
    let told = told(&[
        (
            "a title of no words",
            whole(
                "\"A cold printer heats its platform and its extruder, then starts to print\"",
                "\" \"",
            ),
        ),
        ("a room that freezes the tables", top("room-celsius = -60")),
        (
            "a swing that leaves the range",
            top("room-celsius = 50\nroom-swing-celsius = 12"),
        ),
        (
            "a day with too many hours",
            top("room-warmest-at = \"25h\""),
        ),
        (
            "a clock without an offset",
            top("clock-at-start = 2026-01-05T08:00:00"),
        ),
        ("a clock in words", top("clock-at-start = \"this morning\"")),
        ("a clock as a number", top("clock-at-start = 1767600000")),
        (
            "a clock before its time",
            top("clock-at-start = \"1969-12-31T23:59:59Z\""),
        ),
        (
            "a density per cubic metre",
            every("cubic-centimetre = 1.27", "cubic-centimetre = 1270"),
        ),
        (
            "a heat without a unit it could have",
            every("gram-kelvin = 2", "gram-kelvin = \"2 J\""),
        ),
        (
            "a coupling to nobody",
            every("[\"platform\", \"chamber\"]", "[\"platform\", \"camber\"]"),
        ),
        (
            "a coupling to itself",
            every(
                "[\"platform\", \"chamber\"]",
                "[\"platform\", \"platform\"]",
            ),
        ),
        (
            "a coupling of three",
            every(
                "[\"platform\", \"chamber\"]",
                "[\"platform\", \"chamber\", \"extruder\"]",
            ),
        ),
        (
            "a coupling said twice",
            format!(
                "{EVERY_KEY}\n[[coupling]]\nbetween = [\"chamber\", \"platform\"]\nwatts-per-kelvin = 1\n"
            ),
        ),
        (
            "no heater at all",
            "title = \"x\"\nlength = \"1m\"\nheaters = {}\n".to_owned(),
        ),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn slips_about_heaters_and_control_are_told() {
    let control = "gain-watts-per-kelvin = 2.5, integral-time = \"32s\"";
    let tuned = |keys: &str| whole(control, keys);
    let told = told(&[
        (
            "a fan that blows too hard",
            extruder("loss-fan-watts-per-kelvin = 1e4"),
        ),
        (
            "a lag that is hardly one",
            extruder("sensor-lag = \"200us\""),
        ),
        (
            "a number in quotes",
            whole("power-watts = 40", "power-watts = \"40 W\""),
        ),
        (
            "a number that is none",
            whole("power-watts = 40", "power-watts = nan"),
        ),
        ("an unknown rule", tuned("tuning = \"simc\"")),
        (
            "gains beside a rule",
            tuned("tuning = \"simc-pi\", gain-watts-per-kelvin = 2"),
        ),
        (
            "a closed-loop time without a rule",
            tuned(&format!("{control}, closed-loop-time = \"4s\"")),
        ),
        (
            "a closed-loop time the rule does not know",
            tuned("tuning = \"ziegler-nichols-pi\", closed-loop-time = \"4s\""),
        ),
        (
            "a rule on a heater without dead time",
            tuned("tuning = \"ziegler-nichols-pi\"").replace("dead-time = \"4s\"\n", ""),
        ),
        (
            "a rule that gives too short a time",
            tuned("tuning = \"ziegler-nichols-pi\"").replace("\"4s\"", "\"20ms\""),
        ),
        (
            "a second lag longer than the first",
            tuned("tuning = \"simc-pid\"").replace(
                "dead-time = \"4s\"",
                "dead-time = \"4s\"\nsensor-lag = \"4m\"",
            ),
        ),
        (
            "a rule for on-off control",
            whole(
                "hysteresis-celsius = 0.5",
                "hysteresis-celsius = 0.5, tuning = \"simc-pi\"",
            ),
        ),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn slips_about_sensors_are_told() {
    let sensor = |keys: &str| extruder(&format!("sensor = {{ {keys} }}"));
    let told = told(&[
        ("an unknown element", sensor("element = \"ntc-3590\"")),
        ("an ADC for an ideal element", sensor("adc-bits = 10")),
        (
            "readings faster than the control period",
            sensor("reading-every = \"10ms\""),
        ),
        (
            "a pull-up of nothing",
            sensor("element = \"pt100\", pull-up-ohms = 0"),
        ),
        ("half a bit", sensor("element = \"pt100\", adc-bits = 10.5")),
        (
            "an ADC for the laboratory",
            sensor("element = \"pt100\", adc-bits = 24"),
        ),
        (
            "a beta that nobody reads",
            sensor("element = \"ntc-3950\", beta-kelvin = 3950"),
        ),
        (
            "a beta per degree",
            sensor("element = \"ntc-beta\", beta-kelvin = 39.5"),
        ),
        (
            "coefficients that nobody reads",
            sensor("element = \"pt1000\", coefficients = [1e-3, 2e-4, 1e-7]"),
        ),
        (
            "coefficients that are missing",
            sensor("element = \"ntc-3950\", conversion = \"ntc-steinhart-hart\""),
        ),
        (
            "coefficients in another order",
            sensor("element = \"ntc-steinhart-hart\", coefficients = [2e-4, 1e-7, 1e-3]"),
        ),
        (
            "two coefficients",
            sensor("element = \"ntc-steinhart-hart\", coefficients = [1e-3, 2e-4]"),
        ),
        (
            "a host without a curve",
            sensor("element = \"ntc-3950\", conversion = \"ideal\""),
        ),
        ("a step of nothing", sensor("rounding-celsius = 0")),
        ("a report nobody makes", sensor("reports = \"null\"")),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn slips_about_protection_are_told() {
    let protection = |keys: &str| extruder(&format!("protection = {{ {keys} }}"));
    let told = told(&[
        ("a rule misspelt", protection("above-maximun = false")),
        (
            "a key of another rule",
            protection("jump = { period = \"1s\" }"),
        ),
        ("a rule switched off in words", protection("jump = \"off\"")),
        (
            "a rise of nothing",
            protection("heating-too-slow = { rise-celsius = 0 }"),
        ),
        (
            "a rise said twice",
            protection("rise-celsius = 2, heating-too-slow = { period = \"30s\" }"),
        ),
        (
            "a fall said twice",
            protection("fall-for = \"30s\", fallen-away = false"),
        ),
        (
            "a window wider than the fall",
            protection("fallen-away = { below-celsius = 4, reached-within-celsius = 5 }"),
        ),
        (
            "both kinds of jump",
            protection("jump = { change-celsius = 20, kelvin-per-second = 100 }"),
        ),
        (
            "a minimum that no room reaches",
            protection("below-minimum = { minimum-celsius = 40 }"),
        ),
        (
            "a power beyond full",
            protection("heating-too-slow = { at-power-percent = 120 }"),
        ),
        (
            "a patience of a day",
            protection("sensor-lost = { period = \"24h\" }"),
        ),
        (
            "a maximum as a word",
            protection("above-maximum = { maximum-celsius = \"high\" }"),
        ),
    ]);
    insta::assert_snapshot!(told);
}
