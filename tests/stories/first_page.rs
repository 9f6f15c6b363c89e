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
    stage.close().await;
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
    of_a_fan_that_is_meant_to_be_off: "meant_to_be_off",
    of_a_job_that_was_passed_on: "no_voltage_upstream",
    of_a_job_that_was_stopped_and_left_locked_out: "stop_and_left_locked",
    of_a_job_that_was_sent_back: "sent_back",
}
