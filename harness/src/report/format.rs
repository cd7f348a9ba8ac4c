//! Which reports are wanted, and where: `FORMAT=FILE`.

use std::path::PathBuf;
use std::str::FromStr;

/// Is a form of the report for machines, or for a browser.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// All of it, by `schemas/report.schema.json`.
    Json,
    /// JUnit XML, as CI systems read it.
    Junit,
    /// The Test Anything Protocol, version 14.
    Tap,
    /// One page for a browser, with plots and bytes of what failed.
    Html,
}

impl Format {
    /// Every format, in the order of the help.
    pub const ALL: [Self; 4] = [Self::Json, Self::Junit, Self::Tap, Self::Html];

    /// Gives the word on the command line.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Json => "json",
            Self::Junit => "junit",
            Self::Tap => "tap",
            Self::Html => "html",
        }
    }
}

/// Says where a report goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// Standard output, in place of the report for people.
    Stdout,
    /// A file, which is replaced as a whole.
    File(PathBuf),
}

/// Is a report that is wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wanted {
    /// Its form.
    pub format: Format,
    /// Where it goes.
    pub to: Target,
}

/// Says why a text names no report.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WantedError {
    /// There is no `=`, or nothing after it.
    #[error("a report is written FORMAT=FILE, such as json=report.json [`-` is standard output]")]
    Form,
    /// There is no such format.
    #[error("no report is called `{word}` [json, junit, tap or html]")]
    Format {
        /// The word that was given.
        word: String,
    },
}

impl FromStr for Wanted {
    type Err = WantedError;

    fn from_str(text: &str) -> Result<Self, WantedError> {
        let (word, file) = text.split_once('=').ok_or(WantedError::Form)?;
        let format = Format::ALL.into_iter().find(|format| format.word() == word);
        let format = format.ok_or_else(|| WantedError::Format {
            word: word.to_owned(),
        })?;
        let to = match file {
            "" => return Err(WantedError::Form),
            "-" => Target::Stdout,
            file => Target::File(file.into()),
        };
        Ok(Self { format, to })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_report_is_a_format_and_a_file_and_a_dash_is_standard_output() {
        let wanted: Wanted = "html=out/a=b.html".parse().unwrap();
        assert_eq!(wanted.format, Format::Html);
        assert_eq!(wanted.to, Target::File("out/a=b.html".into()));
        assert_eq!("tap=-".parse::<Wanted>().unwrap().to, Target::Stdout);
    }

    #[test]
    fn what_names_no_report_is_refused_with_what_there_is() {
        for text in ["", "json", "json=", "=x"] {
            assert!(text.parse::<Wanted>().is_err(), "{text}");
        }
        let message = "xml=a".parse::<Wanted>().unwrap_err().to_string();
        assert_eq!(
            message,
            "no report is called `xml` [json, junit, tap or html]"
        );
    }
}
