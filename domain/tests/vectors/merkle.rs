//! Roots, proofs and tiles of Merkle trees.

use crate::{File, Tally, bytes, list, text};
use domain::ledger::tile::{self, Tile};
use domain::ledger::{Hash, tree};
use serde_json::Value;

pub(crate) fn run(file: &File<'_>, tally: &mut Tally) {
    let json = &file.json;
    hash_cases(json, tally);
    let leaves = leaves(json);
    for case in list(json, "roots") {
        let size = number(case, "tree_size");
        tally.case("roots", &format!("{size:?}"), || {
            Some(tree::root(leaves.get(..size?)?) == hash(case, "root")?)
        });
    }
    subtrees(json, &leaves, tally);
    for case in list(json, "inclusion") {
        tally.case("inclusion", &name(case), || {
            Some(inclusion(case, &leaves) == valid(case))
        });
    }
    for case in list(json, "consistency") {
        tally.case("consistency", &name(case), || {
            Some(consistency(case, &leaves) == valid(case))
        });
    }
    tiles(json, &leaves, tally);
    for case in list(json, "path_encoding") {
        tally.case("path_encoding", &name(case), || {
            let index = case.get("index")?.as_u64()?;
            Some(tile::index_path(index) == text(case, "path")?)
        });
    }
}

fn name(case: &Value) -> String {
    text(case, "case").map_or_else(
        || case.to_string().chars().take(80).collect(),
        str::to_owned,
    )
}

fn valid(case: &Value) -> bool {
    case.get("valid")
        .is_none_or(|valid| valid == &Value::Bool(true))
}

fn number(case: &Value, name: &str) -> Option<usize> {
    usize::try_from(case.get(name)?.as_u64()?).ok()
}

fn hash(case: &Value, name: &str) -> Option<Hash> {
    text(case, name)?.parse().ok()
}

/// None where a proof has something that is no hash, which a verifier refuses.
fn proof(case: &Value) -> Option<Vec<Hash>> {
    list(case, "proof")
        .iter()
        .map(|hash| hash.as_str()?.parse().ok())
        .collect()
}

/// The file's own leaves; else leaf i is the integer i in eight bytes, for the largest size named.
fn leaves(json: &Value) -> Vec<Hash> {
    let own: Option<Vec<Hash>> = list(json, "leaf_inputs")
        .iter()
        .map(|input| Some(Hash::of_leaf(&crate::from_hex(input.as_str()?)?)))
        .collect();
    if let Some(own) = own.filter(|own| !own.is_empty()) {
        return own;
    }
    let is_probe = |case: &&Value| case.get("case").is_none();
    let largest = ["roots", "inclusion", "consistency", "tiles"]
        .into_iter()
        .flat_map(|section| list(json, section))
        .filter(is_probe)
        .flat_map(|case| [case.get("tree_size"), case.get("size2")])
        .filter_map(|size| size?.as_u64())
        .max();
    (0..largest.unwrap_or(0))
        .map(|leaf| Hash::of_leaf(&leaf.to_be_bytes()))
        .collect()
}

fn hash_cases(json: &Value, tally: &mut Tally) {
    for case in list(json, "hash_cases") {
        tally.case("hash_cases", text(case, "name").unwrap_or(""), || {
            let made = match text(case, "kind")? {
                "empty" => tree::root(&[]),
                "leaf" => Hash::of_leaf(&bytes(case, "input")?),
                "node" => {
                    // The published case joins short texts, which is no node of 32-byte hashes.
                    let parts = [vec![1], bytes(case, "input")?, bytes(case, "input2")?];
                    Hash::of(&parts.concat())
                }
                _ => return None,
            };
            Some(made == hash(case, "hash")?)
        });
    }
}

fn subtrees(json: &Value, leaves: &[Hash], tally: &mut Tally) {
    for case in list(json, "complete_subtrees") {
        tally.case("complete_subtrees", &name(case), || {
            let width = 1_usize << case.get("level")?.as_u64()?;
            let made = leaves.chunks_exact(width).map(tree::root);
            let given = list(case, "hashes")
                .iter()
                .map(|hash| hash.as_str()?.parse().ok());
            Some(made.map(Some).eq(given))
        });
    }
}

