//! Who else should hear of what just happened to a job.

use std::collections::BTreeSet;

use jiff::Timestamp;

use super::Desk;
use super::card::awaited;
use super::competence::Lacking;
use super::error::DeskError;
use super::floor::Work;
use super::notice::{About, Notice};
use super::proposal::proposes;
use crate::flow::edition::Edition;
use crate::flow::model::{Act, Role};
use crate::record::check_in::{CheckIn, Stage};
use crate::record::entry::{Entry, StepRef, What};
use crate::record::person::PersonId;
use crate::record::stands_out::count;
use crate::walk::state::Mode;
use crate::walk::{State, step_label};

/// What just happened, and to whom it may matter.
pub(super) struct Happened<'a> {
    pub(super) edition: &'a Edition,
    pub(super) before: &'a State,
    pub(super) after: &'a State,
    pub(super) entries: &'a [Entry],
    /// What stands for the name of the person who holds the job.
    pub(super) holder_name: &'a str,
    /// Who did it; nobody for time.
    pub(super) who: Option<PersonId>,
    /// What stands for that person's name.
    pub(super) name: &'a str,
    /// The evaporator, in one line.
    pub(super) line: &'a str,
    /// How much stands out in a job that is handed in.
    pub(super) stands_out: usize,
    /// What that person has not shown and the step needs.
    pub(super) lacking: Lacking,
    /// The roles of the person who holds the job after it.
    pub(super) holder_roles: &'a BTreeSet<Role>,
}

/// Who is told.
enum Audience {
    /// One person.
    One(PersonId),
    /// Everybody of the crew in this role.
    InRole(Role),
    /// Every supervisor who did not hold the job.
    Reviewers,
    /// Who helps this person: every other supervisor; everybody else of the crew where there is
    /// none.
    Rescue(PersonId),
    /// Everybody of the crew.
    Crew,
}

/// One thing to tell.
pub(super) struct News {
    about: About,
    to: Vec<Audience>,
    sentence: String,
    show_screen: bool,
}

impl News {
    /// A sentence with the job's screen under it.
    fn screen(about: About, to: Audience, sentence: String) -> News {
        News {
            about,
            to: vec![to],
            sentence,
            show_screen: true,
        }
    }

    /// A sentence alone.
    fn sentence(about: About, to: Audience, sentence: String) -> News {
        News {
            show_screen: false,
            ..News::screen(about, to, sentence)
        }
    }

    fn and(mut self, to: Audience) -> News {
        self.to.push(to);
        self
    }
}

