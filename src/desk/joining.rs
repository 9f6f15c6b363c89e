//! Using a code: joining a crew, founding one, signing in at another channel.

use std::collections::BTreeSet;

use jiff::Timestamp;
use serde::Serialize;

use super::Desk;
use super::actor::{Actor, ChannelAddress, Code};
use super::chance::new_id;
use super::error::DeskError;
use super::id::CrewId;
use super::identity::shown_name;
use super::invitations::person_stream;
use super::keep::{Hand, TRIES};
use super::open_codes::unlisted_code;
use super::people::role_moves;
use super::sessions::opened;
use super::standing::bad_code;
use super::tables::{
    AddressRow, InvitationRow, PersonRow, Purpose, ReachRow, key as row_key, list, put, remove,
};
use crate::flow::model::Role;
use crate::record::around::{CrewWhat, PersonWhat, ServerWhat};
use crate::record::chain::Hash;
use crate::record::person::PersonId;
use crate::record::stream::{Seq, StreamId};
use crate::store::{Batch, IndexChange, InputKey, StreamAppend};

/// Somebody at the door.
struct Newcomer<'a> {
    key: InputKey,
    name: String,
    address: &'a ChannelAddress,
    at: Timestamp,
    /// The code that they use; none through an open door.
    code: Option<Hash>,
    /// The stream in which the use of the code is written, with its end before the code was
    /// looked at: whoever uses the same code first moves that end.
    line: (StreamId, Seq),
}

/// What they become, and what is written for it.
struct Place {
    person: PersonId,
    is_new: bool,
    crew: CrewId,
    roles: BTreeSet<Role>,
    appends: Vec<StreamAppend>,
    index: Vec<IndexChange>,
}

impl Desk {
    /// Uses a code: joins the crew under this name, or signs a known person in. A browser calls
    /// it with a fresh [`Desk::new_session`] as its address. The same input twice joins once.
    ///
    /// # Errors
    /// [`DeskError::BadCode`]; or a name that cannot be shown.
    pub async fn join(
        &self,
        key: InputKey,
        code: &Code,
        display_name: &str,
        address: &ChannelAddress,
    ) -> Result<Actor, DeskError> {
        let code = code.hash();
        for _ in 0..TRIES {
            let Some(seen) = self.row::<InvitationRow>(code.0).await? else {
                return self.joined_before(&key, address).await;
            };
            let stream = line_of(&seen.purpose);
            let _turn = self.inner.queues.turn(stream).await;
            let line = (stream, self.last(stream).await?);
            let at = self.now();
            let invitation = self.row::<InvitationRow>(code.0).await?;
            let Some(invitation) = invitation.filter(|row| row.until >= at) else {
                return self.joined_before(&key, address).await;
            };
            let name = match invitation.purpose {
                // A known person keeps their name.
                Purpose::SignIn { .. } => String::new(),
                Purpose::Found | Purpose::Join { .. } => shown_name(display_name)?,
            };
            let key = key.clone();
            let code = Some(code);
            let newcomer = Newcomer {
                key,
                name,
                address,
                at,
                code,
                line,
            };
            let place = self.place(&newcomer, invitation.purpose).await?;
            match self.seat(newcomer, place).await {
                Err(DeskError::Busy) => {}
                other => return other,
            }
        }
        Err(DeskError::Busy)
    }

    /// Joins without a code, in the roles that the operator chose for whoever walks in.
    ///
    /// # Errors
    /// When the door is not open, or the name cannot be shown.
    pub async fn join_open_door(
        &self,
        key: InputKey,
        display_name: &str,
        address: &ChannelAddress,
    ) -> Result<Actor, DeskError> {
        let Some(roles) = self.rules().open_door.clone() else {
            return Err(DeskError::NotAllowed(
                "You need a code to join. Ask your supervisor for one.".to_owned(),
            ));
        };
        let name = shown_name(display_name)?;
        for _ in 0..TRIES {
            if let Some(actor) = self.who_is(address).await? {
                return Ok(actor);
            }
            let stream = StreamId::SERVER;
            let _turn = self.inner.queues.turn(stream).await;
            let newcomer = Newcomer {
                key: key.clone(),
                name: name.clone(),
                address,
                at: self.now(),
                code: None,
                line: (stream, self.last(stream).await?),
            };
            let place = match self.crews().await?.first() {
                Some(crew) => self.join_crew(&newcomer, *crew, roles.clone()).await?,
                None => self.found(&newcomer, roles.clone()).await?,
            };
            match self.seat(newcomer, place).await {
                Err(DeskError::Busy) => {}
                other => return other,
            }
        }
        Err(DeskError::Busy)
    }

