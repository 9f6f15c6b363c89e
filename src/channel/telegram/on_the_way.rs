//! Which notices are on their way, so that none goes out twice.

use std::collections::BTreeSet;

use crate::store::NoticeId;

/// Notices between the outbox and their chats.
///
/// A look at the outbox takes its time, and what it found may be older than what became of a
/// notice meanwhile. So those that came through are remembered until the next look begins.
#[derive(Debug, Default)]
pub(super) struct OnTheWay {
    under_way: BTreeSet<NoticeId>,
    came_through: BTreeSet<NoticeId>,
}

impl OnTheWay {
    /// A look begins: it does not find what came through before.
    pub(super) fn look_begins(&mut self) {
        self.came_through.clear();
    }

    /// How many are on their way.
    pub(super) fn count(&self) -> usize {
        self.under_way.len()
    }

    /// Takes a notice that this look found; false if somebody has it, or if it came through since
    /// the look began.
    pub(super) fn take(&mut self, notice: NoticeId) -> bool {
        !self.came_through.contains(&notice) && self.under_way.insert(notice)
    }

    /// What became of a notice is kept.
    pub(super) fn comes_through(&mut self, notice: NoticeId) {
        self.under_way.remove(&notice);
        self.came_through.insert(notice);
    }

    /// A notice could not be brought; the next look finds it again.
    pub(super) fn is_let_go(&mut self, notice: NoticeId) {
        self.under_way.remove(&notice);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_came_through_during_a_look_is_not_taken_once_more_by_it() {
        let (sent, failed) = (NoticeId(1), NoticeId(2));
        let mut on_the_way = OnTheWay::default();
        on_the_way.look_begins();
        assert!(on_the_way.take(sent) && on_the_way.take(failed));
        assert!(!on_the_way.take(sent), "it is on its way");
        on_the_way.look_begins();
        on_the_way.comes_through(sent);
        on_the_way.is_let_go(failed);
        assert!(
            !on_the_way.take(sent),
            "this look found it before it came through"
        );
        assert!(on_the_way.take(failed));
        on_the_way.look_begins();
        // It is due again.
        assert!(on_the_way.take(sent));
    }
}
