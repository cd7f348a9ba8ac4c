//! Names and files of users, with what can be wrong with them.

use super::*;

fn refused(text: &str) -> String {
    match Board::parse("my.toml", text) {
        Ok(_) => Cell::parse("my.toml", text).unwrap_err().to_string(),
        Err(error) => error.to_string(),
    }
}

#[test]
fn every_built_in_name_is_a_board_or_a_cell_within_its_limits() {
    for name in Board::names() {
        let board = Board::builtin(name).unwrap();
        assert_eq!(board.name(), name);
        // All the checks of a file hold for it too.
        let text = format!("[board]\nname = \"same\"\nlike = \"{name}\"\n");
        assert_eq!(Board::parse("same.toml", &text).unwrap().name(), "same");
        for key in Board::KEYS {
            let figure = board.figure(key.name).unwrap();
            let limits = key.min..=key.max;
            assert!(limits.contains(&figure.value), "{name}: {}", key.name);
            assert!(!figure.source.is_empty(), "{name}: {}", key.name);
        }
    }
    for name in Cell::names() {
        let cell = Cell::builtin(name).unwrap();
        assert_eq!(cell.name(), name);
        for key in Cell::KEYS {
            let figure = cell.figure(key.name).unwrap();
            assert!((key.min..=key.max).contains(&figure.value), "{name}");
        }
    }
}

#[test]
fn a_key_ends_in_the_unit_it_is_in() {
    let units = [
        ("milliamps", "mA"),
        ("seconds", "s"),
        ("megabits-per-second", "Mbit/s"),
        ("milliamp-hours", "mAh"),
        ("usable-percent", "%"),
        ("percent-per-month", "% a month"),
    ];
    for key in Board::KEYS.iter().chain(Cell::KEYS) {
        let named = units.iter().find(|(ending, _)| key.name.ends_with(ending));
        let longest = units
            .iter()
            .filter(|(ending, _)| key.name.ends_with(ending))
            .max_by_key(|(ending, _)| ending.len());
        assert!(named.is_some(), "{}", key.name);
        assert_eq!(longest.unwrap().1, key.unit, "{}", key.name);
    }
}

#[test]
fn a_name_that_is_nearly_one_is_told_with_the_one_that_was_meant() {
    assert_eq!(
        Board::builtin("wifi-smal").unwrap_err().to_string(),
        "there is no board `wifi-smal` [did you mean `wifi-small`?]"
    );
    assert_eq!(
        Cell::builtin("potato").unwrap_err().to_string(),
        "there is no cell `potato` [there are: lipo-400, lipo-1000, lipo-2000, 18650-2500]"
    );
}

#[test]
fn one_file_may_describe_both_and_says_only_what_differs() {
    let text = "[board]\nname = \"my desk\"\nlike = \"wifi-small\"\nwake-seconds = 0.4\n\
                [cell]\nlike = \"lipo-400\"\ncapacity-milliamp-hours = 380.5\n";
    let (board, cell) = (
        Board::parse("my.toml", text).unwrap(),
        Cell::parse("my.toml", text).unwrap(),
    );
    assert_eq!((board.name(), cell.name()), ("my desk", "my.toml"));
    let wake = board.figure("wake-seconds").unwrap();
    assert_eq!((&*wake.source, wake.mark), ("my.toml:4", Mark::Given));
    let kept = Board::builtin("wifi-small").unwrap();
    assert_eq!(board.figure("join-seconds"), kept.figure("join-seconds"));
    assert!((cell.figure("capacity-milliamp-hours").unwrap().value - 380.5).abs() < 1e-9);
}

#[test]
fn what_is_wrong_with_a_file_is_told_with_its_line() {
    let cases = [
        "[board\n",
        "[battery]\n",
        "[boards]\nlike = \"wifi-small\"\n",
        "",
        "board = 3\n",
        "[cell]\nlike = \"lipo-400\"\n",
        "[board]\nlike = \"wifi-samll\"\n",
        "[board]\nlike = 7\n",
        "[board]\nlike = \"wifi-small\"\nname = true\n",
        "[board]\nlike = \"wifi-small\"\nwake-secconds = 1\n",
        "[board]\nlike = \"wifi-small\"\nvoltage = 3.3\n",
        "[board]\nlike = \"wifi-small\"\nwake-seconds = \"1s\"\n",
        "[board]\nlike = \"wifi-small\"\nwake-seconds = -1\n",
        "[board]\nlike = \"wifi-small\"\nactive-milliamps = 5000\n",
        "[board]\nlike = \"wifi-small\"\nwake-seconds = nan\n",
        "[board]\nlike = \"wifi-small\"\nwake-seconds = inf\n",
        "[board]\nlike = \"wifi-small\"\nreceive-milliamps = 90\n",
        "[board]\nwake-seconds = 1\n",
        "[board]\nlike = \"wifi-small\"\nwake-seconds = 1\nwake-seconds = 2\n",
        "[board]\nlike = \"wifi-small\"\n[cell]\nusable-percent = 80\n",
        "[board]\nlike = \"wifi-small\"\n[cell]\nlike = \"lipo-400\"\nusable-percent = 0.8\n",
        "[board]\nlike = \"wifi-small\"\n[cell]\nlike = \"lipo\"\n",
    ];
    let told: String = cases
        .iter()
        .map(|text| format!("{text:?}\n  {}\n", refused(text)))
        .collect();
    insta::assert_snapshot!(told);
}
