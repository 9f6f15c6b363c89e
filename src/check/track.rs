//! Following one thing over all paths: what states it can be in at each step, across `run`.
//!
//! A *track* is a small automaton: one energy source, or one duty that is done or not. The walk
//! through a flow is summed up once for each state that the thing can enter it with (which
//! outcomes it can reach, in which states), so that the cost grows with the number of steps and
//! not with the number of paths. The method is the one of Reps, Horwitz and Sagiv,
//! "Precise interprocedural dataflow analysis via graph reachability" (POPL 1995). Distances
//! are kept, so that the walk shown for a finding is a shortest one.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap, HashMap};
use std::hash::Hash;
use std::rc::Rc;

use super::finding::Stop;
use super::ground::{Edge, Ground, Place};
use crate::flow::model::Act;

/// A thing that is followed.
pub(super) trait Track {
    /// How the thing is called inside a flow.
    type Frame: Clone + Eq + Hash;

    /// How many states there are; they are numbered from 0.
    fn states(&self) -> usize;

    /// The flows that begin a walk, with the states that the thing has there.
    fn begins(&self) -> Vec<(usize, Self::Frame, Vec<u8>)>;

    /// How the thing is called in the flow that a `run` step runs.
    fn enter(&self, frame: &Self::Frame, at: Place, flow: usize) -> Self::Frame;

    /// Whether nothing that happens in such a flow concerns the thing.
    fn is_idle(&self, _frame: &Self::Frame) -> bool {
        false
    }

    /// What is wrong with coming to a step in a state; also the state with which the walk goes
    /// on, as if it had been right, so that one fault is told once.
    fn arrive(&self, frame: &Self::Frame, at: Place, state: u8) -> Option<(u8, u8)>;

    /// The state after leaving a step by an edge; `outcome` is how a `run` step's flow ended.
    /// `None` where that edge cannot be taken in this state.
    fn leave(&self, frame: &Self::Frame, leaving: &Leaving, state: u8) -> Option<u8>;

    /// Whether answering a step may change the thing: a walk that runs a flow with such a step
    /// is shown with what happens inside.
    fn deals_with(&self, frame: &Self::Frame, at: Place) -> bool;

    /// A state in words, for the walk that is shown.
    fn describe(&self, state: u8) -> String;
}

/// Leaving a step.
#[derive(Clone, Copy, Debug)]
pub(super) struct Leaving {
    pub(super) at: Place,
    pub(super) edge: Edge,
    pub(super) outcome: Option<usize>,
}

/// Something wrong at a step.
#[derive(Clone, Debug)]
pub(super) struct Wrong {
    pub(super) at: Place,
    /// What, as the track numbers it.
    pub(super) what: u8,
    /// The state in which the step was come to.
    pub(super) state: u8,
    /// A shortest walk to it.
    pub(super) walk: Vec<Stop>,
}

const FAR: u32 = u32::MAX;

/// How a node was first reached.
#[derive(Clone, Copy)]
struct Reached {
    far: u32,
    from: u32,
    outcome: u32,
}

/// One walk over a flow from one state: how far each step in each state is.
struct Explored {
    nodes: Vec<Reached>,
    /// Outcome, state there, distance.
    exits: Vec<(usize, u8, u32)>,
}

/// Such a walk while it goes on. It waits for those of the flows that it runs on a list and not
/// on the program's stack, which a long chain of flows would be too much for.
struct Exploring {
    key: (usize, u8),
    nodes: Vec<Reached>,
    exits: BTreeMap<(usize, u8), u32>,
    waiting: BinaryHeap<Reverse<(u32, usize)>>,
}

impl Exploring {
    /// A node is come to, so far from the start, from a node and by an outcome.
    fn come(&mut self, node: usize, far: u32, (from, outcome): (usize, Option<usize>)) {
        if far < self.nodes[node].far {
            self.nodes[node] = Reached {
                far,
                from: small(from),
                outcome: outcome.map_or(FAR, small),
            };
            self.waiting.push(Reverse((far, node)));
        }
    }

    fn done(self) -> Explored {
        let exits = self.exits.into_iter();
        let exits = exits.map(|((outcome, state), far)| (outcome, state, far));
        Explored {
            nodes: self.nodes,
            exits: exits.collect(),
        }
    }
}

