//! Who speaks: addresses, sessions, and the names of people.

use jiff::{SignedDuration, Timestamp};

use super::Desk;
use super::actor::{Actor, ChannelAddress, SessionToken};
use super::chance::secret;
use super::error::DeskError;
use super::id::CrewId;
use super::screen::Named;
use super::sessions::{SessionUseRow, opened, session_key};
use super::tables::{AddressRow, PersonRow, SessionRow, put, remove};
use crate::record::person::PersonId;
use crate::store::Batch;
use crate::walk::reading::fits_a_sentence;

/// How late the note of a session's last use may be.
const SESSION_NOTED_EVERY: SignedDuration = SignedDuration::from_mins(5);

/// The most characters of a name to show.
pub const NAME_CHARACTERS_MAX: usize = 60;

/// What stands where a name was erased.
pub const SOMEBODY: &str = "somebody";

impl Desk {
    /// Who speaks from this address; nobody if it is not known, its session is over, or the
    /// person left the crew.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn who_is(&self, address: &ChannelAddress) -> Result<Option<Actor>, DeskError> {
        let Some(row) = self.row::<AddressRow>(address.key()).await? else {
            return Ok(None);
        };
        if matches!(address, ChannelAddress::Browser { .. }) {
            let now = self.now();
            let used = self.last_use(&address.key(), &row).await?;
            if self.rules().sessions.is_over(row.bound, used, now) {
                return Ok(None);
            }
            if now.duration_since(used) > SESSION_NOTED_EVERY {
                self.note_use(address, &row, now).await?;
            }
        }
        let person = self.row::<PersonRow>(row.person.0).await?;
        let Some(person) = person.filter(|person| !person.roles.is_empty()) else {
            return Ok(None);
        };
        Ok(Some(Actor {
            person: row.person,
            crew: person.crew,
            roles: person.roles,
            name: self.name_of(row.person).await?,
            channel: address.channel(),
            chat: address.chat(),
            token: None,
        }))
    }

    async fn note_use(
        &self,
        address: &ChannelAddress,
        row: &AddressRow,
        now: Timestamp,
    ) -> Result<(), DeskError> {
        let mut batch = Batch::new(now);
        // A session that began before there was a list of them comes into it here.
        batch.index.extend(opened(row.person, address, row.bound)?);
        let used = SessionUseRow { used: now };
        batch.index.push(put(address.key(), &used)?);
        self.keep(batch).await?;
        Ok(())
    }

    /// A fresh token for a browser. Nothing is kept until somebody joins with it.
    ///
    /// # Errors
    /// When the system has no randomness to give.
    pub fn new_session(&self) -> Result<SessionToken, DeskError> {
        Ok(SessionToken(secret(self.inner.parts.chance.as_ref())?))
    }

    /// Ends the session of this address.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn sign_out(&self, address: &ChannelAddress) -> Result<(), DeskError> {
        let row = self.row::<AddressRow>(address.key()).await?;
        let listed = row.and_then(|row| session_key(row.person, address));
        let mut batch = Batch::new(self.now());
        batch.index.push(remove::<AddressRow>(address.key()));
        batch.index.push(remove::<SessionUseRow>(address.key()));
        batch.index.extend(listed.map(remove::<SessionRow>));
        self.keep(batch).await?;
        Ok(())
    }

    /// The name to show of a person.
    pub(super) async fn name_of(&self, person: PersonId) -> Result<String, DeskError> {
        let name = self.store().name(person.0).await?;
        Ok(name.unwrap_or_else(|| SOMEBODY.to_owned()))
    }

    /// A person with the name to show.
    pub(super) async fn named(&self, person: PersonId) -> Result<Named, DeskError> {
        Ok(Named {
            person,
            name: self.name_of(person).await?,
        })
    }

    /// The person as they are now, not as they were when they were recognised; an actor who was
    /// taken off the crew in the meantime may do nothing more.
    pub(super) async fn present(&self, actor: &Actor) -> Result<PersonRow, DeskError> {
        let row = self.of_crew(actor.crew, actor.person).await?;
        row.ok_or(DeskError::NotSignedIn)
    }

    /// A person of this crew; none if there is no such person or they left.
    pub(super) async fn of_crew(
        &self,
        crew: CrewId,
        person: PersonId,
    ) -> Result<Option<PersonRow>, DeskError> {
        let row = self.row::<PersonRow>(person.0).await?;
        Ok(row.filter(|row| row.crew == crew && !row.roles.is_empty()))
    }
}

/// Text on one line, a space between its words, with nothing that turns around the sentence it
/// stands in.
pub(super) fn on_one_line(text: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    let line = words.join(" ");
    line.chars().filter(|c| fits_a_sentence(*c)).collect()
}

/// A name as it will be shown: trimmed, single spaces, no control characters, no marks that turn
/// the sentence it stands in.
pub(super) fn shown_name(text: &str) -> Result<String, DeskError> {
    let name = on_one_line(text);
    if name.is_empty() {
        return Err(DeskError::NotUnderstood(
            "A name is needed so that your crew knows who you are. Type your name.".to_owned(),
        ));
    }
    let characters = name.chars().count();
    if characters > NAME_CHARACTERS_MAX {
        return Err(DeskError::NotUnderstood(format!(
            "That name has {characters} characters, and {NAME_CHARACTERS_MAX} fit. \
             Type a shorter one."
        )));
    }
    Ok(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_tidied_or_refused_in_words() {
        assert_eq!(shown_name("  Ana \n  Moreno\u{7} ").unwrap(), "Ana Moreno");
        assert_eq!(shown_name("Ana\u{202e}\u{2067} M.").unwrap(), "Ana M.");
        assert!(
            shown_name(" \t ")
                .unwrap_err()
                .to_string()
                .contains("Type your name")
        );
        let long = "x".repeat(NAME_CHARACTERS_MAX + 1);
        assert!(
            shown_name(&long)
                .unwrap_err()
                .to_string()
                .contains("61 characters")
        );
    }
}
