//! Finding a job, an evaporator or a flow of one's own crew from any chat: the bot's name, then
//! words.
//!
//! What is chosen goes into that chat as the person's own message: a line that names no people,
//! and a link that leads whoever is of the crew to it, and anybody else nowhere. The platform
//! keeps nothing of the answers, and shows them to nobody else.

use teloxide::payloads::AnswerInlineQuerySetters;
use teloxide::requests::Requester;
use teloxide::types::{
    InlineKeyboardButton, InlineKeyboardMarkup, InlineQueryId, InlineQueryResult,
    InlineQueryResultArticle, InlineQueryResultsButton, InlineQueryResultsButtonKind,
    InputMessageContent, InputMessageContentText,
};

use super::decode::{Somebody, Sought};
use super::links::Link;
use super::rich::beginning;
use super::talk::Talk;
use super::words;
use crate::desk::{Actor, ChannelAddress, DeskError};

/// So many are shown at once; the platform takes 50 (its reference, `answerInlineQuery`).
const AT_ONCE: usize = 50;

/// So many letters of a line are shown in the list.
const LINE_UNITS_MAX: usize = 120;

/// One thing that was found.
struct Found {
    link: Link,
    title: String,
    about: String,
}

impl Talk {
    /// Answers somebody who looks for something. It is worth nothing after some seconds, so it is
    /// tried once.
    pub(super) async fn seek(&self, somebody: &Somebody, sought: Sought) {
        let address = ChannelAddress::Telegram {
            chat: somebody.user,
            user: somebody.user,
        };
        let actor = match self.desk.who_is(&address).await {
            Ok(actor) => actor,
            Err(error) => return tell(&error),
        };
        let found = match &actor {
            Some(actor) => match self.found(actor, &sought.words).await {
                Ok(found) => found,
                Err(error) => return tell(&error),
            },
            None => Vec::new(),
        };
        let more = found.len() > sought.from.saturating_add(AT_ONCE);
        let shown = found.into_iter().skip(sought.from).take(AT_ONCE);
        let results: Vec<InlineQueryResult> =
            shown.filter_map(|found| self.result(found)).collect();
        let query = InlineQueryId(sought.query);
        let mut answer = self
            .line
            .bot()
            .answer_inline_query(query, results)
            .is_personal(true)
            .cache_time(0);
        if more {
            answer = answer.next_offset((sought.from + AT_ONCE).to_string());
        }
        if actor.is_none() {
            answer = answer.button(InlineQueryResultsButton {
                text: words::JOIN_BUTTON.to_owned(),
                kind: InlineQueryResultsButtonKind::StartParameter(Link::JOIN.to_owned()),
            });
        }
        if let Err(error) = self.line.send(answer).await {
            tracing::debug!(%error, "somebody who looked for something got no answer");
        }
    }

    /// What fits the words: jobs, then evaporators, then flows.
    async fn found(&self, actor: &Actor, sought: &str) -> Result<Vec<Found>, DeskError> {
        let wanted: Vec<String> = sought.split_whitespace().map(str::to_lowercase).collect();
        let fits = |line: &str| {
            let line = line.to_lowercase();
            wanted.iter().all(|word| line.contains(word))
        };
        let mut found = Vec::new();
        for (_, job) in self.desk.jobs_to_choose(actor).await?.jobs {
            let line = job.evaporator.line();
            if fits(&format!("{line} {}", job.title)) {
                found.push(Found {
                    link: Link::Job(job.job),
                    title: line,
                    about: format!("{}: {}", words::A_JOB, job.title),
                });
            }
        }
        for label in self.desk.evaporators(actor, sought).await? {
            found.push(Found {
                link: Link::Evaporator(label.id),
                title: label.line(),
                about: words::AN_EVAPORATOR.to_owned(),
            });
        }
        let library = self.desk.library(actor).await?;
        for flow in library.flows().values().filter(|flow| fits(&flow.title)) {
            found.push(Found {
                link: Link::flow(&flow.name),
                title: flow.title.clone(),
                about: words::A_FLOW.to_owned(),
            });
        }
        Ok(found)
    }

    fn result(&self, found: Found) -> Option<InlineQueryResult> {
        let bot = self.username.get()?;
        let link = found.link.address(bot).parse().ok()?;
        let Found { title, about, .. } = &found;
        let says = InputMessageContentText::new(format!("{title}\n{about}"));
        let open = InlineKeyboardButton::url(words::OPEN, link);
        let title = beginning(title, LINE_UNITS_MAX);
        let article = InlineQueryResultArticle::new(
            found.link.text(),
            title,
            InputMessageContent::Text(says),
        );
        let article = article
            .description(beginning(about, LINE_UNITS_MAX))
            .reply_markup(InlineKeyboardMarkup::new([[open]]));
        Some(InlineQueryResult::Article(article))
    }
}

fn tell(error: &DeskError) {
    let error = error.for_the_log();
    tracing::error!(error, "what somebody looks for cannot be read");
}