/// How a step ended: the outcome of what it ran, the state then, the distance inside.
type Ended = (Option<usize>, u8, u32);

struct Solver<'s, 'a, T: Track> {
    ground: &'s Ground<'a>,
    track: &'s T,
    frames: Vec<(usize, T::Frame)>,
    numbers: HashMap<(usize, T::Frame), usize>,
    explored: HashMap<(usize, u8), Rc<Explored>>,
}

/// A flow come to with the thing in a state, and from where.
#[derive(Clone, Copy)]
struct Come {
    far: u32,
    caller: Option<((usize, u8), u32)>,
}

/// Frames with entry states that wait to be looked at, by their flow's rank.
type Waiting = BTreeSet<(usize, usize, u8)>;

/// The nearest node at which something is wrong, in the frame and entry state of `key`.
struct Nearest {
    far: u32,
    key: (usize, u8),
    node: u32,
}

/// Everything that is wrong on any path, each with a shortest walk to it.
pub(super) fn solve<T: Track>(ground: &Ground<'_>, track: &T) -> Vec<Wrong> {
    let mut solver = Solver {
        ground,
        track,
        frames: Vec::new(),
        numbers: HashMap::new(),
        explored: HashMap::new(),
    };
    solver.solve()
}

impl<T: Track> Solver<'_, '_, T> {
    fn solve(&mut self) -> Vec<Wrong> {
        let rank = self.ranks();
        let (mut come, mut waiting) = self.first(&rank);
        let mut wrong: BTreeMap<(Place, u8), Nearest> = BTreeMap::new();
        while let Some((_, frame, entry)) = waiting.pop_first() {
            let (flow, name) = self.frames[frame].clone();
            if self.track.is_idle(&name) {
                continue;
            }
            let far = come[&(frame, entry)].far;
            let explored = self.explore(frame, entry);
            for (node, reached) in explored.nodes.iter().enumerate() {
                if reached.far == FAR {
                    continue;
                }
                let (step, state) = self.node(node);
                let at = Place { flow, step };
                let here = far.saturating_add(reached.far);
                let mut state_there = state;
                if let Some((what, as_if)) = self.track.arrive(&name, at, state) {
                    let key = (frame, entry);
                    let node = small(node);
                    let known = wrong.entry((at, what)).or_insert(Nearest {
                        far: FAR,
                        key,
                        node,
                    });
                    if here < known.far {
                        *known = Nearest {
                            far: here,
                            key,
                            node,
                        };
                    }
                    state_there = as_if;
                }
                if let Some(run) = self.ground.flow(flow).runs[step] {
                    let inner = self.track.enter(&name, at, run);
                    let inner = self.number(run, inner);
                    let key = (inner, state_there);
                    let better = come.get(&key).is_none_or(|known| here < known.far);
                    if better {
                        let caller = Some(((frame, entry), small(node)));
                        come.insert(key, Come { far: here, caller });
                        waiting.insert((rank[run], inner, state_there));
                    }
                }
            }
        }
        wrong
            .into_iter()
            .map(|((at, what), nearest)| Wrong {
                at,
                what,
                state: self.node(nearest.node as usize).1,
                walk: self.walk(&come, nearest.key, nearest.node),
            })
            .collect()
    }

    /// For each flow its place in an order in which all that run it come before.
    fn ranks(&self) -> Vec<usize> {
        let mut rank = vec![0; self.ground.flows.len()];
        for (at, flow) in self.ground.runners_first.iter().enumerate() {
            rank[*flow] = at;
        }
        rank
    }

    /// Where walks begin: how far that is, and what waits to be looked at by its rank.
    fn first(&mut self, rank: &[usize]) -> (HashMap<(usize, u8), Come>, Waiting) {
        let mut come = HashMap::new();
        let mut waiting = Waiting::new();
        for (flow, frame, states) in self.track.begins() {
            let number = self.number(flow, frame);
            for state in states {
                let begin = Come {
                    far: 0,
                    caller: None,
                };
                come.insert((number, state), begin);
                waiting.insert((rank[flow], number, state));
            }
        }
        (come, waiting)
    }

