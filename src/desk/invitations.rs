//! One-time codes: giving them out.

use std::collections::BTreeSet;

use jiff::{SignedDuration, Timestamp};

use super::Desk;
use super::actor::{Actor, Code};
use super::chance::secret;
use super::error::DeskError;
use super::id::CrewId;
use super::keep::{Hand, TRIES};
use super::open_codes::listed_code;
use super::tables::{
    CrewRow, FIRST, FirstCodeRow, InvitationRow, PersonRow, Purpose, id_at_end, put, remove,
};
use crate::flow::model::Role;
use crate::record::around::{CrewWhat, PersonWhat, ServerWhat};
use crate::record::person::PersonId;
use crate::record::stream::{StreamId, StreamKind};
use crate::store::{Batch, StreamAppend};

/// How long a code to join works.
pub const INVITATION_WORKS: SignedDuration = SignedDuration::from_hours(7 * 24);

/// How long a code to sign in at another channel works: what OWASP ASVS 5.0.0, item 6.5.5, lets one
/// work at most.
pub const SIGN_IN_CODE_WORKS: SignedDuration = SignedDuration::from_mins(10);

/// A one-time code that was just made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Invitation {
    /// The code; it is not shown again.
    pub code: Code,
    /// It works until then.
    pub until: Timestamp,
}

