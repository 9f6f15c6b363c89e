//! Reports read back with Poppler's tools and with qpdf, which share nothing with the library that
//! made them.
//!
//! Poppler 22 says "Suspects object is wrong type (boolean)" of them: that is its own mistake. The
//! entry must be a boolean (ISO 32000-1, table 321), the library writes `false` because PDF/UA-1
//! asks for it, and Poppler's `Catalog.cc` takes every `false` there for a wrong type.

use std::io::Write;
use std::process::{Command, Stdio};

use image::codecs::jpeg::JpegEncoder;
use image::{ImageBuffer, Rgb};

use super::*;
use crate::report::checklist::{Line, Told};
use crate::trade::chart::Chart;

/// A job of 64 steps with 12 photos, invented.
fn list() -> Checklist {
    serde_json::from_str(include_str!("../../../tests/record/report.json")).unwrap()
}

fn photo(width: u32, shade: u8) -> Vec<u8> {
    let picture = ImageBuffer::from_fn(width, width * 3 / 4, |x, y| {
        Rgb([(x % 256) as u8, (y % 256) as u8, shade.wrapping_mul(20)])
    });
    let mut jpeg = Vec::new();
    picture
        .write_with_encoder(JpegEncoder::new_with_quality(&mut jpeg, 85))
        .unwrap();
    jpeg
}

fn photos(list: &Checklist) -> Vec<SmallPhoto> {
    let lines = list.sections.iter().flat_map(|section| &section.lines);
    let stored = lines.filter_map(|line| line.photo.as_ref());
    stored
        .zip(0..)
        .filter_map(|(photo_line, shade)| small(&photo_line.stored, &photo(160, shade)))
        .collect()
}

fn made(list: &Checklist, paper: Paper, public_url: Option<&str>) -> Vec<u8> {
    let code = VerifyCode::of(list, public_url);
    pdf(&Report {
        list,
        photos: &photos(list),
        code: &code,
        paper,
    })
    .unwrap()
}

/// What a tool of Debian's poppler-utils says of a PDF.
fn poppler(tool: &str, args: &[&str], pdf: &[u8]) -> String {
    let mut ran = Command::new(tool)
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap_or_else(|_| panic!("Install Debian's poppler-utils: {tool} is missing."));
    ran.stdin.take().unwrap().write_all(pdf).unwrap();
    String::from_utf8(ran.wait_with_output().unwrap().stdout).unwrap()
}

/// What qpdf says of a PDF, and whether it finds fault with it.
fn qpdf(args: &[&str], pdf: &[u8]) -> (bool, String) {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(pdf).unwrap();
    let ran = Command::new("qpdf").args(args).arg(file.path()).output();
    let ran = ran.unwrap_or_else(|_| panic!("Install Debian's qpdf: it is missing."));
    let said = [ran.stdout, ran.stderr].concat();
    (ran.status.success(), String::from_utf8_lossy(&said).into())
}

