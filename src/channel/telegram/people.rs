//! The people of the crew: their roles, and codes for new ones.

use std::collections::BTreeSet;

use teloxide::types::InlineKeyboardMarkup;

use super::rich::{Rich, Style};
use super::screen::{BUTTONS_MAX, Rows, button};
use super::sender::{Kind, What};
use super::talk::{Turn, texts};
use super::ticked_roles::{RoleChange, TickedRoles};
use super::token::{CodeMark, RolesPress, Token};
use super::words;
use crate::channel::lines;
use crate::desk::open_codes::OpenCode;
use crate::desk::people::PersonLine;
use crate::desk::{Actor, DeskError};
use crate::flow::model::Role;
use crate::record::person::PersonId;

/// So many open codes have a button to withdraw them.
const CODE_BUTTONS_MAX: usize = 20;

impl Turn<'_> {
    /// Lists the crew; a supervisor gets a button for each person.
    pub(super) async fn people(&self) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let people = self.talk.desk.people(&actor).await?;
        let mut rich = Rich::default();
        rich.push(Style::Bold, words::CREW);
        for person in &people {
            rich.line(Style::Plain, &lines::person(person));
        }
        let mut rows: Rows = Vec::new();
        self.shown_by_all(&actor, (&mut rich, &mut rows), &people)
            .await?;
        if !actor.is(Role::Supervisor) {
            let whats = texts(&rich, None);
            self.talk.sender.send(self.place, Kind::Own, whats);
            return Ok(());
        }
        let codes = self.talk.desk.open_codes(&actor).await?;
        if !codes.is_empty() {
            rich.paragraph(Style::Bold, words::OPEN_CODES);
        }
        for code in &codes {
            rich.line(Style::Plain, &lines::open_code(code));
        }
        rich.paragraph(Style::Plain, words::CREW_HOW);
        let ask = |person| Token::Roles(person, RolesPress::Ask);
        rows.insert(0, vec![button(words::INVITE, ask(None))]);
        offer_to_withdraw(&codes, (&mut rich, &mut rows));
        let first = rows.len();
        for person in people.iter().take(BUTTONS_MAX - first) {
            rows.push(vec![button(&person.name, ask(Some(person.person)))]);
        }
        if people.len() > rows.len() - first {
            let left_out = people.len() - (rows.len() - first);
            rich.paragraph(Style::Plain, &words::people_without_button(left_out));
        }
        self.offer(&rich, rows);
        Ok(())
    }

    /// Withdraws a code that nobody used yet, the one whose button was pressed.
    pub(super) async fn withdraw(
        &self,
        actor: &Actor,
        mark: CodeMark,
    ) -> Result<Option<String>, DeskError> {
        let desk = &self.talk.desk;
        let codes = desk.open_codes(actor).await?;
        let meant = codes.iter().find(|code| CodeMark::of(code.code) == mark);
        let Some(code) = meant else {
            // Used, too old, or withdrawn by the same button before.
            self.say(words::NO_SUCH_CODE);
            return Ok(None);
        };
        desk.withdraw_code(self.key.clone(), actor, code.code)
            .await?;
        self.say(&words::withdrawn(&lines::open_code(code)));
        Ok(None)
    }

    /// Asks in which roles somebody new joins.
    pub(super) async fn invite(&self) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        self.about_roles(&actor, None, (RolesPress::Ask, None))
            .await
    }

    /// A press on a button about the roles of a person, or of somebody new.
    pub(super) async fn about_roles(
        &self,
        actor: &Actor,
        person: Option<PersonId>,
        (press, message): (RolesPress, Option<i32>),
    ) -> Result<(), DeskError> {
        let line = match person {
            None => None,
            Some(person) => {
                let people = self.talk.desk.people(actor).await?;
                let found = people.into_iter().find(|line| line.person == person);
                if found.is_none() {
                    self.say(words::NO_SUCH_PERSON);
                    return Ok(());
                }
                found
            }
        };
        match (press, line) {
            (RolesPress::Ask, line) => self.ask_roles(actor, line.as_ref()),
            (RolesPress::Tick(change), line) => self.tick_roles(line.as_ref(), change, message),
            (RolesPress::Give(change), None) => {
                self.invited(actor, change.ticked.roles()).await?;
            }
            (RolesPress::Give(change), Some(line)) => {
                self.give_roles(actor, &line, change).await?;
            }
        }
        Ok(())
    }

    fn ask_roles(&self, actor: &Actor, line: Option<&PersonLine>) {
        let mut rich = Rich::default();
        let (shown, ticked) = match line {
            Some(line) => {
                let roles = lines::roles(&line.roles);
                rich.push(Style::Bold, &words::their_roles(&line.name, &roles));
                let had = TickedRoles::of(&line.roles);
                (had, had)
            }
            None if !actor.is(Role::Supervisor) => {
                self.say(words::NO_INVITING);
                return;
            }
            None => {
                rich.push(Style::Bold, words::NEWCOMER);
                let usual = TickedRoles::of(&[Role::Technician]);
                (TickedRoles::of(&[]), usual)
            }
        };
        rich.paragraph(Style::Plain, words::TICK_ROLES);
        self.offer(&rich, boxes(line, RoleChange { shown, ticked }));
    }

    /// Shows other roles as ticked, by changing the buttons of the message.
    fn tick_roles(&self, line: Option<&PersonLine>, change: RoleChange, message: Option<i32>) {
        let rows = boxes(line, change);
        let Some(message) = message else {
            self.offer(&Rich::plain(words::TICK_ROLES), rows);
            return;
        };
        let markup = InlineKeyboardMarkup::new(rows);
        let what = What::Keyboard { message, markup };
        let kind = Kind::Keyboard(message);
        self.talk.sender.send(self.place, kind, vec![what]);
    }

    async fn invited(&self, actor: &Actor, roles: BTreeSet<Role>) -> Result<(), DeskError> {
        let words = lines::roles(&roles);
        let invitation = self.talk.desk.invite(actor, roles).await?;
        let until = invitation.until.strftime("%Y-%m-%d %H:%M UTC").to_string();
        let bot = self.talk.username.get().map(String::as_str);
        self.say(&words::invited(
            invitation.code.reveal(),
            &words,
            &until,
            bot,
        ));
        Ok(())
    }

    async fn give_roles(
        &self,
        actor: &Actor,
        line: &PersonLine,
        change: RoleChange,
    ) -> Result<(), DeskError> {
        let (key, desk) = (self.key.clone(), &self.talk.desk);
        let over = (change.shown.roles(), change.ticked.roles());
        let now = desk.change_roles(key, actor, line.person, over).await?;
        let said = match now.roles.is_empty() {
            true => words::off_the_crew(&now.name),
            false => words::now_have_roles(&now.name, &lines::roles(&now.roles)),
        };
        self.say(&said);
        Ok(())
    }
}

