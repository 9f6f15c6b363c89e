//! Lines from exits to cards: down or up beside a lane of cards, then across above the row of
//! the card that they lead to. No line ever crosses a card.

use std::collections::{BTreeMap, HashMap, HashSet};

use super::card::{self, Body, Way};
use super::place::{PlacedCard, Plan, Sheet, Wire};

/// Where an arrow from right above arrives, from the left edge of a card.
const FROM_ABOVE: f32 = card::WIDTH * 0.70;
/// Where a line from beside arrives.
const FROM_BESIDE: f32 = card::WIDTH * 0.86;
const TRACK: f32 = 8.0;
/// Room above every row, for an arrow's head.
const CHANNEL: f32 = 20.0;
const GUTTER: f32 = 18.0;

/// Where a card stands among the others.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Spot {
    pub(super) row: usize,
    pub(super) lane: usize,
}

/// The edges of one lane and the gutter right of it.
pub(super) struct Lane {
    pub(super) left: f32,
    pub(super) right: f32,
}

/// Beside which lane of which column, to which card.
type Trunk = (usize, usize, usize);

/// Which line runs in which track.
pub(super) struct Tracks {
    beside: HashMap<Trunk, usize>,
    /// For each row, the cards that lines from beside lead to.
    above: HashMap<usize, Vec<usize>>,
}

impl Tracks {
    pub(super) fn of(plan: &Plan<'_>) -> Self {
        // The rows that a trunk passes, doubled, so that the channel above a row has a number.
        let mut spans: BTreeMap<Trunk, (usize, usize)> = BTreeMap::new();
        let mut above: HashMap<usize, Vec<usize>> = HashMap::new();
        for (card, exit) in wired(plan) {
            let to = plan.diagram.cards[card].exits[exit].to;
            let (Some(from), Some(end)) = (plan.spot.get(&card), plan.spot.get(&to)) else {
                continue;
            };
            let (one, other) = (2 * from.row + 1, 2 * end.row);
            let key = (plan.column[from.row], from.lane, to);
            let span = spans.entry(key).or_insert((one, one));
            *span = (span.0.min(one).min(other), span.1.max(one).max(other));
            let cards = above.entry(end.row).or_default();
            if !cards.contains(&to) {
                cards.push(to);
            }
        }
        for cards in above.values_mut() {
            cards.sort_by_key(|card| plan.spot.get(card));
        }
        let beside = beside(spans);
        Self { beside, above }
    }

    pub(super) fn channel_height(&self, row: usize) -> f32 {
        let lines = self.above.get(&row).map_or(0, Vec::len);
        CHANNEL + TRACK * lines as f32
    }

    /// The lanes of a column, from left to right.
    pub(super) fn lanes_of(&self, plan: &Plan<'_>, column: usize, left: f32) -> Vec<Lane> {
        let rows = plan.rows.iter().zip(&plan.column);
        let rows = rows.filter(|(_, of)| **of == column);
        let count = rows.flat_map(|(row, _)| row.cards().map(|(lane, _)| lane + 1));
        let mut left = left;
        let mut lanes = Vec::new();
        for lane in 0..count.max().unwrap_or(1) {
            let tracks = self.beside.iter();
            let tracks = tracks.filter(|((of, beside, _), _)| (*of, *beside) == (column, lane));
            let tracks = tracks.map(|(_, track)| track + 1).max().unwrap_or(0);
            let right = left + card::WIDTH + GUTTER + TRACK * tracks as f32;
            lanes.push(Lane { left, right });
            left = right;
        }
        lanes
    }
}

/// The exits that are drawn as lines beside the cards.
fn wired<'p>(plan: &'p Plan<'_>) -> impl Iterator<Item = (usize, usize)> + 'p {
    let cards = plan.diagram.cards.iter().enumerate();
    cards
        .flat_map(|(card, it)| (0..it.exits.len()).map(move |exit| (card, exit)))
        .filter(|(card, exit)| plan.way(*card, *exit) == Way::Wire)
}

/// Gives each trunk a track; short ones run next to the cards.
fn beside(spans: BTreeMap<Trunk, (usize, usize)>) -> HashMap<Trunk, usize> {
    let mut spans: Vec<(Trunk, (usize, usize))> = spans.into_iter().collect();
    spans.sort_by_key(|(trunk, (from, to))| (to - from, *trunk));
    let mut taken: Vec<(Trunk, (usize, usize), usize)> = Vec::new();
    for (trunk, span) in spans {
        let meets = |other: &&(Trunk, (usize, usize), usize)| {
            (other.0.0, other.0.1) == (trunk.0, trunk.1)
                && other.1.0 <= span.1
                && span.0 <= other.1.1
        };
        let used: HashSet<usize> = taken.iter().filter(meets).map(|it| it.2).collect();
        let track = (0..).find(|track| !used.contains(track)).unwrap_or(0);
        taken.push((trunk, span, track));
    }
    taken
        .into_iter()
        .map(|(trunk, _, track)| (trunk, track))
        .collect()
}

/// Draws all lines onto a sheet whose cards have their places.
pub(super) fn wires(
    plan: &Plan<'_>,
    tracks: &Tracks,
    bodies: &HashMap<usize, Body>,
    sheet: &mut Sheet,
) {
    let at: HashMap<usize, &PlacedCard> = sheet.cards.iter().map(|it| (it.card, it)).collect();
    let mut wires = Vec::new();
    for (card, it) in plan.diagram.cards.iter().enumerate() {
        for (index, exit) in it.exits.iter().enumerate() {
            let (Some(from), Some(to)) = (at.get(&card), at.get(&exit.to)) else {
                continue;
            };
            let points = match plan.way(card, index) {
                Way::Number => continue,
                Way::Below => {
                    let x = from.rect.x + FROM_ABOVE;
                    vec![(x, from.rect.y + from.rect.height), (x, to.rect.y)]
                }
                Way::Wire => {
                    let exits = bodies.get(&card).map(|body| body.exits.as_slice());
                    let y = exits.and_then(|exits| exits.get(index)).copied();
                    let Some(y) = y else { continue };
                    corners(plan, tracks, (from, from.rect.y + y), to)
                }
            };
            let back =
                plan.spot.get(&exit.to).map(|it| it.row) <= plan.spot.get(&card).map(|it| it.row);
            wires.push(Wire { points, back });
        }
    }
    sheet.wires = wires;
}

fn corners(
    plan: &Plan<'_>,
    tracks: &Tracks,
    (from, y): (&PlacedCard, f32),
    to: &PlacedCard,
) -> Vec<(f32, f32)> {
    let (Some(start), Some(end)) = (plan.spot.get(&from.card), plan.spot.get(&to.card)) else {
        return Vec::new();
    };
    let trunk = (plan.column[start.row], start.lane, to.card);
    let track = tracks.beside.get(&trunk).copied().unwrap_or(0);
    let right = from.rect.x + card::WIDTH;
    let x = right + GUTTER * 0.55 + TRACK * track as f32;
    let lines = tracks.above.get(&end.row);
    let line = lines.and_then(|cards| cards.iter().position(|card| *card == to.card));
    let across = to.rect.y - CHANNEL * 0.62 - TRACK * line.unwrap_or(0) as f32;
    let arrive = to.rect.x + FROM_BESIDE;
    vec![
        (right, y),
        (x, y),
        (x, across),
        (arrive, across),
        (arrive, to.rect.y),
    ]
}
