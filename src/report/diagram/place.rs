//! From rows to a sheet: columns, cards with their places, regions of one energy state, phases.

use std::collections::{BTreeSet, HashMap};

use super::card::{self, Body, Line, Way, WayOut};
use super::energy::Energy;
use super::measure::{Weight, width, wrap};
use super::model::Diagram;
use super::order::{Row, rows};
use super::route::{self, Spot, Tracks};

/// The most cards beside each other in a column.
const LANES: usize = 2;
/// The width of a sheet over its height, as near as columns allow: a sheet of A-series paper.
const SHAPE: f32 = 1.414;
/// A line beside the cards goes over at most so many rows; farther ways are told by number.
const REACH: usize = 6;
pub(super) const MARGIN: f32 = 28.0;
const BETWEEN_COLUMNS: f32 = 26.0;
/// Between a region's edge and what stands in it.
const INSET: f32 = 14.0;
const STRIP_SIZE: f32 = 15.0;
pub(super) const LABEL_SIZE: f32 = 12.0;
const TITLE_SIZE: f32 = 30.0;

/// A rectangle on the sheet.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Rect {
    /// Its left edge.
    pub x: f32,
    /// Its top.
    pub y: f32,
    /// Its width.
    pub width: f32,
    /// Its height.
    pub height: f32,
}

impl Rect {
    /// Whether two of them share any point inside.
    pub fn overlaps(&self, other: &Self) -> bool {
        self.x < other.x + other.width
            && other.x < self.x + self.width
            && self.y < other.y + other.height
            && other.y < self.y + self.height
    }
}

/// A card in its place.
#[derive(Clone, Debug)]
pub struct PlacedCard {
    /// Which card of the diagram.
    pub card: usize,
    /// Its number on the sheet.
    pub number: usize,
    /// Its place.
    pub rect: Rect,
    /// How high its head is.
    pub head_height: f32,
    /// Its lines.
    pub lines: Vec<Line>,
    /// Rules above its exits.
    pub rules: Vec<f32>,
    /// Its exits.
    pub ways: Vec<WayOut>,
}

/// A line from an exit to a card.
#[derive(Clone, Debug, PartialEq)]
pub struct Wire {
    /// Its corners.
    pub points: Vec<(f32, f32)>,
    /// Whether it goes back up.
    pub back: bool,
}

/// A stretch of a column in one energy state.
#[derive(Clone, Debug)]
pub struct Region {
    /// Its place.
    pub rect: Rect,
    /// Its state.
    pub energy: Energy,
    /// The state in words.
    pub label: Line,
}

/// A phase's title over a stretch of a column.
#[derive(Clone, Debug)]
pub struct Strip {
    /// Its place.
    pub rect: Rect,
    /// The title.
    pub lines: Vec<Line>,
}

/// A diagram in which everything has its place.
#[derive(Clone, Debug, Default)]
pub struct Sheet {
    /// Its width.
    pub width: f32,
    /// Its height without the legend.
    pub height: f32,
    /// The lines at its head.
    pub head: Vec<Line>,
    /// All cards, in the order of their numbers.
    pub cards: Vec<PlacedCard>,
    /// All lines.
    pub wires: Vec<Wire>,
    /// All regions.
    pub regions: Vec<Region>,
    /// All phases.
    pub strips: Vec<Strip>,
}

/// What is known before anything has coordinates.
pub(super) struct Plan<'a> {
    pub(super) diagram: &'a Diagram,
    pub(super) rows: Vec<Row>,
    /// The column of each row.
    pub(super) column: Vec<usize>,
    /// Row and lane of each card.
    pub(super) spot: HashMap<usize, Spot>,
    /// The number of each card.
    pub(super) number: HashMap<usize, usize>,
}

/// Gives everything its place.
pub fn sheet(diagram: &Diagram) -> Sheet {
    let rows = rows(diagram, LANES);
    let mut spot = HashMap::new();
    let mut number = HashMap::new();
    for (row, cards) in rows.iter().enumerate() {
        for (lane, card) in cards.cards() {
            spot.insert(card, Spot { row, lane });
            number.insert(card, number.len() + 1);
        }
    }
    let mut plan = Plan {
        diagram,
        column: vec![0; rows.len()],
        rows,
        spot,
        number,
    };
    let bodies = plan.bodies(|_, _| Way::Number);
    plan.column = columns(&plan.rows, &bodies);
    plan.close_up();
    plan.placed()
}

