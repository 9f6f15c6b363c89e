//! Photos: checked, stripped of everything but the picture, kept by hash.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ImageFormat, ImageReader, Limits};
use image_hasher::{HashAlg, HasherConfig};
use tokio::sync::Semaphore;

use super::Desk;
use super::error::DeskError;
use crate::metrics::{Stopwatch, metrics};
use crate::record::chain::Hash;
use crate::record::entry::PhotoRef;
use crate::record::hex::Hex;

/// The most bytes of a photo as sent: 20 MiB, which is what chats let through.
pub const PHOTO_BYTES_MAX: usize = 20 * 1024 * 1024;

/// The longest side of a photo as sent, in pixels.
pub const PHOTO_SIDE_MAX: u32 = 12_000;

/// The longest side of a photo as kept, in pixels; a nameplate stays readable.
pub const KEPT_SIDE_MAX: u32 = 2_560;

/// The most bytes that taking a photo apart may need: 256 MiB.
const DECODING_BYTES_MAX: u64 = 256 * 1024 * 1024;

/// So many photos are taken apart at once; the others wait. Each may need all of
/// [`DECODING_BYTES_MAX`].
static AT_ONCE: Semaphore = Semaphore::const_new(AT_ONCE_MAX);
const AT_ONCE_MAX: usize = 2;

/// So many photos may wait for it: each of up to [`PHOTO_BYTES_MAX`].
static WAITING: Semaphore = Semaphore::const_new(AT_ONCE_MAX + 32);

/// The fewest spots of a picture, of 64, that must differ from the others to tell it by them.
const SPOTS_MIN: u32 = 6;

/// How good the kept JPEG is, of 100.
const JPEG_QUALITY: u8 = 85;

impl Desk {
    /// Checks a photo, reads when it was taken, keeps the picture alone and says under which
    /// hashes. Hand the answer to [`Desk::handle`] as `Input::Photo`.
    ///
    /// # Errors
    /// When it is too large or not a photo that can be read.
    pub async fn take_photo(&self, bytes: Vec<u8>) -> Result<PhotoRef, DeskError> {
        let _place = WAITING.try_acquire().map_err(|_| {
            DeskError::NotUnderstood(
                "Many photos come in just now, and yours was not kept. Send it again in a minute."
                    .to_owned(),
            )
        })?;
        // Nobody ever closes it.
        let turn = AT_ONCE.acquire().await.ok();
        let began = Stopwatch::started();
        let taken_in = tokio::task::spawn_blocking(move || take_in(&bytes)).await;
        drop(turn);
        let taken_in = taken_in.map_err(|error| {
            tracing::error!(%error, "taking in a photo panicked");
            unreadable()
        })??;
        let stored = self.store().put_blob(taken_in.jpeg).await?;
        metrics().photo_taken_in(began);
        Ok(PhotoRef {
            stored: stored.to_string(),
            original: taken_in.original.to_string(),
            taken: taken_in.taken,
            looks: taken_in.looks,
        })
    }
}

/// A photo on its way into the store.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TakenIn {
    /// The picture alone, packed anew: nothing that stood beside it in the file is left.
    pub jpeg: Vec<u8>,
    /// The hash of what was sent.
    pub original: Hash,
    /// When the photo says it was taken, as its own text.
    pub taken: Option<String>,
    /// By which the picture can be known again at another size, as 16 hexadecimal digits.
    pub looks: Option<String>,
}

