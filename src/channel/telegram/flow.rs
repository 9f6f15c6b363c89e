//! Flows to look at: their diagrams as pictures.

use std::sync::Arc;

use super::decode::Place;
use super::rich::{CAPTION_UNITS_MAX, Rich, Style, beginning};
use super::screen::{BUTTONS_MAX, Rows, button};
use super::sender::{Kind, What};
use super::talk::{Talk, Turn};
use super::token::{FlowMark, Token};
use super::words;
use crate::desk::{Actor, DeskError};
use crate::flow::library::Library;
use crate::flow::model::Flow;
use crate::flow::name::FlowName;
use crate::report::diagram;
use crate::report::picture::{self, Png};

/// A photo is shown with no more pixels a side than this (from memory); of a larger one only a
/// file keeps the letters.
const PHOTO_SIDE_MAX: u32 = 2_560;

/// The platform takes no photo with a side so many times the other: its reference, `sendPhoto`.
const PHOTO_RATIO_MAX: u32 = 20;

/// The platform takes no photo with more bytes: its reference, `sendPhoto`.
const PHOTO_BYTES_MAX: usize = 10_000_000;

impl Turn<'_> {
    /// Asks which flow to show; those that a job can begin with come first.
    pub(super) async fn flows(&self) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let (rich, rows) = self.talk.flows_to_see(&actor).await?;
        self.offer(&rich, rows);
        Ok(())
    }

    /// Shows the diagram of a flow as the crew walks it today.
    pub(super) async fn diagram(&self, actor: &Actor, mark: FlowMark) -> Result<(), DeskError> {
        self.talk.diagram(self.place, actor, mark).await
    }
}

impl Talk {
    /// The question which flow to show, with its buttons.
    pub(super) async fn flows_to_see(&self, actor: &Actor) -> Result<(Rich, Rows), DeskError> {
        let library = self.desk.library(actor).await?;
        let first = self.desk.flows(actor).await?;
        let mut flows: Vec<&Flow> = library.flows().values().collect();
        flows.sort_by_key(|flow| {
            let place = first.iter().position(|choice| choice.flow == flow.name);
            place.unwrap_or(first.len())
        });
        let row = |flow: &&Flow| {
            let mark = FlowMark::of(&flow.name);
            vec![button(&flow.title, Token::Diagram(mark))]
        };
        let rows: Rows = flows.iter().take(BUTTONS_MAX).map(row).collect();
        let mut rich = Rich::default();
        rich.paragraph(Style::Bold, words::WHICH_FLOW);
        if flows.len() > BUTTONS_MAX {
            rich.paragraph(Style::Plain, words::MORE_DIAGRAMS);
        }
        Ok((rich, rows))
    }

    /// Shows the diagram of a flow as the crew walks it today.
    pub(super) async fn diagram(
        &self,
        place: Place,
        actor: &Actor,
        mark: FlowMark,
    ) -> Result<(), DeskError> {
        let library = self.desk.library(actor).await?;
        let mut flows = library.flows().values();
        let Some(flow) = flows.find(|flow| FlowMark::of(&flow.name) == mark) else {
            self.say(place, words::NO_SUCH_DIAGRAM);
            return Ok(());
        };
        let (name, caption) = (flow.name.clone(), flow.title.clone());
        let Some(png) = drawing(library, name.clone()).await else {
            self.say(place, words::NO_DIAGRAM);
            return Ok(());
        };
        let what = sheet(png, &name, &caption);
        self.sender.send(place, Kind::Own, vec![what]);
        Ok(())
    }
}

/// The diagram of a flow, drawn away from the threads that serve other people.
pub(super) async fn drawing(library: Library, flow: FlowName) -> Option<Png> {
    let drawn = tokio::task::spawn_blocking(move || {
        let svg = diagram::drawn(&library, &flow)?;
        let png = picture::sheet(&svg);
        png.inspect_err(|error| tracing::error!(%error, "a diagram cannot be drawn"))
            .ok()
    });
    drawn.await.ok().flatten()
}

/// A diagram as a photo, or as a file where a photo would lose its letters.
pub(super) fn sheet(png: Png, flow: &FlowName, caption: &str) -> What {
    if is_readable_as_photo(&png) {
        let caption = Rich::plain(caption).parts(CAPTION_UNITS_MAX);
        return What::Picture {
            png: Arc::new(png),
            caption: caption.into_iter().next(),
            markup: None,
        };
    }
    What::File {
        bytes: Arc::new(png.bytes),
        file: format!("{flow}.png"),
        caption: beginning(caption, CAPTION_UNITS_MAX),
    }
}

/// Whether the platform takes it as a photo and shows it with its letters.
pub(super) fn is_readable_as_photo(png: &Png) -> bool {
    let (width, height) = png.sides;
    let (short, long) = (width.min(height), width.max(height));
    long <= PHOTO_SIDE_MAX && long <= PHOTO_RATIO_MAX * short && png.bytes.len() <= PHOTO_BYTES_MAX
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::chain::Hash;

    #[test]
    fn only_what_can_be_read_on_a_phone_goes_as_a_photo() {
        let of = |sides, bytes| {
            is_readable_as_photo(&Png {
                of: Hash::of(b"a sheet"),
                sides,
                bytes: vec![0; bytes],
            })
        };
        assert!(of((2_560, 128), 1_000));
        assert!(!of((2_561, 2_000), 1_000));
        assert!(!of((2_560, 127), 1_000));
        assert!(!of((800, 600), PHOTO_BYTES_MAX + 1));
    }
}
