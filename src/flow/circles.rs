//! Which nodes of a graph lie on a circle with each other.
//!
//! The method is the one of Tarjan, "Depth-first search and linear graph algorithms" (SIAM
//! Journal on Computing 1, 1972): one walk over all edges, however many circles there are. It
//! keeps its own stack, so that a long chain needs no deep one.

/// For each node the number of its group. Two nodes are in one group if each leads to the other;
/// `next` are the edges of each node.
pub(crate) fn groups(next: &[Vec<usize>]) -> Vec<usize> {
    let mut search = Search {
        met: vec![None; next.len()],
        low: vec![0; next.len()],
        group: vec![None; next.len()],
        open: Vec::new(),
        count: 0,
        groups: 0,
    };
    for node in 0..next.len() {
        if search.met[node].is_none() {
            search.from(node, next);
        }
    }
    let groups = search.group.into_iter();
    groups.map(Option::unwrap_or_default).collect()
}

struct Search {
    /// When a node was met.
    met: Vec<Option<usize>>,
    /// The earliest met node of the same group that is known of.
    low: Vec<usize>,
    group: Vec<Option<usize>>,
    /// Met nodes without a group yet.
    open: Vec<usize>,
    count: usize,
    groups: usize,
}

impl Search {
    fn meet(&mut self, node: usize) {
        self.met[node] = Some(self.count);
        self.low[node] = self.count;
        self.count += 1;
        self.open.push(node);
    }

    fn from(&mut self, first: usize, next: &[Vec<usize>]) {
        self.meet(first);
        let mut way = vec![(first, 0)];
        while let Some((node, edge)) = way.pop() {
            if let Some(to) = next[node].get(edge).copied() {
                way.push((node, edge + 1));
                match self.met[to] {
                    None => {
                        self.meet(to);
                        way.push((to, 0));
                    }
                    Some(met) if self.group[to].is_none() => {
                        self.low[node] = self.low[node].min(met);
                    }
                    Some(_) => {}
                }
                continue;
            }
            if let Some((runner, _)) = way.last() {
                self.low[*runner] = self.low[*runner].min(self.low[node]);
            }
            if self.met[node] == Some(self.low[node]) {
                self.close(node);
            }
        }
    }

    /// Everything that was met since `node` is one group with it.
    fn close(&mut self, node: usize) {
        while let Some(one) = self.open.pop() {
            self.group[one] = Some(self.groups);
            if one == node {
                break;
            }
        }
        self.groups += 1;
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::groups;

    /// Whether a way of one edge or none or more leads from one node to another, by walking.
    fn leads(next: &[Vec<usize>], from: usize, to: usize) -> bool {
        let (mut seen, mut waiting) = (vec![false; next.len()], vec![from]);
        while let Some(node) = waiting.pop() {
            if !std::mem::replace(&mut seen[node], true) {
                waiting.extend(&next[node]);
            }
        }
        seen[to]
    }

    proptest! {
        #[test]
        fn two_nodes_are_in_one_group_if_each_leads_to_the_other(
            next in prop::collection::vec(prop::collection::vec(0_usize..9, 0..4), 9)
        ) {
            let groups = groups(&next);
            for one in 0..next.len() {
                for other in 0..next.len() {
                    let circle = leads(&next, one, other) && leads(&next, other, one);
                    prop_assert_eq!(groups[one] == groups[other], circle);
                }
            }
        }
    }
}