    /// The code is gone: this very input may have used it a moment ago.
    async fn joined_before(
        &self,
        key: &InputKey,
        address: &ChannelAddress,
    ) -> Result<Actor, DeskError> {
        if self.store().handled(key.clone(), self.now()).await?
            && let Some(actor) = self.who_is(address).await?
        {
            return Ok(actor);
        }
        Err(bad_code())
    }

    async fn place(&self, newcomer: &Newcomer<'_>, purpose: Purpose) -> Result<Place, DeskError> {
        match purpose {
            Purpose::Found => {
                let roles = BTreeSet::from([Role::Supervisor]);
                // An open door may have founded a crew that still lacks a supervisor.
                for crew in self.crews().await? {
                    if !self.has_supervisor(crew).await? {
                        let mut place = self.join_crew(newcomer, crew, roles).await?;
                        let what = ServerWhat::FoundingCodeUsed { crew: crew.0 };
                        place.appends.push(newcomer.uses_code(place.person, what)?);
                        return Ok(place);
                    }
                }
                self.found(newcomer, roles).await
            }
            Purpose::Join { crew, roles } => self.join_crew(newcomer, crew, roles).await,
            Purpose::SignIn { person } => self.sign_in(newcomer, person).await,
        }
    }

    async fn found(
        &self,
        newcomer: &Newcomer<'_>,
        roles: BTreeSet<Role>,
    ) -> Result<Place, DeskError> {
        let crew = CrewId(new_id(self.inner.parts.chance.as_ref(), newcomer.at)?);
        let (person, is_new) = self.person_at(newcomer, crew).await?;
        let code = newcomer.code;
        let (row, goods) = self.starting_goods().await?;
        let mut whats = vec![CrewWhat::Founded];
        whats.extend(goods);
        whats.push(CrewWhat::Joined {
            person,
            roles: roles.clone(),
            code,
        });
        let founded = ServerWhat::CrewFounded { crew: crew.0, code };
        let appends = vec![
            newcomer.uses_code(person, founded)?,
            newcomer
                .hand(person)
                .writes(crew.stream(), Seq::NONE, whats)?,
        ];
        let index = vec![put(crew.0, &row)?];
        Ok(Place {
            person,
            is_new,
            crew,
            roles,
            appends,
            index,
        })
    }

    async fn join_crew(
        &self,
        newcomer: &Newcomer<'_>,
        crew: CrewId,
        mut roles: BTreeSet<Role>,
    ) -> Result<Place, DeskError> {
        let stream = crew.stream();
        let expected = match newcomer.line {
            (line, end) if line == stream => end,
            _ => self.last(stream).await?,
        };
        let (person, is_new) = self.person_at(newcomer, crew).await?;
        // Somebody of the crew who uses another code keeps the roles that they have.
        let present = self.row::<PersonRow>(person.0).await?;
        roles.extend(present.into_iter().flat_map(|row| row.roles));
        let joined = CrewWhat::Joined {
            person,
            roles: roles.clone(),
            code: newcomer.code,
        };
        let appends = vec![
            newcomer
                .hand(person)
                .writes(stream, expected, vec![joined])?,
        ];
        Ok(Place {
            person,
            is_new,
            crew,
            roles,
            appends,
            index: Vec::new(),
        })
    }

    async fn sign_in(&self, newcomer: &Newcomer<'_>, person: PersonId) -> Result<Place, DeskError> {
        let row = self.row::<PersonRow>(person.0).await?;
        let row = row.filter(|row| !row.roles.is_empty());
        let (Some(row), Some(code)) = (row, newcomer.code) else {
            return Err(bad_code());
        };
        Ok(Place {
            person,
            is_new: false,
            crew: row.crew,
            roles: row.roles,
            appends: vec![newcomer.uses_code(person, PersonWhat::SignedIn { code })?],
            index: Vec::new(),
        })
    }