/// How many columns, and which rows stand in which.
fn columns(rows: &[Row], bodies: &HashMap<usize, Body>) -> Vec<usize> {
    let height = |row: &Row| {
        let cards = row.cards().filter_map(|(_, card)| bodies.get(&card));
        cards.map(|body| body.height).fold(0.0, f32::max) + 34.0
    };
    let heights: Vec<f32> = rows.iter().map(height).collect();
    let total: f32 = heights.iter().sum();
    let lanes = rows.iter().flat_map(Row::cards).map(|(lane, _)| lane + 1);
    let lanes = lanes.max().unwrap_or(1) as f32;
    let wide = lanes * (card::WIDTH + 40.0) + BETWEEN_COLUMNS + 2.0 * INSET;
    let shape = |count: &usize| {
        let count = *count as f32;
        (count * wide * count / (total + 150.0 * count) / SHAPE)
            .ln()
            .abs()
    };
    let count = (1..=16usize).min_by(|a, b| shape(a).total_cmp(&shape(b)));
    let count = count.unwrap_or(1);
    // The least height at which the columns are enough, so that all are filled alike.
    let (mut low, mut high) = (total / count as f32, total + 1.0);
    for _ in 0..24 {
        let middle = (low + high) / 2.0;
        if filled(rows, &heights, middle).last().copied().unwrap_or(0) < count {
            high = middle;
        } else {
            low = middle;
        }
    }
    filled(rows, &heights, high)
}

/// The column of each row when a column may be so high. It may end early before a new phase.
fn filled(rows: &[Row], heights: &[f32], room: f32) -> Vec<usize> {
    let (mut column, mut filled) = (0, 0.0);
    let mut of = Vec::new();
    for (row, height) in heights.iter().enumerate() {
        let fresh = row > 0 && rows[row].phase != rows[row - 1].phase;
        if filled > 0.0 && (filled + height > room || (fresh && filled > 0.85 * room)) {
            column += 1;
            filled = 0.0;
        }
        filled += height;
        of.push(column);
    }
    of
}

