//! Flows, kits and speed books that people post in the group of their crew.

use std::sync::Arc;

use teloxide::types::{InlineKeyboardMarkup, ReplyMarkup};

use super::decode::{Posted, PostedWhat, Reply};
use super::fetch::Missing;
use super::flow::{drawing, is_readable_as_photo, sheet};
use super::group::GroupTurn;
use super::group_card as card;
use super::group_decode::EDITION;
use super::group_words as words;
use super::rich::{CAPTION_UNITS_MAX, Rich, Style};
use super::screen::Rows;
use super::sender::{Kind, What};
use super::talk::texts;
use super::token::SharedPress;
use crate::desk::drafts::FILE_BYTES_MAX;
use crate::desk::shared_flows::{FlowCard, SharedFile, SharedMark, Taken};
use crate::desk::{Actor, DeskError};
use crate::flow::name::FlowName;

impl GroupTurn<'_> {
    /// Looks at what somebody posted and says what it is.
    pub(super) async fn posted(&self, posted: Posted) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            if posted.is_for_us {
                self.not_of_the_crew().await?;
            }
            return Ok(());
        };
        let desk = &self.talk.desk;
        let shared = match posted.what {
            PostedWhat::Card(edition) => desk.share_edition(&actor, &edition).await?,
            PostedWhat::File(file, bytes) => {
                let told = (file.as_str(), bytes as usize);
                match self.talk.fetch(told, FILE_BYTES_MAX).await {
                    Ok(bytes) => desk.share_file(&actor, bytes, posted.is_forwarded).await?,
                    Err(missing) => {
                        if posted.is_for_us {
                            self.say(&lost(&missing));
                        }
                        return Ok(());
                    }
                }
            }
        };
        match shared {
            SharedFile::Flow(card) => self.flow_card(*card).await,
            SharedFile::Faulty(findings) => self.tell(&card::faulty(&findings), Rows::new()),
            SharedFile::Goods(goods) => {
                self.tell(&card::goods(&goods), card::goods_buttons(&goods));
            }
            SharedFile::Unusable(wrong) => self.say(&words::unusable_goods(&wrong)),
            SharedFile::Other if posted.is_for_us => self.say(words::NOT_OURS),
            SharedFile::Other => {}
        }
        Ok(())
    }

    /// The card of a flow under its diagram; the diagram apart where it is too large for that.
    async fn flow_card(&self, flow: FlowCard) {
        let rich = card::flow(&flow);
        let rows = card::flow_buttons(&flow, self.bot());
        let drawn = drawing(flow.library.clone(), flow.flow.clone()).await;
        let markup = Some(ReplyMarkup::InlineKeyboard(InlineKeyboardMarkup::new(rows)));
        let whats = match drawn {
            Some(png) if is_readable_as_photo(&png) && rich.units() <= CAPTION_UNITS_MAX => {
                vec![What::Picture {
                    png: Arc::new(png),
                    caption: rich.parts(CAPTION_UNITS_MAX).into_iter().next(),
                    markup,
                }]
            }
            Some(png) => {
                let mut whats = vec![sheet(png, &flow.flow, &flow.title)];
                whats.extend(texts(&rich, markup));
                whats
            }
            None => texts(&rich, markup),
        };
        self.talk.sender.send(self.place, Kind::Own, whats);
    }

    /// A press on a card; the sentence is for the small answer to the press itself.
    pub(super) async fn about_shared(
        &self,
        actor: &Actor,
        (press, mark): (SharedPress, SharedMark),
    ) -> Result<Option<String>, DeskError> {
        let desk = &self.talk.desk;
        match press {
            SharedPress::Take => self.take(actor, mark).await?,
            SharedPress::Changes => match desk.shared(actor, mark).await? {
                SharedFile::Flow(flow) => self.tell(&card::changes(&flow), Rows::new()),
                SharedFile::Faulty(findings) => self.tell(&card::faulty(&findings), Rows::new()),
                _ => return Ok(Some(words::NOT_OURS.to_owned())),
            },
            SharedPress::Who => match desk.shared(actor, mark).await? {
                SharedFile::Flow(flow) => self.who_walks(actor, Some(&flow.flow)).await?,
                _ => return Ok(Some(words::NOT_OURS.to_owned())),
            },
        }
        Ok(None)
    }

    /// Takes a kit or speed book; asks for the note to a flow before it is published.
    async fn take(&self, actor: &Actor, mark: SharedMark) -> Result<(), DeskError> {
        let desk = &self.talk.desk;
        desk.may_take_shared(actor, mark).await?;
        match desk.shared(actor, mark).await? {
            SharedFile::Flow(flow) => {
                let mut rich = Rich::plain(words::NOTE);
                rich.paragraph(Style::Bold, &flow.title);
                rich.line(Style::Plain, &words::edition(&flow.edition));
                self.tell(&rich, Rows::new());
            }
            SharedFile::Faulty(findings) => self.tell(&card::faulty(&findings), Rows::new()),
            _ => {
                let key = self.key.clone();
                let taken = desk.take_shared(key, actor, mark, "").await?;
                self.say_taken(&taken);
            }
        }
        Ok(())
    }

    /// A reply to the question for the note; false if it replies to something else.
    pub(super) async fn noted(&self, actor: &Actor, reply: &Reply) -> Result<bool, DeskError> {
        let question = reply.to.text.as_deref().unwrap_or_default();
        if !question.starts_with(words::NOTE) {
            return Ok(false);
        }
        let edition = question
            .lines()
            .find_map(|line| line.strip_prefix(EDITION))
            .unwrap_or_default();
        let desk = &self.talk.desk;
        let mark = desk.mark_of_edition(edition.trim()).await?;
        let key = self.key.clone();
        let taken = desk.take_shared(key, actor, mark, &reply.text).await?;
        self.say_taken(&taken);
        Ok(true)
    }

    fn say_taken(&self, taken: &Taken) {
        self.say(&match taken {
            Taken::Flow(title) => words::published(title),
            Taken::Goods(which) => words::taken(*which),
        });
    }

    /// `/flow` alone: the crew's flows.
    pub(super) async fn flows(&self, actor: &Actor) -> Result<(), DeskError> {
        let (rich, rows) = self.talk.flows_to_see(actor).await?;
        self.tell(&rich, rows);
        Ok(())
    }

    /// `/who`, with words of a flow's title or without.
    pub(super) async fn who(&self, actor: &Actor, asked: &str) -> Result<(), DeskError> {
        if asked.is_empty() {
            return self.who_walks(actor, None).await;
        }
        let library = self.talk.desk.library(actor).await?;
        let wanted = asked.to_lowercase();
        let mut flows = library.flows().values();
        let found = flows.find(|flow| {
            flow.name.as_str() == wanted || flow.title.to_lowercase().contains(&wanted)
        });
        match found {
            Some(flow) => self.who_walks(actor, Some(&flow.name)).await,
            None => {
                self.say(words::NO_FLOW_CALLED);
                Ok(())
            }
        }
    }

    async fn who_walks(&self, actor: &Actor, flow: Option<&FlowName>) -> Result<(), DeskError> {
        let all = self.talk.desk.who_walks(actor, flow).await?;
        let none = match flow {
            Some(_) => words::NOBODY_WALKS,
            None => words::NO_OPEN_JOBS,
        };
        self.tell(&card::walked(&all, none), Rows::new());
        Ok(())
    }

    /// Says something, with buttons under it if there are any.
    pub(super) fn tell(&self, rich: &Rich, rows: Rows) {
        let keyboard = || ReplyMarkup::InlineKeyboard(InlineKeyboardMarkup::new(rows.clone()));
        let markup = (!rows.is_empty()).then(keyboard);
        let whats = texts(rich, markup);
        self.talk.sender.send(self.place, Kind::Own, whats);
    }
}

fn lost(missing: &Missing) -> String {
    match missing {
        Missing::TooLarge => words::file_too_large(FILE_BYTES_MAX / 1024),
        Missing::Lost => words::FILE_LOST.to_owned(),
    }
}
