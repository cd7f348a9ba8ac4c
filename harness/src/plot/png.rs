//! The drawing as pixels.

use std::sync::Arc;

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};

use super::PlotError;
use super::draw::FONT_FAMILY;

/// Renders an SVG made by [`svg`](super::svg) to PNG, one pixel to a pixel of its size.
///
/// Reads no file and no font of the machine: the same drawing gives the same bytes anywhere.
///
/// # Errors
/// [`PlotError::Draw`] when the drawing cannot be read or is too large for the memory.
pub fn png(svg: &str) -> Result<Vec<u8>, PlotError> {
    let options = Options {
        fontdb: Arc::new(fonts()),
        font_family: FONT_FAMILY.to_owned(),
        ..Options::default()
    };
    let tree = Tree::from_str(svg, &options).map_err(|error| failed(&error))?;
    let size = tree.size().to_int_size();
    let mut pixels = Pixmap::new(size.width(), size.height())
        .ok_or_else(|| failed(&"no memory for that many pixels"))?;
    resvg::render(&tree, Transform::identity(), &mut pixels.as_mut());
    pixels.encode_png().map_err(|error| failed(&error))
}

fn fonts() -> fontdb::Database {
    let mut fonts = fontdb::Database::new();
    fonts.load_font_data(notosans::REGULAR_TTF.to_vec());
    fonts.load_font_data(notosans::BOLD_TTF.to_vec());
    fonts.set_sans_serif_family(FONT_FAMILY);
    fonts
}

fn failed(why: &impl ToString) -> PlotError {
    PlotError::Draw {
        why: why.to_string(),
    }
}
