//! What a person does in a chat, brought to the desk, and its answer brought back.

use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use teloxide::types::{ForceReply, InlineKeyboardMarkup, ReplyMarkup};
use tokio_util::task::TaskTracker;

use super::album::Showing;
use super::asked::Question;
use super::decode::{
    Arrived, Came, Command, GroupCommand, InGroup, Inbound, Place, Somebody, Unusable,
};
use super::group::GroupTurn;
use super::group_words;
use super::line::Line;
use super::questions::Questions;
use super::receipt::Receipts;
use super::rich::{CAPTION_UNITS_MAX, Rich, Style, TEXT_UNITS_MAX};
use super::room_status::Wishes;
use super::screen::{self, View};
use super::sender::{Kind, Sender, What};
use super::words;
use crate::desk::clock::Clock;
use crate::desk::id::JobId;
use crate::desk::screen::{Handled, Outcome, Screen};
use crate::desk::{Actor, ChannelAddress, Desk, DeskError};
use crate::record::person::PersonId;
use crate::report::{chart, picture};
use crate::store::InputKey;
use crate::walk::input::Input;
use crate::walk::prompt::{Ask, Button, EMERGENCY};

/// So many messages, albums and questions are remembered for as long as the process runs.
const REMEMBERED: usize = 8192;

/// Everything that handling an update needs.
pub(super) struct Talk {
    pub(super) desk: Desk,
    pub(super) sender: Sender,
    pub(super) line: Line,
    pub(super) clock: Arc<dyn Clock>,
    /// The bot's number, part of every input key.
    pub(super) number: String,
    /// The bot's name, once the platform told it.
    pub(super) username: OnceLock<String>,
    /// Rooms that somebody wants to see as they stand.
    pub(super) rooms: Wishes,
    pub(super) views: Recent<(i64, i32), View>,
    /// What the screens that were shown last ask, for each person and revision of a job.
    pub(super) asked: Recent<(PersonId, JobId, u64), Arc<Vec<Button>>>,
    /// What was asked in which private chat.
    pub(super) questions: Questions,
    pub(super) albums: Recent<String, ()>,
    pub(super) showing: Showing,
    /// What goes on beside the updates, and is waited for at the end.
    pub(super) tasks: TaskTracker,
    pub(super) receipts: Receipts,
}

/// The last few values by key.
pub(super) struct Recent<K, V>(Mutex<(HashMap<K, V>, VecDeque<K>)>);

impl<K: Clone + Eq + std::hash::Hash, V: Clone> Recent<K, V> {
    pub(super) fn new() -> Recent<K, V> {
        Recent(Mutex::new((HashMap::new(), VecDeque::new())))
    }

    pub(super) fn get(&self, key: &K) -> Option<V> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.0.get(key).cloned()
    }

    /// Puts a value and returns the one before it.
    pub(super) fn put(&self, key: K, value: V) -> Option<V> {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let before = kept.0.insert(key.clone(), value);
        if before.is_none() {
            kept.1.push_back(key);
        }
        while kept.1.len() > REMEMBERED {
            if let Some(oldest) = kept.1.pop_front() {
                kept.0.remove(&oldest);
            }
        }
        before
    }
}

/// One update on its way through.
pub(super) struct Turn<'a> {
    pub(super) talk: &'a Talk,
    pub(super) place: Place,
    pub(super) user: i64,
    pub(super) first_name: String,
    pub(super) key: InputKey,
}

impl Talk {
    /// Handles one update; returns when what it does is durable and the answer is on its way.
    pub(super) async fn handle(&self, arrived: Arrived) {
        let Arrived {
            place,
            is_forum,
            native,
            came,
        } = arrived;
        let key = InputKey(format!("telegram:{}:{native}", self.number));
        let handled = match came {
            Came::Private(somebody, inbound) => {
                self.private(place, (somebody, key), native, inbound).await
            }
            Came::InGroup(somebody, meant) => {
                let user = somebody.user;
                let turn = GroupTurn {
                    talk: self,
                    place,
                    is_forum,
                    user,
                    key,
                };
                turn.handle(meant).await
            }
            Came::Nameless(InGroup::Command(GroupCommand::Hurt, _)) => {
                self.emergency(place);
                Ok(())
            }
            Came::Nameless(InGroup::Press(press)) => {
                self.sender
                    .answer(&press.query, Some(group_words::NAMELESS));
                Ok(())
            }
            Came::Nameless(_) => {
                self.say(place, group_words::NAMELESS);
                Ok(())
            }
            Came::Seeks(somebody, sought) => {
                self.seek(&somebody, sought).await;
                Ok(())
            }
            Came::News(news) => self.news_of_group(place, key, news).await,
        };
        if let Err(error) = handled {
            if error.is_fault() {
                tracing::error!(error = error.for_the_log(), "an update met a fault");
            }
            self.say(place, &error.to_string());
        }
    }

