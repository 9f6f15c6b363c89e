//! Tokens: with one, another program acts in the name of the supervisor who made it.
//!
//! A token works as long as that person is a supervisor of the crew, it was not taken back and its
//! time is not over. Its secret is shown once; only the hash of it is kept.

use std::collections::BTreeSet;
use std::fmt;
use std::str::FromStr;

use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Desk;
use super::actor::Actor;
use super::chance::{new_id, secret};
use super::error::DeskError;
use super::id::CrewId;
use super::keep::{Hand, TRIES};
use super::screen::Named;
use super::tables::{PersonRow, Row, id_at_end, key as row_key, put, remove};
use crate::flow::model::Role;
use crate::record::around::CrewWhat;
use crate::record::chain::Hash;
use crate::record::entry::Channel;
use crate::record::person::PersonId;
use crate::record::scope::Scope;
use crate::store::{Batch, InputKey, Table};

/// The most tokens of a crew at a time.
pub const TOKENS_MAX: usize = 50;
/// A token works at most so many days.
pub const TOKEN_DAYS_MAX: u16 = 366;
/// The most characters that say what a token is for.
const WHAT_FOR_CHARACTERS_MAX: usize = 80;
/// How late the note of a token's last use may be.
const USE_NOTED_EVERY: SignedDuration = SignedDuration::from_mins(5);
/// What every token begins with, so that one left in a file is known for what it is.
const BEGINS: &str = "fanwright_";

/// The secret that another program shows with every request: 256 random bits.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct ApiToken([u8; 32]);

impl ApiToken {
    /// The token as text, for the one place that shows it.
    pub fn reveal(&self) -> String {
        format!("{BEGINS}{}", Hash(self.0))
    }

    fn hash(&self) -> Hash {
        Hash::of(&self.0)
    }
}

impl fmt::Debug for ApiToken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("ApiToken(…)")
    }
}

impl FromStr for ApiToken {
    type Err = DeskError;

    fn from_str(text: &str) -> Result<Self, DeskError> {
        let secret = text.strip_prefix(BEGINS).ok_or(DeskError::NotSignedIn)?;
        let hash: Hash = secret.parse().map_err(|_| DeskError::NotSignedIn)?;
        Ok(Self(hash.0))
    }
}

/// A token under its crew and number.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct TokenRow {
    secret: Hash,
    what_for: String,
    scopes: BTreeSet<Scope>,
    by: PersonId,
    made: Timestamp,
    until: Timestamp,
}

impl Row for TokenRow {
    const TABLE: Table = Table::named("api_token");
}

/// Which token has this secret: under the secret's hash.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
struct SecretRow {
    crew: CrewId,
    token: Uuid,
}

impl Row for SecretRow {
    const TABLE: Table = Table::named("api_secret");
}

/// When a token was last used, give or take a few minutes: under its number.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
struct UseRow {
    used: Timestamp,
}

impl Row for UseRow {
    const TABLE: Table = Table::named("api_use");
}

/// What a new token is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewToken {
    /// What it is for, in words.
    pub what_for: String,
    /// What it is good for.
    pub scopes: BTreeSet<Scope>,
    /// How many days it works.
    pub days: u16,
}

/// A token as a list shows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TokenLine {
    /// Its number.
    pub token: Uuid,
    /// What it is for, in words.
    pub what_for: String,
    /// What it is good for.
    pub scopes: BTreeSet<Scope>,
    /// In whose name it acts.
    pub by: Named,
    /// When it was made.
    pub made: Timestamp,
    /// It works until then.
    pub until: Timestamp,
    /// When it was last used, give or take a few minutes.
    pub used: Option<Timestamp>,
    /// Whether it works: its time is not over, and its person is still a supervisor.
    pub works: bool,
}

/// Another program that was recognised by its token.
#[derive(Clone, Debug)]
pub struct Caller {
    actor: Actor,
    token: Uuid,
    scopes: BTreeSet<Scope>,
}

impl Caller {
    /// The number of its token.
    pub fn token(&self) -> Uuid {
        self.token
    }

    /// The crew.
    pub fn crew(&self) -> CrewId {
        self.actor.crew
    }

    /// Whether it may see people's names.
    pub fn sees_names(&self) -> bool {
        self.scopes.contains(&Scope::ReadNames)
    }

    /// The person in whose name it acts, for something that needs this scope.
    ///
    /// # Errors
    /// When the token is not good for it.
    pub fn for_this(&self, scope: Scope) -> Result<&Actor, DeskError> {
        if self.scopes.contains(&scope) {
            return Ok(&self.actor);
        }
        Err(DeskError::NotAllowed(format!(
            "This token is not good for “{}”. Ask a supervisor for one with that scope.",
            scope.word()
        )))
    }
}