impl Plan<'_> {
    /// Moves cards to the left where a lane of their column is empty from top to bottom.
    fn close_up(&mut self) {
        let count = self.column.iter().max().map_or(0, |last| last + 1);
        for column in 0..count {
            let rows = (0..self.rows.len()).filter(|row| self.column[*row] == column);
            let rows: Vec<usize> = rows.collect();
            let cards = rows.iter().flat_map(|row| self.rows[*row].cards());
            let used: BTreeSet<usize> = cards.map(|(lane, _)| lane).collect();
            for row in rows {
                let cards: Vec<(usize, usize)> = self.rows[row].cards().collect();
                for (from, card) in cards {
                    let lane = used.range(..from).count();
                    self.rows[row].lanes.swap(from, lane);
                    self.spot.insert(card, Spot { row, lane });
                }
            }
        }
    }

    fn bodies(&self, way: impl Fn(usize, usize) -> Way) -> HashMap<usize, Body> {
        let ways: HashMap<usize, Vec<WayOut>> = self
            .spot
            .keys()
            .map(|card| (*card, self.ways(*card, &way)))
            .collect();
        ways.iter()
            .map(|(card, ways_out)| {
                let number = self.number.get(card).copied().unwrap_or(0);
                let here = |(other, ways): (&usize, &Vec<WayOut>)| {
                    let told = |out: &WayOut| out.to == number && out.way == Way::Number;
                    let from = self.number.get(other).copied()?;
                    ways.iter().any(told).then_some(from)
                };
                let mut from: Vec<usize> = ways.iter().filter_map(here).collect();
                from.sort_unstable();
                let body = card::set(&self.diagram.cards[*card], number, ways_out, &from);
                (*card, body)
            })
            .collect()
    }

    fn ways(&self, card: usize, way: impl Fn(usize, usize) -> Way) -> Vec<WayOut> {
        let exits = self.diagram.cards[card].exits.iter().enumerate();
        exits
            .map(|(index, exit)| WayOut {
                when: exit.when.clone(),
                to: self.number.get(&exit.to).copied().unwrap_or(0),
                way: way(card, index),
            })
            .collect()
    }

    /// How an exit is drawn, now that the columns are known.
    pub(super) fn way(&self, card: usize, exit: usize) -> Way {
        let exits = &self.diagram.cards[card].exits;
        let (Some(from), Some(to)) = (
            self.spot.get(&card),
            exits.get(exit).and_then(|exit| self.spot.get(&exit.to)),
        ) else {
            return Way::Number;
        };
        let first = exits.iter().position(|other| other.to == exits[exit].to) == Some(exit);
        if self.column[from.row] != self.column[to.row] || from.row.abs_diff(to.row) > REACH {
            Way::Number
        } else if first && to.row == from.row + 1 && to.lane == from.lane {
            Way::Below
        } else {
            Way::Wire
        }
    }

    fn placed(&self) -> Sheet {
        let bodies = self.bodies(|card, exit| self.way(card, exit));
        let tracks = Tracks::of(self);
        let mut sheet = Sheet::default();
        let top = self.head(&mut sheet);
        let mut left = MARGIN;
        let mut bottom = top;
        let count = self.column.iter().max().map_or(0, |last| last + 1);
        for column in 0..count {
            let lanes = tracks.lanes_of(self, column, left + INSET);
            let right = lanes.last().map_or(left, |lane| lane.right) + INSET / 2.0;
            let mut at = ColumnAt {
                left,
                width: right - left,
                y: top,
                lanes: lanes.iter().map(|lane| lane.left).collect(),
            };
            for row in (0..self.rows.len()).filter(|row| self.column[*row] == column) {
                self.row(&mut sheet, &mut at, row, (&bodies, &tracks));
            }
            bottom = bottom.max(at.y);
            left = right + BETWEEN_COLUMNS;
        }
        sheet.width = (left - BETWEEN_COLUMNS + MARGIN).max(3.0 * card::WIDTH);
        sheet.height = bottom + MARGIN;
        sheet.cards.sort_by_key(|card| card.number);
        route::wires(self, &tracks, &bodies, &mut sheet);
        sheet
    }

    fn head(&self, sheet: &mut Sheet) -> f32 {
        let steps = self.diagram.cards.len();
        let under = format!(
            "Flow {}: {steps} steps. Local codes, the rules of the site and licensed practice \
             prevail.",
            self.diagram.name
        );
        let mut y = MARGIN;
        for (text, size, weight) in [
            (self.diagram.title.as_str(), TITLE_SIZE, Weight::Bold),
            (under.as_str(), STRIP_SIZE, Weight::Plain),
        ] {
            for text in wrap(text, 3.0 * card::WIDTH - 2.0 * MARGIN, size, weight) {
                y += size * 1.3;
                sheet.head.push(Line {
                    x: MARGIN,
                    y: y - size * 0.3,
                    text,
                    size,
                    weight,
                });
            }
        }
        y + 14.0
    }

    fn row(
        &self,
        sheet: &mut Sheet,
        at: &mut ColumnAt,
        row: usize,
        (bodies, tracks): (&HashMap<usize, Body>, &Tracks),
    ) {
        let here = &self.rows[row];
        let above = row
            .checked_sub(1)
            .filter(|above| self.column[*above] == self.column[row]);
        let above = above.map(|above| &self.rows[above]);
        let fresh_phase = above.is_none_or(|above| above.phase != here.phase);
        if fresh_phase {
            let goes_on = row > 0 && self.rows[row - 1].phase == here.phase;
            self.strip(sheet, at, here.phase, goes_on);
        }
        if fresh_phase || above.is_none_or(|above| above.energy != here.energy) {
            sheet.regions.push(region(at, here.energy));
            at.y += LABEL_SIZE + 8.0;
        }
        at.y += tracks.channel_height(row);
        let mut height: f32 = 0.0;
        for (lane, card) in here.cards() {
            let (Some(body), Some(x)) = (bodies.get(&card), at.lanes.get(lane).copied()) else {
                continue;
            };
            height = height.max(body.height);
            let rect = Rect {
                x,
                y: at.y,
                width: card::WIDTH,
                height: body.height,
            };
            let lines = body.lines.iter().cloned();
            sheet.cards.push(PlacedCard {
                card,
                number: self.number.get(&card).copied().unwrap_or(0),
                rect,
                head_height: body.head_height,
                lines: lines.map(|line| line.moved(x, at.y)).collect(),
                rules: body.rules.iter().map(|rule| rule + at.y).collect(),
                ways: self.ways(card, |card, exit| self.way(card, exit)),
            });
        }
        at.y += height + 10.0;
        if let Some(region) = sheet.regions.last_mut() {
            region.rect.height = at.y - region.rect.y;
        }
    }

    fn strip(&self, sheet: &mut Sheet, at: &mut ColumnAt, phase: usize, goes_on: bool) {
        let Some(title) = self.diagram.phases.get(phase).filter(|it| !it.is_empty()) else {
            return;
        };
        let title = if goes_on {
            format!("{title} (goes on)")
        } else {
            title.clone()
        };
        let top = at.y + 6.0;
        let mut y = top + 4.0;
        let mut lines = Vec::new();
        for text in wrap(&title, at.width - 2.0 * INSET, STRIP_SIZE, Weight::Bold) {
            y += STRIP_SIZE * 1.3;
            lines.push(Line {
                x: at.left + INSET,
                y: y - STRIP_SIZE * 0.3,
                text,
                size: STRIP_SIZE,
                weight: Weight::Bold,
            });
        }
        at.y = y + 5.0;
        let rect = Rect {
            x: at.left,
            y: top,
            width: at.width,
            height: at.y - top,
        };
        sheet.strips.push(Strip { rect, lines });
    }
}

/// How far a column is filled.
struct ColumnAt {
    left: f32,
    width: f32,
    y: f32,
    lanes: Vec<f32>,
}

fn region(at: &ColumnAt, energy: Energy) -> Region {
    let text = energy.words().to_owned();
    debug_assert!(width(&text, LABEL_SIZE, Weight::Bold) < at.width);
    Region {
        rect: Rect {
            x: at.left,
            y: at.y,
            width: at.width,
            height: 0.0,
        },
        energy,
        label: Line {
            x: at.left + INSET,
            y: at.y + LABEL_SIZE + 3.0,
            text,
            size: LABEL_SIZE,
            weight: Weight::Bold,
        },
    }
}
