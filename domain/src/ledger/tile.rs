//! Tiles: how a log's hashes and entries are cut into files of 256 (C2SP tlog-tiles).
//!
//! Promises that a full tile never changes; partial ones stand at the right edge only and are never
//! hashed upwards. Refuses paths that are not in the one form.

use super::hash::Hash;
use super::tree::{self, Node};

/// Hashes in a full tile.
pub const FULL_WIDTH: u64 = 256;

/// The binary logarithm of [`FULL_WIDTH`]: levels of the tree that a tile spans.
const HEIGHT: u32 = 8;

/// Why a path or a tile is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TileError {
    /// No path of a tile.
    #[error("no path of a tile, such as 0/x001/067 or 0/000.p/7")]
    Path,
    /// The tile does not hold the hash asked for.
    #[error("the tile does not hold this hash")]
    NotThere,
    /// The entry is longer than a bundle can say.
    #[error("an entry of {0} bytes is too long for a bundle")]
    EntryLength(usize),
}

/// One tile of a log.
///
/// ```
/// use domain::ledger::tile::Tile;
/// let tile = Tile { level: 0, index: 1_234_067, width: 112 };
/// assert_eq!(tile.path(), "tile/0/x001/x234/067.p/112"); // groups as printed in C2SP tlog-tiles
/// assert_eq!(Tile::parse("0/x001/x234/067.p/112")?, tile);
/// assert!(Tile::parse("0/1234067").is_err());
/// # Ok::<(), domain::ledger::tile::TileError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Tile {
    /// 0 for leaf hashes; one hash of a level stands for a full tile of the level below.
    pub level: u32,
    /// Counted from 0 within the level.
    pub index: u64,
    /// How many hashes it has, 1 to 256.
    pub width: u64,
}

impl Tile {
    /// The path under the log's prefix.
    #[must_use]
    pub fn path(&self) -> String {
        format!("tile/{}/{}", self.level, self.tail())
    }

    /// The path of the entries whose hashes a level-0 tile has.
    #[must_use]
    pub fn entries_path(&self) -> String {
        format!("tile/entries/{}", self.tail())
    }

    fn tail(&self) -> String {
        let mut groups = index_path(self.index);
        if self.width < FULL_WIDTH {
            groups.push_str(&format!(".p/{}", self.width));
        }
        groups
    }

    /// Reads what stands behind `tile/`: `<level>/<index>[.p/<width>]`.
    ///
    /// # Errors
    /// [`TileError::Path`].
    pub fn parse(path: &str) -> Result<Self, TileError> {
        let (level, tail) = path.split_once('/').ok_or(TileError::Path)?;
        let level: u32 = level
            .parse()
            .ok()
            .filter(|level| *level < 64)
            .ok_or(TileError::Path)?;
        let tile = Self {
            level,
            ..Self::parse_tail(tail)?
        };
        if tile.path().strip_prefix("tile/") == Some(path) {
            Ok(tile)
        } else {
            Err(TileError::Path)
        }
    }

    /// Reads what stands behind `tile/entries/`: `<index>[.p/<width>]`.
    ///
    /// # Errors
    /// [`TileError::Path`].
    pub fn parse_entries(path: &str) -> Result<Self, TileError> {
        let tile = Self::parse_tail(path)?;
        if tile.tail() == path {
            Ok(tile)
        } else {
            Err(TileError::Path)
        }
    }

    fn parse_tail(tail: &str) -> Result<Self, TileError> {
        let (groups, width) = match tail.split_once(".p/") {
            Some((groups, width)) => (groups, width.parse().ok().ok_or(TileError::Path)?),
            None => (tail, FULL_WIDTH),
        };
        let digits: String = groups
            .split('/')
            .map(|group| group.trim_start_matches('x'))
            .collect();
        let index = digits.parse().ok().ok_or(TileError::Path)?;
        if width == 0 || width > FULL_WIDTH {
            return Err(TileError::Path);
        }
        Ok(Self {
            level: 0,
            index,
            width,
        })
    }

