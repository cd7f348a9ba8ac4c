//! The tables of `docs/power.md`.

use super::*;

const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/power.md");
const BEGIN: &str = "<!-- made of the code: begin -->\n";
const END: &str = "<!-- made of the code: end -->\n";

/// Says what is the same on every board once, and what differs for each.
fn board_table() -> String {
    let boards: Vec<Board> = Board::names()
        .into_iter()
        .map(|name| Board::builtin(name).unwrap())
        .collect();
    let mut table = "| key | what it is | limits | board | value | source | mark |\n".to_owned();
    table += "|---|---|---|---|---|---|---|\n";
    for key in Board::KEYS {
        let mut told: Vec<(&Figure, Vec<&str>)> = Vec::new();
        for board in &boards {
            let figure = board.figure(key.name).unwrap();
            match told.iter_mut().find(|(known, _)| *known == figure) {
                Some((_, names)) => names.push(board.name()),
                None => told.push((figure, vec![board.name()])),
            }
        }
        for (figure, names) in told {
            let all = names.len() == boards.len();
            let names = if all {
                "all".to_owned()
            } else {
                names.join(", ")
            };
            table += &row(key, &names, figure);
        }
    }
    table
}

fn cell_table() -> String {
    let mut table = "| key | what it is | limits | cell | value | source | mark |\n".to_owned();
    table += "|---|---|---|---|---|---|---|\n";
    for key in Cell::KEYS {
        let [capacity, ..] = Cell::KEYS else {
            panic!("a cell has a capacity");
        };
        let names = match key == capacity {
            true => Cell::names(),
            false => vec!["all"],
        };
        for name in names {
            let of = if name == "all" { "lipo-1000" } else { name };
            let cell = Cell::builtin(of).unwrap();
            table += &row(key, name, cell.figure(key.name).unwrap());
        }
    }
    table
}

fn row(key: &Key, names: &str, figure: &Figure) -> String {
    let Key {
        name,
        meaning,
        min,
        max,
        unit,
    } = key;
    let Figure {
        value,
        source,
        mark,
    } = figure;
    format!(
        "| `{name}` | {meaning} | {min} to {max} {unit} | {names} | {value} {unit} | {source} | {mark} |\n"
    )
}

#[test]
fn the_page_about_power_says_what_the_code_reckons_with() {
    let fresh = format!(
        "\n### Boards\n\n{}\n### Cells\n\n{}\n",
        board_table(),
        cell_table()
    );
    let kept = std::fs::read_to_string(FILE).unwrap();
    let (before, rest) = kept.split_once(BEGIN).unwrap();
    let (made, after) = rest.split_once(END).unwrap();
    if std::env::var_os("COLDBED_REFRESH").is_some() {
        std::fs::write(FILE, format!("{before}{BEGIN}{fresh}{END}{after}")).unwrap();
        return;
    }
    assert!(
        made == fresh,
        "docs/power.md is not fresh; refresh it with\n\
         COLDBED_REFRESH=1 cargo test -p coldbed \
         the_page_about_power_says_what_the_code_reckons_with"
    );
}

#[test]
fn the_file_that_the_page_shows_is_read() {
    let page = std::fs::read_to_string(FILE).unwrap();
    let (_, rest) = page.split_once("```toml\n").unwrap();
    let (file, _) = rest.split_once("```").unwrap();
    Board::parse("page.toml", file).unwrap();
    Cell::parse("page.toml", file).unwrap();
}