    /// Handles what somebody did in their private chat.
    async fn private(
        &self,
        place: Place,
        (somebody, key): (Somebody, InputKey),
        native: String,
        inbound: Inbound,
    ) -> Result<(), DeskError> {
        let turn = Turn {
            talk: self,
            place,
            user: somebody.user,
            first_name: somebody.first_name,
            key,
        };
        match inbound {
            Inbound::Unusable(Unusable::Album) if self.albums.put(native, ()).is_some() => Ok(()),
            Inbound::Unusable(what) => {
                self.say(place, words::unusable(what));
                Ok(())
            }
            Inbound::Press(press) => turn.pressed(press).await,
            Inbound::Command(command, rest) => turn.commanded(command, &rest).await,
            Inbound::Photo(photo) => turn.photo(photo).await,
            Inbound::Location(near) => turn.location(near).await,
            Inbound::Text {
                text,
                replies_to,
                message,
            } => turn.typed((text, message), replies_to).await,
        }
    }

    /// Says a sentence.
    pub(super) fn say(&self, place: Place, sentence: &str) {
        let whats = texts(&Rich::plain(sentence), None);
        self.sender
            .send(place, Kind::Sentence(sentence.to_owned()), whats);
    }

    /// Says what to do in an emergency, before anything else that waits.
    pub(super) fn emergency(&self, place: Place) {
        let mut rich = Rich::default();
        rich.push(Style::Bold, EMERGENCY);
        for what in texts(&rich, None) {
            self.sender.send_first(place, what);
        }
    }

    /// A screen as messages: its picture and its text in one where they fit, else one after the
    /// other, the buttons under the last.
    pub(super) async fn screen(
        &self,
        actor: &Actor,
        shown: &Screen,
        before: Option<&str>,
    ) -> Vec<What> {
        if let Ask::Press(buttons) = &shown.prompt.ask {
            let key = (actor.person, shown.job, shown.prompt.revision);
            self.asked.put(key, Arc::new(buttons.clone()));
        }
        let rich = screen::text(shown, before, self.clock.now());
        let mut keyboards = screen::keyboards(shown, View::default());
        let last = keyboards.pop().map(ReplyMarkup::InlineKeyboard);
        let mut whats = Vec::new();
        let mut under = None;
        let mut pictures = self.pictures(actor, shown).await;
        let last_picture = pictures.pop();
        whats.extend(pictures.into_iter().map(|png| What::Picture {
            png,
            caption: None,
            markup: None,
        }));
        if let Some(png) = last_picture {
            let fits = rich.units() <= CAPTION_UNITS_MAX && keyboards.is_empty();
            let caption = rich.parts(CAPTION_UNITS_MAX).into_iter().next();
            under = fits.then_some(()).and(caption);
            whats.push(What::Picture {
                png,
                markup: under.as_ref().and(last.clone()),
                caption: under.clone(),
            });
        }
        if under.is_none() {
            whats.extend(texts(
                &rich,
                if keyboards.is_empty() {
                    last.clone()
                } else {
                    None
                },
            ));
            let count = keyboards.len();
            for (at, keyboard) in keyboards.into_iter().enumerate() {
                let rows = Some(ReplyMarkup::InlineKeyboard(keyboard));
                let html = format!("Answers, part {} of {}:", at + 1, count + 1);
                whats.push(What::Text { html, markup: rows });
            }
            if count > 0 {
                let html = format!("Answers, part {} of {}:", count + 1, count + 1);
                whats.push(What::Text { html, markup: last });
            }
        }
        whats
    }

    /// The chart and the picture of a screen, drawn.
    async fn pictures(&self, actor: &Actor, shown: &Screen) -> Vec<Arc<picture::Png>> {
        let mut svgs = Vec::new();
        if let Some(chart) = &shown.prompt.chart {
            let svg = chart::draw(chart);
            svgs.extend(svg.inspect_err(|error| tracing::error!(%error, "no chart")));
        }
        if let Some(name) = &shown.prompt.picture {
            let svg = self.desk.picture(actor, shown.job, name).await;
            let said =
                |error: &DeskError| tracing::error!(error = error.for_the_log(), "no picture");
            svgs.extend(svg.inspect_err(said));
        }
        let mut pngs = Vec::new();
        for svg in svgs {
            let drawn = tokio::task::spawn_blocking(move || picture::png(&svg)).await;
            match drawn {
                Ok(Ok(png)) => pngs.push(png),
                Ok(Err(error)) => tracing::error!(%error, "a picture was left out"),
                Err(error) => tracing::error!(%error, "drawing a picture panicked"),
            }
        }
        pngs
    }
}

/// A text as messages, the buttons under the last.
pub(super) fn texts(rich: &Rich, markup: Option<ReplyMarkup>) -> Vec<What> {
    let mut whats: Vec<What> = rich
        .parts(TEXT_UNITS_MAX)
        .into_iter()
        .map(|html| What::Text { html, markup: None })
        .collect();
    if let Some(What::Text { markup: under, .. }) = whats.last_mut() {
        *under = markup;
    }
    whats
}

