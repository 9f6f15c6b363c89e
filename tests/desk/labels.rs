//! Labels read back off their sheets, with Poppler's tools and a reader of square codes: neither
//! shares anything with what made them.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;
use std::sync::Arc;

use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::id::EvaporatorId;
use fanwright::desk::labels::{LABELS_MAX, LabelsWanted, Opens, Which, short_code};
use fanwright::desk::{Actor, DeskError, Rules};
use fanwright::flow::model::Role;
use fanwright::report::labels::spelled;
use fanwright::report::pdf::{IS_BUILT, Paper};

use super::{World, chat};

fn reachable() -> World {
    let rules = Rules {
        public_url: Some("https://fans.example.org/".to_owned()),
        ..Rules::default()
    };
    World::over(|memory| Arc::new(memory.clone()), rules)
}

fn wanted(which: Which) -> LabelsWanted {
    LabelsWanted {
        which,
        opens: None,
        paper: Paper::A4,
        public_url: None,
    }
}

impl World {
    async fn hangs(&self, by: &Actor, site: &str, tag: &str) -> EvaporatorId {
        let new = NewEvaporator {
            site: site.to_owned(),
            tag: tag.to_owned(),
            hangs: "back wall".to_owned(),
        };
        let added = self.desk.add_evaporator(self.key(), by, new).await;
        added.unwrap().id
    }
}

fn poppler(tool: &str, args: &[&str], folder: &tempfile::TempDir, pdf: &[u8]) -> Vec<u8> {
    let file = folder.path().join("labels.pdf");
    std::fs::write(&file, pdf).unwrap();
    let ran = Command::new(tool).arg(&file).args(args).output();
    let ran = ran.unwrap_or_else(|_| panic!("Install Debian's poppler-utils: {tool} is missing."));
    ran.stdout
}

/// The text of the sheets with single spaces.
fn text(pdf: &[u8]) -> String {
    let folder = tempfile::tempdir().unwrap();
    let text = poppler("pdftotext", &["-raw", "-"], &folder, pdf);
    let text = String::from_utf8(text).unwrap();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// How near a camera comes, in pixels an inch: what it cannot read from afar, it reads nearer.
const NEAR: [u32; 4] = [150, 200, 300, 120];

/// What a camera reads off this many printed labels, held at one after the other, and how many
/// sheets there are.
fn seen(pdf: &[u8], labels: usize) -> (Vec<String>, usize) {
    let mut read: BTreeMap<(usize, u32, u32), String> = BTreeMap::new();
    let mut sheets = 0;
    for near in NEAR {
        if read.len() == labels {
            break;
        }
        let pictures = pictures(pdf, near);
        sheets = pictures.len();
        for (at, sheet) in pictures.iter().enumerate() {
            for (down, across) in (0..5).flat_map(|down| [(down, 0), (down, 1)]) {
                let place = (at, down, across);
                if !read.contains_key(&place)
                    && let Some(text) = code_on(&label(sheet, near, (down, across)))
                {
                    read.insert(place, text);
                }
            }
        }
    }
    (read.into_values().collect(), sheets)
}

/// The sheets as pictures.
fn pictures(pdf: &[u8], near: u32) -> Vec<image::GrayImage> {
    let folder = tempfile::tempdir().unwrap();
    let to = folder.path().join("sheet");
    let near = near.to_string();
    let args = ["-r", &near, "-gray", "-png", to.to_str().unwrap()];
    poppler("pdftoppm", &args, &folder, pdf);
    let mut files: Vec<_> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|it| it == "png"))
        .collect();
    files.sort();
    let picture = |file| image::open(file).unwrap().into_luma8();
    files.iter().map(picture).collect()
}

/// One label of a sheet: 50 mm high, half as wide as the sheet within its margins of 10 mm.
fn label(sheet: &image::GrayImage, near: u32, (down, across): (u32, u32)) -> image::GrayImage {
    let millimetre = f64::from(near) / 25.4;
    let wide = (f64::from(sheet.width()) - 20.0 * millimetre) / 2.0;
    let x = 10.0 * millimetre + f64::from(across) * wide;
    let y = (10.0 + 50.0 * f64::from(down)) * millimetre;
    let (wide, high) = (wide as u32, (50.0 * millimetre) as u32);
    image::imageops::crop_imm(sheet, x as u32, y as u32, wide, high).to_image()
}

