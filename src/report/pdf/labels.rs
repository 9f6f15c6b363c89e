//! Labels for evaporators as a PDF: two across and five down, with lines to cut along.

use serde::Serialize;

use super::letters::fit;
use super::world::{self, Files, Template};
use super::{NoPdf, Paper};
use crate::report::labels::Label;
use crate::report::square_code;

/// What the template is given.
#[derive(Serialize)]
struct Sheet {
    paper: &'static str,
    /// What the square codes open.
    opens: String,
    labels: Vec<OnPaper>,
}

/// One label. The template reads these names.
#[derive(Serialize)]
struct OnPaper {
    head: String,
    lines: Vec<String>,
    code: String,
    spelled: String,
    link: String,
    /// The file of the drawing of its square code.
    square: String,
}

impl OnPaper {
    fn of(label: &Label, square: String) -> OnPaper {
        OnPaper {
            head: fit(&label.head),
            lines: label.lines.iter().map(|line| fit(line)).collect(),
            code: label.code.clone(),
            spelled: label.spelled.clone(),
            link: fit(&label.link),
            square,
        }
    }
}

/// Sets the labels.
pub(super) fn pdf(
    labels: &[Label],
    opens: &str,
    (paper, at): (Paper, jiff::Timestamp),
) -> Result<Vec<u8>, NoPdf> {
    let mut files: Files = Vec::new();
    let mut on_paper = Vec::new();
    for (at, label) in labels.iter().enumerate() {
        let name = format!("square-{at}.svg");
        files.push((name.clone(), square_code::drawn(&label.link).into_bytes()));
        on_paper.push(OnPaper::of(label, name));
    }
    let sheet = Sheet {
        paper: paper.name(),
        opens: fit(opens),
        labels: on_paper,
    };
    let json = serde_json::to_vec(&sheet).map_err(|error| NoPdf::Failed(error.to_string()))?;
    let ident = blake3::hash(&json).to_hex().to_string();
    files.push(("labels.json".to_owned(), json));
    world::pdf(
        Template {
            name: "labels.typ",
            text: include_str!("../../../templates/labels.typ"),
        },
        files,
        (&ident, at),
    )
}
