//! Pressed buttons. Every press is answered, whatever becomes of it.

use super::again::asked_about;
use super::decode::Press;
use super::rich::{Rich, Style};
use super::screen::{self, BUTTONS_MAX, Rows, View, button};
use super::sender::{Kind, What};
use super::talk::Turn;
use super::token::{AgainPress, Choice, On, Token};
use super::words;
use crate::channel::lines::{person as person_line, told_on_request};
use crate::desk::id::JobId;
use crate::desk::screen::Closing;
use crate::desk::{Actor, DeskError, Seen};
use crate::flow::name::ChoiceKey;
use crate::walk::input::Input;
use crate::walk::prompt::{Action, Ask, Button};

impl Turn<'_> {
    pub(super) async fn pressed(&self, press: Press) -> Result<(), DeskError> {
        let answered = self.press(&press).await;
        let sentence = match &answered {
            Ok(sentence) => sentence.clone(),
            Err(error) => Some(error.to_string()),
        };
        self.talk.sender.answer(&press.query, sentence.as_deref());
        answered.map(drop)
    }

    /// Does what the button says; the sentence is for the small answer to the press itself.
    async fn press(&self, press: &Press) -> Result<Option<String>, DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(None);
        };
        let Some(token) = Token::decode(&press.data) else {
            self.say(words::UNKNOWN_BUTTON);
            return Ok(None);
        };
        match token {
            Token::Show(job) => {
                let shown = self.talk.desk.take_up(&actor, job).await?;
                self.show(&actor, &shown, None).await;
            }
            Token::Begin(evaporator, plan) => {
                self.begin(&actor, evaporator, plan, press.message).await?;
            }
            Token::Add(plan) => self.another(&actor, plan).await?,
            Token::New(training) => self.new_job("", training).await?,
            Token::Diagram(flow) => self.diagram(&actor, flow).await?,
            Token::Which(plan) => self.planned(&actor, plan, press.under.as_deref()).await?,
            Token::Toggle(on, index, ticked) => {
                return self.toggle(&actor, press, on, (index, ticked)).await;
            }
            Token::More(on, ticked) => return self.more(&actor, press, on, ticked).await,
            Token::Choose(on, choice) => return self.choose(&actor, on, choice).await,
            Token::Ticked(on, ticked) => {
                let ticked = self.view(press).map_or(ticked, |view| view.ticked);
                return self.ticked(&actor, on, ticked).await;
            }
            Token::Keep(on) => {
                let input = Input::Keep;
                return self.on_this_screen(&actor, on, input).await;
            }
            Token::Do(on, action) => return self.act(&actor, on, action).await,
            Token::HandOver(on, to) => {
                let input = Input::HandOver(to);
                return self.on_this_screen(&actor, on, input).await;
            }
            Token::Roles(person, roles) => {
                self.about_roles(&actor, person, (roles, press.message))
                    .await?;
            }
            Token::LockOff(job, lock) => return self.lock_off(&actor, job, lock).await,
            Token::Shown(person, shown) => self.about_shown(&actor, (person, shown)).await?,
            Token::Try(evaporator, mark) => {
                let what = (mark, evaporator, press.message);
                self.begin_trial(&actor, what).await?;
            }
            Token::Locate(evaporator, near) => self.locate(&actor, (evaporator, near)).await?,
            // Its card stands in the group.
            Token::Shared(..) => self.say(words::UNKNOWN_BUTTON),
            Token::Close(on, closing) => return self.close(&actor, on, closing).await,
            Token::Evaporator(evaporator) => self.evaporator(&actor, evaporator).await?,
            Token::Withdraw(code) => return self.withdraw(&actor, code).await,
            Token::Photos(job) => self.photos(&actor, job).await?,
            // Only under a question in a group.
            Token::Here(_) => self.say(words::UNKNOWN_BUTTON),
            Token::Again(on, again) => {
                return self.again(&actor, on, (again, press.message)).await;
            }
        }
        Ok(None)
    }

    async fn choose(
        &self,
        actor: &Actor,
        on: On,
        choice: Choice,
    ) -> Result<Option<String>, DeskError> {
        let asked = self.talk.asked.get(&(actor.person, on.job, on.revision));
        let found = |buttons: &[Button]| choice.find(buttons).map(|button| button.key.clone());
        // The desk looks at the revision; the screen is made again only where nobody remembers it.
        let key = match asked {
            Some(buttons) => found(&buttons),
            None => match &self.talk.desk.screen(actor, on.job).await?.prompt.ask {
                Ask::Press(buttons) => found(buttons),
                _ => None,
            },
        };
        let input = match key {
            Some(key) => Input::Press {
                revision: on.revision,
                key,
            },
            None => stale_press(),
        };
        self.bring(actor, on.job, input).await
    }

    async fn ticked(
        &self,
        actor: &Actor,
        on: On,
        ticked: u128,
    ) -> Result<Option<String>, DeskError> {
        let shown = self.talk.desk.screen(actor, on.job).await?;
        let input = match &shown.prompt.ask {
            Ask::Tick { options, .. } => Input::Tick {
                revision: on.revision,
                keys: keys(options, ticked),
            },
            _ => stale_press(),
        };
        self.bring(actor, on.job, input).await
    }

    /// Ticks or unticks a choice by changing the buttons of the message.
    async fn toggle(
        &self,
        actor: &Actor,
        press: &Press,
        on: On,
        (index, ticked): (u8, u128),
    ) -> Result<Option<String>, DeskError> {
        // Two quick presses come from the same buttons; what was shown last counts.
        let mut view = self.view(press).unwrap_or(View {
            ticked,
            more: false,
        });
        view.ticked ^= 1u128.checked_shl(u32::from(index)).unwrap_or(0);
        self.turn_over(actor, press, on, view).await
    }

    async fn more(
        &self,
        actor: &Actor,
        press: &Press,
        on: On,
        ticked: u128,
    ) -> Result<Option<String>, DeskError> {
        let ticked = self.view(press).map_or(ticked, |view| view.ticked);
        let view = View { ticked, more: true };
        self.turn_over(actor, press, on, view).await
    }

    async fn turn_over(
        &self,
        actor: &Actor,
        press: &Press,
        on: On,
        view: View,
    ) -> Result<Option<String>, DeskError> {
        let shown = self.talk.desk.screen(actor, on.job).await?;
        if shown.prompt.revision != on.revision {
            return self.bring(actor, on.job, stale_press()).await;
        }
        let Some(message) = press.message else {
            self.show(actor, &shown, None).await;
            return Ok(None);
        };
        self.talk.views.put((self.place.chat, message), view);
        let markup = screen::keyboard(&shown, view);
        let what = What::Keyboard { message, markup };
        self.talk
            .sender
            .send(self.place, Kind::Keyboard(message), vec![what]);
        Ok(None)
    }

    /// How the buttons of the message looked when they were last changed by this process.
    fn view(&self, press: &Press) -> Option<View> {
        let message = press.message?;
        self.talk.views.get(&(self.place.chat, message))
    }

    async fn act(
        &self,
        actor: &Actor,
        on: On,
        action: Action,
    ) -> Result<Option<String>, DeskError> {
        // These two help at any time, from any screen.
        if action == Action::Emergency {
            self.emergency();
            return self.bring(actor, on.job, Input::Emergency).await;
        }
        if action == Action::Stop {
            return self.bring(actor, on.job, Input::Stop).await;
        }
        // A sign of life, and what a hand did to its own lock, counts from any screen.
        let at_any_time = [
            Action::AmWell,
            Action::AmOut,
            Action::FoundWell,
            Action::HangOwnLock,
            Action::TakeOwnLockOff,
        ];
        if let Some(input) = action.input().filter(|_| at_any_time.contains(&action)) {
            return self.bring(actor, on.job, input).await;
        }
        if action == Action::HandOver {
            return self.to_whom(actor, on).await;
        }
        if let Some(input) = action.input() {
            return self.on_this_screen(actor, on, input).await;
        }
        let shown = self.talk.desk.screen(actor, on.job).await?;
        if shown.prompt.revision != on.revision {
            return self.bring(actor, on.job, stale_press()).await;
        }
        let told = told_on_request(&shown.prompt, action);
        self.say(told.as_deref().unwrap_or(words::NOTHING_MORE));
        Ok(None)
    }

    /// Asks to whom the job goes.
    async fn to_whom(&self, actor: &Actor, on: On) -> Result<Option<String>, DeskError> {
        let shown = self.talk.desk.screen(actor, on.job).await?;
        if shown.prompt.revision != on.revision {
            return self.bring(actor, on.job, stale_press()).await;
        }
        let people = self.talk.desk.colleagues(actor).await?;
        let anybody = button(words::ANYBODY, Token::HandOver(on, None));
        let mut rows: Rows = vec![vec![anybody]];
        for person in people.iter().take(BUTTONS_MAX - rows.len()) {
            let token = Token::HandOver(on, Some(person.person));
            rows.push(vec![button(&person_line(person), token)]);
        }
        let mut rich = Rich::default();
        rich.push(Style::Bold, words::TO_WHOM);
        rich.paragraph(Style::Plain, words::TO_WHOM_HOW);
        if people.len() >= rows.len() {
            let left_out = people.len() + 1 - rows.len();
            rich.paragraph(Style::Plain, &words::more_people(left_out));
        }
        self.offer(&rich, rows);
        Ok(None)
    }

    /// An input that only counts on the screen that it was pressed on.
    async fn on_this_screen(
        &self,
        actor: &Actor,
        on: On,
        input: Input,
    ) -> Result<Option<String>, DeskError> {
        let shown = self.talk.desk.screen(actor, on.job).await?;
        if shown.prompt.revision != on.revision {
            return self.bring(actor, on.job, stale_press()).await;
        }
        self.bring(actor, on.job, input).await
    }

    async fn close(
        &self,
        actor: &Actor,
        on: On,
        closing: Closing,
    ) -> Result<Option<String>, DeskError> {
        let shown = self.talk.desk.screen(actor, on.job).await?;
        if shown.prompt.revision != on.revision {
            return self.bring(actor, on.job, stale_press()).await;
        }
        match closing {
            Closing::Accept => {
                let key = self.key.clone();
                let handled = self.talk.desk.accept(key, actor, on.job, "").await?;
                Ok(self.became(actor, handled).await)
            }
            Closing::Row(decision) => {
                let key = self.key.clone();
                let handled = self
                    .talk
                    .desk
                    .decide_row(key, actor, on.job, decision)
                    .await?;
                Ok(self.became(actor, handled).await)
            }
            Closing::SendBack => self.again(actor, on, (AgainPress::Parts, None)).await,
        }
    }

    /// A reply to one of the bot's own questions; false if the question is none of them.
    pub(super) async fn replied(
        &self,
        actor: &Actor,
        question: &str,
        text: &str,
    ) -> Result<bool, DeskError> {
        if let Some(rest) = question.strip_prefix(words::SEND_BACK) {
            self.send_back(actor, rest, text).await?;
            return Ok(true);
        }
        match self.asked_for(actor, question).await? {
            Some(planned) => self.add(actor, text, &planned).await?,
            None if words::is_for_an_evaporator(question) => self.say(words::NO_SUCH_FLOW),
            None => return Ok(false),
        }
        Ok(true)
    }

    async fn send_back(&self, actor: &Actor, rest: &str, remark: &str) -> Result<(), DeskError> {
        let head = rest.split(':').next().unwrap_or_default();
        let wanted = head.split(words::STEPS).next().unwrap_or_default().trim();
        let (wanted, revision) = wanted.split_once('-').unwrap_or((wanted, ""));
        let waiting = self.talk.desk.jobs_to_review(actor).await?;
        let job = waiting.iter().find(|line| reference(line.job) == wanted);
        let Some(job) = job else {
            self.say(words::NO_SUCH_REVIEW);
            return Ok(());
        };
        let (key, desk) = (self.key.clone(), &self.talk.desk);
        let walked = desk.steps_to_send_back(actor, job.job).await?;
        let remark = remark.to_owned();
        let steps = asked_about(head, &walked);
        // A question that says no revision is older than any.
        let seen = Seen::Screen(revision.parse().unwrap_or(u64::MAX));
        let meant = (seen, Input::SendBack { remark, steps });
        let handled = desk.handle_seen(key, actor, job.job, meant).await?;
        self.became(actor, handled).await;
        Ok(())
    }
}

/// A press on a screen that never was. The desk says what is wrong with it, who was faster, and
/// remembers it, so that it is told once.
pub(super) fn stale_press() -> Input {
    Input::Press {
        revision: u64::MAX,
        key: ChoiceKey::from(""),
    }
}

/// A short name of a job for a person to see: the end of its id, which is random.
pub(super) fn reference(job: JobId) -> String {
    let text = job.0.simple().to_string();
    text.get(20..).unwrap_or_default().to_owned()
}

pub(super) fn keys(options: &[Button], ticked: u128) -> Vec<ChoiceKey> {
    let is_ticked = |at: &usize| ticked.checked_shr(*at as u32).unwrap_or(0) & 1 == 1;
    let all = options.iter().enumerate();
    all.filter(|(at, _)| is_ticked(at))
        .map(|(_, option)| option.key.clone())
        .collect()
}

/// The places of the ticked among so many.
pub(super) fn keys_ticked(count: usize, ticked: u64) -> impl Iterator<Item = usize> {
    (0..count.min(64)).filter(move |at| ticked >> at & 1 == 1)
}
