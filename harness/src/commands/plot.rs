//! `coldbed plot`.

use std::io::BufWriter;
use std::path::Path;
use std::sync::Arc;

use coldbed_mock::scenario::Scenario;
use coldbed_mock::sim::Tick;

use super::say::say;
use super::whole_file::WholeFile;
use super::{Failure, scenario};
use crate::cli::PlotArgs;
use crate::exit_code::Outcome;
use crate::plot::{self, Chart, Format, PlotError, Size, Window};

pub(super) fn plot(args: &PlotArgs) -> Result<Outcome, Failure> {
    let content = Content::of(args).map_err(failure)?;
    let scenario = scenario(&args.scenario)?;
    let until = args.until.unwrap_or(scenario.length.start().since_start());
    let window = Window::new(args.from, until).map_err(failure)?;
    // Before the simulation, which may take its time: a file that cannot be written is told at once.
    let file =
        WholeFile::beside(&args.to).map_err(|error| failure(cannot_write(&args.to, error)))?;
    let line = content.write(&scenario, args.seed, window, file);
    say(format_args!("{}\n", line.map_err(failure)?));
    Ok(Outcome::Done)
}

/// Is what the file will hold.
enum Content {
    Picture { format: Format, size: Size },
    Table { step: Tick },
}

impl Content {
    /// Takes it from the arguments; a flag that would have no effect is a mistake.
    fn of(args: &PlotArgs) -> Result<Self, PlotError> {
        let format = Format::of(&args.to)?;
        let is_table = format == Format::Csv;
        let picture = "sets the size of a picture";
        let strangers = [
            ("--width", is_table && args.width.is_some(), picture),
            ("--height", is_table && args.height.is_some(), picture),
            (
                "--step",
                !is_table && args.step.is_some(),
                "sets the rows of a table",
            ),
        ];
        for (flag, is_stranger, meaning) in strangers {
            if is_stranger {
                return Err(PlotError::NotOfTheFormat {
                    flag,
                    format: format.ending(),
                    meaning,
                });
            }
        }
        if is_table {
            let step = plot::step_ticks(args.step.unwrap_or(plot::DEFAULT_STEP))?;
            return Ok(Self::Table { step });
        }
        let usual = Size::default();
        let size = Size {
            width: args.width.unwrap_or(usual.width),
            height: args.height.unwrap_or(usual.height),
        };
        Ok(Self::Picture { format, size })
    }

    /// Fills the file and gives a line that says so.
    fn write(
        &self,
        scenario: &Arc<Scenario>,
        seed: u64,
        window: Window,
        mut file: WholeFile<'_>,
    ) -> Result<String, PlotError> {
        let name = file.name();
        match *self {
            Self::Table { step } => {
                let out = BufWriter::new(file.as_file_mut());
                let rows = plot::write_table(scenario, seed, window, step, out)
                    .map_err(|error| naming(name, error))?;
                file.finish().map_err(|error| cannot_write(name, error))?;
                Ok(format!("wrote {}: {rows} rows", name.display()))
            }
            Self::Picture { format, size } => {
                let chart = Chart::of(scenario, seed, window, size.width);
                let svg = plot::svg(&chart, size)?;
                let bytes = if format == Format::Png {
                    warn_of_missing_signs(&chart);
                    plot::png(&svg)?
                } else {
                    svg.into_bytes()
                };
                file.put(&bytes)
                    .and_then(|()| file.finish())
                    .map_err(|error| cannot_write(name, error))?;
                let Size { width, height } = size;
                Ok(format!("wrote {}: {width} x {height} px", name.display()))
            }
        }
    }
}

fn warn_of_missing_signs(chart: &Chart) {
    let names = chart.heaters.iter().map(|heater| heater.name.as_str());
    let marks = chart.marks.iter().map(|mark| mark.text.as_str());
    let titles = [chart.title.as_str(), chart.name.as_str()];
    let mut words = titles.into_iter().chain(names).chain(marks);
    if let Some(sign) = words.find_map(plot::missing_sign) {
        eprintln!(
            "coldbed: the font of a .png has no sign for `{sign}` [a .svg leaves the font to its viewer]"
        );
    }
}

fn cannot_write(file: &Path, source: std::io::Error) -> PlotError {
    PlotError::Write {
        file: file.to_owned(),
        source,
    }
}

