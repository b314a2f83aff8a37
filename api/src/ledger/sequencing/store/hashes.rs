//! Hashes of a log's complete subtrees, from its full tiles and its head: a few rows for any size.

use super::{CurrentLog, number};
use crate::{
    error::{Answer, ApiError},
    statement::statement,
};
use diesel::{
    QueryableByName,
    sql_types::{Array, BigInt, Binary, Integer, SmallInt},
};
use diesel_async::{AsyncPgConnection, RunQueryDsl as _};
use domain::ledger::{
    Hash, tile,
    tree::{self, Node},
};
use std::collections::{BTreeSet, HashMap};

#[derive(QueryableByName)]
struct TileRow {
    #[diesel(sql_type = SmallInt)]
    level: i16,
    #[diesel(sql_type = BigInt)]
    tile_index: i64,
    #[diesel(sql_type = Binary)]
    hashes: Vec<u8>,
}

/// The root that a log had at an earlier size, from stored hashes alone.
pub(crate) async fn root_at(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    log: &CurrentLog,
    size: u64,
) -> Answer<Hash> {
    if size == log.head.size() {
        return Ok(log.head.root());
    }
    let nodes = tree::edge_nodes(size);
    let hash_of = hashes_of(connection, laboratory, log, &nodes).await?;
    let part = [nodes];
    let roots = tree::resolve(&part, |node| {
        hash_of
            .get(&node)
            .copied()
            .ok_or_else(|| ApiError::internal("a tile of the log is missing"))
    })?;
    Ok(roots.into_iter().next().unwrap_or_else(|| tree::root(&[])))
}

/// The hashes of complete subtrees of a log, from its tiles and its head.
pub(crate) async fn hashes_of(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    log: &CurrentLog,
    nodes: &[Node],
) -> Answer<HashMap<Node, Hash>> {
    let mut places = Vec::with_capacity(nodes.len());
    let mut full = BTreeSet::new();
    for node in nodes {
        let (tile, from, to) =
            tile::Tile::holding(*node, log.head.size()).map_err(ApiError::internal)?;
        if tile.width == 256 {
            full.insert((tile.level, tile.index));
        }
        places.push((*node, tile, from, to));
    }
    let mut bytes: HashMap<(u32, u64), Vec<u8>> = HashMap::new();
    if !full.is_empty() {
        let mut levels = Vec::new();
        let mut indexes = Vec::new();
        for (level, index) in &full {
            levels.push(i16::try_from(*level).map_err(ApiError::internal)?);
            indexes.push(number(*index)?);
        }
        let rows: Vec<TileRow> = statement(
            "SELECT level, tile_index, hashes FROM ledger_tile \
               JOIN UNNEST($3::smallint[], $4::bigint[]) AS wanted (level, tile_index) \
              USING (level, tile_index) WHERE laboratory_id = $1 AND log_number = $2",
        )
        .bind::<Integer, _>(laboratory)
        .bind::<Integer, _>(log.number)
        .bind::<Array<SmallInt>, _>(levels)
        .bind::<Array<BigInt>, _>(indexes)
        .load(connection)
        .await?;
        for row in rows {
            let level = u32::try_from(row.level).map_err(ApiError::internal)?;
            let index = u64::try_from(row.tile_index).map_err(ApiError::internal)?;
            bytes.insert((level, index), row.hashes);
        }
    }
    for (level, hashes) in log.head.unfinished().iter().enumerate() {
        let level = u32::try_from(level).map_err(ApiError::internal)?;
        let above = log.head.size().checked_shr((level + 1) * 8).unwrap_or(0);
        bytes.insert((level, above), tile::to_bytes(hashes));
    }
    let mut found = HashMap::new();
    for (node, tile, from, to) in places {
        let held = bytes
            .get(&(tile.level, tile.index))
            .ok_or_else(|| ApiError::internal("a tile of the log is missing"))?;
        let hash = tile::node_hash(held, from, to).map_err(ApiError::internal)?;
        found.insert(node, hash);
    }
    Ok(found)
}
