//! The colours of the page are told apart on either ground.

use std::collections::HashMap;

const STYLE: &str = include_str!("../html/style.css");

/// Reads `--name: #rrggbb` after a mark of the style sheet.
fn colours(after: &str) -> HashMap<&'static str, [f64; 3]> {
    let (_, rest) = STYLE.split_once(after).unwrap();
    let (block, _) = rest.split_once('}').unwrap();
    let pairs = block.split(';').filter_map(|pair| pair.split_once(':'));
    let colours = pairs.filter_map(|(name, value)| {
        let hex = value
            .trim()
            .strip_prefix('#')
            .filter(|hex| hex.len() == 6)?;
        let channel = |from: usize| {
            let byte = u8::from_str_radix(&hex[from..from + 2], 16).unwrap();
            f64::from(byte) / 255.0
        };
        Some((name.trim(), [channel(0), channel(2), channel(4)]))
    });
    colours.collect()
}

/// # Source
/// WCAG 2.1, definitions "contrast ratio" and "relative luminance" (from memory).
fn contrast(a: [f64; 3], b: [f64; 3]) -> f64 {
    let luminance = |colour: [f64; 3]| {
        let [red, green, blue] = colour.map(|c| match c <= 0.04045 {
            true => c / 12.92,
            false => ((c + 0.055) / 1.055).powf(2.4),
        });
        0.2126 * red + 0.7152 * green + 0.0722 * blue + 0.05
    };
    let (a, b): (f64, f64) = (luminance(a), luminance(b));
    a.max(b) / a.min(b)
}

#[test]
fn text_and_lines_are_seen_on_a_light_and_on_a_dark_page() {
    for ground in ["\n:root {", "  :root {"] {
        let colours = colours(ground);
        let paper = colours["--paper"];
        // WCAG 2.1 success criterion 1.4.3.
        for word in [
            "ink", "muted", "link", "moment", "failed", "lacks", "unsteady", "known", "passed",
            "skipped",
        ] {
            let ratio = contrast(colours[format!("--{word}").as_str()], paper);
            assert!(ratio >= 4.5, "{word}: {ratio:.1}");
        }
        assert!(contrast(colours["--ink"], colours["--ground"]) >= 4.5);
        // Success criterion 1.4.11.
        for line in ["served", "claimed"] {
            let ratio = contrast(colours[format!("--{line}").as_str()], paper);
            assert!(ratio >= 3.0, "{line}: {ratio:.1}");
        }
    }
}
