//! Jobs that are run in a group: opening them there, and what people do in them.
//!
//! A press or a reply is brought to the desk in the name of whoever made it; whoever is not of the
//! crew changes nothing and learns no name. How the job stands is shown by `room_status`.

use super::decode::{Photo, Place, Press};
use super::group::GroupTurn;
use super::group_decode::{Answered, Reply};
use super::press::{keys, stale_press};
use super::queue::Rank;
use super::rich::{Rich, Style};
use super::room_words as words;
use super::screen::{self, Rows, View, button};
use super::sender::{Kind, What};
use super::start::LINES_MAX;
use super::token::{Choice, On, Token};
use crate::channel::lines::told_on_request;
use crate::desk::id::JobId;
use crate::desk::lists::Pile;
use crate::desk::photo::PHOTO_BYTES_MAX;
use crate::desk::rooms::{Room, RoomScreen};
use crate::desk::screen::{Outcome, Phase};
use crate::desk::{Actor, DeskError, Seen};
use crate::flow::model::Role;
use crate::walk::input::Input;
use crate::walk::prompt::{Action, Ask};
use teloxide::types::{InlineKeyboardMarkup, ReplyMarkup};

impl GroupTurn<'_> {
    /// `/here`: opens the job at hand to the crew here, or shows again what is run here.
    pub(super) async fn here(&self) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return self.not_of_the_crew().await;
        };
        let desk = &self.talk.desk;
        if let Some(job) = desk.job_at_hand(&actor).await? {
            let screen = desk.screen(&actor, job).await?;
            if screen.holder.person == actor.person && screen.phase != Phase::Accepted {
                return self.open(&actor, job).await;
            }
        }
        if actor.is(Role::Supervisor) {
            return self.which_job(&actor).await;
        }
        let rooms = desk.rooms_in(self.place.chat).await?;
        let here = rooms
            .into_iter()
            .filter(|room| room.thread == self.place.thread);
        let mut any = false;
        for room in here {
            any = true;
            self.show_below(room).await?;
        }
        if !any {
            self.say(words::NO_ROOM_JOB);
        }
        Ok(())
    }

    /// Asks a supervisor which job of the crew is to be run here.
    async fn which_job(&self, actor: &Actor) -> Result<(), DeskError> {
        let wanted = (None, LINES_MAX);
        let page = self.talk.desk.jobs_on(actor, Pile::Open, wanted).await?;
        if page.items.is_empty() {
            self.say(words::NO_OPEN_JOB);
            return Ok(());
        }
        let line = |line: &crate::desk::screen::JobLine| {
            let label = format!("{} · {}", line.evaporator.line(), line.holder.name);
            vec![button(&label, Token::Here(line.job))]
        };
        let rows: Rows = page.items.iter().map(line).collect();
        let mut rich = Rich::default();
        rich.push(Style::Bold, words::WHICH_JOB_HERE);
        if page.next.is_some() {
            rich.paragraph(Style::Plain, super::words::MORE_JOBS);
        }
        let markup = ReplyMarkup::InlineKeyboard(InlineKeyboardMarkup::new(rows));
        let whats = super::talk::texts(&rich, Some(markup));
        self.talk.sender.send(self.place, Kind::Own, whats);
        Ok(())
    }

    async fn open(&self, actor: &Actor, job: JobId) -> Result<(), DeskError> {
        let place = self.place_of_job(actor, job).await?;
        let at = (place.chat, place.thread);
        let key = self.key.clone();
        let before = self.talk.desk.open_room(key, actor, job, at).await?;
        if place != self.place {
            self.say(words::IN_ITS_TOPIC);
        }
        if let Some(before) = before {
            self.retire(&before);
        }
        self.talk.rooms.wish(job, Rank::Answer);
        Ok(())
    }

    /// Shows how a job stands in a new message, below everything that was said since.
    async fn show_below(&self, room: Room) -> Result<(), DeskError> {
        self.retire(&room);
        let job = room.job;
        let unposted = Room {
            message: None,
            ..room
        };
        self.talk.desk.note_room(&unposted).await?;
        self.talk.rooms.wish(job, Rank::Answer);
        Ok(())
    }

    /// Takes the buttons off a message that another takes the place of.
    fn retire(&self, room: &Room) {
        let Some(message) = room.message else {
            return;
        };
        let place = Place {
            chat: room.chat,
            thread: room.thread,
        };
        let what = What::Edit {
            message,
            html: words::ROOM_BELOW.to_owned(),
            markup: InlineKeyboardMarkup::default(),
        };
        // Whether the old message is still there does not matter.
        drop(
            self.talk
                .sender
                .send_and_tell((place, Rank::Quiet), Kind::Own, vec![what]),
        );
    }

    /// Does what a button of a room says; the sentence is for the small answer to the press.
    pub(super) async fn press_in_room(
        &self,
        actor: &Actor,
        press: &Press,
        token: Option<Token>,
    ) -> Result<Option<String>, DeskError> {
        let told = |sentence: &str| Ok(Some(sentence.to_owned()));
        let on = match token {
            Some(Token::Here(job)) => return self.open(actor, job).await.map(|()| None),
            Some(
                Token::Choose(on, _)
                | Token::Toggle(on, ..)
                | Token::Ticked(on, _)
                | Token::Keep(on)
                | Token::Do(on, _)
                | Token::More(on, _),
            ) => on,
            _ => return told(super::words::UNKNOWN_BUTTON),
        };
        let shown = self.talk.desk.room_screen(on.job).await?;
        let shown = shown.filter(|shown| shown.room.chat == self.place.chat && !shown.is_last);
        let Some(shown) = shown else {
            return told(words::ROOM_OVER);
        };
        match token {
            Some(Token::Choose(_, choice)) => self.choose(actor, &shown, (on, choice)).await,
            Some(Token::Ticked(_, ticked)) => {
                let ticked = self.view(press).map_or(ticked, |view| view.ticked);
                self.ticked(actor, &shown, (on, ticked)).await
            }
            Some(Token::Toggle(_, index, ticked)) => {
                let mut view = self.view(press).unwrap_or(View {
                    ticked,
                    more: false,
                });
                view.ticked ^= 1u128.checked_shl(u32::from(index)).unwrap_or(0);
                let own = self.talk.desk.screen(actor, on.job).await?;
                match (own.prompt.ask, &shown.answers) {
                    (Ask::Tick { .. }, _) | (_, None) => {
                        self.turn_over(actor, press, &shown, (on, view)).await
                    }
                    (_, Some(answers)) => told(&answers.words()),
                }
            }
            Some(Token::More(_, ticked)) => {
                let ticked = self.view(press).map_or(ticked, |view| view.ticked);
                let view = View { ticked, more: true };
                self.turn_over(actor, press, &shown, (on, view)).await
            }
            Some(Token::Do(_, action)) => self.act(actor, &shown, (on, action)).await,
            _ => self.give_seen(actor, on, Input::Keep).await,
        }
    }

    async fn choose(
        &self,
        actor: &Actor,
        shown: &RoomScreen,
        (on, choice): (On, Choice),
    ) -> Result<Option<String>, DeskError> {
        let key = match &shown.screen.prompt.ask {
            Ask::Press(buttons) => choice.find(buttons).map(|button| button.key.clone()),
            _ => None,
        };
        let revision = on.revision;
        let input = key.map_or_else(stale_press, |key| Input::Press { revision, key });
        self.give(actor, on.job, input).await
    }

    async fn ticked(
        &self,
        actor: &Actor,
        shown: &RoomScreen,
        (on, ticked): (On, u128),
    ) -> Result<Option<String>, DeskError> {
        let input = match &shown.screen.prompt.ask {
            Ask::Tick { options, .. } => Input::Tick {
                revision: on.revision,
                keys: keys(options, ticked),
            },
            _ => stale_press(),
        };
        self.give(actor, on.job, input).await
    }

    /// Changes the buttons of the message, for everybody.
    async fn turn_over(
        &self,
        actor: &Actor,
        press: &Press,
        shown: &RoomScreen,
        (on, view): (On, View),
    ) -> Result<Option<String>, DeskError> {
        let Some(message) = press.message else {
            return Ok(Some(super::words::UNKNOWN_BUTTON.to_owned()));
        };
        if shown.screen.prompt.revision != on.revision {
            return self.give(actor, on.job, stale_press()).await;
        }
        self.talk.views.put((self.place.chat, message), view);
        let markup = screen::keyboard(&shown.screen, view);
        let what = What::Keyboard { message, markup };
        let kind = Kind::Keyboard(message);
        self.talk.sender.send(self.place, kind, vec![what]);
        Ok(None)
    }

    /// How the buttons of the message looked when they were last changed by this process.
    fn view(&self, press: &Press) -> Option<View> {
        self.talk.views.get(&(self.place.chat, press.message?))
    }

    async fn act(
        &self,
        actor: &Actor,
        shown: &RoomScreen,
        (on, action): (On, Action),
    ) -> Result<Option<String>, DeskError> {
        // These two help at any time, from any screen.
        if action == Action::Emergency {
            return self.give(actor, on.job, Input::Emergency).await;
        }
        if action == Action::Stop {
            return self.give(actor, on.job, Input::Stop).await;
        }
        // Whoever reached somebody says so whatever happened to the job since.
        if action == Action::FoundWell {
            return self.give(actor, on.job, Input::FoundWell).await;
        }
        if let Some(input) = action.input() {
            return self.give_seen(actor, on, input).await;
        }
        // It is one person who asks: the answer is long, and goes to them alone.
        let place = Place {
            chat: self.user,
            thread: None,
        };
        let told = told_on_request(&shown.screen.prompt, action);
        self.talk
            .say(place, told.as_deref().unwrap_or(super::words::NOTHING_MORE));
        Ok(Some(words::TOLD_PRIVATELY.to_owned()))
    }

    /// Brings an input to the desk; the sentence if it was refused.
    async fn give(
        &self,
        actor: &Actor,
        job: JobId,
        input: Input,
    ) -> Result<Option<String>, DeskError> {
        let (key, desk) = (self.key.clone(), &self.talk.desk);
        self.talk.rooms.expect(job);
        let handled = desk.handle(key, actor, job, input).await;
        self.talk.rooms.wish(job, Rank::Answer);
        let handled = handled?;
        Ok(refused(handled.outcome))
    }

    /// The same for an input that only counts on the screen that it was made for.
    async fn give_seen(
        &self,
        actor: &Actor,
        on: On,
        input: Input,
    ) -> Result<Option<String>, DeskError> {
        let (key, desk) = (self.key.clone(), &self.talk.desk);
        let seen = (Seen::Screen(on.revision), input);
        self.talk.rooms.expect(on.job);
        let handled = desk.handle_seen(key, actor, on.job, seen).await;
        self.talk.rooms.wish(on.job, Rank::Answer);
        let handled = handled?;
        Ok(refused(handled.outcome))
    }

    /// Words typed under a message of the bot; false if nothing waits for them there.
    pub(super) async fn replied_in_room(
        &self,
        actor: &Actor,
        reply: &Reply,
    ) -> Result<bool, DeskError> {
        let Some(shown) = self.under(&reply.to).await? else {
            return Ok(false);
        };
        let input = Input::Text(reply.text.clone());
        let sentence = self.answered(actor, &shown, &reply.to, input).await?;
        if let Some(sentence) = sentence {
            self.say(&sentence);
        }
        Ok(true)
    }

    /// A photo sent under a message of the bot; false if nothing waits for it there.
    pub(super) async fn photo_in_room(
        &self,
        actor: &Actor,
        photo: &Photo,
        to: &Answered,
    ) -> Result<bool, DeskError> {
        let Some(shown) = self.under(to).await? else {
            return Ok(false);
        };
        let desk = &self.talk.desk;
        let own = desk.screen(actor, shown.room.job).await?;
        if !matches!(own.prompt.ask, Ask::Photo { .. }) {
            let sentence = match (&shown.screen.prompt.ask, &shown.answers) {
                (Ask::Photo { .. }, Some(answers)) => answers.words(),
                _ => super::words::NO_PHOTO_WANTED.to_owned(),
            };
            self.say(&sentence);
            return Ok(true);
        }
        let told = (photo.file.as_str(), photo.bytes as usize);
        let taken = match self.talk.fetch(told, PHOTO_BYTES_MAX).await {
            Ok(bytes) => desk.take_photo(bytes).await,
            Err(missing) => {
                self.say(&missing.words(PHOTO_BYTES_MAX));
                return Ok(true);
            }
        };
        match taken {
            Ok(kept) => {
                let input = Input::Photo(kept);
                let sentence = self.answered(actor, &shown, to, input).await?;
                if let Some(sentence) = sentence {
                    self.say(&sentence);
                }
            }
            Err(error) if error.is_fault() => return Err(error),
            Err(error) => self.say(&error.to_string()),
        }
        Ok(true)
    }

    /// The room whose message this is, if it is one.
    async fn under(&self, to: &Answered) -> Result<Option<RoomScreen>, DeskError> {
        let rooms = self.talk.desk.rooms_in(self.place.chat).await?;
        let room = rooms.iter().find(|room| room.message == Some(to.message));
        let Some(room) = room else {
            return Ok(None);
        };
        let shown = self.talk.desk.room_screen(room.job).await?;
        Ok(shown.filter(|shown| !shown.is_last))
    }

    /// Brings an answer to the screen that its message showed when it was given.
    async fn answered(
        &self,
        actor: &Actor,
        shown: &RoomScreen,
        to: &Answered,
        input: Input,
    ) -> Result<Option<String>, DeskError> {
        let job = shown.room.job;
        match to.text.as_deref().and_then(words::screen_of) {
            Some(revision) => self.give_seen(actor, On { job, revision }, input).await,
            None => self.give(actor, job, input).await,
        }
    }
}

fn refused(outcome: Outcome) -> Option<String> {
    match outcome {
        Outcome::Refused(sentence) => Some(sentence),
        Outcome::Advanced | Outcome::AlreadyHandled => None,
    }
}
