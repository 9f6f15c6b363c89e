//! What makes a safe flow unsafe: every operator with the findings of which one must come of it.

mod charges;
mod locks;
mod order;
mod proofs;
mod shape;

use super::proof::Operator;

/// Every operator.
pub(super) fn operators() -> Vec<Operator> {
    [
        proofs::OPERATORS,
        charges::OPERATORS,
        order::OPERATORS,
        locks::OPERATORS,
        shape::OPERATORS,
    ]
    .into_iter()
    .flatten()
    .map(|(name, finds, make)| Operator {
        name,
        finds,
        make: *make,
    })
    .collect()
}

/// A row of an operator table.
type Row = (
    &'static str,
    &'static [&'static str],
    fn(&super::shelf::Shelf) -> Vec<super::proof::Change>,
);

/// Every n-th of many alike, so that each operator has its share of the time; all of them where
/// the environment says `MUTANTS=all`.
pub(super) fn thinned<T>(all: Vec<T>, most: usize) -> Vec<T> {
    let whole = std::env::var("MUTANTS").is_ok_and(|it| it == "all");
    let most = if whole { all.len() } else { most };
    let stride = all.len().div_ceil(most.max(1)).max(1);
    all.into_iter().step_by(stride).collect()
}
