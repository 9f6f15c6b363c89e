//! Photos for the demo: drawn, and plainly no photos of anything real.

use std::io::Cursor;

use image::{ImageFormat, Rgb, RgbImage};

/// A drawn fan on a plate; whose it is, `what` and `number` make each another one, as photos of
/// several places are.
pub(super) fn picture(whose: &str, what: &str, number: u8) -> Result<Vec<u8>, String> {
    let letters = whose.bytes().chain(what.bytes());
    let seed = letters.fold(u32::from(number), |seed, letter| {
        seed.wrapping_mul(31).wrapping_add(u32::from(letter))
    });
    let tint = ((seed % 60) as u8).saturating_add(120);
    let (wide, high) = (320, 240);
    let turned = f32::from(number) * 0.4;
    let aside = ((seed / 7 % 9) as f32 - 4.0) * 24.0;
    let below = ((seed / 63 % 5) as f32 - 2.0) * 20.0;
    let blades = 3.0 + (seed / 315 % 4) as f32;
    let drawn = RgbImage::from_fn(wide, high, |x, y| {
        let (across, down) = (
            x as f32 * 2.0 - 320.0 - aside,
            y as f32 * 2.0 - 240.0 - below,
        );
        let (radius, angle) = (across.hypot(down), down.atan2(across));
        let blade = ((angle * blades + turned + radius / 60.0).sin() > 0.2) && radius < 165.0;
        let frosted = (x / 8 + y / 8) % 2 == 0;
        match radius {
            r if r < 34.0 => Rgb([60, 64, 66]),
            _ if blade => Rgb([tint, 150, 158]),
            r if r < 175.0 => Rgb([214, 220, 222]),
            r if r < 190.0 => Rgb([90, 96, 99]),
            _ if frosted => Rgb([198, 206, 210]),
            _ => Rgb([190, 199, 204]),
        }
    });
    let mut bytes = Cursor::new(Vec::new());
    drawn
        .write_to(&mut bytes, ImageFormat::Png)
        .map_err(|error| error.to_string())?;
    Ok(bytes.into_inner())
}