impl Desk {
    /// A code for the very first supervisor, who founds the first crew; `None` once there is
    /// one. A code that was given before and not used stops working.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn first_supervisor_code(&self) -> Result<Option<Invitation>, DeskError> {
        let _turn = self.inner.queues.turn(StreamId::SERVER).await;
        if self.any_supervisor().await? {
            return Ok(None);
        }
        let before = self.row::<FirstCodeRow>(FIRST).await?;
        let invitation = self.draw(INVITATION_WORKS)?;
        let code = invitation.code.hash();
        let mut batch = self.founding(&invitation).await?;
        if let Some(before) = before {
            batch.index.push(remove::<InvitationRow>(before.code.0));
        }
        batch.index.push(put(FIRST, &FirstCodeRow { code })?);
        self.keep(batch).await?;
        Ok(Some(invitation))
    }

    /// A code that founds another crew with its first supervisor; for the operator.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn invite_new_crew(&self) -> Result<Invitation, DeskError> {
        let _turn = self.inner.queues.turn(StreamId::SERVER).await;
        let invitation = self.draw(INVITATION_WORKS)?;
        let batch = self.founding(&invitation).await?;
        self.keep(batch).await?;
        Ok(invitation)
    }

    /// A code to join the supervisor's crew with these roles.
    ///
    /// # Errors
    /// When the actor is no supervisor, or no role is named.
    pub async fn invite(
        &self,
        actor: &Actor,
        roles: BTreeSet<Role>,
    ) -> Result<Invitation, DeskError> {
        self.must_be_supervisor(actor, "invite people").await?;
        if roles.is_empty() {
            return Err(DeskError::NotUnderstood(
                "Say in which role the person joins: apprentice, technician, electrician or \
                 supervisor."
                    .to_owned(),
            ));
        }
        self.invite_by(Some(actor), actor.crew, roles).await
    }

    /// A code to join a crew, given out by the operator; with only one crew on the server it need
    /// not be named.
    ///
    /// # Errors
    /// When there is no such crew, or several and none is named.
    pub async fn invite_as_operator(
        &self,
        crew: Option<CrewId>,
        roles: BTreeSet<Role>,
    ) -> Result<Invitation, DeskError> {
        let crews = self.crews().await?;
        let crew = match (crew, crews.as_slice()) {
            (Some(crew), all) if all.contains(&crew) => crew,
            (None, [only]) => *only,
            (Some(_), _) => return Err(DeskError::NotFound("crew")),
            (None, []) => {
                return Err(DeskError::NotUnderstood(
                    "There is no crew yet. Start the server and use the code that it prints."
                        .to_owned(),
                ));
            }
            (None, _) => {
                let ids: Vec<String> = crews.iter().map(CrewId::to_string).collect();
                return Err(DeskError::NotUnderstood(format!(
                    "There are several crews. Say which one: {}.",
                    ids.join(", ")
                )));
            }
        };
        self.invite_by(None, crew, roles).await
    }

    async fn invite_by(
        &self,
        actor: Option<&Actor>,
        crew: CrewId,
        roles: BTreeSet<Role>,
    ) -> Result<Invitation, DeskError> {
        let invitation = self.draw(INVITATION_WORKS)?;
        let now = self.now();
        let hand = actor.map_or(Hand::server(now), |actor| Hand::of(actor, now));
        let (code, until) = (invitation.code.hash(), invitation.until);
        let _turn = self.inner.queues.turn(crew.stream()).await;
        for _ in 0..TRIES {
            let invited = CrewWhat::Invited {
                code,
                roles: roles.clone(),
                until,
            };
            let expected = self.last(crew.stream()).await?;
            let append = hand.writes(crew.stream(), expected, vec![invited])?;
            let purpose = Purpose::Join {
                crew,
                roles: roles.clone(),
            };
            let mut batch = given(&invitation, (purpose, hand.who), append, now)?;
            batch.index.push(listed_code(crew, code));
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(|_| invitation),
            }
        }
        Err(DeskError::Busy)
    }

    /// A short-lived code with which the actor signs in at another channel.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn sign_in_code(&self, actor: &Actor) -> Result<Invitation, DeskError> {
        self.present(actor).await?;
        let invitation = self.draw(SIGN_IN_CODE_WORKS)?;
        let now = self.now();
        let stream = person_stream(actor.person);
        let (code, until) = (invitation.code.hash(), invitation.until);
        let what = PersonWhat::CodeGiven { code, until };
        let append = Hand::of(actor, now).writes(stream, self.last(stream).await?, vec![what])?;
        let purpose = Purpose::SignIn {
            person: actor.person,
        };
        let purpose = (purpose, Some(actor.person));
        self.keep(given(&invitation, purpose, append, now)?).await?;
        Ok(invitation)
    }

    fn draw(&self, works: SignedDuration) -> Result<Invitation, DeskError> {
        let code = Code::of(secret(self.inner.parts.chance.as_ref())?);
        let until = self.now().checked_add(works).unwrap_or(Timestamp::MAX);
        Ok(Invitation { code, until })
    }

    async fn founding(&self, invitation: &Invitation) -> Result<Batch, DeskError> {
        let now = self.now();
        let what = ServerWhat::FoundingCodeGiven {
            code: invitation.code.hash(),
            until: invitation.until,
        };
        let expected = self.last(StreamId::SERVER).await?;
        let append = Hand::server(now).writes(StreamId::SERVER, expected, vec![what])?;
        given(invitation, (Purpose::Found, None), append, now)
    }

    /// Every crew of the server.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn crews(&self) -> Result<Vec<CrewId>, DeskError> {
        let rows = self.rows::<CrewRow>(&[]).await?;
        Ok(rows
            .iter()
            .filter_map(|(key, _)| id_at_end(key))
            .map(CrewId)
            .collect())
    }

    async fn any_supervisor(&self) -> Result<bool, DeskError> {
        for crew in self.crews().await? {
            if self.has_supervisor(crew).await? {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Whether anybody of the crew is a supervisor.
    pub(super) async fn has_supervisor(&self, crew: CrewId) -> Result<bool, DeskError> {
        Ok(!self.in_role(crew, Role::Supervisor).await?.is_empty())
    }

    pub(super) async fn must_be_supervisor(
        &self,
        actor: &Actor,
        what: &str,
    ) -> Result<PersonRow, DeskError> {
        let row = self.present(actor).await?;
        if row.roles.contains(&Role::Supervisor) {
            return Ok(row);
        }
        Err(DeskError::NotAllowed(format!(
            "Only a supervisor can {what}. Ask yours to do it."
        )))
    }
}

/// The stream of entries about a person.
pub(super) fn person_stream(person: PersonId) -> StreamId {
    StreamId::new(StreamKind::Person, person.0)
}

fn given(
    invitation: &Invitation,
    (purpose, by): (Purpose, Option<PersonId>),
    append: StreamAppend,
    now: Timestamp,
) -> Result<Batch, DeskError> {
    let mut batch = Batch::new(now);
    batch.appends.push(append);
    let row = InvitationRow {
        purpose,
        until: invitation.until,
        by,
    };
    batch.index.push(put(invitation.code.hash().0, &row)?);
    Ok(batch)
}
