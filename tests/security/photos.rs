//! Photos that say too much, and photos that are made to break what takes them in.

use std::io::Cursor;

use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};
use fanwright::desk::photo::take_in;
use image::{DynamicImage, ImageFormat, RgbImage};

fn picture(format: ImageFormat) -> Vec<u8> {
    let light = |x: u32, y: u32| image::Rgb([(x * 5) as u8, (y * 7) as u8, 90]);
    let picture = DynamicImage::ImageRgb8(RgbImage::from_fn(48, 36, light));
    let mut bytes = Cursor::new(Vec::new());
    picture.write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

/// A segment of a JPEG.
fn segment(marker: u8, content: &[u8]) -> Vec<u8> {
    let length = u16::try_from(2 + content.len()).unwrap().to_be_bytes();
    [&[0xff, marker], &length[..], content].concat()
}

/// The same JPEG with these segments after its first two bytes.
fn with_segments(jpeg: &[u8], segments: &[Vec<u8>]) -> Vec<u8> {
    [&jpeg[..2], &segments.concat(), &jpeg[2..]].concat()
}

/// The same JPEG as a telephone makes it: with the place, the time, its owner and its number.
pub(crate) fn with_exif(jpeg: &[u8]) -> Vec<u8> {
    let ascii = |text: &str| Value::Ascii(vec![text.as_bytes().to_vec()]);
    let degrees = |parts: [u32; 3]| {
        let part = |num| Rational { num, denom: 1 };
        Value::Rational(parts.map(part).to_vec())
    };
    let field = |tag, value| Field {
        tag,
        ifd_num: In::PRIMARY,
        value,
    };
    let fields = [
        field(Tag::DateTimeOriginal, ascii("2031:05:04 13:12:11")),
        field(Tag::GPSLatitudeRef, ascii("N")),
        field(Tag::GPSLatitude, degrees([41, 52, 43])),
        field(Tag::GPSLongitudeRef, ascii("W")),
        field(Tag::GPSLongitude, degrees([87, 38, 21])),
        field(Tag::Artist, ascii("Owner of the telephone")),
        field(Tag::BodySerialNumber, ascii("SERIAL-0042")),
    ];
    let mut writer = Writer::new();
    fields.iter().for_each(|field| writer.push_field(field));
    let mut tiff = Cursor::new(Vec::new());
    writer.write(&mut tiff, false).unwrap();
    let exif = [b"Exif\0\0".to_vec(), tiff.into_inner()].concat();
    let place = "<x:xmpmeta exif:GPSLatitude=\"41,52.7N\"/>";
    let xmp = [b"http://ns.adobe.com/xap/1.0/\0", place.as_bytes()].concat();
    let segments = [
        segment(0xe1, &exif),
        segment(0xe1, &xmp),
        segment(0xed, b"Photoshop 3.0\0City: Springfield"),
        segment(0xfe, b"taken at the back door of Corner Market"),
    ];
    with_segments(jpeg, &segments)
}

#[test]
fn no_place_no_owner_and_no_number_of_a_telephone_is_kept() {
    let sent = with_exif(&picture(ImageFormat::Jpeg));
    let told = exif::Reader::new();
    let told = told.read_from_container(&mut Cursor::new(&sent)).unwrap();
    assert!(told.get_field(Tag::GPSLatitude, In::PRIMARY).is_some());
    let taken_in = take_in(&sent).unwrap();
    assert_eq!(taken_in.taken.as_deref(), Some("2031-05-04 13:12:11"));
    let kept = exif::Reader::new().read_from_container(&mut Cursor::new(&taken_in.jpeg));
    assert!(kept.is_err(), "something about the photo is left");
    for word in [
        "Exif",
        "GPS",
        "Owner",
        "SERIAL",
        "xmp",
        "Springfield",
        "back door",
        "Photoshop",
    ] {
        let is_there = |bytes: &[u8]| bytes.windows(word.len()).any(|it| it == word.as_bytes());
        assert!(!is_there(&taken_in.jpeg), "{word} is left");
    }
}

/// A PNG whose head says that it is so large, and that holds next to nothing.
fn claims_png(width: u32, height: u32) -> Vec<u8> {
    let chunk = |name: &[u8], content: &[u8]| {
        let both = [name, content].concat();
        let length = u32::try_from(content.len()).unwrap().to_be_bytes();
        [&length[..], &both, &crc32fast::hash(&both).to_be_bytes()].concat()
    };
    let head = [
        &width.to_be_bytes()[..],
        &height.to_be_bytes(),
        &[8, 2, 0, 0, 0],
    ]
    .concat();
    // An empty stream of RFC 1950.
    let nothing = [0x78, 0x9c, 0x03, 0x00, 0x00, 0x00, 0x00, 0x01];
    [
        b"\x89PNG\r\n\x1a\n".to_vec(),
        chunk(b"IHDR", &head),
        chunk(b"IDAT", &nothing),
        chunk(b"IEND", &[]),
    ]
    .concat()
}

/// The JPEG with another size in its frame header (ITU-T T.81, B.2.2).
fn claims_jpeg(side: u16) -> Vec<u8> {
    let mut jpeg = picture(ImageFormat::Jpeg);
    let frame = jpeg.windows(2).position(|two| two == [0xff, 0xc0]).unwrap();
    let side = side.to_be_bytes();
    jpeg[frame + 5..frame + 9].copy_from_slice(&[side, side].concat());
    jpeg
}

/// An extended WebP of the largest canvas that its format can say (RFC 9649, section 2.7).
fn claims_webp() -> Vec<u8> {
    let chunk = [
        b"VP8X".as_slice(),
        &10_u32.to_le_bytes(),
        &[0; 4],
        &[0xff; 6],
    ]
    .concat();
    let length = u32::try_from(4 + chunk.len()).unwrap().to_le_bytes();
    [b"RIFF".as_slice(), &length, b"WEBP", &chunk].concat()
}

#[test]
fn a_picture_that_says_it_is_huge_is_refused_before_it_is_taken_apart() {
    for (what, bytes) in [
        ("PNG", claims_png(12_000, 12_000)),
        ("PNG, wide", claims_png(u32::MAX >> 1, 1)),
        ("JPEG", claims_jpeg(u16::MAX)),
        ("JPEG, just too large", claims_jpeg(12_000)),
    ] {
        let told = take_in(&bytes).unwrap_err().to_string();
        assert!(told.contains("too many pixels"), "{what}: {told}");
    }
    let told = take_in(&claims_webp()).unwrap_err();
    assert!(!told.is_fault(), "{}", told.for_the_log());
}

#[test]
fn data_about_a_photo_that_is_made_to_blow_up_is_passed_over() {
    let jpeg = picture(ImageFormat::Jpeg);
    let tiff = |entries: u16, entry: [u8; 12], next: [u8; 4]| {
        let mut bytes = b"Exif\0\0MM\0\x2a\0\0\0\x08".to_vec();
        bytes.extend(entries.to_be_bytes());
        let fit = usize::from(entries).min(5_000);
        bytes.extend(std::iter::repeat_n(entry, fit).flatten());
        bytes.extend(next);
        bytes
    };
    // Each says that it has four thousand million numbers.
    let many = [0x90, 0x03, 0, 2, 0xff, 0xff, 0xff, 0xff, 0, 0, 0, 8];
    // A pointer to a directory that is the first one again.
    let circle = [0x87, 0x69, 0, 4, 0, 0, 0, 1, 0, 0, 0, 8];
    for (what, bytes) in [
        ("many entries", tiff(5_000, many, [0; 4])),
        ("more entries than there are", tiff(u16::MAX, many, [0; 4])),
        ("a circle of directories", tiff(1, circle, [0, 0, 0, 8])),
    ] {
        let sent = with_segments(&jpeg, &[segment(0xe1, &bytes)]);
        let taken_in = take_in(&sent).unwrap_or_else(|error| panic!("{what}: {error}"));
        assert_eq!(taken_in.taken, None, "{what}");
    }
}

#[test]
fn an_archive_or_a_page_called_a_photo_is_refused() {
    for bytes in [
        &b"PK\x03\x04 an archive"[..],
        b"\x1f\x8b\x08 another",
        b"<svg xmlns=\"http://www.w3.org/2000/svg\"><script/></svg>",
        b"<!doctype html><script>",
        b"GIF89a\x01\x00\x01\x00",
        b"",
    ] {
        let told = take_in(bytes).unwrap_err().to_string();
        assert!(told.contains("not a photo that I can read"), "{told}");
    }
}