/// Names the file in an error of the table, which knows no file.
fn naming(file: &Path, error: PlotError) -> PlotError {
    match error {
        PlotError::Table(error) => cannot_write(file, error.into()),
        error => error,
    }
}

fn failure(error: PlotError) -> Failure {
    let outcome = if error.is_bad_input() {
        Outcome::BadInput
    } else {
        Outcome::OwnFault
    };
    Failure::new(outcome, error)
}

#[cfg(test)]
mod tests {
    use std::os::unix::fs::PermissionsExt;
    use std::path::PathBuf;

    use clap::Parser;

    use super::*;
    use crate::cli::{Cli, Command};

    fn run(words: &[&str], to: &Path) -> Result<Outcome, Failure> {
        let to = ["--to", to.to_str().unwrap()];
        let words = ["coldbed", "plot"].iter().chain(words).chain(&to);
        match Cli::try_parse_from(words).unwrap().command {
            Command::Plot(args) => plot(&args),
            other => panic!("{other:?}"),
        }
    }

    fn refusal(words: &[&str], to: &Path) -> String {
        let failure = run(words, to).err().unwrap();
        assert_eq!(failure.outcome, Outcome::BadInput);
        failure.error.to_string()
    }

    fn names(folder: &Path) -> Vec<PathBuf> {
        let entries = std::fs::read_dir(folder).unwrap();
        entries.map(|entry| entry.unwrap().path()).collect()
    }

    #[test]
    fn the_file_holds_what_its_ending_says() {
        let folder = tempfile::tempdir().unwrap();
        for (name, start) in [
            ("a.svg", &b"<svg "[..]),
            ("a.PNG", b"\x89PNG\r\n"),
            ("a.csv", b"seconds,phase,"),
        ] {
            let file = folder.path().join(name);
            run(&["heat-up", "--until", "2s"], &file).ok().unwrap();
            assert!(std::fs::read(&file).unwrap().starts_with(start), "{name}");
        }
        assert_eq!(names(folder.path()).len(), 3);
    }

    #[test]
    fn a_file_that_was_there_is_replaced_and_is_as_readable_as_any_new_one() {
        let folder = tempfile::tempdir().unwrap();
        let (file, other) = (folder.path().join("a.csv"), folder.path().join("b"));
        for path in [&file, &other] {
            std::fs::write(path, "old").unwrap();
        }
        run(&["heat-up", "--until", "2s"], &file).ok().unwrap();
        assert_eq!(std::fs::read_to_string(&file).unwrap().lines().count(), 4);
        let mode = |path: &Path| std::fs::metadata(path).unwrap().permissions().mode();
        assert_eq!(mode(&file), mode(&other));
    }

    #[test]
    fn a_failure_leaves_what_was_there_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        // A folder of that name cannot be replaced by a file.
        let taken = folder.path().join("a.svg");
        std::fs::create_dir(&taken).unwrap();
        let message = refusal(&["heat-up", "--until", "2s"], &taken);
        assert!(message.contains("a.svg`"), "{message}");
        assert_eq!(names(folder.path()), [taken]);
    }

    #[test]
    fn a_folder_that_is_not_there_is_told_without_the_name_of_a_temporary_file() {
        let folder = tempfile::tempdir().unwrap();
        let failure = run(&["heat-up"], &folder.path().join("none/a.svg"));
        let error = failure.err().unwrap().error;
        let cause = error.source().unwrap().to_string();
        // errno 2 is ENOENT (errno.h of Linux).
        assert_eq!(cause, std::io::Error::from_raw_os_error(2).to_string());
    }

    #[test]
    fn a_flag_that_would_have_no_effect_is_refused() {
        let (picture, table) = (Path::new("a.png"), Path::new("a.csv"));
        for (words, to) in [
            (["heat-up", "--step", "2s"], picture),
            (["heat-up", "--width", "900"], table),
            (["heat-up", "--height", "900"], table),
        ] {
            let message = refusal(&words, to);
            assert!(message.starts_with(words[1]), "{message}");
        }
    }

    #[test]
    fn a_window_that_ends_before_it_begins_writes_no_file() {
        let folder = tempfile::tempdir().unwrap();
        // The scenario lasts 10 min.
        refusal(&["heat-up", "--from", "20m"], &folder.path().join("a.svg"));
        refusal(
            &["heat-up", "--from", "9m", "--until", "8m"],
            &folder.path().join("a.svg"),
        );
        assert!(names(folder.path()).is_empty());
    }
}
