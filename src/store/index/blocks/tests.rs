//! Blocks held against a plain map, also by readers on the way while they change.

use std::cell::Cell;
use std::collections::BTreeMap;

use proptest::collection::vec;
use proptest::prelude::*;

use super::*;

type Map = BTreeMap<Vec<u8>, Vec<u8>>;

impl Shelf for Map {
    type Bytes = Vec<u8>;

    fn first(&self, from: Bound<&[u8]>) -> Result<Option<Lying<Vec<u8>>>, StoreError> {
        let mut blocks = self.range::<[u8], _>((from, Bound::Unbounded));
        let found = blocks.next();
        Ok(found.map(|(bound, block)| Lying {
            bound: bound.clone(),
            block: block.clone(),
        }))
    }
}

fn make(blocks: &mut Map, changes: &BTreeMap<Vec<u8>, Option<Vec<u8>>>) {
    let changes = changes.iter();
    let changes = changes.map(|(key, value)| (key.as_slice(), value.as_deref()));
    for (bound, block) in changed(&*blocks, changes).unwrap() {
        match block {
            Some(block) => blocks.insert(bound, block),
            None => blocks.remove(&bound),
        };
    }
}

fn all(blocks: &Map, from: Bound<&[u8]>) -> Map {
    rows_from(blocks, from).map(Result::unwrap).collect()
}

/// Blocks that change while somebody reads them.
struct Changing<'b> {
    before: &'b Map,
    after: &'b Map,
    /// So many blocks are found before they change.
    left: Cell<usize>,
}

impl Shelf for Changing<'_> {
    type Bytes = Vec<u8>;

    fn first(&self, from: Bound<&[u8]>) -> Result<Option<Lying<Vec<u8>>>, StoreError> {
        match self.left.get().checked_sub(1) {
            Some(left) => {
                self.left.set(left);
                self.before.first(from)
            }
            None => self.after.first(from),
        }
    }
}

/// Keys that often begin alike, with values of all lengths, and some that go.
fn changes() -> impl Strategy<Value = BTreeMap<Vec<u8>, Option<Vec<u8>>>> {
    let key = (0u8..3, 0u16..400).prop_map(|(part, number)| {
        let number = number.to_be_bytes();
        [[part].as_slice(), &[7; 30], &number].concat()
    });
    let length = prop_oneof![8 => Just(0usize), 4 => 0usize..200, 1 => 1_500usize..6_000];
    let value = length.prop_map(|length| vec![1; length]);
    let change = proptest::option::weighted(0.6, value);
    proptest::collection::btree_map(key, change, 0..120)
}

proptest! {
    #[test]
    fn blocks_hold_what_a_map_would(rounds in vec(changes(), 1..12)) {
        let (mut blocks, mut model) = (Map::new(), Map::new());
        for changes in rounds {
            let before = blocks.clone();
            make(&mut blocks, &changes);
            for (key, value) in &changes {
                match value {
                    Some(value) => model.insert(key.clone(), value.clone()),
                    None => model.remove(key),
                };
                prop_assert_eq!(&get(&blocks, key).unwrap(), value);
            }
            prop_assert_eq!(&all(&blocks, Bound::Unbounded), &model);
            for (bound, block) in &blocks {
                let alone = Map::from([(bound.clone(), block.clone())]);
                let rows = rows_from(&alone, Bound::Unbounded);
                let rows: Vec<Pair> = rows.map(Result::unwrap).collect();
                prop_assert!(rows.iter().all(|(key, _)| key <= bound));
                let last = rows.last().map(weight);
                prop_assert!(last.is_some_and(|last| block.len() <= LONGEST + last));
            }
            // A reader who is on the way while they change meets everything that stays.
            for found in 0..=before.len() {
                let changing = Changing {
                    before: &before,
                    after: &blocks,
                    left: Cell::new(found),
                };
                let met = rows_from(&changing, Bound::Unbounded);
                let met: Vec<Pair> = met.map(Result::unwrap).collect();
                prop_assert!(met.is_sorted_by(|(one, _), (next, _)| one < next));
                let met: Map = met.into_iter().collect();
                let stay = model.iter().filter(|(key, _)| !changes.contains_key(*key));
                for (key, value) in stay {
                    prop_assert_eq!(met.get(key), Some(value));
                }
            }
        }
    }

    #[test]
    fn a_range_begins_where_it_should(changes in changes(), number in 0u16..400) {
        let mut blocks = Map::new();
        make(&mut blocks, &changes);
        let from = [[1].as_slice(), &[7; 30], &number.to_be_bytes()].concat();
        for from in [Bound::Included(from.as_slice()), Bound::Excluded(&from)] {
            let range = changes.range::<[u8], _>((from, Bound::Unbounded));
            let model = range.filter_map(|(key, value)| Some((key.clone(), value.clone()?)));
            prop_assert_eq!(all(&blocks, from), model.collect::<Map>());
        }
    }

    #[test]
    fn other_bytes_are_an_error_and_no_panic(block in vec(any::<u8>(), 0..40)) {
        let shelf = Map::from([(LAST.to_vec(), block)]);
        let _ = get(&shelf, b"key");
        let _ = rows_from(&shelf, Bound::Unbounded).collect::<Result<Vec<_>, _>>();
    }
}

#[test]
fn many_short_rows_take_few_blocks_also_after_most_are_gone() {
    let key = |number: u32| [b"\x07\x05found".as_slice(), &number.to_be_bytes()].concat();
    let mut blocks = Map::new();
    make(
        &mut blocks,
        &(0..10_000)
            .map(|number| (key(number), Some(Vec::new())))
            .collect(),
    );
    assert!(blocks.len() < 200, "{}", blocks.len());
    let gone = (0..10_000).filter(|number| number % 50 != 0);
    make(
        &mut blocks,
        &gone.map(|number| (key(number), None)).collect(),
    );
    assert!(blocks.len() < 20, "{}", blocks.len());
    assert_eq!(all(&blocks, Bound::Unbounded).len(), 200);
}