/// What the square code on a label says; none where it cannot be read.
fn code_on(label: &image::GrayImage) -> Option<String> {
    let (width, height) = (label.width() as usize, label.height() as usize);
    let mut label = rqrr::PreparedImage::prepare_from_greyscale(width, height, |x, y| {
        label.get_pixel(x as u32, y as u32).0[0]
    });
    let codes = label.detect_grids();
    codes.first()?.decode().ok().map(|(_, text)| text)
}

#[tokio::test]
async fn every_code_on_the_sheets_opens_its_evaporator() {
    if !IS_BUILT {
        return;
    }
    let world = reachable();
    let sam = world.supervisor().await;
    let mut expected = BTreeSet::new();
    for number in 1..=12 {
        let id = world
            .hangs(&sam, "Corner Market", &format!("EV-{number}"))
            .await;
        expected.insert(format!("https://fans.example.org/evaporator/{id}"));
    }
    for (paper, size) in [(Paper::A4, "A4"), (Paper::Letter, "letter")] {
        let wanted = LabelsWanted {
            paper,
            ..wanted(Which::All)
        };
        let pdf = world.desk.labels(&sam, wanted).await.unwrap();
        if let Some(folder) = std::env::var_os("KEEP_PDFS") {
            let file = std::path::Path::new(&folder).join(format!("labels-{size}.pdf"));
            std::fs::write(file, &pdf).unwrap();
        }
        let (read, sheets) = seen(&pdf, 12);
        assert_eq!(read.iter().cloned().collect::<BTreeSet<_>>(), expected);
        assert_eq!((read.len(), sheets), (12, 2), "ten on a sheet");
        let folder = tempfile::tempdir().unwrap();
        let says = poppler("pdfinfo", &[], &folder, &pdf);
        let says = String::from_utf8(says).unwrap();
        assert!(says.contains(&format!("pts ({size})")), "{says}");
        assert!(says.contains("Tagged:          yes"), "{says}");
    }
}

#[tokio::test]
async fn a_label_can_be_read_aloud_and_its_code_finds_the_evaporator() {
    let world = reachable();
    let sam = world.supervisor().await;
    let id = world.hangs(&sam, "Corner Market", "EV-3").await;
    world.hangs(&sam, "Harbor Fish", "EV-9").await;
    let code = short_code(id);
    let found = world.desk.evaporators(&sam, &code.to_lowercase()).await;
    let found: Vec<EvaporatorId> = found.unwrap().iter().map(|label| label.id).collect();
    assert_eq!(found, [id]);
    if !IS_BUILT {
        return;
    }
    let pdf = world
        .desk
        .labels(&sam, wanted(Which::One(id)))
        .await
        .unwrap();
    let text = text(&pdf);
    for told in ["EV-3", "Corner Market", "back wall", &code, &spelled(&code)] {
        assert!(text.contains(told), "{told} is not in it: {text}");
    }
    assert!(!text.contains("Harbor Fish"), "{text}");
    let site = Which::Site("harbor fish".to_owned());
    let pdf = world.desk.labels(&sam, wanted(site)).await.unwrap();
    assert_eq!(seen(&pdf, 1).0.len(), 1);
}