impl Happened<'_> {
    /// Everything worth telling, the later of a kind saying more.
    pub(super) fn news(&self) -> Vec<News> {
        let told = |entry| self.of_alarm(entry).or_else(|| self.of_course(entry));
        let mut news: Vec<News> = self.entries.iter().filter_map(told).collect();
        news.extend(
            self.entries
                .iter()
                .flat_map(|entry| self.of_check_in(entry)),
        );
        news.extend(self.of_step());
        news.extend(self.of_holder(&news));
        news
    }

    /// Calls for help, stopped work, and its end.
    fn of_alarm(&self, entry: &Entry) -> Option<News> {
        let (name, line) = (self.name, self.line);
        let supervisors = || Audience::InRole(Role::Supervisor);
        Some(match &entry.what {
            What::SupervisorCalled => {
                let sentence = format!("{name} asks for a supervisor at {line}.");
                News::screen(About::SupervisorCalled, supervisors(), sentence)
            }
            What::Stopped => {
                let sentence = format!("Work is stopped at {line}.");
                News::screen(About::WorkStopped, supervisors(), sentence)
                    .and(Audience::One(self.after.holder))
            }
            What::StopExplained { why } => {
                let sentence = format!("Work is stopped at {line}. Why: {why}");
                News::screen(About::WorkStopped, supervisors(), sentence)
            }
            What::StopLifted => {
                let sentence = format!("{name} lets the work at {line} go on.");
                News::screen(
                    About::StopLifted,
                    Audience::One(self.after.holder),
                    sentence,
                )
            }
            What::Emergency => {
                let sentence =
                    format!("{name} asked for the emergency screen at {line}. Call them.");
                let rescue = Audience::Rescue(self.who.unwrap_or(self.after.holder));
                News::sentence(About::Emergency, rescue, sentence)
            }
            What::LeftLockedOut { owner, again } => {
                let sentence =
                    format!("{line} is left as it is. Owner: {owner}. Looked at again: {again}.");
                News::sentence(About::LeftLockedOut, supervisors(), sentence)
            }
            _ => return None,
        })
    }

    /// Whether the person who works alone is all right.
    fn of_check_in(&self, entry: &Entry) -> Vec<News> {
        let What::CheckIn { of } = &entry.what else {
            return Vec::new();
        };
        let (holder, line) = (Audience::One(self.after.holder), self.line);
        let rescue = Audience::Rescue(self.after.holder);
        let was_missed = self
            .before
            .rounds()
            .is_some_and(|rounds| rounds.stage == Some(Stage::Alarm));
        match of {
            CheckIn::Asked { stage, due } => self.asked(entry.at, (*stage, *due)),
            CheckIn::Well | CheckIn::Ended { .. } if was_missed => {
                let sentence = format!("{} at {line} is all right.", self.holder_name);
                vec![News::sentence(About::CheckInOver, rescue, sentence)]
            }
            CheckIn::Found => {
                let sentence = format!("{} reached {} at {line}.", self.name, self.holder_name);
                vec![News::screen(About::CheckInOver, holder, sentence).and(rescue)]
            }
            _ => Vec::new(),
        }
    }

    fn asked(&self, at: Timestamp, (stage, due): (Stage, Timestamp)) -> Vec<News> {
        let (holder, line) = (Audience::One(self.after.holder), self.line);
        let late = at.duration_since(due).as_mins();
        let late = match late {
            ..1 => String::new(),
            late => format!(" This question comes {late} min late."),
        };
        let heard = self.before.rounds().map_or(at, |rounds| rounds.heard);
        let silent = at.duration_since(heard).as_mins();
        let since = heard.strftime("%H:%M UTC");
        match stage {
            Stage::Gentle => {
                let sentence = format!(
                    "Are you all right at {line}? Press “I am all right”, or answer the step.{late}"
                );
                vec![News::screen(About::CheckIn, holder, sentence)]
            }
            Stage::Loud => {
                let sentence = format!(
                    "ANSWER NOW: are you all right at {line}? Nothing was heard of you for \
                     {silent} min. Without an answer others are told in 3 min.{late}"
                );
                vec![News::screen(About::CheckInLoud, holder, sentence)]
            }
            Stage::Alarm => {
                let sentence = format!(
                    "No sign of life from {} at {line} for {silent} min, since {since}. Last at: \
                     {}. Call them, or have somebody look; nobody goes in alone.{late}",
                    self.holder_name,
                    self.step_in_words()
                );
                let mine = "ANSWER NOW. Others are told that you do not answer.".to_owned();
                let rescue = Audience::Rescue(self.after.holder);
                vec![
                    News::screen(About::CheckInAlarm, rescue, sentence),
                    News::screen(About::CheckInLoud, holder, mine),
                ]
            }
        }
    }

    /// The flow and the step that the walk stands at.
    fn step_in_words(&self) -> String {
        let call = self.after.top();
        let at = call.map(|call| StepRef {
            flow: call.flow.clone(),
            instance: call.instance,
            step: call.step.clone(),
        });
        at.map_or_else(String::new, |at| step_label(self.edition, &at))
    }

    /// Waits, holds, handovers and review.
    fn of_course(&self, entry: &Entry) -> Option<News> {
        let (name, line) = (self.name, self.line);
        let holder = || Audience::One(self.after.holder);
        Some(match &entry.what {
            What::HandoverOffered { to } => {
                let to = to.map_or(Audience::Crew, Audience::One);
                let sentence = format!("{name} offers the job at {line}.");
                News::screen(About::HandoverOffered, to, sentence)
            }
            What::HandoverTaken => {
                let sentence = format!("{name} took over the job at {line}.");
                News::screen(
                    About::HandoverTaken,
                    Audience::One(self.before.holder),
                    sentence,
                )
            }
            What::OwnLockOn { .. } | What::OwnLockOff { .. } => {
                let on = matches!(entry.what, What::OwnLockOn { .. });
                let done = if on {
                    "hung a lock"
                } else {
                    "took their lock off"
                };
                let sentence = format!("{name} {done} at {line}.");
                News::sentence(About::HandoverTaken, holder(), sentence)
            }
            What::WaitOver { .. } => News::screen(
                About::WaitOver,
                holder(),
                format!("The wait at {line} is over."),
            ),
            What::Released { .. } => {
                let sentence = format!("{name} released the hold at {line}.");
                News::screen(About::Released, holder(), sentence)
            }
            What::HandedIn => {
                let to = Audience::Reviewers;
                let row = if proposes(self.after) {
                    " It proposes a row for the speed book."
                } else {
                    ""
                };
                let stands_out = count(self.stands_out).map(|words| format!(" {words}"));
                let stands_out = stands_out.unwrap_or_default();
                let sentence = format!("{name} handed in the job at {line}.{stands_out}{row}");
                News::screen(About::HandedIn, to, sentence)
            }
            What::Accepted { .. } => {
                let sentence = format!("{name} accepted the job at {line}.");
                News::sentence(About::Accepted, holder(), sentence)
            }
            What::SentBack { remark, steps } => {
                let again = match steps.len() {
                    0 => String::new(),
                    1 => ", one step to be done again".to_owned(),
                    many => format!(", {many} steps to be done again"),
                };
                let sentence = format!("{name} sent the job at {line} back{again}: {remark}");
                News::screen(About::SentBack, holder(), sentence)
            }
            _ => return None,
        })
    }

    /// The walk stands at a step that its holder cannot answer: whoever can should know.
    fn of_step(&self) -> Vec<News> {
        let place = |state: &State| {
            let call = state.top()?;
            Some((call.flow.clone(), call.step.clone()))
        };
        let came = place(self.before) != place(self.after) || self.before.mode != self.after.mode;
        let step = place(self.after).and_then(|(flow, step)| self.edition.step(&flow, &step));
        let Some(step) = step.filter(|_| came && self.after.mode == Mode::Walking) else {
            return Vec::new();
        };
        let roles = awaited(self.edition, self.after);
        let what = match &step.act {
            Act::Hold { .. } => "release a hold",
            _ => "answer a step",
        };
        if roles.is_empty() || roles.iter().any(|role| self.holder_roles.contains(role)) {
            return self.of_lacking();
        }
        let waits = |role: Role| {
            let sentence = format!("{} waits for {} to {what}.", self.line, role.with_article());
            News::screen(About::HoldWaiting, Audience::InRole(role), sentence)
        };
        roles.into_iter().map(waits).collect()
    }

    /// The holder has not shown what the step needs: whoever has it should know, or else whoever
    /// may sign for it.
    fn of_lacking(&self) -> Vec<News> {
        let Lacking { labels, helpers } = &self.lacking;
        if labels.is_empty() {
            return Vec::new();
        }
        let mut to: Vec<Audience> = helpers.iter().copied().map(Audience::One).collect();
        if to.is_empty() {
            to.push(Audience::InRole(Role::Supervisor));
        }
        let shown = labels.join(", ");
        let sentence = format!("{} waits for somebody who has shown: {shown}.", self.line);
        vec![News {
            about: About::HoldWaiting,
            to,
            sentence,
            show_screen: true,
        }]
    }

    /// Somebody else moved the holder's job on: the holder's screen is old.
    fn of_holder(&self, news: &[News]) -> Option<News> {
        let holder = self.after.holder;
        let moved = self.entries.iter().any(|entry| {
            matches!(
                entry.what,
                What::Answered { .. } | What::StandsBeside { .. }
            )
        });
        let mut to = news.iter().flat_map(|one| &one.to);
        let told = to.any(|to| matches!(to, Audience::One(one) if *one == holder));
        let by_other = self.who.is_some_and(|who| who != holder);
        (moved && by_other && !told).then(|| {
            let sentence = format!("{} answered a step at {}.", self.name, self.line);
            News::screen(About::Released, Audience::One(holder), sentence)
        })
    }
}

