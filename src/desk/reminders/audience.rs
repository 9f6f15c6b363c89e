//! Whom a matter waits for.

use jiff::{SignedDuration, Timestamp};

use super::matter::{Matter, Waiting};
use super::rhythm::plus;
use crate::desk::Desk;
use crate::desk::card::CardRow;
use crate::desk::error::DeskError;
use crate::desk::floor::Work;
use crate::desk::tables::{PersonRow, id_at_end, list};
use crate::flow::model::Role;
use crate::record::person::PersonId;

/// After a promise was not kept for so long, supervisors hear of it too.
const SUPERVISORS_AFTER: SignedDuration = SignedDuration::from_hours(48);

/// A job that somebody worked on within this time is being seen to.
const SEEN_TO: SignedDuration = SignedDuration::from_hours(24);

/// How many later jobs on the same evaporator are looked at at once.
const JOBS_AT_ONCE: usize = 16;

/// Whether a matter still waits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Standing {
    /// For somebody.
    Waits,
    /// Somebody is at it: it is looked at again later.
    SeenTo,
    /// A later job took care of it.
    Settled,
}

impl Desk {
    /// Whether a matter that the job's state tells of still waits for anybody.
    pub(super) async fn standing(
        &self,
        work: &Work,
        waiting: &Waiting,
    ) -> Result<Standing, DeskError> {
        match &waiting.matter {
            Matter::Hold(roles) => {
                let holder = self.row::<PersonRow>(work.state.holder.0).await?;
                let can = holder.is_some_and(|row| !row.roles.is_disjoint(roles));
                Ok(if can {
                    Standing::SeenTo
                } else {
                    Standing::Waits
                })
            }
            Matter::LockedOut(_) | Matter::LookAgain(_) => self.later_job(work).await,
            Matter::SentBack(_) | Matter::ToReview => Ok(Standing::Waits),
        }
    }

    /// What later jobs on the same evaporator mean for what this one left behind.
    async fn later_job(&self, work: &Work) -> Result<Standing, DeskError> {
        let now = self.now();
        let mut after = None;
        let mut standing = Standing::Waits;
        loop {
            let on = work.evaporator.0.as_bytes().to_vec();
            let scan = self
                .store()
                .scan(list::EVAPORATOR_JOBS, on, after, JOBS_AT_ONCE);
            let page = scan.await?;
            for row in &page.items {
                let Some(job) = id_at_end(&row.key) else {
                    continue;
                };
                // The latest come first; what follows began before this job.
                if job == work.job.0 {
                    return Ok(standing);
                }
                let card = self.row::<CardRow>(job).await?;
                let Some(card) = card.filter(|card| !card.training) else {
                    continue;
                };
                if !card.phase.is_open() {
                    return Ok(Standing::Settled);
                }
                if now.duration_since(card.last_human) < SEEN_TO {
                    standing = Standing::SeenTo;
                }
            }
            after = page.next;
            if after.is_none() {
                return Ok(standing);
            }
        }
    }

    /// Whom the matter waits for, each with the moment from which it does: those who can act
    /// first, and supervisors where nobody did.
    pub(super) async fn waited_for(
        &self,
        work: &Work,
        matter: &Matter,
        overdue: Timestamp,
    ) -> Result<Vec<(PersonId, Timestamp)>, DeskError> {
        let first = self.first_asked(work, matter).await?;
        let supervisors = self.in_role(work.crew, Role::Supervisor).await?;
        let from = match (first.is_empty(), matter) {
            (true, _) => Some(overdue),
            (false, Matter::Hold(_) | Matter::ToReview) => None,
            (false, _) => Some(plus(overdue, SUPERVISORS_AFTER)),
        };
        let mut all: Vec<_> = first.into_iter().map(|person| (person, overdue)).collect();
        for supervisor in supervisors {
            if let Some(from) = from
                && all.iter().all(|(person, _)| *person != supervisor)
            {
                all.push((supervisor, from));
            }
        }
        Ok(all)
    }

    async fn first_asked(&self, work: &Work, matter: &Matter) -> Result<Vec<PersonId>, DeskError> {
        match matter {
            Matter::Hold(roles) => {
                let mut people = Vec::new();
                for role in roles {
                    for person in self.in_role(work.crew, *role).await? {
                        if !people.contains(&person) {
                            people.push(person);
                        }
                    }
                }
                Ok(people)
            }
            Matter::ToReview => {
                let mut people = self.in_role(work.crew, Role::Supervisor).await?;
                people.retain(|person| !work.state.holders.contains(person));
                Ok(people)
            }
            Matter::SentBack(_) => self.if_there(work).await,
            Matter::LockedOut(_) | Matter::LookAgain(_) => {
                let owner = matter.promise().map(|promise| promise.owner.as_str());
                match owner {
                    Some(owner) => match self.of_the_name(work, owner).await? {
                        Some(person) => Ok(vec![person]),
                        None => self.if_there(work).await,
                    },
                    None => self.if_there(work).await,
                }
            }
        }
    }

    /// The holder, while they are of the crew.
    async fn if_there(&self, work: &Work) -> Result<Vec<PersonId>, DeskError> {
        let holder = work.state.holder;
        let row = self.of_crew(work.crew, holder).await?;
        Ok(row.map(|_| holder).into_iter().collect())
    }

    /// The one person of the crew whom these words name.
    async fn of_the_name(&self, work: &Work, words: &str) -> Result<Option<PersonId>, DeskError> {
        let mut names = Vec::new();
        for (person, _) in self.crew_people(work.crew).await? {
            names.push((person, self.name_of(person).await?));
        }
        Ok(named(words, &names))
    }
}

/// The one of these people whom the words name, by the whole name or else by the first; none
/// where it could be several.
fn named(words: &str, people: &[(PersonId, String)]) -> Option<PersonId> {
    let words = lowered(words);
    let begins = |name: &[String]| !name.is_empty() && words.starts_with(name);
    let only = |found: Vec<PersonId>| match found[..] {
        [one] => Some(one),
        _ => None,
    };
    let by = |parts: &dyn Fn(Vec<String>) -> Vec<String>| {
        let found = people.iter();
        let found = found.filter(|(_, name)| begins(&parts(lowered(name))));
        found.map(|(person, _)| *person).collect()
    };
    only(by(&|name| name)).or_else(|| only(by(&|name| name.into_iter().take(1).collect())))
}

/// The words of a text, in small letters.
fn lowered(text: &str) -> Vec<String> {
    let words = text.split(|letter: char| !letter.is_alphanumeric());
    let words = words.filter(|word| !word.is_empty());
    words.map(str::to_lowercase).collect()
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;

    #[test]
    fn words_name_one_person_or_nobody() {
        let crew = ["Tilly Tester", "Tom Tester", "Tom Other", "Ann-Marie"];
        let person = |at: usize| PersonId(Uuid::from_u128(at as u128));
        let people = crew.iter().enumerate();
        let people: Vec<_> = people
            .map(|(at, name)| (person(at), (*name).to_owned()))
            .collect();
        for (words, meant) in [
            ("Tilly", Some(0)),
            ("tilly tester, 555 0100", Some(0)),
            ("Tilly, 555 0100", Some(0)),
            ("Tom", None),
            ("Tom Other", Some(2)),
            ("Ann-Marie", Some(3)),
            ("the other shift", None),
            ("", None),
        ] {
            assert_eq!(named(words, &people), meant.map(person), "{words}");
        }
    }
}
