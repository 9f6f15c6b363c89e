//! Which card stands in which row: phases in the order of the file, and in each the cards that
//! follow each other below each other.

use std::collections::HashSet;

use super::energy::Energy;
use super::model::Diagram;

/// Cards that stand beside each other, by lane.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// The phase of all its cards.
    pub phase: usize,
    /// The energy state of all its cards.
    pub energy: Energy,
    /// The card of each lane, if there is one.
    pub lanes: Vec<Option<usize>>,
}

impl Row {
    /// The cards with their lanes.
    pub fn cards(&self) -> impl Iterator<Item = (usize, usize)> {
        let lanes = self.lanes.iter().enumerate();
        lanes.filter_map(|(lane, card)| Some((lane, (*card)?)))
    }
}

/// All cards in rows of at most `lanes`, each card once.
pub fn rows(diagram: &Diagram, lanes: usize) -> Vec<Row> {
    let before = before(diagram);
    let mut rows: Vec<Row> = Vec::new();
    for phase in 0..diagram.phases.len() {
        let of_phase: Vec<usize> = (0..diagram.cards.len())
            .filter(|card| diagram.cards[*card].phase == phase)
            .collect();
        let mut placed: HashSet<usize> = HashSet::new();
        let mut energy = None;
        while placed.len() < of_phase.len() {
            let ready = |card: &&usize| {
                let waits = |other: &usize| !of_phase.contains(other) || placed.contains(other);
                !placed.contains(card) && before[**card].iter().all(waits)
            };
            let same = |card: &&usize| Some(diagram.cards[**card].energy) == energy;
            let next = of_phase.iter().filter(ready).find(same);
            let next = next.or_else(|| of_phase.iter().find(ready));
            // A card can always be ready, since going back is not counted; the first left is a
            // total answer.
            let left = || of_phase.iter().find(|card| !placed.contains(*card));
            let Some(card) = next.or_else(left).copied() else {
                break;
            };
            energy = Some(diagram.cards[card].energy);
            placed.insert(card);
            put(diagram, &before, &mut rows, card, lanes);
        }
    }
    rows
}

/// Puts a card into the first row of its region that lies below all cards before it.
fn put(diagram: &Diagram, before: &[Vec<usize>], rows: &mut Vec<Row>, card: usize, lanes: usize) {
    let here = &diagram.cards[card];
    let mut first = rows.len();
    while first > 0 && rows[first - 1].phase == here.phase && rows[first - 1].energy == here.energy
    {
        first -= 1;
    }
    let below = (first..rows.len())
        .rev()
        .find(|row| {
            rows[*row]
                .cards()
                .any(|(_, other)| before[card].contains(&other))
        })
        .map_or(first, |row| row + 1);
    let free = |row: &Row| row.lanes.iter().any(Option::is_none);
    let at = (below..rows.len()).find(|row| free(&rows[*row]));
    let at = at.unwrap_or_else(|| {
        rows.push(Row {
            phase: here.phase,
            energy: here.energy,
            lanes: vec![None; lanes],
        });
        rows.len() - 1
    });
    let above = at.checked_sub(1).and_then(|above| {
        let mut cards = rows[above].cards();
        cards.find(|(lane, other)| {
            before[card].contains(other) && rows[at].lanes.get(*lane) == Some(&None)
        })
    });
    let lane = above.map(|(lane, _)| lane);
    let lane = lane.or_else(|| rows[at].lanes.iter().position(Option::is_none));
    if let Some(slot) = lane.and_then(|lane| rows[at].lanes.get_mut(lane)) {
        *slot = Some(card);
    }
}

/// For each card the cards that lead to it, ways back left out.
fn before(diagram: &Diagram) -> Vec<Vec<usize>> {
    #[derive(Clone, Copy, PartialEq)]
    enum Seen {
        Never,
        Open,
        Done,
    }
    let mut before = vec![Vec::new(); diagram.cards.len()];
    let mut seen = vec![Seen::Never; diagram.cards.len()];
    let starts = std::iter::once(diagram.start).chain(0..diagram.cards.len());
    for start in starts {
        if seen.get(start) != Some(&Seen::Never) {
            continue;
        }
        seen[start] = Seen::Open;
        let mut path = vec![(start, 0)];
        while let Some((card, exit)) = path.pop() {
            let Some(way) = diagram.cards[card].exits.get(exit) else {
                seen[card] = Seen::Done;
                continue;
            };
            path.push((card, exit + 1));
            if seen[way.to] != Seen::Open {
                before[way.to].push(card);
            }
            if seen[way.to] == Seen::Never {
                seen[way.to] = Seen::Open;
                path.push((way.to, 0));
            }
        }
    }
    before
}