impl Turn<'_> {
    pub(super) fn address(&self) -> ChannelAddress {
        ChannelAddress::Telegram {
            chat: self.place.chat,
            user: self.user,
        }
    }

    /// Who speaks; whoever is not known is told how to join.
    pub(super) async fn actor(&self) -> Result<Option<Actor>, DeskError> {
        let actor = self.talk.desk.who_is(&self.address()).await?;
        if actor.is_none() {
            let is_open = self.talk.desk.rules().open_door.is_some();
            self.say(if is_open {
                words::JOIN_OPEN
            } else {
                words::JOIN
            });
        }
        Ok(actor)
    }

    pub(super) fn say(&self, sentence: &str) {
        self.talk.say(self.place, sentence);
    }

    /// Says something with buttons under it.
    pub(super) fn offer(&self, rich: &Rich, rows: screen::Rows) {
        let markup = ReplyMarkup::InlineKeyboard(InlineKeyboardMarkup::new(rows));
        let whats = texts(rich, Some(markup));
        self.talk.sender.send(self.place, Kind::Own, whats);
    }

    /// Asks something that is to be answered by a reply.
    pub(super) fn ask(&self, question: &str, hint: &str) {
        let force = ForceReply::new().input_field_placeholder(hint.to_owned());
        let whats = texts(&Rich::plain(question), Some(ReplyMarkup::ForceReply(force)));
        self.talk.sender.send(self.place, Kind::Own, whats);
    }

    /// Shows a screen, after a sentence about what just happened.
    pub(super) async fn show(&self, actor: &Actor, shown: &Screen, before: Option<&str>) {
        let whats = self.talk.screen(actor, shown, before).await;
        let mark = self
            .talk
            .questions
            .put(self.place.chat, Question::of(shown));
        self.talk
            .sender
            .send_screen(self.place, mark, (shown.job, whats));
    }

    /// Brings an input to the desk and shows what became of it.
    pub(super) async fn bring(
        &self,
        actor: &Actor,
        job: JobId,
        input: Input,
    ) -> Result<Option<String>, DeskError> {
        let handled = self
            .talk
            .desk
            .handle(self.key.clone(), actor, job, input)
            .await?;
        Ok(self.became(actor, handled).await)
    }

    /// Shows what became of an input; the sentence if it was refused.
    pub(super) async fn became(&self, actor: &Actor, handled: Handled) -> Option<String> {
        match handled.outcome {
            Outcome::Advanced => {
                self.show(actor, &handled.screen, None).await;
                None
            }
            Outcome::Refused(sentence) => {
                self.show(actor, &handled.screen, Some(&sentence)).await;
                Some(sentence)
            }
            // Its answer went out the first time, or the screen came again after the restart.
            Outcome::AlreadyHandled => None,
        }
    }

    async fn commanded(&self, command: Command, rest: &str) -> Result<(), DeskError> {
        match command {
            Command::Start => self.start(rest).await,
            Command::Job => self.job().await,
            Command::New => self.new_job(rest, false).await,
            Command::Training => self.new_job(rest, true).await,
            Command::Jobs => self.jobs().await,
            Command::Evaporator => self.evaporators(rest).await,
            Command::Labels => self.labels(rest).await,
            Command::Flow => self.flows().await,
            Command::Report => self.report(rest).await,
            Command::Photos => self.photos_at_hand().await,
            Command::Hurt => self.hurt().await,
            Command::Page => self.page_code().await,
            Command::People => self.people().await,
            Command::Invite => self.invite().await,
            Command::Quiet => self.quiet(rest.trim()).await,
            Command::Way => self.way(rest.trim()).await,
            Command::Locks => self.locks().await,
            Command::Help => {
                self.say(words::HELP);
                Ok(())
            }
        }
    }

    /// The job at hand; whoever has none is told.
    pub(super) async fn at_hand(&self, actor: &Actor) -> Result<Option<JobId>, DeskError> {
        let job = self.talk.desk.job_at_hand(actor).await?;
        if job.is_none() {
            self.say(words::NO_JOB);
        }
        Ok(job)
    }

    /// Shows the job at hand.
    async fn job(&self) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let Some(job) = self.at_hand(&actor).await? else {
            return Ok(());
        };
        let shown = self.talk.desk.screen(&actor, job).await?;
        self.show(&actor, &shown, None).await;
        Ok(())
    }

    /// The emergency screen first, whoever asks; then whoever has to know.
    async fn hurt(&self) -> Result<(), DeskError> {
        self.emergency();
        let Some(actor) = self.talk.desk.who_is(&self.address()).await? else {
            return Ok(());
        };
        if let Some(job) = self.talk.desk.job_at_hand(&actor).await? {
            self.bring(&actor, job, Input::Emergency).await?;
        }
        Ok(())
    }

    /// Says what to do in an emergency, before anything else that waits.
    pub(super) fn emergency(&self) {
        self.talk.emergency(self.place);
    }
}