    fn number(&mut self, flow: usize, frame: T::Frame) -> usize {
        let key = (flow, frame);
        if let Some(number) = self.numbers.get(&key) {
            return *number;
        }
        let number = self.frames.len();
        self.frames.push(key.clone());
        self.numbers.insert(key, number);
        number
    }

    fn node(&self, node: usize) -> (usize, u8) {
        let states = self.track.states();
        let state = u8::try_from(node % states).unwrap_or(0);
        (node / states, state)
    }

    fn explore(&mut self, frame: usize, entry: u8) -> Rc<Explored> {
        let mut under_way: Vec<Exploring> = Vec::new();
        loop {
            if let Some(explored) = self.explored.get(&(frame, entry)) {
                return Rc::clone(explored);
            }
            let innermost = under_way.pop();
            let mut innermost = innermost.unwrap_or_else(|| self.begin((frame, entry)));
            match self.go_on(&mut innermost) {
                Some(inner) => {
                    let inner = self.begin(inner);
                    under_way.extend([innermost, inner]);
                }
                None => {
                    let key = innermost.key;
                    self.explored.insert(key, Rc::new(innermost.done()));
                }
            }
        }
    }

    fn begin(&self, key: (usize, u8)) -> Exploring {
        let graph = self.ground.flow(self.frames[key.0].0);
        let states = self.track.states();
        let unreached = Reached {
            far: FAR,
            from: FAR,
            outcome: FAR,
        };
        let mut nodes = vec![unreached; graph.steps.len() * states];
        let begin = graph.start * states + usize::from(key.1);
        nodes[begin].far = 0;
        Exploring {
            key,
            nodes,
            exits: BTreeMap::new(),
            waiting: BinaryHeap::from([Reverse((0, begin))]),
        }
    }

    /// Walks on to the end, or until a flow that it runs is to be looked at first: which, and in
    /// which state it is entered.
    fn go_on(&mut self, walk: &mut Exploring) -> Option<(usize, u8)> {
        let ground = self.ground;
        let (flow, name) = self.frames[walk.key.0].clone();
        let graph = ground.flow(flow);
        while let Some(Reverse((far, node))) = walk.waiting.pop() {
            if far > walk.nodes[node].far {
                continue;
            }
            let (step, came) = self.node(node);
            let at = Place { flow, step };
            let arrived = self.track.arrive(&name, at, came);
            let state = arrived.map_or(came, |(_, as_if)| as_if);
            if let Act::Finish { outcome } = &graph.steps[step].act {
                let exit = walk.exits.entry((graph.outcome(outcome), state));
                exit.or_insert(far);
                continue;
            }
            let ends = match graph.runs[step] {
                Some(run) => {
                    let inner = self.track.enter(&name, at, run);
                    let inner = self.number(run, inner);
                    match self.exits(inner, state) {
                        Ok(ends) => ends,
                        Err(first) => {
                            walk.waiting.push(Reverse((far, node)));
                            return Some(first);
                        }
                    }
                }
                None => vec![(None, state, 0)],
            };
            for (outcome, state, inside) in ends {
                for edge in &graph.edges[step] {
                    let leaving = Leaving {
                        at,
                        edge: *edge,
                        outcome,
                    };
                    if let Some(then) = self.track.leave(&name, &leaving, state) {
                        let next = edge.to * self.track.states() + usize::from(then);
                        let far = far.saturating_add(inside).saturating_add(1);
                        walk.come(next, far, (node, outcome));
                    }
                }
            }
        }
        None
    }

    /// The ways out of a frame that is entered in a state: outcome, state, distance. Where it was
    /// not looked at yet, what is to be.
    fn exits(&self, frame: usize, entry: u8) -> Result<Vec<Ended>, (usize, u8)> {
        let is_idle = self.track.is_idle(&self.frames[frame].1);
        let key = (frame, if is_idle { 0 } else { entry });
        let explored = self.explored.get(&key).ok_or(key)?;
        let exits = explored.exits.iter().map(|(outcome, state, far)| {
            let state = if is_idle { entry } else { *state };
            (Some(*outcome), state, *far)
        });
        Ok(exits.collect())
    }

