//! How far a log has come: its size, and the unfinished tile of each level of tiles.
//!
//! Promises that appending needs nothing that is not here, and that each tile is handed out once,
//! when it is full; refuses unfinished tiles that do not go with the size.

use super::hash::Hash;
use super::tree::{self, RightEdge};

/// Hashes of a full tile (C2SP tlog-tiles).
const FULL_WIDTH: usize = 256;

/// Levels of tiles that a log of 2^64 entries has.
const MOST_LEVELS: usize = 8;

/// The unfinished tiles do not go with the size.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the unfinished tiles of the log do not go with its size, {size}")]
pub struct HeadError {
    /// The size that was given.
    pub size: u64,
}

/// A tile that has all its hashes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FullTile {
    /// 0 for leaf hashes.
    pub level: u32,
    /// Counted from 0 within the level.
    pub index: u64,
    /// 256 hashes.
    pub hashes: Vec<Hash>,
}

/// The head of a log.
///
/// ```
/// use domain::ledger::{head::Head, tree, Hash};
/// let leaves: Vec<Hash> = (0_u16..300).map(|leaf| Hash::of_leaf(&leaf.to_be_bytes())).collect();
/// let mut head = Head::default();
/// let mut full = Vec::new();
/// leaves.iter().for_each(|leaf| head.append(*leaf, &mut full));
/// assert_eq!((head.size(), head.root()), (300, tree::root(&leaves)));
/// assert_eq!((full.len(), full[0].level, full[0].index), (1, 0, 0));
/// assert_eq!(Head::new(300, head.unfinished().to_vec())?, head);
/// assert!(Head::new(301, head.unfinished().to_vec()).is_err());
/// # Ok::<(), domain::ledger::head::HeadError>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Head {
    size: u64,
    unfinished: Vec<Vec<Hash>>,
}

impl Head {
    /// A head that was kept: for each level of tiles, the hashes of its unfinished tile.
    ///
    /// # Errors
    /// [`HeadError`] unless each level has the hashes that the size leaves it.
    pub fn new(size: u64, unfinished: Vec<Vec<Hash>>) -> Result<Self, HeadError> {
        let mut rest = size;
        let mut fits = unfinished.len() <= MOST_LEVELS;
        for hashes in &unfinished {
            fits &= u64::try_from(hashes.len()) == Ok(rest % 256);
            rest /= 256;
        }
        if fits && rest == 0 {
            Ok(Self { size, unfinished })
        } else {
            Err(HeadError { size })
        }
    }

    /// How many entries the log has.
    #[must_use]
    pub const fn size(&self) -> u64 {
        self.size
    }

    /// The hashes of the unfinished tile of each level, the leaves first.
    #[must_use]
    pub fn unfinished(&self) -> &[Vec<Hash>] {
        &self.unfinished
    }

    /// Appends the leaf hash of an entry; tiles that it fills are added to `full`, the lowest
    /// first.
    pub fn append(&mut self, leaf: Hash, full: &mut Vec<FullTile>) {
        self.size += 1;
        let mut hash = leaf;
        let mut above = self.size;
        for level in 0..MOST_LEVELS {
            if self.unfinished.len() <= level {
                self.unfinished.push(Vec::with_capacity(FULL_WIDTH));
            }
            above /= 256;
            let Some(hashes) = self.unfinished.get_mut(level) else {
                return;
            };
            hashes.push(hash);
            if hashes.len() < FULL_WIDTH {
                return;
            }
            let hashes = std::mem::take(hashes);
            hash = tree::root(&hashes);
            full.push(FullTile {
                level: u32::try_from(level).unwrap_or(u32::MAX),
                index: above.saturating_sub(1),
                hashes,
            });
        }
    }

    /// The root of the tree over all entries.
    #[must_use]
    pub fn root(&self) -> Hash {
        let mut subtrees = Vec::new();
        for hashes in self.unfinished.iter().rev() {
            let mut edge = RightEdge::default();
            hashes.iter().for_each(|hash| edge.append(*hash));
            subtrees.extend_from_slice(edge.hashes());
        }
        tree::fold(&subtrees)
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "a test may unwrap")]
    use super::*;
    use proptest::prelude::*;
    use std::collections::BTreeMap;

    fn leaf(index: u64) -> Hash {
        Hash::of_leaf(&index.to_be_bytes())
    }

    #[test]
    fn tiles_of_a_log_of_70000_are_those_that_the_layout_names() {
        // C2SP tlog-tiles: 273 full level-0 tiles and one of 112, one full level-1 tile and one of
        // 17, a level-2 tile of 1.
        let mut head = Head::default();
        let mut full = Vec::new();
        let mut edge = RightEdge::default();
        for index in 0..70_000 {
            head.append(leaf(index), &mut full);
            edge.append(leaf(index));
        }
        assert_eq!(head.root(), edge.root());
        let mut counted: BTreeMap<u32, Vec<u64>> = BTreeMap::new();
        for tile in &full {
            counted.entry(tile.level).or_default().push(tile.index);
        }
        assert_eq!(counted.get(&0), Some(&(0..273).collect::<Vec<u64>>()));
        assert_eq!(counted.get(&1), Some(&vec![0]));
        assert_eq!(counted.len(), 2);
        let widths: Vec<usize> = head.unfinished().iter().map(Vec::len).collect();
        assert_eq!(widths, [112, 17, 1]);
    }

    proptest! {
        /// However appending is cut into steps, and kept in between, root and tiles are the same.
        #[test]
        fn a_head_that_is_kept_in_between_goes_on_alike(
            steps in prop::collection::vec(0_u64..700, 1..6),
        ) {
            let mut head = Head::default();
            let (mut full, mut size) = (Vec::new(), 0);
            for step in steps {
                head = Head::new(size, head.unfinished().to_vec()).unwrap();
                for index in size..size + step {
                    head.append(leaf(index), &mut full);
                }
                size += step;
            }
            let leaves: Vec<Hash> = (0..size).map(leaf).collect();
            prop_assert_eq!(head.root(), tree::root(&leaves));
            let whole: Vec<Hash> = full
                .iter()
                .filter(|tile| tile.level == 0)
                .flat_map(|tile| tile.hashes.clone())
                .collect();
            prop_assert_eq!(Some(whole.as_slice()), leaves.get(..whole.len()));
        }
    }
}