fn inclusion(case: &Value, leaves: &[Hash]) -> bool {
    let verified = || {
        let index = case.get("leaf_index")?.as_u64()?;
        let size = case.get("tree_size")?.as_u64()?;
        let proof = proof(case)?;
        let own = leaves.get(..usize::try_from(size).ok()?);
        let at = usize::try_from(index).ok()?;
        let leaf = hash(case, "leaf_hash");
        let root = hash(case, "root");
        if case.get("case").is_some() {
            tree::verify_inclusion(index, size, &leaf?, &proof, &root?).ok()?;
            return Some(());
        }
        let own = own?;
        let leaf = leaf.or_else(|| own.get(at).copied())?;
        let root = root.unwrap_or_else(|| tree::root(own));
        tree::verify_inclusion(index, size, &leaf, &proof, &root).ok()?;
        (tree::inclusion_proof(own, at).ok()? == proof).then_some(())
    };
    verified().is_some()
}

fn consistency(case: &Value, leaves: &[Hash]) -> bool {
    let verified = || {
        let old = case.get("size1")?.as_u64()?;
        let new = case.get("size2")?.as_u64()?;
        let proof = proof(case)?;
        if case.get("case").is_some() {
            let (before, after) = (hash(case, "root1")?, hash(case, "root2")?);
            tree::verify_consistency(old, new, &before, &after, &proof).ok()?;
            return Some(());
        }
        let at = usize::try_from(old).ok()?;
        let own = leaves.get(..usize::try_from(new).ok()?)?;
        let before = hash(case, "root1").or_else(|| own.get(..at).map(tree::root))?;
        let after = hash(case, "root2").unwrap_or_else(|| tree::root(own));
        tree::verify_consistency(old, new, &before, &after, &proof).ok()?;
        (tree::consistency_proof(own, at).ok()? == proof).then_some(())
    };
    verified().is_some()
}

fn tiles(json: &Value, leaves: &[Hash], tally: &mut Tally) {
    for group in list(json, "tiles") {
        let Some(size) = group.get("tree_size").and_then(Value::as_u64) else {
            continue;
        };
        let all = tile::all(size);
        tally.case("tiles: widths", &format!("size {size}"), || {
            let per_level = |name| {
                list(group, name)
                    .iter()
                    .map(Value::as_u64)
                    .collect::<Option<Vec<u64>>>()
            };
            let full = per_level("full_tiles_per_level")?;
            let partial = per_level("partial_width_per_level")?;
            let counts = (0..).zip(&full).all(|(level, count)| {
                let of_level = |tile: &&Tile| tile.level == level && tile.width == tile::FULL_WIDTH;
                u64::try_from(all.iter().filter(of_level).count()) == Ok(*count)
            });
            let widths = (0..).zip(&partial).all(|(level, width)| {
                let of_level = |tile: &&Tile| tile.level == level && tile.width < tile::FULL_WIDTH;
                all.iter().find(of_level).map_or(0, |tile| tile.width) == *width
            });
            Some(counts && widths)
        });
        for case in list(group, "tiles") {
            tally.case("tiles", text(case, "path").unwrap_or(""), || {
                let tile = all
                    .iter()
                    .find(|tile| Some(tile.path().as_str()) == text(case, "path"))?;
                let given = ["level", "index", "width"].map(|name| case.get(name)?.as_u64());
                let same = [u64::from(tile.level), tile.index, tile.width].map(Some) == given;
                let parsed = Tile::parse(tile.path().strip_prefix("tile/")?).ok()?;
                let digest = Hash::of(&tile::to_bytes(&hashes_of(tile, leaves)?));
                Some(same && parsed == *tile && digest == hash(case, "sha256")?)
            });
        }
    }
}

/// A tile's hashes, from the leaves below it.
fn hashes_of(tile: &Tile, leaves: &[Hash]) -> Option<Vec<Hash>> {
    let below = usize::try_from(256_u64.pow(tile.level)).ok()?;
    let first = usize::try_from(tile.index * tile::FULL_WIDTH).ok()?;
    let width = usize::try_from(tile.width).ok()?;
    (first..first + width)
        .map(|at| leaves.get(at * below..(at + 1) * below).map(tree::root))
        .collect()
}
