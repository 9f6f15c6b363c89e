//! The chain of protection: whose lock hung on which energy source from when to when, and every
//! gap in it (29 CFR 1910.147(f)(4): an orderly transfer, without a moment unprotected).

use std::collections::BTreeMap;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::{Around, second};
use crate::flow::model::Setting;
use crate::flow::name::SourceName;
use crate::record::entry::{Entry, What};
use crate::record::person::PersonId;

/// The locks on one energy source over the whole job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProtectionLine {
    /// What people call the source.
    pub label: String,
    /// The locks, in the order in which they went on.
    pub locks: Vec<LockLine>,
    /// When it was off, opened or unlocked, after a lock had hung, without any lock on it; but for
    /// its return to service.
    pub gaps: Vec<GapLine>,
}

/// One lock.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LockLine {
    /// Whose.
    pub owner: String,
    /// When it went on.
    pub on: Timestamp,
    /// When it came off; none while it hangs.
    pub off: Option<Timestamp>,
    /// The supervisor who took it off, where its owner did not.
    pub taken_off_by: Option<String>,
}

/// A time without a lock.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct GapLine {
    /// Since when.
    pub from: Timestamp,
    /// Until when; none if no lock went on again.
    pub to: Option<Timestamp>,
}

/// One source on the way through the record.
#[derive(Default)]
struct Course {
    /// Owner, on, off, and who took it off.
    locks: Vec<(PersonId, Timestamp, Option<Timestamp>, Option<PersonId>)>,
    gaps: Vec<GapLine>,
    bare_since: Option<Timestamp>,
}

impl Course {
    fn on(&mut self, owner: PersonId, at: Timestamp) {
        let hangs =
            |lock: &&(PersonId, _, Option<Timestamp>, _)| lock.0 == owner && lock.2.is_none();
        if self.locks.iter().find(hangs).is_some() {
            return;
        }
        if let Some(from) = self.bare_since.take() {
            self.gaps.push(GapLine { from, to: Some(at) });
        }
        self.locks.push((owner, at, None, None));
    }

    fn off(&mut self, owner: PersonId, at: Timestamp, taken_by: Option<PersonId>) {
        let mut locks = self.locks.iter_mut();
        if let Some(lock) = locks.find(|lock| lock.0 == owner && lock.2.is_none()) {
            lock.2 = Some(at);
            lock.3 = taken_by;
        }
        let is_bare = self.locks.iter().all(|lock| lock.2.is_some());
        if is_bare {
            self.bare_since = Some(at);
        }
    }

    fn line(mut self, label: String, around: &Around<'_>) -> ProtectionLine {
        let open_end = self.bare_since.map(|from| GapLine { from, to: None });
        self.gaps.extend(open_end);
        for gap in &mut self.gaps {
            gap.from = second(gap.from);
            gap.to = gap.to.map(second);
        }
        let locks = self.locks.into_iter();
        ProtectionLine {
            label,
            locks: locks
                .map(|(owner, on, off, taken_by)| LockLine {
                    owner: around.name(owner),
                    on: second(on),
                    off: off.map(second),
                    taken_off_by: taken_by.map(|by| around.name(by)),
                })
                .collect(),
            gaps: self.gaps,
        }
    }
}

/// The locks on every source that ever had one.
pub(super) fn lines(entries: &[Entry], around: &Around<'_>) -> Vec<ProtectionLine> {
    let mut labels: Vec<(SourceName, String)> = Vec::new();
    let mut courses: BTreeMap<SourceName, Course> = BTreeMap::new();
    for entry in entries {
        if let What::Begun { sources, .. } = &entry.what {
            let named = sources.iter();
            labels.extend(named.map(|source| (source.name.clone(), source.label.clone())));
        }
        happens(&mut courses, entry);
    }
    let mut lines = Vec::new();
    for (name, label) in labels {
        let course = courses
            .remove(&name)
            .filter(|course| !course.locks.is_empty());
        lines.extend(course.map(|course| course.line(label, around)));
    }
    lines
}

fn happens(courses: &mut BTreeMap<SourceName, Course>, entry: &Entry) {
    let at = entry.at;
    let Some(who) = entry.who else { return };
    match &entry.what {
        What::SourceSet { source, setting } => {
            let course = courses.entry(source.clone()).or_default();
            match setting {
                Setting::Locked => course.on(who, at),
                Setting::Unlocked => course.off(who, at, None),
                // It is back in service: nothing has to be held off any more.
                Setting::Closed => course.bare_since = None,
                _ => {}
            }
        }
        What::OwnLockOn { source } => courses.entry(source.clone()).or_default().on(who, at),
        What::OwnLockOff { source } => {
            courses
                .entry(source.clone())
                .or_default()
                .off(who, at, None);
        }
        What::LockTakenOff { source, owner } => {
            let course = courses.entry(source.clone()).or_default();
            course.off(*owner, at, Some(who));
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(minute: i64) -> Timestamp {
        Timestamp::from_second(minute * 60).unwrap()
    }

    fn person(number: u128) -> PersonId {
        PersonId(uuid::Uuid::from_u128(number))
    }

    #[test]
    fn a_time_without_any_lock_is_a_gap_unless_the_source_is_back_in_service() {
        let (ann, tom) = (person(1), person(2));
        let mut course = Course::default();
        course.on(ann, at(1));
        course.on(tom, at(5));
        course.off(ann, at(6), None);
        assert_eq!(course.bare_since, None, "the next went on before");
        course.off(tom, at(9), None);
        course.on(ann, at(12));
        let gap = |from, to| GapLine { from, to };
        assert_eq!(course.gaps, [gap(at(9), Some(at(12)))]);
        course.off(ann, at(20), Some(tom));
        assert_eq!(course.bare_since, Some(at(20)));
        course.bare_since = None;
        assert_eq!(course.locks[2].3, Some(tom), "taken off by another hand");
        assert_eq!(course.locks.len(), 3);
    }

    #[test]
    fn a_lock_that_is_recorded_twice_hangs_once() {
        let mut course = Course::default();
        course.on(person(1), at(1));
        course.on(person(1), at(2));
        assert_eq!(course.locks.len(), 1);
    }
}
