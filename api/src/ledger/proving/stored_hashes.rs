//! Hashes of a log's tree from its tiles: as few tiles as hold them, in one query.

use super::store;
use crate::error::{Answer, ApiError};
use diesel_async::AsyncPgConnection;
use domain::ledger::{
    Hash,
    tile::{Tile, TileError, node_hash},
    tree::{self, Node, Part},
};
use std::collections::{BTreeSet, HashMap};

/// The hashes that parts of a tree of this size come to.
///
/// # Errors
/// [`ApiError::Internal`] where a tile that must be there is missing or too short.
pub(in crate::ledger) async fn resolved(
    connection: &mut AsyncPgConnection,
    log: (i32, i32),
    size: u64,
    parts: &[Part],
) -> Answer<Vec<Hash>> {
    let mut wanted: BTreeSet<(u32, u64)> = BTreeSet::new();
    for node in parts.iter().flatten() {
        let (tile, _, _) = Tile::holding(*node, size).map_err(ApiError::internal)?;
        wanted.insert((tile.level, tile.index));
    }
    let tiles = match wanted.is_empty() {
        true => HashMap::new(),
        false => store::tiles(connection, log, &wanted).await?,
    };
    tree::resolve(parts, |node: Node| {
        let (tile, from, to) = Tile::holding(node, size)?;
        let bytes = tiles
            .get(&(tile.level, tile.index))
            .ok_or(TileError::NotThere)?;
        node_hash(bytes, from, to)
    })
    .map_err(|fault| ApiError::internal(format!("log {}, stored hashes: {fault}", log.1)))
}
