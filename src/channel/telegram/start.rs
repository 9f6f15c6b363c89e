//! Joining a crew, and choosing jobs.

use super::links::Link;
use super::rich::{Rich, Style};
use super::screen::button;
use super::talk::Turn;
use super::token::Token;
use super::words;
use crate::channel::lines;
use crate::desk::identity::NAME_CHARACTERS_MAX;
use crate::desk::lists::JobsToChoose;
use crate::desk::{Code, DeskError};
use crate::walk::reading::fits_a_sentence;

/// So many lines of a list are buttons; more would not be read.
pub(super) const LINES_MAX: usize = 20;

/// What is shown for somebody whose chat name cannot be shown.
const NAMELESS: &str = "Newcomer";

impl Turn<'_> {
    /// `/start`, with a code, with what a link leads to, or without.
    pub(super) async fn start(&self, code: &str) -> Result<(), DeskError> {
        if let Some(link) = Link::read(code) {
            return self.follow(link).await;
        }
        let code = if code == Link::JOIN { "" } else { code };
        let desk = &self.talk.desk;
        let key = self.key.clone();
        let address = self.address();
        let actor = if !code.is_empty() {
            let code = Code::typed(code);
            let name = self.name();
            desk.join(key, &code, &name, &address).await?
        } else if let Some(known) = desk.who_is(&address).await? {
            known
        } else if desk.rules().open_door.is_some() {
            desk.join_open_door(key, &self.name(), &address).await?
        } else {
            self.say(words::JOIN);
            return Ok(());
        };
        let welcome = words::welcome(&actor.name, &lines::roles(&actor.roles));
        let rows = vec![vec![
            button("Begin a job", Token::New(false)),
            button("Practise", Token::New(true)),
        ]];
        self.offer(&Rich::plain(&welcome), rows);
        Ok(())
    }

    /// The chat's first name as the desk takes it.
    fn name(&self) -> String {
        let letters = self
            .first_name
            .chars()
            .filter(|letter| fits_a_sentence(*letter));
        let name: String = letters.take(NAME_CHARACTERS_MAX).collect();
        if name.trim().is_empty() {
            NAMELESS.to_owned()
        } else {
            name
        }
    }

    /// A code to sign in on the page, where people and roles are.
    pub(super) async fn page_code(&self) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let invitation = self.talk.desk.sign_in_code(&actor).await?;
        let until = invitation.until.strftime("%Y-%m-%d %H:%M UTC").to_string();
        self.say(&words::page_code(invitation.code.reveal(), &until));
        Ok(())
    }

    /// Lists the jobs that the person may want to look at.
    pub(super) async fn jobs(&self) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let JobsToChoose { jobs, are_all } = self.talk.desk.jobs_to_choose(&actor).await?;
        if jobs.is_empty() {
            self.say(words::NO_JOBS);
            return Ok(());
        }
        let shown = jobs.iter().take(LINES_MAX);
        let rows = shown
            .map(|(why, line)| vec![button(&lines::job(*why, line), Token::Show(line.job))])
            .collect();
        let mut rich = Rich::default();
        rich.push(Style::Bold, words::YOUR_JOBS);
        if jobs.len() > LINES_MAX || !are_all {
            rich.paragraph(Style::Plain, words::MORE_JOBS);
        }
        self.offer(&rich, rows);
        Ok(())
    }
}