    /// The tile of a log of this size that holds a node's hash, or the hashes it is made of, and
    /// where in the tile they stand (from, to).
    ///
    /// # Errors
    /// [`TileError::NotThere`] where the log has no such node.
    pub fn holding(node: Node, size: u64) -> Result<(Self, u64, u64), TileError> {
        let (level, height) = (node.level / HEIGHT, node.level % HEIGHT);
        let first = node.index.checked_shl(height).ok_or(TileError::NotThere)?;
        let index = first / FULL_WIDTH;
        let from = first % FULL_WIDTH;
        let to = from + (1 << height);
        let width = tiles_wide(size, level)
            .saturating_sub(index * FULL_WIDTH)
            .min(FULL_WIDTH);
        if to > width {
            return Err(TileError::NotThere);
        }
        Ok((
            Self {
                level,
                index,
                width,
            },
            from,
            to,
        ))
    }
}

/// How many hashes a level of tiles has, for a log of this size.
///
/// ```
/// use domain::ledger::tile::tiles_wide;
/// // C2SP tlog-tiles: of 70,000 entries 273 full tiles at level 1, and one of level 2.
/// assert_eq!((tiles_wide(70_000, 1), tiles_wide(70_000, 2)), (273, 1));
/// assert_eq!(tiles_wide(70_000, 63), 0);
/// ```
#[must_use]
pub fn tiles_wide(size: u64, level: u32) -> u64 {
    let levels = level.saturating_mul(HEIGHT);
    size.checked_shr(levels).unwrap_or(0)
}

/// A tile's index in groups of three digits, all but the last with an `x` before.
///
/// ```
/// assert_eq!(domain::ledger::tile::index_path(1_234_067), "x001/x234/067"); // C2SP tlog-tiles
/// ```
#[must_use]
pub fn index_path(index: u64) -> String {
    let mut path = format!("{:03}", index % 1000);
    let mut rest = index / 1000;
    while rest > 0 {
        path = format!("x{:03}/{path}", rest % 1000);
        rest /= 1000;
    }
    path
}

/// Every tile of a log of this size, full and partial, by level.
#[must_use]
pub fn all(size: u64) -> Vec<Tile> {
    between(0, size)
}

/// The tiles that a log of size `new` has and one of size `old` did not have, or had narrower.
///
/// ```
/// use domain::ledger::tile::{between, Tile};
/// assert_eq!(between(255, 256), [
///     Tile { level: 0, index: 0, width: 256 },
///     Tile { level: 1, index: 0, width: 1 },
/// ]);
/// ```
#[must_use]
pub fn between(old: u64, new: u64) -> Vec<Tile> {
    let mut tiles = Vec::new();
    for level in 0..HEIGHT {
        let (before, wide) = (tiles_wide(old, level), tiles_wide(new, level));
        if wide == 0 {
            break;
        }
        let mut index = before / FULL_WIDTH;
        while index * FULL_WIDTH < wide {
            let width = (wide - index * FULL_WIDTH).min(FULL_WIDTH);
            if index * FULL_WIDTH + width > before {
                tiles.push(Tile {
                    level,
                    index,
                    width,
                });
            }
            index += 1;
        }
    }
    tiles
}

/// A tile's bytes: its hashes, one behind the other.
#[must_use]
pub fn to_bytes(hashes: &[Hash]) -> Vec<u8> {
    hashes.iter().flat_map(|hash| hash.0).collect()
}

/// The hashes in a tile's bytes.
///
/// # Errors
/// [`TileError::NotThere`] unless there are 1 to 256 whole ones.
///
/// ```
/// use domain::ledger::{tile, Hash};
/// let hashes = [Hash::of(b"a"), Hash::of(b"b")];
/// assert_eq!(tile::from_bytes(&tile::to_bytes(&hashes))?, hashes);
/// assert!(tile::from_bytes(&[0; 33]).is_err());
/// # Ok::<(), tile::TileError>(())
/// ```
pub fn from_bytes(bytes: &[u8]) -> Result<Vec<Hash>, TileError> {
    let chunks = bytes.chunks_exact(32);
    if bytes.is_empty() || !chunks.remainder().is_empty() || bytes.len() > 32 * 256 {
        return Err(TileError::NotThere);
    }
    chunks
        .map(|chunk| Hash::from_slice(chunk).ok().ok_or(TileError::NotThere))
        .collect()
}

