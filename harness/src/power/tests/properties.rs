//! What holds of any traffic on any board.

use proptest::prelude::*;

use super::*;

/// What rounding may take, as a share: some dozen operations of doubles.
const ROUNDING: f64 = 1e-12;

fn traffic() -> impl Strategy<Value = Traffic> {
    (
        (
            0..10_000_000_u64,
            0..10_000_u64,
            0..10_000_u64,
            0..100_000_u64,
        ),
        (0..100_000_u64, 0..100_000_u64),
        (any::<u32>(), any::<u32>(), 0..100_000_000_u64),
    )
        .prop_map(|(counts, opened, amounts)| Traffic {
            observed: Duration::from_millis(counts.0),
            polls: counts.1,
            retries: counts.2,
            requests: counts.3,
            connections_opened: opened.0,
            tls_handshakes: opened.1,
            bytes_received: amounts.0.into(),
            bytes_sent: amounts.1.into(),
            waiting: Duration::from_millis(amounts.2),
        })
}

/// A board that keeps the limits, with currents in order.
fn board() -> impl Strategy<Value = Board> {
    let share = || 0.0..=1.0_f64;
    let currents = prop::array::uniform4(share());
    let others = prop::array::uniform10(share());
    (currents, others).prop_map(|(mut currents, others)| {
        currents.sort_by(|a, b| b.total_cmp(a));
        let mut text = "[board]\n".to_owned();
        for (key, share) in Board::KEYS.iter().zip(currents.into_iter().chain(others)) {
            // Near the lower end as often as near the upper one. The currents share their limits as
            // far as that keeps their order.
            let value = key.min + (key.max - key.min) * share.powi(4);
            text += &format!("{} = {value:?}\n", key.name);
        }
        Board::parse("any.toml", &text).unwrap()
    })
}

fn cell() -> impl Strategy<Value = Cell> {
    prop::sample::select(Cell::names()).prop_map(|name| Cell::builtin(name).unwrap())
}

/// Every number of the estimate, by way of its JSON.
fn numbers(value: &serde_json::Value) -> Vec<f64> {
    match value {
        serde_json::Value::Number(number) => vec![number.as_f64().unwrap()],
        serde_json::Value::Array(values) => values.iter().flat_map(numbers).collect(),
        serde_json::Value::Object(members) => members.values().flat_map(numbers).collect(),
        _ => Vec::new(),
    }
}

proptest! {
    #[test]
    fn a_longer_period_never_shortens_life(traffic in traffic(), board in board(), cell in cell()) {
        for pair in estimate(&traffic, &board, &cell).periods.windows(2) {
            prop_assert!(pair[1].joined >= pair[0].joined);
            prop_assert!(pair[1].deep_sleep >= pair[0].deep_sleep);
        }
    }

    #[test]
    fn more_bytes_never_lengthen_it(
        traffic in traffic(), more in any::<u32>(), board in board(), cell in cell(),
    ) {
        let fatter = Traffic { bytes_received: traffic.bytes_received + u64::from(more), ..traffic };
        let [thin, fat] = [traffic, fatter].map(|traffic| estimate(&traffic, &board, &cell));
        let longest = 1.0 + ROUNDING;
        prop_assert!(fat.joined.life.0 <= thin.joined.life.0 * longest);
        prop_assert!(fat.deep_sleep.life.0 <= thin.deep_sleep.life.0 * longest);
        for (fat, thin) in fat.periods.iter().zip(&thin.periods) {
            prop_assert!(fat.joined.0 <= thin.joined.0 * longest);
            prop_assert!(fat.deep_sleep.0 <= thin.deep_sleep.0 * longest);
        }
    }

    #[test]
    fn all_numbers_are_finite_and_not_below_0(
        traffic in traffic(), board in board(), cell in cell(),
    ) {
        let estimate = estimate(&traffic, &board, &cell);
        // A number that is not finite would be null.
        let json = serde_json::to_value(&estimate).unwrap();
        let nulls = json.as_object().unwrap().values().filter(|value| value.is_null()).count();
        let absent = [
            estimate.period.is_none(), estimate.cross_over.is_none(), estimate.warning.is_none(),
        ];
        prop_assert_eq!(nulls, absent.into_iter().filter(|absent| *absent).count());
        for way in ["joined", "deep-sleep"] {
            prop_assert!(json[way].as_object().unwrap().values().all(|value| value.is_number()));
        }
        for number in numbers(&json) {
            prop_assert!(number.is_finite() && number >= 0.0, "{}", json);
        }
        prop_assert!(!text(&estimate, 80).contains("NaN"));
    }

    #[test]
    fn deep_sleep_is_cheaper_beyond_the_cross_over_and_dearer_before(
        traffic in traffic(), board in board(), cell in cell(),
    ) {
        let estimate = estimate(&traffic, &board, &cell);
        // Before it a poll out of deep sleep must be the longer one, as it is with real times.
        let is_usual = estimate.deep_sleep.poll >= estimate.joined.poll;
        for row in estimate.periods.iter().filter(|_| is_usual) {
            let (deep, joined) = (row.deep_sleep.0, row.joined.0);
            match estimate.cross_over {
                Some(CrossOver::From(from)) if row.period > from => {
                    prop_assert!(deep >= joined * (1.0 - ROUNDING));
                }
                Some(CrossOver::From(from)) if row.period < from => {
                    prop_assert!(deep <= joined * (1.0 + ROUNDING), "{row:?} {from:?}");
                }
                _ => {}
            }
        }
    }
}
