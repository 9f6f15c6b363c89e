//! The checklist as a page that prints well.

use std::sync::LazyLock;

use serde::Serialize;
use tera::{Context, Kwargs, State, Tera, TeraResult, Value};

use super::Checklist;
use crate::report::chart;
use crate::report::verify_code::VerifyCode;
use crate::trade::chart::Chart;

/// The name of the template; its ending is what makes tera escape texts.
const TEMPLATE: &str = "checklist.html";

static TEMPLATES: LazyLock<Result<Tera, String>> = LazyLock::new(|| {
    let mut tera = Tera::default();
    tera.register_filter("drawn", drawn);
    let text = include_str!("../../../templates/checklist.html");
    tera.add_raw_template(TEMPLATE, text)
        .map_err(|error| error.to_string())?;
    Ok(tera)
});

/// A chart as SVG. Every text in it is escaped by what draws it.
fn drawn(chart: Value, _: Kwargs, _: &State) -> TeraResult<String> {
    let wrong = |error: &dyn std::fmt::Display| tera::Error::message(error.to_string());
    let chart = serde_json::to_value(&chart).and_then(serde_json::from_value::<Chart>);
    let chart = chart.map_err(|error| wrong(&error))?;
    // A record is shown even where one of its charts cannot be drawn.
    Ok(chart::draw(&chart).unwrap_or_else(|error| error.to_string()))
}

/// Why a page could not be made.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("The checklist page could not be made: {0}")]
pub struct PageError(String);

/// What the template is given.
#[derive(Serialize)]
struct Page<'a> {
    list: &'a Checklist,
    photos: &'a str,
    links: &'a Links,
}

/// The addresses that a checklist page leads to; an empty one leads nowhere.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Links {
    /// Under which photos are asked for by their hash, such as `/jobs/…/photos/`.
    pub photos: String,
    /// The job's own page.
    pub job: String,
    /// The record as a file.
    pub record: String,
    /// The readings as a file.
    pub readings: String,
    /// The report as a PDF, without its paper.
    pub pdf: String,
    /// The square code to check the record by.
    pub code: Option<VerifyCode>,
}

impl Checklist {
    /// The checklist as one HTML page that needs nothing else, except what `links` lead to.
    /// Without an address for them, photos are named by their hash alone.
    ///
    /// # Errors
    /// When the template does not fit the checklist; a test sees to it that it does.
    pub fn to_html(&self, links: &Links) -> Result<String, PageError> {
        let wrong = |error: tera::Error| PageError(error.to_string());
        let tera = TEMPLATES
            .as_ref()
            .map_err(|error| PageError(error.clone()))?;
        let page = Page {
            list: self,
            photos: &links.photos,
            links,
        };
        let context = Context::from_serialize(&page).map_err(wrong)?;
        tera.render(TEMPLATE, &context).map_err(wrong)
    }
}
