//! Pictures as PNG, for places that show no SVG.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};

use super::chart::CannotDraw;
use crate::record::chain::Hash;

/// How wide a picture is made, in pixels: enough for a phone held close.
pub const WIDTH: u32 = 1280;

/// The most pixels of height for the width, so that a strange picture takes no memory.
const HEIGHT_MAX: f32 = 4.0 * WIDTH as f32;

/// The most pixels of a sheet's two sides together.
const SHEET_SIDES_MAX: f32 = 9_990.0;

/// So many pictures are kept drawn.
const KEPT_MAX: usize = 256;

/// The only letters there are: DejaVu Sans, whose licence lies beside it.
pub(super) static FONTS: [&[u8]; 2] = [
    include_bytes!("../../templates/fonts/DejaVuSans.ttf"),
    include_bytes!("../../templates/fonts/DejaVuSans-Bold.ttf"),
];

/// A drawn picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Png {
    /// The hash of the SVG text that it was drawn from.
    pub of: Hash,
    /// Its width and its height, in pixels.
    pub sides: (u32, u32),
    /// The PNG file.
    pub bytes: Vec<u8>,
}

/// Draws SVG text in black letters on a white ground, [`WIDTH`] pixels wide; the same text is
/// drawn once.
///
/// # Errors
/// When the text is no SVG or asks for too much.
pub fn png(svg: &str) -> Result<Arc<Png>, CannotDraw> {
    static KEPT: OnceLock<Mutex<HashMap<[u8; 32], Arc<Png>>>> = OnceLock::new();
    let kept = KEPT.get_or_init(Mutex::default);
    let of = Hash::of(svg.as_bytes());
    let lock = || kept.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(png) = lock().get(&of.0) {
        return Ok(Arc::clone(png));
    }
    let png = Arc::new(draw(svg, WIDTH, HEIGHT_MAX)?);
    let mut kept = lock();
    if kept.len() >= KEPT_MAX {
        kept.clear();
    }
    kept.insert(of.0, Arc::clone(&png));
    Ok(png)
}

/// Draws a whole sheet, such as a diagram of a flow, at twice its own size where that stays within
/// what chats take as a photo: both sides together at most 10,000 pixels.
///
/// # Errors
/// When the text is no SVG or asks for too much.
pub fn sheet(svg: &str) -> Result<Png, CannotDraw> {
    let tree = Tree::from_str(svg, &options())
        .map_err(|error| CannotDraw(format!("The picture cannot be drawn: {error}.")))?;
    let size = tree.size();
    let scale = (SHEET_SIDES_MAX / (size.width() + size.height())).min(2.0);
    let width = (size.width() * scale).floor().max(1.0) as u32;
    draw(svg, width, SHEET_SIDES_MAX)
}

fn draw(svg: &str, width: u32, height_max: f32) -> Result<Png, CannotDraw> {
    let cannot = |why: String| CannotDraw(format!("The picture cannot be drawn: {why}."));
    let tree = Tree::from_str(svg, &options()).map_err(|error| cannot(error.to_string()))?;
    let size = tree.size();
    let scale = width as f32 / size.width();
    let height = (size.height() * scale).ceil();
    if !(1.0..=height_max).contains(&height) {
        return Err(cannot("it is far too high for its width".to_owned()));
    }
    let pixels = Pixmap::new(width, height as u32);
    let mut pixels = pixels.ok_or_else(|| cannot("it has no size".to_owned()))?;
    pixels.fill(resvg::tiny_skia::Color::WHITE);
    resvg::render(
        &tree,
        Transform::from_scale(scale, scale),
        &mut pixels.as_mut(),
    );
    // Drawings are few colours in flat areas. Trying filters on every line takes most of the time,
    // and the files of the shipped pictures are a quarter smaller without any.
    let mut bytes = Vec::new();
    PngEncoder::new_with_quality(&mut bytes, CompressionType::Default, FilterType::NoFilter)
        .write_image(
            pixels.data(),
            pixels.width(),
            pixels.height(),
            ExtendedColorType::Rgba8,
        )
        .map_err(|error| cannot(error.to_string()))?;
    Ok(Png {
        of: Hash::of(svg.as_bytes()),
        sides: (pixels.width(), pixels.height()),
        bytes,
    })
}

fn options() -> Options<'static> {
    static LETTERS: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    let letters = LETTERS.get_or_init(|| {
        let mut letters = fontdb::Database::new();
        for font in FONTS {
            letters.load_font_data(font.to_vec());
        }
        letters.set_sans_serif_family("DejaVu Sans");
        letters.set_serif_family("DejaVu Sans");
        letters.set_monospace_family("DejaVu Sans");
        Arc::new(letters)
    });
    Options {
        font_family: "DejaVu Sans".to_owned(),
        fontdb: Arc::clone(letters),
        ..Options::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::embedded;

    fn dark(png: &[u8]) -> usize {
        let picture = image::load_from_memory(png).unwrap().into_luma8();
        picture.pixels().filter(|pixel| pixel.0[0] < 128).count()
    }

    #[test]
    fn letters_are_drawn_whatever_font_is_asked_for() {
        let with = |text: &str| {
            let svg = format!(
                r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 40">
                <text x="5" y="30" font-family="Arial, sans-serif">{text}</text></svg>"#
            );
            dark(&png(&svg).unwrap().bytes)
        };
        assert_eq!(with(""), 0);
        assert!(with("EV 3") > 500);
    }

    #[test]
    fn every_shipped_picture_is_drawn_at_its_proportions() {
        let pictures = embedded::sources().pictures;
        assert!(pictures.len() > 10);
        for (name, svg) in pictures {
            // Small, because drawing takes long where nothing is optimised.
            let drawn =
                draw(&svg, WIDTH / 8, HEIGHT_MAX).unwrap_or_else(|error| panic!("{name}: {error}"));
            let picture = image::load_from_memory(&drawn.bytes).unwrap();
            assert_eq!(drawn.sides, (picture.width(), picture.height()));
            assert_eq!(picture.width(), WIDTH / 8, "{name}");
            // The platform takes no photo whose sides add up to more than 10,000 pixels.
            assert!(8 * (picture.width() + picture.height()) < 10_000, "{name}");
            assert!(dark(&drawn.bytes) > 10, "{name}");
        }
    }

    #[test]
    fn a_sheet_is_drawn_twice_as_large_where_a_photo_may_be() {
        for (width, height, drawn) in [(300, 40, (600, 80)), (40, 9_960, (39, 9_711))] {
            let svg = format!(
                r#"<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}"/>"#
            );
            let picture = image::load_from_memory(&sheet(&svg).unwrap().bytes).unwrap();
            // The platform takes no photo whose sides add up to more than 10,000 pixels.
            assert!(picture.width() + picture.height() <= 10_000);
            assert_eq!((picture.width(), picture.height()), drawn);
        }
    }

    #[test]
    fn what_is_no_picture_is_refused_in_words() {
        let refusal = png("not a picture").unwrap_err().to_string();
        assert!(
            refusal.starts_with("The picture cannot be drawn"),
            "{refusal}"
        );
        let high = r#"<svg xmlns="http://www.w3.org/2000/svg" width="1" height="9000"/>"#;
        assert!(png(high).unwrap_err().to_string().contains("too high"));
    }
}