/// A node's hash, from the bytes of the tile that [`Tile::holding`] names.
///
/// # Errors
/// [`TileError::NotThere`].
pub fn node_hash(bytes: &[u8], from: u64, to: u64) -> Result<Hash, TileError> {
    let at = |hashes: u64| usize::try_from(hashes.checked_mul(32)?).ok();
    let range = at(from).zip(at(to)).ok_or(TileError::NotThere)?;
    let part = bytes.get(range.0..range.1).ok_or(TileError::NotThere)?;
    Ok(tree::root(&from_bytes(part)?))
}

/// Appends an entry to a bundle of entries: its length in two bytes, big-endian, and its bytes.
///
/// # Errors
/// [`TileError::EntryLength`] above 65,535 bytes.
///
/// ```
/// use domain::ledger::tile::append_entry;
/// let mut bundle = Vec::new();
/// append_entry(&mut bundle, b"abc")?;
/// assert_eq!(bundle, b"\0\x03abc");
/// assert!(append_entry(&mut bundle, &[0; 65_536]).is_err());
/// # Ok::<(), domain::ledger::tile::TileError>(())
/// ```
pub fn append_entry(bundle: &mut Vec<u8>, entry: &[u8]) -> Result<(), TileError> {
    let length = u16::try_from(entry.len())
        .ok()
        .ok_or(TileError::EntryLength(entry.len()))?;
    bundle.extend_from_slice(&length.to_be_bytes());
    bundle.extend_from_slice(entry);
    Ok(())
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "a test may unwrap")]
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn proofs_made_from_tiles_are_those_made_from_leaves() {
        let leaves: Vec<Hash> = (0_u64..1_000)
            .map(|leaf| Hash::of_leaf(&leaf.to_be_bytes()))
            .collect();
        let mut tiles: BTreeMap<(u32, u64), Vec<u8>> = BTreeMap::new();
        for tile in all(1_000) {
            let below = usize::try_from(FULL_WIDTH.pow(tile.level)).unwrap();
            let first = usize::try_from(tile.index * FULL_WIDTH).unwrap() * below;
            let width = usize::try_from(tile.width).unwrap() * below;
            let part = leaves.get(first..first + width).unwrap();
            let hashes: Vec<Hash> = part.chunks(below).map(tree::root).collect();
            tiles.insert((tile.level, tile.index), to_bytes(&hashes));
        }
        let hash_of = |node: Node| {
            let (tile, from, to) = Tile::holding(node, 1_000)?;
            node_hash(tiles.get(&(tile.level, tile.index)).unwrap(), from, to)
        };
        for index in (0..1_000).step_by(37).chain([255, 256, 511, 999]) {
            let parts = tree::inclusion_parts(index, 1_000).unwrap();
            let proof = tree::resolve(&parts, hash_of).unwrap();
            let at = usize::try_from(index).unwrap();
            assert_eq!(
                proof,
                tree::inclusion_proof(&leaves, at).unwrap(),
                "{index}"
            );
        }
        for old in (1..=1_000).step_by(53).chain([256, 512, 999, 1_000]) {
            let parts = tree::consistency_parts(old, 1_000).unwrap();
            let proof = tree::resolve(&parts, hash_of).unwrap();
            let at = usize::try_from(old).unwrap();
            assert_eq!(
                proof,
                tree::consistency_proof(&leaves, at).unwrap(),
                "{old}"
            );
        }
        let outside = Node {
            level: 0,
            index: 1_000,
        };
        assert_eq!(Tile::holding(outside, 1_000), Err(TileError::NotThere));
    }
}