    /// A shortest walk to a node, through the runners of its flow.
    fn walk(&self, come: &HashMap<(usize, u8), Come>, key: (usize, u8), node: u32) -> Vec<Stop> {
        let mut parts: Vec<Vec<Stop>> = Vec::new();
        let mut at = Some((key, node));
        while let Some((key, node)) = at {
            parts.push(self.walk_within(key, node));
            at = come.get(&key).and_then(|come| come.caller);
        }
        parts.into_iter().rev().flatten().collect()
    }

    fn walk_within(&self, key: (usize, u8), node: u32) -> Vec<Stop> {
        let Some(explored) = self.explored.get(&key) else {
            return Vec::new();
        };
        let (flow, name) = &self.frames[key.0];
        let flow = *flow;
        let mut stops = Vec::new();
        let mut node = node;
        let (mut ended, mut then) = (FAR, self.node(node as usize).1);
        let mut next = FAR;
        while let Some(reached) = explored.nodes.get(node as usize) {
            let (step, state) = self.node(node as usize);
            let at = Place { flow, step };
            let notes = [
                self.ended(at, ended),
                (then != state).then(|| self.track.describe(then)),
            ];
            let notes: Vec<String> = notes.into_iter().flatten().collect();
            let note = (!notes.is_empty()).then(|| notes.join(", "));
            let inside = self.walk_inside(name, (at, state), ended, next);
            stops.extend(inside.into_iter().rev());
            stops.push(self.ground.stop(at, note));
            ended = reached.outcome;
            then = state;
            next = node;
            node = reached.from;
        }
        stops.reverse();
        stops
    }

    /// What happens inside a flow that a walk runs, to the end with which it goes on to `next`;
    /// nothing where the flow does not deal with the thing.
    fn walk_inside(
        &self,
        name: &T::Frame,
        (at, came): (Place, u8),
        ended: u32,
        next: u32,
    ) -> Vec<Stop> {
        let graph = self.ground.flow(at.flow);
        let (Some(run), false) = (graph.runs[at.step], next == FAR) else {
            return Vec::new();
        };
        let inner = self.track.enter(name, at, run);
        let steps = 0..self.ground.flow(run).steps.len();
        let mut places = steps.map(|step| Place { flow: run, step });
        if !places.any(|place| self.track.deals_with(&inner, place)) {
            return Vec::new();
        }
        let arrived = self.track.arrive(name, at, came);
        let state = arrived.map_or(came, |(_, as_if)| as_if);
        let frame = self.numbers.get(&(run, inner.clone()));
        let key = frame.map(|frame| (*frame, state));
        let explored = key.and_then(|key| self.explored.get(&key));
        let (Some(key), Some(explored)) = (key, explored) else {
            return Vec::new();
        };
        let (to, then) = self.node(next as usize);
        let goes_on = |state: u8| {
            let outcome = Some(ended as usize);
            let edges = graph.edges[at.step].iter().filter(|edge| edge.to == to);
            let mut after = edges.map(|edge| {
                let edge = *edge;
                self.track
                    .leave(name, &Leaving { at, edge, outcome }, state)
            });
            after.any(|after| after == Some(then))
        };
        let is_end = |node: usize| {
            let (step, state) = self.node(node);
            let place = Place { flow: run, step };
            let arrived = self.track.arrive(&inner, place, state);
            let state = arrived.map_or(state, |(_, as_if)| as_if);
            match &self.ground.step(place).act {
                Act::Finish { outcome } => {
                    self.ground.flow(run).outcome(outcome) == ended as usize && goes_on(state)
                }
                _ => false,
            }
        };
        let ends = explored.nodes.iter().enumerate();
        let ends = ends.filter(|(node, reached)| reached.far != FAR && is_end(*node));
        let end = ends.min_by_key(|(_, reached)| reached.far);
        end.map_or_else(Vec::new, |(node, _)| self.walk_within(key, small(node)))
    }

    /// How the flow ended that a `run` step on a walk ran.
    fn ended(&self, at: Place, outcome: u32) -> Option<String> {
        let run = self.ground.flow(at.flow).runs[at.step]?;
        let outcomes = &self.ground.flow(run).flow.outcomes;
        let (name, _) = outcomes.get_index(outcome as usize)?;
        Some(format!("{}: {name}", self.ground.flow(run).flow.name))
    }
}

fn small(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(FAR)
}
