//! Photos made small enough for paper.

use std::io::Cursor;

use image::{ImageFormat, ImageReader};
use jpeg_encoder::{ColorType, Encoder, SamplingFactor};

/// The longest side on paper, in pixels: 270 to the inch where two photos stand side by side.
const SIDE_MAX: u32 = 860;

/// How good the JPEG is, of 100.
const QUALITY: u8 = 80;

/// The photo with at most [`SIDE_MAX`] pixels a side. What is kept stands upright already.
pub(super) fn small(jpeg: &[u8]) -> Option<Vec<u8>> {
    let reader = ImageReader::with_format(Cursor::new(jpeg), ImageFormat::Jpeg);
    let picture = reader.decode().ok()?;
    let is_large = picture.width().max(picture.height()) > SIDE_MAX;
    // The mean of what a spot stands for: quicker than a finer filter, and a report has a dozen.
    let picture = match is_large {
        true => picture.thumbnail(SIDE_MAX, SIDE_MAX).into_rgb8(),
        false => picture.into_rgb8(),
    };
    let (width, height) = picture.dimensions();
    let mut small = Vec::new();
    let mut encoder = Encoder::new(&mut small, QUALITY);
    // The eye sees colours half as sharp as light and dark.
    encoder.set_sampling_factor(SamplingFactor::F_2_2);
    let (width, height) = (u16::try_from(width).ok()?, u16::try_from(height).ok()?);
    encoder
        .encode(picture.as_raw(), width, height, ColorType::Rgb)
        .ok()?;
    Some(small)
}

#[cfg(test)]
mod tests {
    use image::RgbImage;

    use super::*;

    fn made_small(picture: &RgbImage) -> RgbImage {
        let mut jpeg = Vec::new();
        picture
            .write_to(&mut Cursor::new(&mut jpeg), ImageFormat::Jpeg)
            .unwrap();
        let small = small(&jpeg).unwrap();
        image::load_from_memory(&small).unwrap().into_rgb8()
    }

    #[test]
    fn a_large_photo_keeps_its_shape_and_its_shades() {
        let picture = RgbImage::from_fn(2_560, 1_920, |x, _| match x < 1_280 {
            true => image::Rgb([200, 40, 40]),
            false => image::Rgb([40, 40, 200]),
        });
        let small = made_small(&picture);
        assert_eq!(small.dimensions(), (860, 645));
        let near = |x, expected: [u8; 3]| {
            let parts = small.get_pixel(x, 300).0.into_iter().zip(expected);
            parts
                .into_iter()
                .all(|(part, expected)| part.abs_diff(expected) < 8)
        };
        assert!(near(100, [200, 40, 40]) && near(760, [40, 40, 200]));
    }

    #[test]
    fn a_strip_thinner_than_a_spot_stays_a_strip() {
        let strip = RgbImage::from_pixel(2_560, 2, image::Rgb([90, 80, 70]));
        assert_eq!(made_small(&strip).dimensions(), (860, 1));
    }
}
