//! The first page of the report of a story, for every way in which a job can end.

use fanwright::report::checklist::{Checklist, Signed, Told};

use super::script::{FirstPage, Script};
use super::way::desk::AtTheDesk;

/// The lines of a first page, as a story writes them down.
fn lines(list: &Checklist) -> FirstPage {
    let page = &list.first_page;
    let told = |lines: &[Told]| {
        let line = |told: &Told| format!("{}: {}", told.what, told.said);
        lines.iter().map(line).collect()
    };
    let signed = |signed: &Signed| {
        let sealed = if signed.seal.is_some() {
            "sealed"
        } else {
            "not sealed"
        };
        let remark = Some(&signed.remark).filter(|remark| !remark.is_empty());
        let remark = remark.map_or_else(String::new, |remark| format!(" {remark}"));
        format!("{} by {}, {sealed}.{remark}", signed.what, signed.who)
    };
    FirstPage {
        found: told(&page.found),
        done: told(&page.done),
        gained: told(&page.gained),
        open: told(&page.open),
        signed: page.signed.iter().map(signed).collect(),
        course: told(&page.course),
    }
}

async fn is_as_told(name: &str) {
    let script = Script::read(name);
    let expected = script.first_page.as_ref();
    let expected = expected.unwrap_or_else(|| panic!("{name} tells nothing of its first page"));
    let stage = Box::pin(super::play::<AtTheDesk>(name)).await;
    let page = lines(&stage.checklist().await);
    assert_eq!(&page, expected, "{name}: {page:#?}");
    if cfg!(feature = "pdf") {
        stands_on_paper(name, &page, &stage.pdf().await);
    }
    stage.close().await;
}

/// Poppler's pdftotext reads the same from the first sheets of the report, in the same order.
/// `KEEP_PDFS=FOLDER` keeps the reports, to be looked at.
fn stands_on_paper(name: &str, page: &FirstPage, pdf: &[u8]) {
    if let Some(folder) = std::env::var_os("KEEP_PDFS") {
        let file = std::path::Path::new(&folder).join(format!("{name}.pdf"));
        std::fs::write(file, pdf).unwrap();
    }
    let mut file = tempfile::NamedTempFile::new().unwrap();
    std::io::Write::write_all(&mut file, pdf).unwrap();
    let ran = std::process::Command::new("pdftotext")
        .args(["-raw", "-l", "2"])
        .arg(file.path())
        .arg("-")
        .output()
        .unwrap_or_else(|_| panic!("Install Debian's poppler-utils: pdftotext is missing."));
    // Long words may be broken over two lines.
    let bare = |text: &str| text.split_whitespace().collect::<String>();
    let text = bare(&String::from_utf8(ran.stdout).unwrap());
    let mut from = 0;
    let lines = [&page.found, &page.done, &page.gained];
    for line in lines.into_iter().flatten() {
        let (what, said) = line.split_once(": ").unwrap();
        for told in [what, said] {
            let at = text[from..].find(&bare(told));
            from += at.unwrap_or_else(|| panic!("{name}: {told} is not in its place: {text}"));
        }
    }
}

macro_rules! first_pages {
    ($($test:ident: $story:literal),* $(,)?) => {
        $(
            #[tokio::test]
            async fn $test() {
                is_as_told($story).await;
            }
        )*
    };
}

first_pages! {
    of_a_fan_that_was_replaced: "plug",
    of_a_fan_that_was_repaired: "capacitor",
    of_a_fan_that_is_meant_to_be_off: "meant_to_be_off",
    of_a_job_that_was_passed_on: "no_voltage_upstream",
    of_a_job_that_was_stopped_and_left_locked_out: "stop_and_left_locked",
    of_a_job_that_was_sent_back: "sent_back",
}
