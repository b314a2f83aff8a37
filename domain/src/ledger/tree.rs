//! The Merkle tree of RFC 9162 2.1: roots, proofs that a leaf is in, proofs that a tree grew.
//!
//! Promises roots and proofs that any other implementation makes and verifies; refuses an index
//! past the end, a proof too long or too short, and growth from nothing, which proves nothing.

use super::hash::Hash;

/// The most hashes a proof may have (C2SP tlog-witness).
pub const LONGEST_PROOF: usize = 63;

/// Why a proof is refused or cannot be made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TreeError {
    /// The index is not below the size, or the sizes are in the wrong order, or 0.
    #[error("index or size is out of range")]
    OutOfRange,
    /// The proof has too many or too few hashes.
    #[error("the proof is too long or too short")]
    ProofLength,
    /// The proof leads to another root.
    #[error("the proof leads to another root")]
    Root,
    /// The right edge does not go with the size.
    #[error("the number of hashes does not go with the size")]
    Edge,
}

/// A subtree whose leaves are all there: 2^level of them, from index · 2^level.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Node {
    /// 0 for a leaf.
    pub level: u32,
    /// Counted from 0 within the level.
    pub index: u64,
}

/// The right edge of a tree: all that is needed to append.
///
/// ```
/// use domain::ledger::{tree::{self, RightEdge}, Hash};
/// let leaves: Vec<Hash> = (0_u8..11).map(|byte| Hash::of_leaf(&[byte])).collect();
/// let mut edge = RightEdge::default();
/// for leaf in &leaves {
///     edge.append(*leaf);
/// }
/// assert_eq!((edge.size(), edge.hashes().len()), (11, 3));
/// assert_eq!(edge.root(), tree::root(&leaves));
/// assert!(RightEdge::new(11, vec![]).is_err());
/// # Ok::<(), tree::TreeError>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct RightEdge {
    size: u64,
    hashes: Vec<Hash>,
}

impl RightEdge {
    /// An edge that was kept: the hashes of the complete subtrees from the left, largest first.
    ///
    /// # Errors
    /// [`TreeError::Edge`] unless there is one hash for each binary one of the size.
    pub fn new(size: u64, hashes: Vec<Hash>) -> Result<Self, TreeError> {
        if u32::try_from(hashes.len()) == Ok(size.count_ones()) {
            Ok(Self { size, hashes })
        } else {
            Err(TreeError::Edge)
        }
    }

    /// How many leaves the tree has.
    #[must_use]
    pub const fn size(&self) -> u64 {
        self.size
    }

    /// The hashes to keep.
    #[must_use]
    pub fn hashes(&self) -> &[Hash] {
        &self.hashes
    }

    /// Appends a leaf hash.
    pub fn append(&mut self, leaf: Hash) {
        let mut hash = leaf;
        for _ in 0..self.size.trailing_ones() {
            if let Some(left) = self.hashes.pop() {
                hash = Hash::of_node(&left, &hash);
            }
        }
        self.hashes.push(hash);
        self.size += 1;
    }

    /// The root.
    #[must_use]
    pub fn root(&self) -> Hash {
        fold(&self.hashes)
    }
}

/// The root over complete subtrees, largest first; of none, the hash of nothing.
pub(super) fn fold(hashes: &[Hash]) -> Hash {
    hashes
        .iter()
        .rev()
        .copied()
        .reduce(|right, left| Hash::of_node(&left, &right))
        .unwrap_or_else(|| Hash::of(b""))
}

/// The root over leaf hashes, in order.
#[must_use]
pub fn root(leaves: &[Hash]) -> Hash {
    let mut edge = RightEdge::default();
    leaves.iter().for_each(|leaf| edge.append(*leaf));
    edge.root()
}

/// The complete subtrees that together make up the leaves `from..to`, largest first; `from` is a
/// multiple of the largest.
fn nodes_of(from: u64, to: u64) -> Vec<Node> {
    let mut start = from;
    let mut nodes = Vec::new();
    while start < to {
        let level = (to - start).ilog2();
        nodes.push(Node {
            level,
            index: start >> level,
        });
        start += 1 << level;
    }
    nodes
}

