//! In a group: whose it is, what people of its crew do there, what the platform tells of it.
//!
//! Whoever is not of the group's crew changes nothing here and learns nothing, whatever they
//! send; the desk says who is (`Desk::group_actor`).

use super::decode::{
    GroupCommand, GroupNews, InGroup, Photo, Place, Press, Reply, Standing, Unusable,
};
use super::group_decode::Answered;
use super::group_words as words;
use super::queue::Rank;
use super::talk::Talk;
use super::token::Token;
use crate::desk::groups::Bound;
use crate::desk::{Actor, ChannelAddress, DeskError};
use crate::store::InputKey;
use crate::walk::input::Input;
use crate::walk::prompt::Action;

/// Something that somebody did in a group, on its way through.
pub(super) struct GroupTurn<'a> {
    pub(super) talk: &'a Talk,
    pub(super) place: Place,
    /// Whether the group has topics.
    pub(super) is_forum: bool,
    pub(super) user: i64,
    pub(super) key: InputKey,
}

impl GroupTurn<'_> {
    /// Handles it; returns when what it does is durable and the answer is on its way.
    pub(super) async fn handle(&self, meant: InGroup) -> Result<(), DeskError> {
        match meant {
            InGroup::Command(command, rest) => self.commanded(command, &rest).await,
            InGroup::PrivateCommand(_) => {
                self.say(&words::only_privately(self.bot()));
                Ok(())
            }
            InGroup::Press(press) => self.pressed(&press).await,
            InGroup::Posted(posted) => self.posted(posted).await,
            InGroup::Reply(reply) => self.replied(&reply).await,
            InGroup::Photo(photo, to) => self.photo(&photo, &to).await,
            InGroup::Mention => self.help().await,
            // The photos of an album get one answer together.
            InGroup::Unusable(Unusable::Album)
                if self.talk.albums.put(self.key.0.clone(), ()).is_some() =>
            {
                Ok(())
            }
            InGroup::Unusable(what) => {
                self.say(super::words::unusable(what));
                Ok(())
            }
        }
    }

    async fn commanded(&self, command: GroupCommand, rest: &str) -> Result<(), DeskError> {
        match command {
            GroupCommand::Flow | GroupCommand::Who => {
                let Some(actor) = self.actor().await? else {
                    return self.not_of_the_crew().await;
                };
                match command {
                    GroupCommand::Flow => self.flows(&actor).await,
                    _ => self.who(&actor, rest).await,
                }
            }
            GroupCommand::Bind => self.bind().await,
            GroupCommand::Unbind => self.unbind().await,
            GroupCommand::Here => self.here().await,
            GroupCommand::Hurt => self.hurt().await,
            GroupCommand::Help => self.help().await,
        }
    }

    /// A pressed button. Every press is answered, whatever becomes of it.
    async fn pressed(&self, press: &Press) -> Result<(), DeskError> {
        let answered = self.press(press).await;
        let sentence = match &answered {
            Ok(sentence) => sentence.clone(),
            Err(error) => Some(error.to_string()),
        };
        self.talk.sender.answer(&press.query, sentence.as_deref());
        // Only whoever pressed reads what is wrong; the group need not.
        answered.map(drop).or_else(|error| match error.is_fault() {
            true => Err(error),
            false => Ok(()),
        })
    }

    async fn press(&self, press: &Press) -> Result<Option<String>, DeskError> {
        let token = Token::decode(&press.data);
        if let Some(Token::Do(_, Action::Emergency)) = token {
            self.talk.emergency(self.place);
        }
        let Some(actor) = self.actor().await? else {
            return Ok(Some(words::not_of_the_crew(self.bot())));
        };
        match token {
            Some(Token::Shared(shared, mark)) => self.about_shared(&actor, (shared, mark)).await,
            Some(Token::Diagram(flow)) => {
                self.talk.diagram(self.place, &actor, flow).await?;
                Ok(None)
            }
            token => self.press_in_room(&actor, press, token).await,
        }
    }

    /// Typed words that answer a message of the bot.
    async fn replied(&self, reply: &Reply) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return self.not_of_the_crew().await;
        };
        if !self.noted(&actor, reply).await? && !self.replied_in_room(&actor, reply).await? {
            self.say(words::GROUP_NO_ANSWER);
        }
        Ok(())
    }

    /// A photo that answers a message of the bot.
    async fn photo(&self, photo: &Photo, to: &Answered) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return self.not_of_the_crew().await;
        };
        if !self.photo_in_room(&actor, photo, to).await? {
            self.say(words::GROUP_NO_ANSWER);
        }
        Ok(())
    }

    /// Tells somebody who is not of the group's crew, or of no crew in a group that is no crew's.
    pub(super) async fn not_of_the_crew(&self) -> Result<(), DeskError> {
        match self.talk.desk.group(self.place.chat).await? {
            Some(_) => self.say(&words::not_of_the_crew(self.bot())),
            None => self.say(words::GROUP_WELCOME),
        }
        Ok(())
    }

    async fn bind(&self) -> Result<(), DeskError> {
        // The group is no crew's yet, so it is the private chat that says who this is.
        let address = ChannelAddress::Telegram {
            chat: self.user,
            user: self.user,
        };
        let Some(actor) = self.talk.desk.who_is(&address).await? else {
            self.say(&words::group_unknown(self.bot()));
            return Ok(());
        };
        let key = self.key.clone();
        let bound = self
            .talk
            .desk
            .bind_group(key, &actor, self.place.chat)
            .await?;
        self.say(match bound {
            Bound::Fresh => words::GROUP_BOUND,
            Bound::Already => words::GROUP_BOUND_ALREADY,
        });
        Ok(())
    }

    async fn unbind(&self) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            self.say(words::GROUP_NOT_BOUND);
            return Ok(());
        };
        let key = self.key.clone();
        let chat = self.place.chat;
        let was_bound = self.talk.desk.unbind_group(key, &actor, chat).await?;
        self.say(match was_bound {
            true => words::GROUP_UNBOUND,
            false => words::GROUP_NOT_BOUND,
        });
        Ok(())
    }

    /// The emergency screen first, whoever asks; then whoever has to know.
    async fn hurt(&self) -> Result<(), DeskError> {
        self.talk.emergency(self.place);
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let desk = &self.talk.desk;
        if let Some(job) = desk.job_at_hand(&actor).await? {
            let key = self.key.clone();
            desk.handle(key, &actor, job, Input::Emergency).await?;
        }
        Ok(())
    }

    async fn help(&self) -> Result<(), DeskError> {
        let group = self.talk.desk.group(self.place.chat).await?;
        self.say(match group {
            Some(_) => words::GROUP_HELP,
            None => words::GROUP_WELCOME,
        });
        Ok(())
    }

    /// Who this is, if the group is a crew's and they are of it.
    pub(super) async fn actor(&self) -> Result<Option<Actor>, DeskError> {
        let desk = &self.talk.desk;
        desk.group_actor(self.place.chat, self.user).await
    }

    pub(super) fn say(&self, sentence: &str) {
        self.talk.say(self.place, sentence);
    }

    /// The bot's name, once the platform told it.
    pub(super) fn bot(&self) -> Option<&str> {
        self.talk.username.get().map(String::as_str)
    }
}

impl Talk {
    /// What the platform tells of a group.
    pub(super) async fn news_of_group(
        &self,
        place: Place,
        key: InputKey,
        news: GroupNews,
    ) -> Result<(), DeskError> {
        let chat = place.chat;
        match news {
            GroupNews::Moved { from, to } => {
                self.desk.move_group(key, from, to).await?;
                for room in self.desk.rooms_in(to).await? {
                    self.rooms.wish(room.job, Rank::Answer);
                }
            }
            GroupNews::Stands {
                standing,
                title,
                is_new,
            } => match standing {
                Standing::Out => {
                    self.desk.group_lost(key, chat, &title).await?;
                }
                Standing::Mute => {
                    let lacks = (title.as_str(), words::MUTE);
                    self.desk.group_lacks(key, chat, lacks).await?;
                }
                Standing::NoFiles => {
                    let lacks = (title.as_str(), words::NO_FILES);
                    self.desk.group_lacks(key, chat, lacks).await?;
                }
                Standing::In { .. } if is_new && self.desk.group(chat).await?.is_none() => {
                    self.say(place, words::GROUP_WELCOME);
                }
                Standing::In { .. } => {}
            },
        }
        Ok(())
    }
}
