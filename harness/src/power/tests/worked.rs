//! Sums worked by hand.

use super::*;

/// Deep sleep at 0.01 mA with polls of 1.5 s at 110 mA; joined at 1.2 mA with polls of 0.15 s at
/// 110 mA; 1000 mAh, of which 0.8 can be had.
const EXAMPLE: &str = "\
[board]
name = \"worked example\"
active-milliamps = 110
receive-milliamps = 100
joined-milliamps = 1.2
deep-sleep-milliamps = 0.01
always-milliamps = 0
display-milliamps = 0
wake-seconds = 0.35
join-seconds = 1
address-seconds = 0
connect-seconds = 0
request-seconds = 0.15
handshake-seconds = 1
beacon-seconds = 0
rate-megabits-per-second = 1
[cell]
capacity-milliamp-hours = 1000
usable-percent = 80
self-discharge-percent-per-month = 0
";

fn example_of(traffic: &Traffic) -> PowerEstimate {
    let board = Board::parse("example.toml", EXAMPLE).unwrap();
    let cell = Cell::parse("example.toml", EXAMPLE).unwrap();
    estimate(traffic, &board, &cell)
}

/// Period s, deep sleep mA and h, joined mA and h: rounded as worked.
const ROWS: [(u64, &str, &str, &str, &str); 7] = [
    (5, "33.01", "24", "4.46", "179"),
    (10, "16.51", "48", "2.83", "282"),
    (30, "5.51", "145", "1.74", "459"),
    (60, "2.76", "290", "1.47", "543"),
    (120, "1.38", "578", "1.34", "599"),
    (300, "0.56", "1429", "1.25", "638"),
    (600, "0.28", "2807", "1.23", "652"),
];

#[test]
fn currents_and_lives_are_those_worked_by_hand() {
    for (period_s, deep_milliamps, deep_h, joined_milliamps, joined_h) in ROWS {
        let estimate = example_of(&hourly(period_s));
        let of = |way: &Way| {
            (
                format!("{:.2}", way.average.0),
                format!("{:.0}", way.life.0),
            )
        };
        let deep = of(&estimate.deep_sleep);
        let joined = of(&estimate.joined);
        assert_eq!(
            (&*deep.0, &*deep.1),
            (deep_milliamps, deep_h),
            "{period_s} s"
        );
        let worked = (joined_milliamps, joined_h);
        assert_eq!((&*joined.0, &*joined.1), worked, "{period_s} s");
    }
}

#[test]
fn the_table_of_other_periods_gives_the_same_lives_whatever_the_period_seen() {
    let estimate = example_of(&hourly(40));
    for (period_s, _, deep_h, _, joined_h) in ROWS {
        let period = Duration::from_secs(period_s).as_secs_f64();
        let row = estimate
            .periods
            .iter()
            .find(|row| (row.period.0 - period).abs() < 1e-9)
            .unwrap();
        let lives = [row.deep_sleep.0, row.joined.0].map(|life| format!("{life:.0}"));
        assert_eq!(lives, [deep_h, joined_h], "{period_s} s");
    }
}

#[test]
fn the_two_ways_cross_over_at_125_s() {
    // (110 - 0.01) 1.5 - (110 - 1.2) 0.15 = 148.665; over 1.2 - 0.01 it is 124.93.
    let Some(CrossOver::From(period)) = example_of(&hourly(5)).cross_over else {
        panic!("they cross");
    };
    assert!((period.0 - 124.93).abs() < 0.005, "{period:?}");
}

#[test]
fn a_display_of_50_ma_leaves_16_hours_and_is_told() {
    let lit = EXAMPLE.replace("display-milliamps = 0", "display-milliamps = 50");
    let board = Board::parse("lit.toml", &lit).unwrap();
    let cell = Cell::parse("lit.toml", &lit).unwrap();
    let estimate = estimate(&hourly(300), &board, &cell);
    let Some(Warning::DisplayAlwaysLit { display, alone }) = estimate.warning else {
        panic!("no warning");
    };
    assert_eq!(display, Milliamps(50.0));
    // 800 / 50.
    assert!((alone.0 - 16.0).abs() < 1e-9);
    // 800 / 50.56 and 800 / 51.25.
    assert_eq!(format!("{:.1}", estimate.deep_sleep.life.0), "15.8");
    assert_eq!(format!("{:.1}", estimate.joined.life.0), "15.6");
    assert_eq!(example_of(&hourly(300)).warning, None);
}

fn seconds_of_a_poll(board: &str, traffic: &Traffic) -> f64 {
    let board = Board::parse("board.toml", &format!("[board]\n{board}")).unwrap();
    let cell = Cell::builtin("lipo-1000").unwrap();
    estimate(traffic, &board, &cell).deep_sleep.poll.0
}

