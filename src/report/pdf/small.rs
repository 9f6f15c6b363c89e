//! Photos made small enough for paper.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::{ImageFormat, ImageReader};

/// The longest side on paper, in pixels: 250 to the inch where two photos stand side by side.
const SIDE_MAX: u32 = 800;

/// How good the JPEG is, of 100.
const QUALITY: u8 = 80;

/// The photo with at most [`SIDE_MAX`] pixels a side. What is kept stands upright already.
pub(super) fn small(jpeg: &[u8]) -> Option<Vec<u8>> {
    let reader = ImageReader::with_format(Cursor::new(jpeg), ImageFormat::Jpeg);
    let picture = reader.decode().ok()?;
    let picture = if picture.width().max(picture.height()) > SIDE_MAX {
        picture.thumbnail(SIDE_MAX, SIDE_MAX)
    } else {
        picture
    };
    let mut small = Vec::new();
    picture
        .into_rgb8()
        .write_with_encoder(JpegEncoder::new_with_quality(&mut small, QUALITY))
        .ok()?;
    Some(small)
}