impl Desk {
    /// Makes a token; its secret is not shown again.
    ///
    /// # Errors
    /// When the actor is no supervisor, nothing is ticked, or there are too many already.
    pub async fn make_token(
        &self,
        key: InputKey,
        actor: &Actor,
        new: NewToken,
    ) -> Result<(ApiToken, TokenLine), DeskError> {
        let new = fitting(new)?;
        let drawn = ApiToken(secret(self.inner.parts.chance.as_ref())?);
        let _turn = self.inner.queues.turn(actor.crew.stream()).await;
        for _ in 0..TRIES {
            self.must_be_supervisor(actor, "make tokens").await?;
            let kept = self.rows::<TokenRow>(actor.crew.0.as_bytes()).await?;
            if kept.len() >= TOKENS_MAX {
                return Err(DeskError::NotUnderstood(format!(
                    "Your crew has {TOKENS_MAX} tokens already. Take back one that is not used."
                )));
            }
            let now = self.now();
            let token = new_id(self.inner.parts.chance.as_ref(), now)?;
            let row = TokenRow {
                secret: drawn.hash(),
                what_for: new.what_for.clone(),
                scopes: new.scopes.clone(),
                by: actor.person,
                made: now,
                until: now + SignedDuration::from_hours(24 * i64::from(new.days)),
            };
            let what = CrewWhat::TokenMade {
                token,
                secret: row.secret,
                what_for: row.what_for.clone(),
                scopes: row.scopes.clone(),
                until: row.until,
            };
            let crew = actor.crew;
            let mut batch = Batch::handling(key.clone(), now);
            let expected = self.last(crew.stream()).await?;
            let hand = Hand::of(actor, now);
            batch
                .appends
                .push(hand.writes(crew.stream(), expected, vec![what])?);
            batch.index.push(put(under(crew, token), &row)?);
            batch
                .index
                .push(put(row.secret.0, &SecretRow { crew, token })?);
            match self.keep(batch).await {
                Ok(super::keep::Kept::Fresh) => {
                    return Ok((drawn, self.token_line(crew, token, row).await?));
                }
                Ok(super::keep::Kept::Before) => {
                    return Err(DeskError::NotUnderstood(
                        "This form was sent before and its token was made. A token is shown only \
                         once: take that one back and make another."
                            .to_owned(),
                    ));
                }
                Err(DeskError::Busy) => {}
                Err(error) => return Err(error),
            }
        }
        Err(DeskError::Busy)
    }

    /// The crew's tokens, the oldest first.
    ///
    /// # Errors
    /// When the actor is no supervisor.
    pub async fn tokens(&self, actor: &Actor) -> Result<Vec<TokenLine>, DeskError> {
        self.must_be_supervisor(actor, "see tokens").await?;
        let mut lines = Vec::new();
        for (key, row) in self.rows::<TokenRow>(actor.crew.0.as_bytes()).await? {
            if let Some(token) = id_at_end(&key) {
                lines.push(self.token_line(actor.crew, token, row).await?);
            }
        }
        Ok(lines)
    }