#[tokio::test]
async fn the_longest_and_strangest_texts_stay_on_their_label() {
    if !IS_BUILT {
        return;
    }
    let world = reachable();
    let sam = world.supervisor().await;
    let texts = [
        "W".repeat(80),
        "#panic(1) *b* $x$ ".repeat(4),
        "é ".repeat(40),
    ];
    let mut ids = BTreeSet::new();
    for text in &texts {
        let new = NewEvaporator {
            site: text.clone(),
            tag: text.clone(),
            hangs: text.clone(),
        };
        let added = world.desk.add_evaporator(world.key(), &sam, new).await;
        ids.insert(added.unwrap().id);
    }
    let pdf = world.desk.labels(&sam, wanted(Which::All)).await.unwrap();
    if let Some(folder) = std::env::var_os("KEEP_PDFS") {
        let file = std::path::Path::new(&folder).join("labels-long.pdf");
        std::fs::write(file, &pdf).unwrap();
    }
    let (read, sheets) = seen(&pdf, ids.len());
    assert_eq!((read.len(), sheets), (ids.len(), 1));
    let bare = |text: &str| text.split_whitespace().collect::<String>();
    let text = bare(&text(&pdf));
    assert_eq!(text.matches(&bare(&texts[0])).count(), 3, "{text}");
    for id in ids {
        assert!(text.contains(&bare(&spelled(&short_code(id)))), "{text}");
    }
    // Poppler's boxes are in points: a label is 50 mm high, and ten millimetres are above.
    let folder = tempfile::tempdir().unwrap();
    let boxes = poppler("pdftotext", &["-bbox", "-"], &folder, &pdf);
    let boxes = String::from_utf8(boxes).unwrap();
    let lowest = boxes.lines().filter(|line| line.contains("<word"));
    let lowest = lowest.filter_map(|line| {
        let low = line.split("yMax=\"").nth(1)?.split('"').next()?;
        low.parse::<f64>().ok()
    });
    let within = (10.0 + 2.0 * 50.0) * 72.0 / 25.4;
    let footer = 297.0 * 72.0 / 25.4 - 13.0 * 72.0 / 25.4;
    for low in lowest {
        assert!(low < within || low > footer, "{low} is below the labels");
    }
}

#[tokio::test]
async fn labels_lead_nowhere_without_an_address_or_a_bot() {
    if !IS_BUILT {
        return;
    }
    let world = World::new();
    let sam = world.supervisor().await;
    let id = world.hangs(&sam, "Corner Market", "EV-3").await;
    let refused = world.desk.labels(&sam, wanted(Which::All)).await;
    let told = refused.unwrap_err().to_string();
    assert!(told.contains("--public-url"), "{told}");
    assert_eq!(world.desk.labels_can_open().await.unwrap(), []);
    for _ in 0..2 {
        world.desk.note_bot_name("bench_bot").await.unwrap();
    }
    assert_eq!(world.desk.labels_can_open().await.unwrap(), [Opens::Chat]);
    let pdf = world.desk.labels(&sam, wanted(Which::All)).await.unwrap();
    let link = format!("https://t.me/bench_bot?start=e-{}", id.0.simple());
    assert_eq!(seen(&pdf, 1).0, [link]);
    let mut at = wanted(Which::All);
    at.public_url = Some("https://other.example.org".to_owned());
    let pdf = world.desk.labels_as_operator(None, at).await.unwrap();
    let link = format!("https://other.example.org/evaporator/{id}");
    assert_eq!(seen(&pdf, 1).0, [link]);
}

#[tokio::test]
async fn labels_are_for_supervisors_and_of_their_own_crew() {
    let world = reachable();
    let sam = world.supervisor().await;
    let id = world.hangs(&sam, "Corner Market", "EV-3").await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let refused = world.desk.labels(&tess, wanted(Which::One(id))).await;
    assert!(matches!(refused, Err(DeskError::NotAllowed(_))));
    let code = world.desk.invite_new_crew().await.unwrap().code;
    let olga = world.desk.join(world.key(), &code, "Olga", &chat(9)).await;
    let olga = olga.unwrap();
    if !IS_BUILT {
        return;
    }
    let theirs = world.desk.labels(&olga, wanted(Which::One(id))).await;
    assert!(matches!(theirs, Err(DeskError::NotFound("evaporator"))));
    let none = world.desk.labels(&olga, wanted(Which::All)).await;
    assert!(none.unwrap_err().to_string().contains("no label to print"));
    let which = world
        .desk
        .labels_as_operator(None, wanted(Which::All))
        .await;
    let told = which.unwrap_err().to_string();
    assert!(told.contains(&sam.crew.to_string()), "{told}");
    for number in 0..LABELS_MAX {
        world.hangs(&sam, "Big Store", &format!("B{number}")).await;
    }
    let many = world.desk.labels(&sam, wanted(Which::All)).await;
    let told = many.unwrap_err().to_string();
    assert!(told.starts_with("That is 501 labels"), "{told}");
}
