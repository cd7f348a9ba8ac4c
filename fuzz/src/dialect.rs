//! The text of a dialect.

use std::sync::LazyLock;

use coldbed_mock::dialect::DialectFile;
use coldbed_mock::sim::Truth;
use serde_json::Value;

use super::printing;

static TRUTH: LazyLock<Truth> = LazyLock::new(|| printing::truth_at_s(7200));

/// Reads a dialect. What is read can be described and shown during a print; what is not says so in
/// one line.
///
/// # Panics
/// One of these does not hold.
pub fn target(bytes: &[u8]) {
    let Some(text) = super::text(bytes) else {
        return;
    };
    match DialectFile::parse("fuzzed", text) {
        Ok(file) => {
            assert!(!file.versions().is_empty());
            for (place, version) in file.versions().iter().enumerate() {
                assert_eq!(version.place(), place);
                let described = version
                    .describe_openapi("http://127.0.0.1:8631")
                    .to_string();
                assert!(serde_json::from_str::<Value>(&described).is_ok());
                let _shown = version.preview(&TRUTH);
            }
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}

/// Gives the built-in dialects and a file with every key.
pub fn seeds() -> Vec<Vec<u8>> {
    const EVERY_KEY: &str = include_str!("../../mock/src/dialect/tests/every-key.toml");
    let texts = DialectFile::builtin_names().filter_map(DialectFile::builtin_text);
    texts
        .chain([EVERY_KEY])
        .map(|text| text.as_bytes().to_vec())
        .collect()
}