    /// Takes a token back: it works no longer.
    ///
    /// # Errors
    /// When the actor is no supervisor, or the crew has no such token.
    pub async fn revoke_token(
        &self,
        key: InputKey,
        actor: &Actor,
        token: Uuid,
    ) -> Result<(), DeskError> {
        let _turn = self.inner.queues.turn(actor.crew.stream()).await;
        for _ in 0..TRIES {
            self.must_be_supervisor(actor, "take tokens back").await?;
            if self.was_handled(&key).await? {
                return Ok(());
            }
            let row = self.row::<TokenRow>(under(actor.crew, token)).await?;
            let row = row.ok_or(DeskError::NotFound("token"))?;
            let now = self.now();
            let stream = actor.crew.stream();
            let expected = self.last(stream).await?;
            let mut batch = Batch::handling(key.clone(), now);
            let what = CrewWhat::TokenRevoked { token };
            batch
                .appends
                .push(Hand::of(actor, now).writes(stream, expected, vec![what])?);
            batch
                .index
                .push(remove::<TokenRow>(under(actor.crew, token)));
            batch.index.push(remove::<SecretRow>(row.secret.0));
            batch.index.push(remove::<UseRow>(token));
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(drop),
            }
        }
        Err(DeskError::Busy)
    }

    /// The program that shows this token; nobody if it does not work.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn who_calls(&self, token: &ApiToken) -> Result<Option<Caller>, DeskError> {
        let Some(SecretRow { crew, token }) = self.row::<SecretRow>(token.hash().0).await? else {
            return Ok(None);
        };
        let Some(row) = self.row::<TokenRow>(under(crew, token)).await? else {
            return Ok(None);
        };
        let now = self.now();
        let Some(person) = self.stands_behind(crew, &row, now).await? else {
            return Ok(None);
        };
        let used = self.row::<UseRow>(token).await?;
        if used.is_none_or(|row| now.duration_since(row.used) > USE_NOTED_EVERY) {
            let mut batch = Batch::new(now);
            batch.index.push(put(token, &UseRow { used: now })?);
            self.keep(batch).await?;
        }
        Ok(Some(Caller {
            actor: Actor {
                person: row.by,
                crew,
                roles: person.roles,
                name: self.name_of(row.by).await?,
                channel: Channel::Api,
                chat: None,
                token: Some(token),
            },
            token,
            scopes: row.scopes,
        }))
    }

    /// What a token of a crew is for.
    pub(super) async fn what_for(
        &self,
        crew: CrewId,
        token: Uuid,
    ) -> Result<Option<String>, DeskError> {
        let row = self.row::<TokenRow>(under(crew, token)).await?;
        Ok(row.map(|row| row.what_for))
    }

    /// The supervisor behind a token that works.
    async fn stands_behind(
        &self,
        crew: CrewId,
        row: &TokenRow,
        now: Timestamp,
    ) -> Result<Option<PersonRow>, DeskError> {
        if now >= row.until {
            return Ok(None);
        }
        let person = self.row::<PersonRow>(row.by.0).await?;
        Ok(person.filter(|one| one.crew == crew && one.roles.contains(&Role::Supervisor)))
    }

    async fn token_line(
        &self,
        crew: CrewId,
        token: Uuid,
        row: TokenRow,
    ) -> Result<TokenLine, DeskError> {
        let works = self.stands_behind(crew, &row, self.now()).await?.is_some();
        let used = self.row::<UseRow>(token).await?;
        Ok(TokenLine {
            token,
            works,
            by: self.named(row.by).await?,
            used: used.map(|row| row.used),
            what_for: row.what_for,
            scopes: row.scopes,
            made: row.made,
            until: row.until,
        })
    }
}

fn under(crew: CrewId, token: Uuid) -> Vec<u8> {
    row_key(&[crew.0.as_bytes(), token.as_bytes()])
}

fn fitting(new: NewToken) -> Result<NewToken, DeskError> {
    let not_understood = |sentence: String| Err(DeskError::NotUnderstood(sentence));
    let words: Vec<&str> = new.what_for.split_whitespace().collect();
    let what_for: String = words.join(" ");
    let characters = what_for.chars().count();
    if characters == 0 || characters > WHAT_FOR_CHARACTERS_MAX {
        return not_understood(format!(
            "Say in 1 to {WHAT_FOR_CHARACTERS_MAX} characters what the token is for, like \
             “month-end report”."
        ));
    }
    if what_for.chars().any(char::is_control) {
        return not_understood("Say in plain letters what the token is for.".to_owned());
    }
    if new.scopes.is_empty() {
        return not_understood("Tick at least one thing that the token is good for.".to_owned());
    }
    if new.days == 0 || new.days > TOKEN_DAYS_MAX {
        return not_understood(format!(
            "A token works for 1 to {TOKEN_DAYS_MAX} days. Write how many."
        ));
    }
    Ok(NewToken { what_for, ..new })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_reads_back_and_does_not_show_in_debug_text() {
        let token = ApiToken([7; 32]);
        assert_eq!(token.reveal().parse::<ApiToken>().unwrap(), token);
        assert!(token.reveal().starts_with("fanwright_0707"));
        assert!(!format!("{token:?}").contains("07"));
        let bare = token.reveal().replace("fanwright_", "");
        assert!(bare.parse::<ApiToken>().is_err());
    }

    #[test]
    fn a_new_token_says_what_it_is_for_and_good_for() {
        let new = |what_for: &str, scopes: &[Scope], days| NewToken {
            what_for: what_for.to_owned(),
            scopes: scopes.iter().copied().collect(),
            days,
        };
        let one = [Scope::ReadJobs];
        assert_eq!(fitting(new(" a  b ", &one, 1)).unwrap().what_for, "a b");
        let long = "x".repeat(81);
        for wrong in [
            new("", &one, 1),
            new(&long, &one, 1),
            new("a\u{7}b", &one, 1),
            new("a", &[], 1),
            new("a", &one, 0),
            new("a", &one, 367),
        ] {
            assert!(fitting(wrong.clone()).is_err(), "{wrong:?}");
        }
    }
}
