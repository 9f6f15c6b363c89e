//! How long a report takes as a PDF, cold and warm, and how much memory: 64 steps, 12 photos of
//! 1280 by 960 pixels, as chats send them. `cargo bench --bench report --profile fast`.
#![allow(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a bench reads the clock, and one that cannot prepare its input must stop"
)]

mod memory;

use std::thread;
use std::time::{Duration, Instant};

use fanwright::report::checklist::Checklist;
use fanwright::report::pdf::{Paper, Report, SmallPhoto, pdf, small};
use fanwright::report::verify_code::VerifyCode;
use image::codecs::jpeg::JpegEncoder;
use image::{ImageBuffer, Rgb};

/// How often it is made once everything is warm.
const ROUNDS: usize = 30;

/// How many photos the server makes small at once.
const AT_ONCE: usize = 2;

fn main() {
    let list: Checklist =
        serde_json::from_str(include_str!("../tests/record/report.json")).unwrap();
    let lines = list.sections.iter().flat_map(|section| &section.lines);
    let stored: Vec<String> = lines
        .filter_map(|line| Some(line.photo.as_ref()?.stored.clone()))
        .collect();
    for (width, height) in [(1_280, 960), (2_560, 1_920)] {
        let photos: Vec<(String, Vec<u8>)> = stored
            .iter()
            .zip(0..)
            .map(|(stored, shade)| (stored.clone(), photo(width, height, shade)))
            .collect();
        let mut times: Vec<Duration> = (0..=ROUNDS).map(|_| made(&list, &photos)).collect();
        let cold = times.remove(0);
        times.sort();
        let (middle, worst) = (times[ROUNDS / 2], times[ROUNDS - 1]);
        println!(
            "{} photos of {width} by {height}: first {cold:.0?}, then half under {middle:.0?}, \
             all under {worst:.0?}; most memory {}",
            photos.len(),
            peak()
        );
    }
}

fn made(list: &Checklist, photos: &[(String, Vec<u8>)]) -> Duration {
    let began = Instant::now();
    let mut small_ones: Vec<SmallPhoto> = Vec::new();
    for few in photos.chunks(AT_ONCE) {
        thread::scope(|scope| {
            let making: Vec<_> = few
                .iter()
                .map(|(stored, jpeg)| scope.spawn(|| small(stored, jpeg).unwrap()))
                .collect();
            small_ones.extend(making.into_iter().map(|made| made.join().unwrap()));
        });
    }
    let code = VerifyCode::of(list, Some("https://fans.example.org"));
    let bytes = pdf(&Report {
        list,
        photos: &small_ones,
        code: &code,
        paper: Paper::Letter,
    });
    assert!(bytes.unwrap().starts_with(b"%PDF"));
    began.elapsed()
}

/// A picture with as much in it as a photo: shades, edges and grain.
fn photo(width: u32, height: u32, shade: u32) -> Vec<u8> {
    let mut grain = 2_463_534_242_u32.wrapping_add(shade);
    let picture = ImageBuffer::from_fn(width, height, |x, y| {
        grain ^= grain << 13;
        grain ^= grain >> 17;
        grain ^= grain << 5;
        let edge = if (x / 40 + y / 60 + shade).is_multiple_of(3) {
            60
        } else {
            0
        };
        let of = |value: u32| (value % 180 + edge + grain % 16) as u8;
        Rgb([of(x / 8), of(y / 6), of((x + y) / 12)])
    });
    let mut jpeg = Vec::new();
    picture
        .write_with_encoder(JpegEncoder::new_with_quality(&mut jpeg, 85))
        .unwrap();
    jpeg
}

/// The most memory that the program held.
fn peak() -> String {
    let most = memory::memory("self", "VmHWM");
    most.map_or_else(
        || "not known here".to_owned(),
        |bytes| format!("{} MB", bytes / 1_000_000),
    )
}
