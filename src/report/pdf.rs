//! The report of a job as a PDF: A4 or Letter, tagged, with its typefaces and photos in it.
//!
//! The same checklist and the same photos always give the same bytes. Texts of people go in as
//! data, never as markup.

use serde::{Deserialize, Serialize};

use super::checklist::Checklist;
use super::labels::Label;
use super::verify_code::VerifyCode;

#[cfg(feature = "pdf")]
mod labels;
#[cfg(feature = "pdf")]
mod letters;
#[cfg(feature = "pdf")]
mod sheet;
#[cfg(feature = "pdf")]
mod small;
#[cfg(feature = "pdf")]
mod world;

/// The size of the paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "snake_case")]
pub enum Paper {
    /// 210 mm by 297 mm: ISO 216.
    A4,
    /// 8.5 in by 11 in: ANSI A.
    #[default]
    Letter,
}

impl Paper {
    /// Its name, as the typesetting library knows it.
    #[cfg(feature = "pdf")]
    fn name(self) -> &'static str {
        match self {
            Paper::A4 => "a4",
            Paper::Letter => "us-letter",
        }
    }
}

/// A photo of the job, already made small.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SmallPhoto {
    /// The hash of the stored picture that it was made from, hexadecimal.
    pub stored: String,
    /// The picture, as JPEG.
    pub jpeg: Vec<u8>,
}

/// What a report is made from.
pub struct Report<'a> {
    /// The checklist.
    pub list: &'a Checklist,
    /// Its photos, as far as they could be read.
    pub photos: &'a [SmallPhoto],
    /// The square code.
    pub code: &'a VerifyCode,
    /// The paper.
    pub paper: Paper,
}

/// Why there is no PDF: one sentence.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoPdf {
    /// The program was built without it.
    #[error(
        "This build of Fanwright makes no PDF: it was built without its feature `pdf`. Save the \
         page instead, or print it."
    )]
    NotBuilt,
    /// The typesetting library did not take it, which a test rules out.
    #[error("The PDF could not be made: {0}")]
    Failed(String),
}

/// Whether this build makes PDFs.
pub const IS_BUILT: bool = cfg!(feature = "pdf");

/// Makes the PDF.
///
/// # Errors
/// [`NoPdf::NotBuilt`] in a build without the feature `pdf`.
#[cfg(feature = "pdf")]
pub fn pdf(report: &Report<'_>) -> Result<Vec<u8>, NoPdf> {
    let list = report.list;
    let template = world::Template {
        name: "report.typ",
        text: include_str!("../../templates/report.typ"),
    };
    let ident = format!("{} {}", list.job, list.head.hash);
    world::pdf(template, sheet::files(report)?, (&ident, list.last))
}

/// Makes the PDF.
///
/// # Errors
/// [`NoPdf::NotBuilt`]: this is the build without it.
#[cfg(not(feature = "pdf"))]
pub fn pdf(_: &Report<'_>) -> Result<Vec<u8>, NoPdf> {
    Err(NoPdf::NotBuilt)
}

/// Makes labels as a PDF with this time in it; `opens` says what their square codes open.
///
/// # Errors
/// [`NoPdf::NotBuilt`] in a build without the feature `pdf`.
#[cfg(feature = "pdf")]
pub fn labels(
    labels: &[Label],
    opens: &str,
    on: (Paper, jiff::Timestamp),
) -> Result<Vec<u8>, NoPdf> {
    labels::pdf(labels, opens, on)
}

/// Makes labels as a PDF.
///
/// # Errors
/// [`NoPdf::NotBuilt`]: this is the build without it.
#[cfg(not(feature = "pdf"))]
pub fn labels(_: &[Label], _: &str, _: (Paper, jiff::Timestamp)) -> Result<Vec<u8>, NoPdf> {
    Err(NoPdf::NotBuilt)
}

/// Makes a stored photo small enough for paper; none if it cannot be read.
#[cfg(feature = "pdf")]
pub fn small(stored: &str, jpeg: &[u8]) -> Option<SmallPhoto> {
    Some(SmallPhoto {
        stored: stored.to_owned(),
        jpeg: small::small(jpeg)?,
    })
}

/// Makes a stored photo small; none, since this build makes no PDF.
#[cfg(not(feature = "pdf"))]
pub fn small(_: &str, _: &[u8]) -> Option<SmallPhoto> {
    None
}

#[cfg(feature = "pdf")]
#[cfg(test)]
mod tests;

#[cfg(not(feature = "pdf"))]
#[cfg(test)]
mod tests_without {
    use super::*;

    #[test]
    fn a_build_without_it_says_so_and_what_to_do() {
        let list: Checklist =
            serde_json::from_str(include_str!("../../tests/record/report.json")).unwrap();
        let code = VerifyCode::of(&list, None);
        let report = Report {
            list: &list,
            photos: &[],
            code: &code,
            paper: Paper::A4,
        };
        let told = pdf(&report).unwrap_err().to_string();
        assert!(
            told.ends_with("Save the page instead, or print it."),
            "{told}"
        );
        assert!(small("", b"no picture").is_none());
    }
}