    /// The person who is known at this address, or a new one.
    async fn person_at(
        &self,
        newcomer: &Newcomer<'_>,
        crew: CrewId,
    ) -> Result<(PersonId, bool), DeskError> {
        let Some(known) = self.who_is(newcomer.address).await? else {
            return Ok((new_person(newcomer.code, newcomer.address), true));
        };
        if known.crew == crew {
            return Ok((known.person, false));
        }
        Err(DeskError::NotAllowed(
            "You are in another crew already. Ask its supervisor to take you off it first."
                .to_owned(),
        ))
    }

    /// Writes it all down and shows who that is.
    async fn seat(&self, newcomer: Newcomer<'_>, place: Place) -> Result<Actor, DeskError> {
        let Newcomer {
            key,
            name,
            address,
            at,
            code,
            ..
        } = newcomer;
        let Place {
            person,
            crew,
            roles,
            ..
        } = place;
        let mut batch = Batch::handling(key, at);
        batch.appends = place.appends;
        batch.index = place.index;
        batch
            .index
            .extend(code.map(|code| remove::<InvitationRow>(code.0)));
        batch
            .index
            .extend(code.map(|code| unlisted_code(crew, code)));
        batch.index.push(put(
            address.key(),
            &AddressRow {
                person,
                bound: at,
                used: at,
            },
        )?);
        batch.index.extend(opened(person, address, at)?);
        let before = self.row::<PersonRow>(person.0).await?;
        let before = before.map(|row| row.roles).unwrap_or_default();
        batch
            .index
            .extend(role_moves(crew, person, &before, &roles));
        batch.index.push(put(person.0, &PersonRow { crew, roles })?);
        batch.index.push(put(
            person.0,
            &ReachRow {
                chat: address.chat(),
            },
        )?);
        let listed = row_key(&[crew.0.as_bytes(), person.0.as_bytes()]);
        batch
            .index
            .push(IndexChange::put(list::CREW_PEOPLE, listed, []));
        // The name goes first, so that nobody is ever seen without one.
        if place.is_new {
            self.store().set_name(person.0, name).await?;
        }
        let kept = self.keep(batch).await;
        let lost = matches!(&kept, Err(error) if !matches!(error, DeskError::Unsure(_)));
        if place.is_new && lost && self.row::<PersonRow>(person.0).await?.is_none() {
            self.store().erase_name(person.0).await?;
        }
        kept?;
        self.who_is(address).await?.ok_or(DeskError::NotSignedIn)
    }
}

/// The id of a new person. It follows from what they join with, so that trying again after a
/// failure is the same person and leaves no name without one.
fn new_person(code: Option<Hash>, address: &ChannelAddress) -> PersonId {
    let mut hasher = blake3::Hasher::new_derive_key("fanwright person");
    hasher.update(&code.unwrap_or(Hash::NONE).0);
    hasher.update(address.key().as_bytes());
    let mut id = [0; 16];
    hasher.finalize_xof().fill(&mut id);
    PersonId(uuid::Builder::from_custom_bytes(id).into_uuid())
}

/// The stream in which the use of a code is written.
fn line_of(purpose: &Purpose) -> StreamId {
    match purpose {
        Purpose::Found => StreamId::SERVER,
        Purpose::Join { crew, .. } => crew.stream(),
        Purpose::SignIn { person } => person_stream(*person),
    }
}

impl Newcomer<'_> {
    /// Writes into the line of the code.
    fn uses_code<W: Serialize>(
        &self,
        person: PersonId,
        what: W,
    ) -> Result<StreamAppend, DeskError> {
        let (stream, end) = self.line;
        self.hand(person).writes(stream, end, vec![what])
    }

    fn hand(&self, person: PersonId) -> Hand {
        Hand {
            at: self.at,
            who: Some(person),
            channel: self.address.channel(),
            token: None,
        }
    }
}