/// The complete subtrees whose hashes are the right edge of a tree of this size.
#[must_use]
pub fn edge_nodes(size: u64) -> Vec<Node> {
    nodes_of(0, size)
}

/// One hash of a proof: the root over these complete subtrees, largest first.
pub type Part = Vec<Node>;

/// The hashes of a proof, from stored hashes of complete subtrees; see [`inclusion_parts`].
///
/// # Errors
/// What `hash_of` says.
pub fn resolve<E>(
    parts: &[Part],
    mut hash_of: impl FnMut(Node) -> Result<Hash, E>,
) -> Result<Vec<Hash>, E> {
    parts
        .iter()
        .map(|part| {
            let hashes: Result<Vec<Hash>, E> = part.iter().map(|node| hash_of(*node)).collect();
            Ok(fold(&hashes?))
        })
        .collect()
}

/// The largest power of two below a count of at least 2.
const fn split(count: u64) -> u64 {
    1 << (count - 1).ilog2()
}

/// What an inclusion proof is made of (RFC 9162 2.1.3.1), so that a log kept in tiles can fetch all
/// of it at once; [`resolve`] then makes the proof.
///
/// # Errors
/// [`TreeError::OutOfRange`] where `index >= size`.
pub fn inclusion_parts(index: u64, size: u64) -> Result<Vec<Part>, TreeError> {
    if index >= size {
        return Err(TreeError::OutOfRange);
    }
    let (mut from, mut to) = (0, size);
    let mut siblings = Vec::new();
    while to - from > 1 {
        let middle = from + split(to - from);
        if index < middle {
            siblings.push(nodes_of(middle, to));
            to = middle;
        } else {
            siblings.push(nodes_of(from, middle));
            from = middle;
        }
    }
    siblings.reverse();
    Ok(siblings)
}

/// What a consistency proof is made of (RFC 9162 2.1.4.1); [`resolve`] then makes the proof.
///
/// # Errors
/// [`TreeError::OutOfRange`] where `old` is 0 or above `new`.
pub fn consistency_parts(old: u64, new: u64) -> Result<Vec<Part>, TreeError> {
    if old == 0 || old > new {
        return Err(TreeError::OutOfRange);
    }
    let (mut from, mut to) = (0, new);
    let mut parts = Vec::new();
    while old != to {
        let middle = from + split(to - from);
        if old <= middle {
            parts.push(nodes_of(middle, to));
            to = middle;
        } else {
            parts.push(nodes_of(from, middle));
            from = middle;
        }
    }
    // The old tree's own root is known to the reader; only a part of it must be given.
    if from > 0 {
        parts.push(nodes_of(from, to));
    }
    parts.reverse();
    Ok(parts)
}

/// Makes an inclusion proof over leaf hashes that are all at hand, such as an act's records.
///
/// # Errors
/// [`TreeError::OutOfRange`].
///
/// ```
/// use domain::ledger::{tree, Hash};
/// let leaves: Vec<Hash> = (0_u8..5).map(|byte| Hash::of_leaf(&[byte])).collect();
/// let proof = tree::inclusion_proof(&leaves, 3)?;
/// tree::verify_inclusion(3, 5, &leaves[3], &proof, &tree::root(&leaves))?;
/// assert!(tree::verify_inclusion(2, 5, &leaves[3], &proof, &tree::root(&leaves)).is_err());
/// assert!(tree::inclusion_proof(&leaves, 5).is_err());
/// # Ok::<(), tree::TreeError>(())
/// ```
pub fn inclusion_proof(leaves: &[Hash], index: usize) -> Result<Vec<Hash>, TreeError> {
    let index = u64::try_from(index).unwrap_or(u64::MAX);
    resolve(&inclusion_parts(index, count(leaves))?, |node| {
        hash_over(leaves, node)
    })
}