/// A button for each open code.
fn offer_to_withdraw(codes: &[OpenCode], (rich, rows): (&mut Rich, &mut Rows)) {
    for code in codes.iter().take(CODE_BUTTONS_MAX) {
        let label = words::withdraw(&lines::roles(&code.roles));
        let token = Token::Withdraw(CodeMark::of(code.code));
        rows.push(vec![button(&label, token)]);
    }
    if codes.len() > CODE_BUTTONS_MAX {
        let left_out = codes.len() - CODE_BUTTONS_MAX;
        rich.paragraph(Style::Plain, &words::codes_without_button(left_out));
    }
}

/// A box for each role, and the button that gives what is ticked. It says so when that takes
/// somebody off the crew; nobody new joins without a role.
fn boxes(line: Option<&PersonLine>, change: RoleChange) -> Rows {
    let ticked = change.ticked;
    let person = line.map(|line| line.person);
    let mut rows: Rows = Vec::new();
    for role in Role::ALL {
        let mark = if ticked.has(role) { "☑" } else { "☐" };
        let label = format!("{mark} {}", lines::role_label(role));
        let ticked = ticked.turned(role);
        let press = RolesPress::Tick(RoleChange { ticked, ..change });
        rows.push(vec![button(&label, Token::Roles(person, press))]);
    }
    let done = match (line, ticked.roles().is_empty()) {
        (None, true) => None,
        (None, false) => Some(words::MAKE_CODE.to_owned()),
        (Some(line), true) => Some(words::take_off(&line.name)),
        (Some(_), false) => Some(words::GIVE_ROLES.to_owned()),
    };
    let give = Token::Roles(person, RolesPress::Give(change));
    rows.extend(done.map(|done| vec![button(&done, give)]));
    rows
}