/// Checks a photo and packs its picture anew. It takes a while and much memory: see
/// [`Desk::take_photo`].
///
/// # Errors
/// When it is too large or not a photo that can be read.
pub fn take_in(bytes: &[u8]) -> Result<TakenIn, DeskError> {
    if bytes.len() > PHOTO_BYTES_MAX {
        let mebibytes = PHOTO_BYTES_MAX / (1024 * 1024);
        return Err(DeskError::NotUnderstood(format!(
            "That photo is larger than {mebibytes} MB. Send a smaller one."
        )));
    }
    let known = [ImageFormat::Jpeg, ImageFormat::Png, ImageFormat::WebP];
    let format = image::guess_format(bytes)
        .ok()
        .filter(|format| known.contains(format));
    let Some(format) = format else {
        return Err(DeskError::NotUnderstood(
            "That is not a photo that I can read. Send a JPEG, PNG or WebP picture.".to_owned(),
        ));
    };
    let (taken, turned) = exif(bytes);
    let picture = upright(decode(bytes, format)?, turned);
    let picture = if picture.width().max(picture.height()) > KEPT_SIDE_MAX {
        picture.thumbnail(KEPT_SIDE_MAX, KEPT_SIDE_MAX)
    } else {
        picture
    };
    let mut jpeg = Vec::new();
    let looks = looks(&picture);
    // JPEG has no transparency; what was see-through becomes what lies under it.
    let picture = picture.into_rgb8();
    picture
        .write_with_encoder(JpegEncoder::new_with_quality(&mut jpeg, JPEG_QUALITY))
        .map_err(|error| DeskError::Fault(format!("A photo could not be written: {error}")))?;
    Ok(TakenIn {
        jpeg,
        original: Hash::of(bytes),
        taken,
        looks,
    })
}

/// Whether each of 8 by 8 spots is darker than the one beside it: that stays when a picture is
/// made smaller, brighter or packed anew. An even picture says nothing by it.
fn looks(picture: &DynamicImage) -> Option<String> {
    let hasher = HasherConfig::new()
        .hash_size(8, 8)
        .hash_alg(HashAlg::Gradient)
        .to_hasher();
    let bits: [u8; 8] = hasher.hash_image(picture).as_bytes().try_into().ok()?;
    let set = u64::from_be_bytes(bits).count_ones();
    let says_something = SPOTS_MIN..=64 - SPOTS_MIN;
    says_something.contains(&set).then(|| Hex(bits).to_string())
}

fn decode(bytes: &[u8], format: ImageFormat) -> Result<DynamicImage, DeskError> {
    let mut limits = Limits::default();
    limits.max_image_width = Some(PHOTO_SIDE_MAX);
    limits.max_image_height = Some(PHOTO_SIDE_MAX);
    limits.max_alloc = Some(DECODING_BYTES_MAX);
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    reader.limits(limits);
    reader.decode().map_err(|error| match error {
        image::ImageError::Limits(_) => DeskError::NotUnderstood(format!(
            "That photo has too many pixels: at most {PHOTO_SIDE_MAX} a side. Send a smaller one."
        )),
        _ => unreadable(),
    })
}

fn unreadable() -> DeskError {
    DeskError::NotUnderstood("That photo is damaged and cannot be read. Send it again.".to_owned())
}

/// When the photo says it was taken, as its own text, and how it must be turned, 1 to 8 as in
/// Exif 2.32, tag Orientation. A photo that says nothing is not flagged for it.
fn exif(bytes: &[u8]) -> (Option<String>, u32) {
    let Ok(exif) = exif::Reader::new().read_from_container(&mut Cursor::new(bytes)) else {
        return (None, 1);
    };
    let field = |tag| exif.get_field(tag, exif::In::PRIMARY);
    let turned = field(exif::Tag::Orientation).and_then(|field| field.value.get_uint(0));
    let taken = field(exif::Tag::DateTimeOriginal)
        .map(|field| field.display_value().to_string())
        .filter(|text| text.len() <= 40 && !text.chars().any(char::is_control));
    (taken, turned.unwrap_or(1))
}

