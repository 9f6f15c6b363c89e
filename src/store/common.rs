//! What several lists have in common, found by letting each list leap ahead to where the others
//! stand.

use super::StoreError;
use super::batch::Table;

/// The keys of a lookup table that begin alike; what comes after the beginning is an *end*.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct List {
    /// The table.
    pub table: Table,
    /// What its keys begin with.
    pub prefix: Vec<u8>,
}

/// Asks for the ends that every group has in at least one of its lists.
///
/// How long the answer takes depends on the shortest group and on how often the groups miss each
/// other, not on how long the lists are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Common {
    /// The groups. Without any, or with one that has no lists, nothing is in common.
    pub groups: Vec<Vec<List>>,
    /// The first end that counts.
    pub from: Vec<u8>,
    /// The last end that counts, if not all do.
    pub to: Option<Vec<u8>>,
    /// The most ends wanted, at least one.
    pub limit: usize,
    /// How often keys may be looked up before the answer is given as far as it is.
    pub looks_max: usize,
}

/// The ends in common, in order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ends {
    /// Them.
    pub ends: Vec<Vec<u8>>,
    /// Where to go on asking; `None` once there are no more. It may follow on fewer ends than
    /// were wanted, even on none, if the looks were used up.
    pub next: Option<Vec<u8>>,
}

/// One list with the end that it stands at.
struct Walker<'a> {
    list: &'a List,
    at: Option<Vec<u8>>,
}

/// Gives a list's first end from one on.
type First<'a> = dyn FnMut(&List, &[u8]) -> Result<Option<Vec<u8>>, StoreError> + 'a;

/// Answers with the help of `first`.
pub(super) fn common(ask: &Common, first: &mut First<'_>) -> Result<Ends, StoreError> {
    let mut found = Ends::default();
    let mut looks = 0;
    let mut target = ask.from.clone();
    let mut groups = Vec::with_capacity(ask.groups.len());
    for group in &ask.groups {
        let mut walkers = Vec::with_capacity(group.len());
        for list in group {
            looks += 1;
            let at = first(list, &target)?;
            walkers.extend(at.map(|at| Walker { list, at: Some(at) }));
        }
        groups.push(walkers);
    }
    let mut agreed = 0;
    let mut turn = 0;
    while !groups.is_empty() {
        // Once at least is looked, so that asking again always comes further.
        if looks >= ask.looks_max && turn > groups.len() {
            found.next = Some(target);
            break;
        }
        let at = turn % groups.len();
        turn += 1;
        let Some(reached) = leap(&mut groups[at], &target, &mut looks, first)? else {
            break;
        };
        if ask.to.as_ref().is_some_and(|to| reached > *to) {
            break;
        }
        agreed = if reached == target { agreed + 1 } else { 1 };
        target = reached;
        if agreed < groups.len() {
            continue;
        }
        if found.ends.len() >= ask.limit.max(1) {
            found.next = Some(target);
            break;
        }
        found.ends.push(target.clone());
        // The least end above this one.
        target.push(0);
        agreed = 0;
    }
    Ok(found)
}

/// The first end of a group from `target` on.
fn leap(
    group: &mut Vec<Walker<'_>>,
    target: &[u8],
    looks: &mut usize,
    first: &mut First<'_>,
) -> Result<Option<Vec<u8>>, StoreError> {
    for walker in group.iter_mut() {
        if walker.at.as_deref().is_some_and(|at| at < target) {
            *looks += 1;
            walker.at = first(walker.list, target)?;
        }
    }
    group.retain(|walker| walker.at.is_some());
    Ok(group.iter().filter_map(|it| it.at.as_ref()).min().cloned())
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use proptest::prelude::*;

    use super::*;

    type Lists = Vec<Vec<BTreeSet<u8>>>;

    /// Answers page by page until the end.
    fn all(lists: &Lists, (limit, looks_max): (usize, usize)) -> Vec<u8> {
        let list = |group: usize, at: usize| List {
            table: Table::named("x"),
            prefix: vec![group as u8, at as u8],
        };
        let groups = lists.iter().enumerate();
        let mut ask = Common {
            groups: groups
                .map(|(group, lists)| (0..lists.len()).map(|at| list(group, at)).collect())
                .collect(),
            from: Vec::new(),
            to: None,
            limit,
            looks_max,
        };
        let mut first = |list: &List, from: &[u8]| {
            let set = &lists[usize::from(list.prefix[0])][usize::from(list.prefix[1])];
            let mut ends = set.iter().map(|number| vec![*number]);
            Ok(ends.find(|end| end.as_slice() >= from))
        };
        let mut found = Vec::new();
        loop {
            let Ends { ends, next } = common(&ask, &mut first).unwrap();
            assert!(ends.len() <= limit.max(1));
            found.extend(ends.iter().map(|end| end[0]));
            let Some(next) = next else { return found };
            assert!(next > ask.from, "asking again comes further");
            ask.from = next;
        }
    }

    proptest! {
        #[test]
        fn what_is_found_is_what_sets_have_in_common(
            lists in proptest::collection::vec(
                proptest::collection::vec(proptest::collection::btree_set(0_u8..40, 0..20), 0..4),
                1..4,
            ),
            limit in 0_usize..5,
            looks_max in 0_usize..30,
        ) {
            let mut groups = lists.iter().map(|group| {
                group.iter().flatten().copied().collect::<BTreeSet<u8>>()
            });
            let first = groups.next().unwrap();
            let expected = groups.fold(first, |common, group| &common & &group);
            prop_assert_eq!(
                all(&lists, (limit, looks_max)),
                expected.into_iter().collect::<Vec<_>>()
            );
        }
    }
}
