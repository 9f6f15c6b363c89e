//! Photos made small enough for paper.

use std::io::Cursor;

use image::{ImageFormat, ImageReader, RgbImage};
use jpeg_encoder::{ColorType, Encoder, SamplingFactor};

/// The longest side on paper, in pixels: 270 to the inch where two photos stand side by side.
const SIDE_MAX: u32 = 860;

/// How good the JPEG is, of 100.
const QUALITY: u8 = 80;

/// The photo with at most [`SIDE_MAX`] pixels a side. What is kept stands upright already.
pub(super) fn small(jpeg: &[u8]) -> Option<Vec<u8>> {
    let reader = ImageReader::with_format(Cursor::new(jpeg), ImageFormat::Jpeg);
    let picture = reader.decode().ok()?.into_rgb8();
    let times = picture.width().max(picture.height()).div_ceil(SIDE_MAX);
    let picture = match times {
        0 | 1 => picture,
        times => shrunk(&picture, times as usize)?,
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

/// The picture `times` smaller: each spot is the mean of `times` by `times`. What does not fill a
/// spot at the right and lower edge is left out. Whole numbers make it several times as fast as a
/// resampling to any size, and a report has a dozen of them.
fn shrunk(picture: &RgbImage, times: usize) -> Option<RgbImage> {
    let (across, down) = (
        (picture.width() as usize / times).max(1),
        (picture.height() as usize / times).max(1),
    );
    let row = picture.width() as usize * 3;
    let mut small = Vec::with_capacity(across * down * 3);
    let mut sums = vec![0_u32; row];
    for band in picture.as_raw().chunks(row * times).take(down) {
        sums.fill(0);
        for line in band.chunks_exact(row) {
            for (sum, part) in sums.iter_mut().zip(line) {
                *sum += u32::from(*part);
            }
        }
        let lines = band.len() / row;
        for spots in sums.chunks(3 * times).take(across) {
            let area = (spots.len() / 3 * lines) as u32;
            let mut total = [area / 2; 3];
            for spot in spots.chunks_exact(3) {
                for (total, part) in total.iter_mut().zip(spot) {
                    *total += part;
                }
            }
            small.extend(total.map(|total| (total / area) as u8));
        }
    }
    RgbImage::from_raw(across as u32, down as u32, small)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_spot_is_the_mean_of_what_it_stands_for() {
        let picture = RgbImage::from_fn(7, 4, |x, y| {
            image::Rgb([(x * 10) as u8, (y * 20) as u8, 255])
        });
        let small = shrunk(&picture, 2).unwrap();
        assert_eq!(small.dimensions(), (3, 2));
        assert_eq!(small.get_pixel(0, 0).0, [5, 10, 255]);
        assert_eq!(small.get_pixel(2, 1).0, [45, 50, 255]);
    }

    #[test]
    fn a_strip_thinner_than_a_spot_stays_a_strip() {
        let strip = RgbImage::from_pixel(2_560, 2, image::Rgb([9, 8, 7]));
        let small = shrunk(&strip, 3).unwrap();
        assert_eq!(small.dimensions(), (853, 1));
        assert!(small.pixels().all(|pixel| pixel.0 == [9, 8, 7]));
    }
}
