//! Who else should hear of what just happened to a job.

use super::id::JobId;
use super::notice::{About, Notice};
use super::tables::PersonRow;
use crate::flow::edition::Edition;
use crate::flow::model::{Act, Role};
use crate::record::entry::{Entry, What};
use crate::record::person::PersonId;
use crate::walk::State;
use crate::walk::state::Mode;

/// What just happened, and to whom it may matter.
pub(super) struct Happened<'a> {
    pub(super) job: JobId,
    pub(super) edition: &'a Edition,
    pub(super) before: &'a State,
    pub(super) after: &'a State,
    pub(super) entries: &'a [Entry],
    /// Who did it; nobody for time.
    pub(super) who: Option<PersonId>,
    /// That person's name.
    pub(super) name: &'a str,
    /// The evaporator, in one line.
    pub(super) line: &'a str,
    /// The people of the crew.
    pub(super) people: &'a [(PersonId, PersonRow)],
}

/// One thing to tell to some people.
struct News {
    about: About,
    to: Vec<PersonId>,
    sentence: String,
    show_screen: bool,
}

impl News {
    /// A sentence with the job's screen under it.
    fn screen(about: About, to: Vec<PersonId>, sentence: String) -> News {
        News {
            about,
            to,
            sentence,
            show_screen: true,
        }
    }

    /// A sentence alone.
    fn sentence(about: About, to: Vec<PersonId>, sentence: String) -> News {
        News {
            about,
            to,
            sentence,
            show_screen: false,
        }
    }
}

impl Happened<'_> {
    /// The notices to write; never one to the person who did it, and one of a kind to each.
    pub(super) fn notices(&self) -> Vec<Notice> {
        let mut notices = Vec::new();
        for entry in self.entries {
            let news = self.of_alarm(entry).or_else(|| self.of_course(entry));
            if let Some(news) = news {
                self.add(&mut notices, news);
            }
        }
        self.of_step(&mut notices);
        self.of_holder(&mut notices);
        notices
    }

    /// Calls for help, stopped work, and its end.
    fn of_alarm(&self, entry: &Entry) -> Option<News> {
        let (name, line) = (self.name, self.line);
        let supervisors = || self.in_role(Role::Supervisor);
        Some(match &entry.what {
            What::SupervisorCalled => {
                let sentence = format!("{name} asks for a supervisor at {line}.");
                News::screen(About::SupervisorCalled, supervisors(), sentence)
            }
            What::Stopped => {
                let mut to = supervisors();
                to.push(self.after.holder);
                News::screen(
                    About::WorkStopped,
                    to,
                    format!("Work is stopped at {line}."),
                )
            }
            What::StopExplained { why } => {
                let sentence = format!("Work is stopped at {line}. Why: {why}");
                News::screen(About::WorkStopped, supervisors(), sentence)
            }
            What::StopLifted => {
                let sentence = format!("{name} lets the work at {line} go on.");
                News::screen(About::StopLifted, vec![self.after.holder], sentence)
            }
            What::Emergency => {
                let sentence =
                    format!("{name} asked for the emergency screen at {line}. Call them.");
                News::sentence(About::Emergency, supervisors(), sentence)
            }
            What::LeftLockedOut { owner, again } => {
                let sentence =
                    format!("{line} is left as it is. Owner: {owner}. Looked at again: {again}.");
                News::sentence(About::LeftLockedOut, supervisors(), sentence)
            }
            _ => return None,
        })
    }

    /// Waits, holds, handovers and review.
    fn of_course(&self, entry: &Entry) -> Option<News> {
        let (name, line) = (self.name, self.line);
        let holder = || vec![self.after.holder];
        Some(match &entry.what {
            What::HandoverOffered { to } => {
                let everybody = || self.people.iter().map(|(person, _)| *person).collect();
                let to = to.map_or_else(everybody, |to| vec![to]);
                let sentence = format!("{name} offers the job at {line}.");
                News::screen(About::HandoverOffered, to, sentence)
            }
            What::HandoverTaken => {
                let sentence = format!("{name} took over the job at {line}.");
                News::screen(About::HandoverTaken, vec![self.before.holder], sentence)
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
                let mut to = self.in_role(Role::Supervisor);
                to.retain(|person| !self.after.holders.contains(person));
                News::screen(
                    About::HandedIn,
                    to,
                    format!("{name} handed in the job at {line}."),
                )
            }
            What::Accepted { .. } => {
                let sentence = format!("{name} accepted the job at {line}.");
                News::sentence(About::Accepted, holder(), sentence)
            }
            What::SentBack { remark } => {
                let sentence = format!("{name} sent the job at {line} back: {remark}");
                News::screen(About::SentBack, holder(), sentence)
            }
            _ => return None,
        })
    }

    /// The walk stands at a step that its holder cannot answer: whoever can should know.
    fn of_step(&self, notices: &mut Vec<Notice>) {
        let place = |state: &State| {
            state
                .top()
                .map(|call| (call.flow.clone(), call.step.clone()))
        };
        let Some((flow, step)) = place(self.after) else {
            return;
        };
        let came = place(self.before) != place(self.after) || self.before.mode != self.after.mode;
        if self.after.mode != Mode::Walking || !came {
            return;
        }
        let Some(step) = self.edition.step(&flow, &step) else {
            return;
        };
        let (roles, what) = match &step.act {
            Act::Hold { role, .. } => (vec![*role], "release a hold"),
            _ => (step.by.clone(), "answer a step"),
        };
        let holder = self
            .people
            .iter()
            .find(|(person, _)| *person == self.after.holder);
        let can = holder.is_some_and(|(_, row)| roles.iter().any(|role| row.roles.contains(role)));
        if roles.is_empty() || can {
            return;
        }
        let line = self.line;
        for (person, row) in self.people {
            let own = roles.iter().find(|role| row.roles.contains(role));
            if let Some(role) = own {
                let sentence = format!("{line} waits for {} to {what}.", role.with_article());
                self.add(
                    notices,
                    News::screen(About::HoldWaiting, vec![*person], sentence),
                );
            }
        }
    }

    /// Somebody else moved the holder's job on: the holder's screen is old.
    fn of_holder(&self, notices: &mut Vec<Notice>) {
        let holder = self.after.holder;
        let moved = self.entries.iter().any(|entry| {
            matches!(
                entry.what,
                What::Answered { .. } | What::StandsBeside { .. }
            )
        });
        if moved && self.who.is_some() && !notices.iter().any(|notice| notice.to == holder) {
            let sentence = format!("{} answered a step at {}.", self.name, self.line);
            self.add(
                notices,
                News::screen(About::Released, vec![holder], sentence),
            );
        }
    }

    fn in_role(&self, role: Role) -> Vec<PersonId> {
        let people = self.people.iter();
        let people = people.filter(|(_, row)| row.roles.contains(&role));
        people.map(|(person, _)| *person).collect()
    }

    fn add(&self, notices: &mut Vec<Notice>, news: News) {
        for to in news.to {
            if Some(to) == self.who {
                continue;
            }
            // The later sentence of a kind says more: first stopped, then why.
            notices.retain(|notice| (notice.to, notice.about) != (to, news.about));
            notices.push(Notice {
                to,
                about: news.about,
                job: self.job,
                revision: self.after.revision,
                sentence: news.sentence.clone(),
                show_screen: news.show_screen,
            });
        }
    }
}
