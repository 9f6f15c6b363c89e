//! What can go out: messages, pictures, files, and changes to what is there.

use std::sync::Arc;
use std::time::Duration;

use teloxide::types::{InlineKeyboardMarkup, ReplyMarkup};

use super::queue::Rank;
use crate::desk::id::JobId;
use crate::record::chain::Hash;
use crate::report::picture::Png;

/// The most photos of one album, as the Bot API's reference has it for `sendMediaGroup`.
pub(super) const ALBUM_MAX: usize = 10;

/// What is uploaded is tried so often, and for so long, before it is given up: what takes longer
/// than a request may would stand before every question in its chat for ever.
const UPLOADS_MAX: u32 = 5;
const UPLOADED_FOR_MAX: Duration = Duration::from_secs(120);

impl Rank {
    /// Its word, where it is counted.
    pub(super) fn word(self) -> &'static str {
        match self {
            Rank::Emergency => "emergency",
            Rank::Answer => "answer",
            Rank::News => "news",
            Rank::Quiet => "quiet",
        }
    }
}

/// A photo with the words under it.
#[derive(Clone, Debug)]
pub(super) struct Photo {
    /// The hash of its bytes, by which the platform's name for it is found.
    pub(super) of: Hash,
    pub(super) jpeg: Arc<Vec<u8>>,
    /// As HTML.
    pub(super) caption: String,
}

/// One thing to send.
#[derive(Clone, Debug)]
pub(super) enum What {
    /// A message.
    Text {
        html: String,
        markup: Option<ReplyMarkup>,
    },
    /// A picture, perhaps with the message under it.
    Picture {
        png: Arc<Png>,
        caption: Option<String>,
        markup: Option<ReplyMarkup>,
    },
    /// A file: a picture with all its pixels, a report.
    File {
        bytes: Arc<Vec<u8>>,
        file: String,
        caption: String,
    },
    /// Another text with other buttons for a message that is there.
    Edit {
        message: i32,
        html: String,
        markup: InlineKeyboardMarkup,
    },
    /// Other buttons for a message that is there.
    Keyboard {
        message: i32,
        markup: InlineKeyboardMarkup,
    },
    /// Photos that belong together, in their order: as many as [`ALBUM_MAX`] at most.
    Album(Arc<[Photo]>),
}

impl What {
    /// As how many messages the platform counts it.
    pub(super) fn messages(&self) -> usize {
        match self {
            What::Album(photos) => photos.len().max(1),
            What::Text { .. }
            | What::Picture { .. }
            | What::File { .. }
            | What::Edit { .. }
            | What::Keyboard { .. } => 1,
        }
    }

    /// Whether it is not tried again after so many failures in so long.
    pub(super) fn is_given_up(&self, failures: u32, tried: Duration) -> bool {
        let is_upload = matches!(self, What::File { .. } | What::Album(_));
        is_upload && failures >= UPLOADS_MAX && tried >= UPLOADED_FOR_MAX
    }
}

/// What a newer message makes needless.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// The screen of a job.
    Screen(JobId),
    /// This very sentence.
    Sentence(String),
    /// The buttons of a message: only the newest count.
    Keyboard(i32),
    /// How a job stands in a group: only the newest counts.
    Status(JobId),
    /// That something was left out.
    LeftOut,
    /// Never replaced.
    Own,
}

/// What became of a message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Fate {
    /// The platform took it; a text or a picture by itself has a number from then on.
    Delivered(Option<i32>),
    /// Something newer goes in its place.
    Replaced,
    /// The platform will never take it.
    Refused,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_upload_that_never_ends_is_given_up_and_a_message_never_is() {
        let file = What::File {
            bytes: Arc::default(),
            file: "job.pdf".to_owned(),
            caption: String::new(),
        };
        let text = What::Text {
            html: "Does the fan turn?".to_owned(),
            markup: None,
        };
        let long = UPLOADED_FOR_MAX;
        assert!(file.is_given_up(5, long));
        assert!(!file.is_given_up(4, long));
        assert!(!file.is_given_up(40, Duration::from_secs(30)), "an outage");
        assert!(!text.is_given_up(40, long));
    }
}