#[test]
fn a_poll_with_address_and_channel_kept_takes_about_half_a_second() {
    // 0.2 + 0.3 + 0.005 + 0.01 + 0.02.
    let poll = seconds_of_a_poll("like = \"wifi-two-core\"", &hourly(60));
    assert!((poll - 0.535).abs() < 1e-9, "{poll}");
}

#[test]
fn a_poll_with_dhcp_and_tls_takes_about_two_and_a_half() {
    // 0.2 + 1.0 + 0.3 + 0.03 + 1.0.
    let traffic = Traffic {
        connections_opened: 60,
        tls_handshakes: 60,
        ..hourly(60)
    };
    let board = "like = \"wifi-two-core\"\naddress-seconds = 1.0";
    let poll = seconds_of_a_poll(board, &traffic);
    assert!((poll - 2.53).abs() < 1e-9, "{poll}");
}

#[test]
fn a_slow_host_costs_its_delay_at_the_current_of_listening() {
    // d = 0.4 s, T = 10 s, I_rx = 100 mA: 4 mA, less the sleep that it takes the place of.
    let slow = Traffic {
        waiting: Duration::from_secs_f64(0.4 * 360.0),
        ..hourly(10)
    };
    let [quick, slow] = [hourly(10), slow].map(|traffic| example_of(&traffic));
    let more = slow.joined.average.0 - quick.joined.average.0;
    assert!((more - 0.4 * (100.0 - 1.2) / 10.0).abs() < 1e-9, "{more}");
    let more = slow.deep_sleep.average.0 - quick.deep_sleep.average.0;
    assert!((more - 0.4 * (100.0 - 0.01) / 10.0).abs() < 1e-9, "{more}");
}

#[test]
fn a_retry_costs_a_whole_poll_again() {
    let retried = Traffic {
        retries: 360,
        requests: 720,
        ..hourly(10)
    };
    let [once, twice] = [hourly(10), retried].map(|traffic| example_of(&traffic));
    assert!((twice.deep_sleep.poll.0 - 2.0 * once.deep_sleep.poll.0).abs() < 1e-9);
    assert!((twice.joined.poll.0 - 2.0 * once.joined.poll.0).abs() < 1e-9);
}

#[test]
fn a_kilobyte_costs_8_ms_of_radio() {
    let fat = Traffic {
        bytes_received: 900 * 3600,
        bytes_sent: 100 * 3600,
        ..hourly(1)
    };
    let [thin, fat] = [hourly(1), fat].map(|traffic| example_of(&traffic));
    assert!((fat.joined.poll.0 - thin.joined.poll.0 - 0.008).abs() < 1e-9);
    let more = fat.joined.radio_on_per_hour.0 - thin.joined.radio_on_per_hour.0;
    assert!((more - 0.008 * 3600.0).abs() < 1e-6);
    assert!((fat.per_hour.bytes - 3.6e6).abs() < 1e-6);
}

#[test]
fn one_secure_connection_kept_open_is_one_a_poll_out_of_deep_sleep() {
    let kept = Traffic {
        connections_opened: 1,
        tls_handshakes: 1,
        ..hourly(60)
    };
    let [plain, kept] = [hourly(60), kept].map(|traffic| example_of(&traffic));
    assert!((kept.deep_sleep.poll.0 - plain.deep_sleep.poll.0 - 1.0).abs() < 1e-9);
    assert!((kept.joined.poll.0 - plain.joined.poll.0 - 1.0 / 60.0).abs() < 1e-9);
}

#[test]
fn the_radio_is_never_off_where_a_poll_takes_longer_than_the_period() {
    let estimate = example_of(&hourly(1));
    // 1.5 s of poll, 0.35 of them waking: on for 1.15 of each 1.5 s.
    let on_s = estimate.deep_sleep.radio_on_per_hour.0;
    assert!((on_s - 3600.0 * 1.15 / 1.5).abs() < 1e-6, "{on_s}");
    assert!((estimate.deep_sleep.average.0 - 110.0).abs() < 1e-9);
}

#[test]
fn a_watcher_that_never_asked_only_sleeps() {
    let estimate = example_of(&Traffic {
        observed: Duration::from_secs(60),
        ..Traffic::default()
    });
    assert_eq!(estimate.period, None);
    assert_eq!(estimate.cross_over, None);
    assert!(estimate.periods.is_empty());
    assert!((estimate.joined.average.0 - 1.2).abs() < 1e-9);
    // 800 / 0.01.
    assert!((estimate.deep_sleep.life.0 - 80_000.0).abs() < 1e-6);
}

#[test]
fn a_cell_loses_charge_by_itself() {
    let losing = EXAMPLE.replace("per-month = 0", "per-month = 3");
    let board = Board::parse("losing.toml", &losing).unwrap();
    let cell = Cell::parse("losing.toml", &losing).unwrap();
    let life = estimate(&hourly(600), &board, &cell).deep_sleep.life.0;
    // 30 mAh in 730.5 h are 0.0411 mA beside 0.285 mA: 800 / 0.3260.
    assert_eq!(format!("{life:.0}"), "2454");
}