/// The text of a PDF with single spaces.
fn text(pdf: &[u8]) -> String {
    let text = poppler("pdftotext", &["-raw", "-", "-"], pdf);
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_first_page_says_what_was_found_done_and_gained_and_who_signed() {
    let list = list();
    let pdf = made(&list, Paper::Letter, Some("https://fans.example.org/"));
    if let Some(kept) = std::env::var_os("KEEP_PDF") {
        std::fs::write(kept, &pdf).unwrap();
    }
    let first = poppler("pdftotext", &["-raw", "-l", "1", "-", "-"], &pdf);
    let first = first.split_whitespace().collect::<Vec<_>>().join(" ");
    let mut from = 0;
    for told in [
        "Dead evaporator fan",
        "Corner Market · EV-3 · meat cooler, left",
        "Local codes and licensed practice prevail",
        "What was found",
        "Failed part Motor",
        "What was done",
        "Assembly chosen Northwind EC-45",
        "What was gained",
        "Watts saved 180 W",
        "What is open",
        "Recheck due 2031-05-05",
        "Who signed",
        "Handed in by Tess Harbor",
        "sealed up to entry 171, key KLBX-RDNP-CFGH-JKLM-NPRS-TXBC",
        "Accepted by Sam Field",
        "Clean work.",
        "opens https://fans.example.org/verify",
    ] {
        let at = first[from..].find(told);
        from += at.unwrap_or_else(|| panic!("{told} is not in its place: {first}"));
    }
    let all = text(&pdf);
    for told in [
        "Readings",
        "262.5 V",
        "outside",
        "Settings and gains",
        "needed 620 cfm",
        "What happened",
        "Look twice: 262.5 V",
        "Photo 12.",
        "Working 2.",
        "saved = before − after",
        "About this record",
    ] {
        assert!(all.contains(told), "{told} is not in it: {all}");
    }
    // It may stand on two lines.
    let joined: String = all.split_whitespace().collect();
    assert!(joined.contains(&list.head.hash.to_string()), "{all}");
}

#[test]
fn it_is_on_the_paper_that_was_asked_for_tagged_and_keeps_its_standards() {
    let list = list();
    for (paper, size) in [
        (Paper::A4, "595.276 x 841.89 pts (A4)"),
        (Paper::Letter, "612 x 792 pts (letter)"),
    ] {
        let pdf = made(&list, paper, None);
        let says = poppler("pdfinfo", &["-"], &pdf);
        let says = says.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(says.contains(&format!("Page size: {size}")), "{says}");
        assert!(says.contains("Tagged: yes"), "{says}");
        assert!(says.contains("Title: Dead evaporator fan"), "{says}");
        let metadata = poppler("pdfinfo", &["-meta", "-"], &pdf);
        for keeps in ["<pdfaid:part>2", "<pdfaid:conformance>A", "<pdfuaid:part>1"] {
            assert!(metadata.contains(keeps), "{keeps}: {metadata}");
        }
        let fonts = poppler("pdffonts", &["-"], &pdf);
        for font in fonts.lines().skip(2) {
            // Name, type, encoding, embedded, subset, with a map to Unicode.
            assert!(font.contains(" yes yes yes "), "{fonts}");
        }
        let pictures = poppler("pdfimages", &["-list", "-"], &pdf);
        assert_eq!(pictures.matches(" jpeg ").count(), 12, "{pictures}");
    }
}

#[test]
fn its_structure_has_no_fault_and_a_broken_one_is_found() {
    let list = list();
    for paper in [Paper::A4, Paper::Letter] {
        let pdf = made(&list, paper, None);
        let (good, said) = qpdf(&["--check"], &pdf);
        assert!(good, "{said}");
        assert!(
            said.contains("No syntax or stream encoding errors found"),
            "{said}"
        );
        let (good, said) = qpdf(&["--check"], &pdf[..pdf.len() - 200]);
        assert!(!good, "{said}");
        // Poppler 22 complains of it as of a wrong type: the head of this file says why.
        let (_, plain) = qpdf(&["--show-object=trailer"], &pdf);
        let root = plain.split("/Root ").nth(1).unwrap();
        let root: String = root.chars().take_while(|sign| *sign != 'R').collect();
        let root = root.trim().replace(' ', ",");
        let (_, catalog) = qpdf(&[&format!("--show-object={root}")], &pdf);
        assert!(catalog.contains("/Suspects false"), "{catalog}");
    }
}

#[test]
fn the_same_record_gives_the_same_bytes() {
    let list = list();
    assert_eq!(made(&list, Paper::A4, None), made(&list, Paper::A4, None));
}

#[test]
fn what_people_typed_stays_as_they_typed_it() {
    let hostile = [
        "#panic(\"x\") #import \"a.typ\" $x^2$ `raw` = no heading",
        "*not bold* _not slanted_ <label> @reference \\escape {json} [content]",
        "{{ title }} {% raw %} /* comment */ // another",
        "“quotes” 'and' \"more\" -- --- ... ~ -?",
        "עברית abc العربية",
    ];
    let mut list = list();
    for said in hostile {
        list.first_page.found.push(Told {
            what: "Typed".to_owned(),
            said: said.to_owned(),
        });
    }
    let long = "Donaudampfschifffahrtsgesellschaft".repeat(12);
    hostile_everywhere(&mut list, &long);
    let pdf = made(&list, Paper::A4, None);
    let all = text(&pdf);
    for said in &hostile[..4] {
        assert!(all.contains(said), "{said} is not in it: {all}");
    }
    for word in ["עברית", "العربية"] {
        // Text that runs from right to left comes out in the order of its signs or mirrored.
        let mirrored: String = word.chars().rev().collect();
        assert!(all.contains(word) || all.contains(&mirrored), "{all}");
    }
    let joined: String = all.split_whitespace().collect();
    assert!(joined.contains(&long), "{all}");
    within_the_page(&pdf);
}

fn hostile_everywhere(list: &mut Checklist, text: &str) {
    list.title = format!("{} #title", list.title);
    list.evaporator = text.to_owned();
    list.first_page.done[0].what = text.to_owned();
    list.first_page.signed[0].who = text.to_owned();
    list.sources[0].label = text.to_owned();
    for section in &mut list.sections {
        section.lines[0].said = text.to_owned();
        section.lines[0].who = text.to_owned();
        section.lines[2].asked = Some(text.to_owned());
    }
}

/// No word reaches over the edge of its page.
fn within_the_page(pdf: &[u8]) {
    let boxes = poppler("pdftotext", &["-bbox", "-", "-"], pdf);
    let mut words = 0;
    for line in boxes.lines().filter(|line| line.contains("<word")) {
        let right = line.split("xMax=\"").nth(1).unwrap();
        let right: f64 = right.split('"').next().unwrap().parse().unwrap();
        assert!(right < 595.3 - 40.0, "{line}");
        words += 1;
    }
    assert!(words > 500, "{words}");
}

#[test]
fn a_large_photo_is_made_small_and_keeps_its_shape() {
    for width in [1_200, 2_560] {
        let made = small("", &photo(width, 3)).unwrap();
        let picture = image::load_from_memory(&made.jpeg).unwrap();
        assert_eq!((picture.width(), picture.height()), (860, 645));
    }
    let left = small("", &photo(160, 3)).unwrap();
    let picture = image::load_from_memory(&left.jpeg).unwrap();
    assert_eq!((picture.width(), picture.height()), (160, 120));
}

#[test]
fn a_photo_that_is_not_there_is_said_to_be_missing() {
    let list = list();
    let code = VerifyCode::of(&list, None);
    let pdf = pdf(&Report {
        list: &list,
        photos: &[],
        code: &code,
        paper: Paper::A4,
    });
    let all = text(&pdf.unwrap());
    assert_eq!(all.matches("The picture is not here").count(), 12);
    assert!(small("", b"no picture").is_none());
}

/// Leaves no step but one that shows a chart, with a setting of this name.
fn call_a_setting(list: &mut Checklist, name: &str) {
    let charted = |line: &Line| {
        let chart = line.working.as_ref().and_then(|it| it.chart.as_ref());
        matches!(chart, Some(Chart::Settings { .. }))
    };
    for section in &mut list.sections {
        section.lines.retain(charted);
    }
    list.sections.retain(|section| !section.lines.is_empty());
    list.sections.truncate(1);
    let working = list.sections[0].lines[0].working.as_mut().unwrap();
    let Some(Chart::Settings { steps, .. }) = &mut working.chart else {
        panic!("the invented job shows no settings")
    };
    steps[0].setting = name.to_owned();
}

#[test]
fn a_setting_of_any_name_is_drawn() {
    for name in ["高", "lo\u{1}w", "\u{1f600}", "<low>"] {
        let mut list = list();
        call_a_setting(&mut list, name);
        made(&list, Paper::A4, None);
    }
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(8))]

    #[test]
    fn whatever_is_typed_it_is_made_and_keeps_its_standards(said in "\\PC{0,60}|.{0,60}") {
        let mut list = list();
        call_a_setting(&mut list, &said);
        list.first_page.found[0].said = said.clone();
        list.evaporator = said;
        let code = VerifyCode::of(&list, None);
        let report = Report { list: &list, photos: &[], code: &code, paper: Paper::A4 };
        proptest::prop_assert!(pdf(&report).is_ok());
    }
}
