//! What people have shown, in a chat: signed for, and taken back.

use super::rich::{Rich, Style};
use super::screen::{BUTTONS_MAX, Rows, button};
use super::shown_press::{CompetenceMark, ShownPress};
use super::talk::Turn;
use super::token::Token;
use super::words;
use crate::channel::lines;
use crate::desk::competence::{CompetenceLine, Lasts, SignOffLine};
use crate::desk::people::PersonLine;
use crate::desk::{Actor, DeskError};
use crate::flow::model::Role;
use crate::record::person::PersonId;

impl Turn<'_> {
    /// What the people of the crew have shown, under the list of them; and the button that leads
    /// a supervisor to signing.
    pub(super) async fn shown_by_all(
        &self,
        actor: &Actor,
        (rich, rows): (&mut Rich, &mut Rows),
        people: &[PersonLine],
    ) -> Result<(), DeskError> {
        let signed = self.talk.desk.sign_offs(actor).await?;
        let of = |line: &SignOffLine| people.iter().find(|person| person.person == line.person);
        let here: Vec<_> = signed
            .iter()
            .filter_map(|line| Some((of(line)?, line)))
            .collect();
        if !here.is_empty() {
            rich.paragraph(Style::Bold, words::HAVE_SHOWN);
        }
        for (person, line) in here {
            rich.line(Style::Plain, &lines::sign_off(&person.name, line));
        }
        if actor.is(Role::Supervisor) && !self.talk.desk.competences(actor).await?.is_empty() {
            let ask = Token::Shown(None, ShownPress::Ask);
            rows.push(vec![button(words::SIGN_OFF, ask)]);
        }
        Ok(())
    }

    /// A press on a button about what somebody has shown.
    pub(super) async fn about_shown(
        &self,
        actor: &Actor,
        (person, press): (Option<PersonId>, ShownPress),
    ) -> Result<(), DeskError> {
        let desk = &self.talk.desk;
        let people = desk.people(actor).await?;
        let Some(person) = person else {
            self.ask_who_showed(actor, &people);
            return Ok(());
        };
        let Some(line) = people.iter().find(|line| line.person == person) else {
            self.say(words::NO_SUCH_PERSON);
            return Ok(());
        };
        let known = desk.competences(actor).await?;
        let key = self.key.clone();
        match press {
            ShownPress::Ask => {
                let signed = desk.sign_offs(actor).await?;
                self.ask_what_was_shown(line, &known, &signed);
            }
            ShownPress::Sign(mark) => {
                let Some(known) = mark.find(known.iter().map(|line| &line.name)) else {
                    self.say(words::NO_SUCH_COMPETENCE);
                    return Ok(());
                };
                let signed = desk.sign_off(key, actor, (person, known), Lasts::OneYear);
                let signed = signed.await?;
                self.say(&lines::sign_off(&line.name, &signed));
            }
            ShownPress::TakeBack(mark) => {
                let signed = desk.sign_offs(actor).await?;
                let theirs = signed.iter().filter(|line| line.person == person);
                let Some(known) = mark.find(theirs.map(|line| &line.name)) else {
                    self.say(words::NO_SUCH_COMPETENCE);
                    return Ok(());
                };
                desk.withdraw_sign_off(key, actor, (person, known)).await?;
                self.say(words::SIGN_OFF_TAKEN_BACK);
            }
        }
        Ok(())
    }

    fn ask_who_showed(&self, actor: &Actor, people: &[PersonLine]) {
        if !actor.is(Role::Supervisor) {
            self.say(words::NO_SIGNING);
            return;
        }
        let others = people.iter().filter(|line| line.person != actor.person);
        let ask = |line: &PersonLine| {
            let token = Token::Shown(Some(line.person), ShownPress::Ask);
            vec![button(&line.name, token)]
        };
        let rows: Rows = others.take(BUTTONS_MAX).map(ask).collect();
        if rows.is_empty() {
            self.say(words::NOBODY_TO_SIGN_FOR);
            return;
        }
        self.offer(&Rich::plain(words::WHO_SHOWED), rows);
    }

    fn ask_what_was_shown(
        &self,
        person: &PersonLine,
        known: &[CompetenceLine],
        signed: &[SignOffLine],
    ) {
        let mut rich = Rich::default();
        rich.push(Style::Bold, &words::what_they_showed(&person.name));
        rich.paragraph(Style::Plain, words::SIGN_OFF_HOW);
        let mut rows: Rows = Vec::new();
        let theirs = signed.iter().filter(|line| line.person == person.person);
        for line in theirs.clone().filter(|line| line.counts) {
            let mark = CompetenceMark::of(&line.name);
            let token = Token::Shown(Some(person.person), ShownPress::TakeBack(mark));
            rows.push(vec![button(&words::take_back(&line.label), token)]);
        }
        let has = |name| theirs.clone().any(|line| line.counts && line.name == name);
        for line in known.iter().filter(|line| !has(line.name.clone())) {
            let mark = CompetenceMark::of(&line.name);
            let token = Token::Shown(Some(person.person), ShownPress::Sign(mark));
            rows.push(vec![button(&words::sign_for(&line.label), token)]);
        }
        rows.truncate(BUTTONS_MAX);
        self.offer(&rich, rows);
    }
}