/// Makes a consistency proof over leaf hashes that are all at hand.
///
/// # Errors
/// [`TreeError::OutOfRange`].
///
/// ```
/// use domain::ledger::{tree, Hash};
/// let leaves: Vec<Hash> = (0_u8..5).map(|byte| Hash::of_leaf(&[byte])).collect();
/// let proof = tree::consistency_proof(&leaves, 3)?;
/// let (old, new) = (tree::root(&leaves[..3]), tree::root(&leaves));
/// tree::verify_consistency(3, 5, &old, &new, &proof)?;
/// assert!(tree::verify_consistency(4, 5, &old, &new, &proof).is_err());
/// assert!(tree::consistency_proof(&leaves, 0).is_err());
/// # Ok::<(), tree::TreeError>(())
/// ```
pub fn consistency_proof(leaves: &[Hash], old: usize) -> Result<Vec<Hash>, TreeError> {
    let old = u64::try_from(old).unwrap_or(u64::MAX);
    resolve(&consistency_parts(old, count(leaves))?, |node| {
        hash_over(leaves, node)
    })
}

fn count(leaves: &[Hash]) -> u64 {
    u64::try_from(leaves.len()).unwrap_or(u64::MAX)
}

fn hash_over(leaves: &[Hash], node: Node) -> Result<Hash, TreeError> {
    let range = |at: u64| usize::try_from(at << node.level).ok();
    range(node.index)
        .zip(range(node.index + 1))
        .and_then(|(from, to)| leaves.get(from..to))
        .map(root)
        .ok_or(TreeError::OutOfRange)
}

/// The root that an inclusion proof leads to (RFC 9162 2.1.3.2).
///
/// # Errors
/// [`TreeError::OutOfRange`] or [`TreeError::ProofLength`].
pub fn root_from_inclusion(
    index: u64,
    size: u64,
    leaf: &Hash,
    proof: &[Hash],
) -> Result<Hash, TreeError> {
    if index >= size {
        return Err(TreeError::OutOfRange);
    }
    let (mut at, mut last) = (index, size - 1);
    let mut hash = *leaf;
    for sibling in proof {
        if last == 0 {
            return Err(TreeError::ProofLength);
        }
        if at & 1 == 1 || at == last {
            hash = Hash::of_node(sibling, &hash);
            while at & 1 == 0 && at != 0 {
                at >>= 1;
                last >>= 1;
            }
        } else {
            hash = Hash::of_node(&hash, sibling);
        }
        at >>= 1;
        last >>= 1;
    }
    if last == 0 {
        Ok(hash)
    } else {
        Err(TreeError::ProofLength)
    }
}

/// Checks that a leaf is in a tree.
///
/// # Errors
/// [`TreeError`].
pub fn verify_inclusion(
    index: u64,
    size: u64,
    leaf: &Hash,
    proof: &[Hash],
    root: &Hash,
) -> Result<(), TreeError> {
    if root_from_inclusion(index, size, leaf, proof)? == *root {
        Ok(())
    } else {
        Err(TreeError::Root)
    }
}