fn upright(picture: DynamicImage, turned: u32) -> DynamicImage {
    match turned {
        2 => picture.fliph(),
        3 => picture.rotate180(),
        4 => picture.flipv(),
        5 => picture.rotate90().fliph(),
        6 => picture.rotate90(),
        7 => picture.rotate270().fliph(),
        8 => picture.rotate270(),
        _ => picture,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn png(width: u32, height: u32) -> Vec<u8> {
        let mut bytes = Vec::new();
        let picture = DynamicImage::new_rgba8(width, height);
        picture
            .write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png)
            .unwrap();
        bytes
    }

    #[test]
    fn a_picture_is_kept_as_jpeg_under_both_hashes() {
        let sent = png(40, 30);
        let taken_in = take_in(&sent).unwrap();
        assert_eq!(taken_in.original, Hash::of(&sent));
        assert_eq!(
            image::guess_format(&taken_in.jpeg).unwrap(),
            ImageFormat::Jpeg
        );
        assert_eq!(taken_in.taken, None);
    }

    /// Two bright spots on a dark slope, as no other test has it.
    fn picture(width: u32, height: u32, shade: f32) -> DynamicImage {
        let light = |x: u32, y: u32| {
            let (x, y) = (x as f32 / width as f32, y as f32 / height as f32);
            let spot = |at: (f32, f32)| (-((x - at.0).powi(2) + (y - at.1).powi(2)) * 30.0).exp();
            let light = 0.2 * x + 0.5 * spot((0.3, 0.6)) + 0.4 * spot((0.8, 0.2));
            image::Luma([(light * 200.0 * shade) as u8])
        };
        DynamicImage::ImageLuma8(image::GrayImage::from_fn(width, height, light))
    }

    #[test]
    fn a_picture_looks_the_same_at_another_size_and_shade() {
        let bits = |picture: &DynamicImage| {
            let looks = looks(picture).unwrap();
            u64::from_str_radix(&looks, 16).unwrap()
        };
        let first = bits(&picture(640, 480, 1.0));
        let smaller = bits(&picture(320, 240, 0.8));
        let turned = bits(&picture(640, 480, 1.0).rotate180());
        assert!((first ^ smaller).count_ones() <= 3);
        assert!((first ^ turned).count_ones() > 16);
        assert_eq!(
            looks(&DynamicImage::new_rgb8(64, 64)),
            None,
            "an even picture"
        );
    }

    #[test]
    fn a_large_picture_is_made_smaller_in_proportion() {
        let taken_in = take_in(&png(5_120, 100)).unwrap();
        let kept = image::load_from_memory(&taken_in.jpeg).unwrap();
        assert_eq!((kept.width(), kept.height()), (2_560, 50));
    }

    #[test]
    fn what_is_no_photo_is_refused_in_words() {
        let words = |bytes: &[u8]| take_in(bytes).unwrap_err().to_string();
        assert!(words(b"%PDF-1.7 no picture").contains("not a photo"));
        assert!(words(&png(40, 30)[..60]).contains("damaged"));
        assert!(words(&vec![0; PHOTO_BYTES_MAX + 1]).contains("larger than 20 MB"));
        assert!(words(&png(12_001, 1)).contains("too many pixels"));
    }

    #[test]
    fn the_time_in_the_photo_is_read_and_then_stripped() {
        let mut plain = Vec::new();
        let picture = DynamicImage::new_rgb8(20, 10);
        picture
            .write_to(&mut Cursor::new(&mut plain), ImageFormat::Jpeg)
            .unwrap();
        let sent = with_exif(&plain, "2031:05:04 13:12:11", 6);
        let taken_in = take_in(&sent).unwrap();
        assert_eq!(taken_in.taken.as_deref(), Some("2031-05-04 13:12:11"));
        let kept = image::load_from_memory(&taken_in.jpeg).unwrap();
        assert_eq!((kept.width(), kept.height()), (10, 20), "turned upright");
        assert!(!taken_in.jpeg.windows(4).any(|bytes| bytes == b"Exif"));
    }

    /// Puts an APP1 segment with two tags behind the start of a JPEG.
    fn with_exif(jpeg: &[u8], taken: &str, turned: u16) -> Vec<u8> {
        use exif::{Field, In, Tag, Value, experimental::Writer};
        let fields = [
            Field {
                tag: Tag::DateTimeOriginal,
                ifd_num: In::PRIMARY,
                value: Value::Ascii(vec![taken.as_bytes().to_vec()]),
            },
            Field {
                tag: Tag::Orientation,
                ifd_num: In::PRIMARY,
                value: Value::Short(vec![turned]),
            },
        ];
        let mut writer = Writer::new();
        fields.iter().for_each(|field| writer.push_field(field));
        let mut tiff = Cursor::new(Vec::new());
        writer.write(&mut tiff, false).unwrap();
        let tiff = tiff.into_inner();
        let length = u16::try_from(2 + 6 + tiff.len()).unwrap().to_be_bytes();
        [
            &jpeg[..2],
            &[0xff, 0xe1],
            &length,
            b"Exif\0\0",
            &tiff,
            &jpeg[2..],
        ]
        .concat()
    }
}
