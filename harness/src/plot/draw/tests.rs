use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::scenario::{BUILTIN, Scenario};
use resvg::usvg::roxmltree::Document;

use super::*;
use crate::plot::{Window, png};

fn chart(text: &str) -> Chart {
    let scenario = Arc::new(Scenario::parse("scenario", text).unwrap());
    let length = scenario.length.start().since_start();
    let window = Window::new(Duration::ZERO, length).unwrap();
    Chart::of(&scenario, 1, window, 400)
}

fn builtin(name: &str) -> &'static str {
    BUILTIN.iter().find(|(known, _)| *known == name).unwrap().1
}

fn words(svg: &str) -> Vec<String> {
    let document = Document::parse(svg).unwrap();
    let texts = document
        .descendants()
        .filter(|node| node.has_tag_name("text"));
    texts
        .map(|node| node.text().unwrap_or_default().trim().to_owned())
        .collect()
}

#[test]
fn the_same_chart_gives_the_same_drawing_and_the_same_pixels() {
    let draw = || svg(&chart(builtin("heat-up")), Size::default()).unwrap();
    let (one, two) = (draw(), draw());
    assert_eq!(one, two);
    assert_eq!(png(&one).unwrap(), png(&two).unwrap());
}

#[test]
fn the_picture_has_the_size_asked_for() {
    let size = Size {
        width: 900,
        height: 500,
    };
    let bytes = png(&svg(&chart(builtin("heat-up")), size).unwrap()).unwrap();
    // PNG, third edition, section 11.2.1: width and height are the first two words of IHDR.
    assert_eq!(&bytes[1..4], b"PNG");
    assert_eq!(bytes[16..24], [0, 0, 3, 132, 0, 0, 1, 244]);
}

#[test]
fn everything_that_is_shown_is_also_said_in_words() {
    let words = words(&svg(&chart(builtin("error")), Size::default()).unwrap());
    for word in [
        "extruder",
        "platform",
        "actual",
        "target",
        "error",
        "extruder-failure",
        "job door-stop",
        "Temperature, °C",
        "Progress, %",
        "Virtual time, m:ss",
    ] {
        assert!(words.iter().any(|text| text == word), "{word}: {words:?}");
    }
}

#[test]
fn a_title_of_markup_and_control_signs_gives_a_sound_document() {
    let text =
        builtin("heat-up").replace("title = \"", "title = \"\\u0001 </svg> & ]]> \\\"x\\\" ");
    let drawing = svg(&chart(&text), Size::default()).unwrap();
    let document = Document::parse(&drawing).unwrap();
    let title = document
        .descendants()
        .find(|node| node.has_tag_name("title"));
    let title = title.and_then(|node| node.text()).unwrap();
    assert!(title.starts_with("\u{fffd} </svg> & ]]> \"x\" "), "{title}");
    assert!(!png(&drawing).unwrap().is_empty());
}

#[test]
fn every_built_in_scenario_is_drawn_inside_its_page_at_every_usual_size() {
    let sizes = [(640, 480), (1200, 720), (3000, 1000)];
    for (name, text) in BUILTIN {
        let chart = chart(text);
        for (width, height) in sizes {
            let layout = Layout::new(&chart, Size { width, height });
            let panels = [&layout.temperature.rect, &layout.progress.rect];
            for rect in panels.into_iter().chain([&layout.strip]) {
                assert!(rect.height() >= 20.0, "{name} {width}x{height}: {rect:?}");
                assert!(rect.width() >= 300.0, "{name} {width}x{height}: {rect:?}");
            }
            assert!(layout.temperature.rect.bottom < layout.progress.rect.top);
            assert!(layout.progress.rect.bottom < layout.strip.top);
            assert_eq!(layout.labels_left_out(), 0, "{name} {width}x{height}");
        }
    }
}