/// Checks that the old tree is the beginning of the new one (RFC 9162 2.1.4.2).
///
/// # Errors
/// [`TreeError`]; also for an old size of 0, from which nothing can be proved.
pub fn verify_consistency(
    old: u64,
    new: u64,
    old_root: &Hash,
    new_root: &Hash,
    proof: &[Hash],
) -> Result<(), TreeError> {
    if old == 0 || old > new {
        return Err(TreeError::OutOfRange);
    }
    if old == new {
        return match (proof.is_empty(), old_root == new_root) {
            (false, _) => Err(TreeError::ProofLength),
            (true, false) => Err(TreeError::Root),
            (true, true) => Ok(()),
        };
    }
    let (first, rest) = if old.is_power_of_two() && !proof.is_empty() {
        (old_root, proof)
    } else {
        proof.split_first().ok_or(TreeError::ProofLength)?
    };
    let shift = (old - 1).trailing_ones();
    let (mut at, mut last) = ((old - 1) >> shift, (new - 1) >> shift);
    let (mut before, mut after) = (*first, *first);
    for hash in rest {
        if last == 0 {
            return Err(TreeError::ProofLength);
        }
        if at & 1 == 1 || at == last {
            before = Hash::of_node(hash, &before);
            after = Hash::of_node(hash, &after);
            while at & 1 == 0 && at != 0 {
                at >>= 1;
                last >>= 1;
            }
        } else {
            after = Hash::of_node(&after, hash);
        }
        at >>= 1;
        last >>= 1;
    }
    if last != 0 {
        Err(TreeError::ProofLength)
    } else if before == *old_root && after == *new_root {
        Ok(())
    } else {
        Err(TreeError::Root)
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "a test may unwrap")]
    use super::*;
    use proptest::prelude::*;

    /// RFC 9162 2.1.1, word for word.
    fn defined_root(leaves: &[Hash]) -> Hash {
        match leaves {
            [] => Hash::of(b""),
            [leaf] => *leaf,
            _ => {
                let (left, right) = leaves.split_at(leaves.len().next_power_of_two() / 2);
                Hash::of_node(&defined_root(left), &defined_root(right))
            }
        }
    }

    fn some_leaves() -> impl Strategy<Value = Vec<Hash>> {
        prop::collection::vec(
            any::<[u8; 8]>().prop_map(|data| Hash::of_leaf(&data)),
            1..150,
        )
    }

    proptest! {
        #[test]
        fn the_root_is_the_one_defined(leaves in some_leaves()) {
            prop_assert_eq!(root(&leaves), defined_root(&leaves));
        }

        #[test]
        fn a_leaf_is_proved_in_and_nothing_else_is(
            leaves in some_leaves(), at in any::<prop::sample::Index>(), flip in any::<u8>(),
        ) {
            let index = at.index(leaves.len());
            let proof = inclusion_proof(&leaves, index).unwrap();
            let leaf = leaves.get(index).unwrap();
            let (at, size) = (u64::try_from(index).unwrap(), count(&leaves));
            let whole = root(&leaves);
            prop_assert_eq!(verify_inclusion(at, size, leaf, &proof, &whole), Ok(()));
            prop_assert!(verify_inclusion(at + size, size, leaf, &proof, &whole).is_err());
            prop_assert!(verify_inclusion(at, size, &Hash::of(b"other"), &proof, &whole).is_err());
            let longer = [proof.as_slice(), &[whole]].concat();
            prop_assert!(verify_inclusion(at, size, leaf, &longer, &whole).is_err());
            if let Some((last, shorter)) = proof.split_last() {
                prop_assert!(verify_inclusion(at, size, leaf, shorter, &whole).is_err());
                let mut changed = shorter.to_vec();
                changed.push(Hash::of(&[last.0.as_slice(), &[flip]].concat()));
                prop_assert!(verify_inclusion(at, size, leaf, &changed, &whole).is_err());
            }
        }

        #[test]
        fn growth_is_proved_and_rewriting_is_not(
            leaves in some_leaves(), at in any::<prop::sample::Index>(),
        ) {
            let old = at.index(leaves.len()) + 1;
            let proof = consistency_proof(&leaves, old).unwrap();
            let before = root(leaves.get(..old).unwrap());
            let after = root(&leaves);
            let (old, new) = (u64::try_from(old).unwrap(), count(&leaves));
            prop_assert_eq!(verify_consistency(old, new, &before, &after, &proof), Ok(()));
            let other = Hash::of(b"other");
            prop_assert!(verify_consistency(old, new, &other, &after, &proof).is_err());
            prop_assert!(verify_consistency(old, new, &before, &other, &proof).is_err());
            let longer = [proof.as_slice(), &[other]].concat();
            prop_assert!(verify_consistency(old, new, &before, &after, &longer).is_err());
        }

        #[test]
        fn an_edge_that_was_kept_goes_on_as_if_it_had_not_been(
            leaves in some_leaves(), at in any::<prop::sample::Index>(),
        ) {
            let (first, rest) = leaves.split_at(at.index(leaves.len()));
            let mut edge = RightEdge::default();
            first.iter().for_each(|leaf| edge.append(*leaf));
            let mut kept = RightEdge::new(edge.size(), edge.hashes().to_vec()).unwrap();
            rest.iter().for_each(|leaf| kept.append(*leaf));
            prop_assert_eq!(kept.root(), root(&leaves));
        }
    }
}
