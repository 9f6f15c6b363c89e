//! Signing in at the page with a login and a password.
//!
//! The login is drawn, not chosen, so that asking for one tells nobody whether it is taken. A
//! login that nobody has and a wrong password take as long and get the same answer.

pub(super) mod hashing;
pub mod rules;

use jiff::{SignedDuration, Timestamp};

use super::Desk;
use super::actor::{Actor, ChannelAddress, Code};
use super::chance::secret;
use super::error::DeskError;
use super::invitations::person_stream;
use super::keep::{Hand, Kept, TRIES};
use super::sessions::opened;
use super::standing::bad_password;
use super::tables::{AddressRow, LoginRow, PasswordRow, PersonRow, ReachRow, put, remove};
use crate::record::around::PersonWhat;
use crate::record::person::PersonId;
use crate::store::{Batch, InputKey};

/// So many letters and digits make a login.
const LOGIN_CHARACTERS: usize = 8;

/// What a person types to sign in with a password.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PasswordLine {
    /// The login, to type beside it.
    pub login: String,
    /// When the password was set.
    pub since: Timestamp,
}

/// For so long after a sign-in nobody is asked again who they are.
pub const JUST_SIGNED_IN: SignedDuration = SignedDuration::from_mins(15);

impl Desk {
    /// The actor's login, if they have a password.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn password(&self, actor: &Actor) -> Result<Option<PasswordLine>, DeskError> {
        self.present(actor).await?;
        let row = self.row::<PasswordRow>(actor.person.0).await?;
        Ok(row.map(|row| PasswordLine {
            login: row.login,
            since: row.since,
        }))
    }

    /// Sets the actor's password, or another one. Every other browser of theirs is signed out.
    ///
    /// # Errors
    /// When the password is too short, too long or a common one.
    pub async fn set_password(
        &self,
        key: InputKey,
        actor: &Actor,
        here: &ChannelAddress,
        password: &str,
    ) -> Result<(), DeskError> {
        self.present(actor).await?;
        let before = self.row::<PasswordRow>(actor.person.0).await?;
        let login = match before {
            Some(row) => row.login,
            None => self.free_login().await?,
        };
        if let Some(told) = rules::trouble(password, &[&login, &actor.name]) {
            return Err(DeskError::NotUnderstood(told));
        }
        let salt = secret(self.inner.parts.chance.as_ref())?;
        let phc = self.inner.hashing.hash(password.to_owned(), salt).await?;
        let row = PasswordRow {
            phc,
            since: self.now(),
            login,
        };
        let whose = LoginRow {
            person: actor.person,
        };
        let index = vec![
            put(row.login.as_bytes(), &whose)?,
            put(actor.person.0, &row)?,
        ];
        self.note(key, actor, (PersonWhat::PasswordSet, index))
            .await?;
        self.end_other_sessions(actor, here).await
    }

    /// Takes the actor's password away: from then on they sign in with codes only.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn remove_password(
        &self,
        key: InputKey,
        actor: &Actor,
        here: &ChannelAddress,
    ) -> Result<(), DeskError> {
        self.present(actor).await?;
        let Some(row) = self.row::<PasswordRow>(actor.person.0).await? else {
            return Ok(());
        };
        let index = vec![
            remove::<LoginRow>(row.login.into_bytes()),
            remove::<PasswordRow>(actor.person.0),
        ];
        self.note(key, actor, (PersonWhat::PasswordRemoved, index))
            .await?;
        self.end_other_sessions(actor, here).await
    }

    /// Whether the actor is asked for their password before something that leads to their sign-in:
    /// they have one, and their browser did not just sign in.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn asks_again(
        &self,
        actor: &Actor,
        here: &ChannelAddress,
    ) -> Result<bool, DeskError> {
        if self.row::<PasswordRow>(actor.person.0).await?.is_none() {
            return Ok(false);
        }
        let row = self.row::<AddressRow>(here.key()).await?;
        let went_by = row.map(|row| self.now().duration_since(row.bound));
        Ok(went_by.is_none_or(|went_by| went_by > JUST_SIGNED_IN))
    }

    /// Makes sure that whoever asks is the actor and not somebody who found their browser, by what
    /// they typed as their password where [`Desk::asks_again`].
    ///
    /// # Errors
    /// When it is not their password.
    pub async fn is_really(
        &self,
        actor: &Actor,
        here: &ChannelAddress,
        typed: &str,
    ) -> Result<(), DeskError> {
        if !self.asks_again(actor, here).await? {
            return Ok(());
        }
        let row = self.row::<PasswordRow>(actor.person.0).await?;
        let phc = row.map(|row| row.phc);
        if !typed.is_empty() && self.inner.hashing.fits(typed.to_owned(), phc).await? {
            return Ok(());
        }
        Err(DeskError::NotUnderstood(
            "This browser signed in some time ago. Type the password that you have now, under \
             People, Ways to sign in, or sign in again with a code from the chat."
                .to_owned(),
        ))
    }

    /// Signs in whoever has this login and this password, at a browser's address.
    ///
    /// # Errors
    /// [`DeskError::BadPassword`], whatever of the two is wrong.
    pub async fn sign_in_with_password(
        &self,
        key: InputKey,
        (login, password): (&str, &str),
        address: &ChannelAddress,
    ) -> Result<Actor, DeskError> {
        let login = login_typed(login);
        let whose = self.row::<LoginRow>(login.into_bytes()).await?;
        let row = match &whose {
            Some(whose) => self.row::<PasswordRow>(whose.person.0).await?,
            None => None,
        };
        let fits = self
            .inner
            .hashing
            .fits(password.to_owned(), row.map(|row| row.phc));
        let (true, Some(whose)) = (fits.await?, whose) else {
            return Err(bad_password());
        };
        let present = self.row::<PersonRow>(whose.person.0).await?;
        if present.is_none_or(|row| row.roles.is_empty()) {
            return Err(bad_password());
        }
        let now = self.now();
        let bound = AddressRow {
            person: whose.person,
            bound: now,
            used: now,
        };
        let mut index = vec![put(address.key(), &bound)?];
        index.extend(opened(whose.person, address, now)?);
        let reach = ReachRow { chat: None };
        index.push(put(whose.person.0, &reach)?);
        let hand = Hand {
            at: now,
            who: Some(whose.person),
            channel: address.channel(),
            token: None,
        };
        let what = (PersonWhat::PasswordUsed, index);
        self.note_by(key, hand, whose.person, what).await?;
        self.who_is(address).await?.ok_or(DeskError::NotSignedIn)
    }

    /// Takes a person's password away with whatever else ends their being of the crew.
    pub(super) async fn password_gone(
        &self,
        person: PersonId,
    ) -> Result<Vec<crate::store::IndexChange>, DeskError> {
        let row = self.row::<PasswordRow>(person.0).await?;
        Ok(row.map_or_else(Vec::new, |row| {
            vec![
                remove::<LoginRow>(row.login.into_bytes()),
                remove::<PasswordRow>(person.0),
            ]
        }))
    }

    async fn free_login(&self) -> Result<String, DeskError> {
        for _ in 0..TRIES {
            let code = Code::of(secret(self.inner.parts.chance.as_ref())?);
            let login: String = code.reveal().chars().take(LOGIN_CHARACTERS).collect();
            if self.row::<LoginRow>(login.as_bytes()).await?.is_none() {
                return Ok(login);
            }
        }
        Err(DeskError::Busy)
    }

    async fn note(
        &self,
        key: InputKey,
        actor: &Actor,
        what: (PersonWhat, Vec<crate::store::IndexChange>),
    ) -> Result<(), DeskError> {
        let hand = Hand::of(actor, self.now());
        self.note_by(key, hand, actor.person, what).await.map(drop)
    }

    /// Writes one thing into a person's stream, with what follows from it.
    pub(super) async fn note_by(
        &self,
        key: InputKey,
        hand: Hand,
        person: PersonId,
        (what, index): (PersonWhat, Vec<crate::store::IndexChange>),
    ) -> Result<Kept, DeskError> {
        let stream = person_stream(person);
        let _turn = self.inner.queues.turn(stream).await;
        for _ in 0..TRIES {
            let mut batch = Batch::handling(key.clone(), hand.at);
            let expected = self.last(stream).await?;
            let entry = hand.writes(stream, expected, vec![what.clone()])?;
            batch.appends.push(entry);
            batch.index.clone_from(&index);
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other,
            }
        }
        Err(DeskError::Busy)
    }
}

/// A login as somebody typed it.
pub fn login_typed(text: &str) -> String {
    Code::typed(text).reveal().to_owned()
}
