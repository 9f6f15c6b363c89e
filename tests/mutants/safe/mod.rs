//! What leaves a safe flow safe: no operator here may bring an error.

mod more;
mod names;
mod split;

use super::proof::Operator;

/// Every operator.
pub(super) fn operators() -> Vec<Operator> {
    [names::OPERATORS, more::OPERATORS, split::OPERATORS]
        .into_iter()
        .flatten()
        .map(|(name, make)| Operator {
            name,
            finds: &[],
            make: *make,
        })
        .collect()
}

/// A row of an operator table.
type Row = (
    &'static str,
    fn(&super::shelf::Shelf) -> Vec<super::proof::Change>,
);