impl Desk {
    /// The notices of some news: none to the person who caused them, one of a kind to each.
    pub(super) async fn notices(
        &self,
        work: &Work,
        who: Option<PersonId>,
        news: Vec<News>,
    ) -> Result<Vec<Notice>, DeskError> {
        let mut notices: Vec<Notice> = Vec::new();
        for one in news {
            for to in self.audience(work, &one.to).await? {
                if Some(to) == who {
                    continue;
                }
                notices.retain(|notice| (notice.to, notice.about) != (to, one.about));
                notices.push(Notice {
                    to,
                    about: one.about,
                    job: Some(work.job),
                    revision: work.state.revision,
                    sentence: one.sentence.clone(),
                    lines: Vec::new(),
                    people: vec![who.unwrap_or(work.state.holder), work.state.holder],
                    show_screen: one.show_screen,
                });
            }
        }
        Ok(notices)
    }

    async fn audience(&self, work: &Work, to: &[Audience]) -> Result<Vec<PersonId>, DeskError> {
        let mut people = Vec::new();
        for to in to {
            match to {
                Audience::One(person) => people.push(*person),
                Audience::InRole(role) => people.extend(self.in_role(work.crew, *role).await?),
                Audience::Reviewers => {
                    let supervisors = self.in_role(work.crew, Role::Supervisor).await?;
                    let holders = &work.state.holders;
                    people.extend(supervisors.into_iter().filter(|one| !holders.contains(one)));
                }
                Audience::Rescue(whom) => {
                    let is_other = |one: &PersonId| one != whom;
                    let supervisors = self.in_role(work.crew, Role::Supervisor).await?;
                    let mut others: Vec<_> = supervisors.into_iter().filter(is_other).collect();
                    if others.is_empty() {
                        let crew = self.crew_people(work.crew).await?.into_iter();
                        others.extend(crew.map(|(person, _)| person).filter(is_other));
                    }
                    people.extend(others);
                }
                Audience::Crew => {
                    let crew = self.crew_people(work.crew).await?;
                    people.extend(crew.into_iter().map(|(person, _)| person));
                }
            }
        }
        Ok(people)
    }
}
