//! The formats, chosen by the file's ending.

use std::path::Path;

use super::PlotError;

/// Says what a file will hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// A drawing with text that can be searched and read aloud.
    Svg,
    /// The same drawing as pixels.
    Png,
    /// One row a step.
    Csv,
}

impl Format {
    /// Takes the format from the file's ending, in upper or lower case.
    ///
    /// # Errors
    /// [`PlotError::UnknownFormat`] for any other ending, or none.
    pub fn of(file: &Path) -> Result<Self, PlotError> {
        let ending = file.extension().map(std::ffi::OsStr::to_ascii_lowercase);
        match ending.as_ref().and_then(|ending| ending.to_str()) {
            Some("svg") => Ok(Self::Svg),
            Some("png") => Ok(Self::Png),
            Some("csv") => Ok(Self::Csv),
            _ => Err(PlotError::UnknownFormat {
                file: file.to_owned(),
            }),
        }
    }

    /// Gives the usual ending.
    pub const fn ending(self) -> &'static str {
        match self {
            Self::Svg => "svg",
            Self::Png => "png",
            Self::Csv => "csv",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ending_chooses_the_format_in_any_case() {
        for (file, format) in [
            ("a.svg", Format::Svg),
            ("dir.csv/b.PNG", Format::Png),
            ("c.d.Csv", Format::Csv),
        ] {
            assert_eq!(Format::of(Path::new(file)).unwrap(), format, "{file}");
        }
    }

    #[test]
    fn another_ending_is_refused_by_name() {
        for file in ["plot", "plot.pdf", ".svg", "plot.svg.gz", "plot."] {
            let message = Format::of(Path::new(file)).unwrap_err().to_string();
            assert!(message.contains(&format!("`{file}`")), "{message}");
        }
    }
}
