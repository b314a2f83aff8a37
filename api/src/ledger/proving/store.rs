//! All SQL of proofs: only reads.

use super::Under;
use crate::{
    db::Tx,
    error::{Answer, ApiError},
};
use chrono::{DateTime, Utc};
use diesel::{
    OptionalExtension as _, QueryableByName,
    sql_types::{
        Array, BigInt, Binary, Integer, Nullable, SmallInt, Text, Timestamptz, Uuid as SqlUuid,
    },
};
use diesel_async::{AsyncPgConnection, RunQueryDsl as _};
use domain::{ledger::Hash, time::Moment};
use std::collections::{BTreeSet, HashMap};
use uuid::Uuid;

/// An entry and a checkpoint that covers it.
pub(super) struct Covered {
    pub(super) origin: String,
    pub(super) log: i32,
    pub(super) index: u64,
    pub(super) size: u64,
    pub(super) root: Hash,
    pub(super) checkpoint: String,
    pub(super) signed_at: Moment,
}

#[derive(QueryableByName)]
struct CoveredRow {
    #[diesel(sql_type = Nullable<Integer>)]
    log_number: Option<i32>,
    #[diesel(sql_type = Nullable<BigInt>)]
    entry_index: Option<i64>,
    #[diesel(sql_type = Nullable<Text>)]
    origin: Option<String>,
    #[diesel(sql_type = Nullable<BigInt>)]
    size: Option<i64>,
    #[diesel(sql_type = Nullable<Binary>)]
    root: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<Text>)]
    note: Option<String>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    signed_at: Option<DateTime<Utc>>,
}

impl CoveredRow {
    /// None where the act has no number yet, or no checkpoint covers it.
    fn covered(self) -> Answer<Option<Covered>> {
        let entry = self.log_number.zip(self.entry_index).zip(self.origin);
        let checkpoint = self.size.zip(self.root).zip(self.note).zip(self.signed_at);
        let Some((((log, index), origin), (((size, root), checkpoint), signed_at))) =
            entry.zip(checkpoint)
        else {
            return Ok(None);
        };
        Ok(Some(Covered {
            origin,
            log,
            index: u64::try_from(index).map_err(ApiError::internal)?,
            size: u64::try_from(size).map_err(ApiError::internal)?,
            root: Hash::from_slice(&root).map_err(ApiError::internal)?,
            checkpoint,
            signed_at: signed_at.into(),
        }))
    }
}

/// How many cosignatures after an entry are looked through for the checkpoint to prove it under.
const MOST_COSIGNATURES: u32 = 1000;

const COLUMNS: &str = "numbered.log_number, numbered.entry_index, log.origin, covering.size, \
    covering.root, covering.signed_at, ledger_cosigned(numbered.laboratory_id, \
    numbered.log_number, covering.size, covering.note) AS note";

/// The log of an entry, and one checkpoint over it.
fn joined(under: Under) -> String {
    let order = match under {
        Under::First => "ASC",
        Under::Newest => "DESC",
    };
    format!(
        "LEFT JOIN ledger_log AS log ON log.laboratory_id = numbered.laboratory_id \
           AND log.log_number = numbered.log_number \
         LEFT JOIN LATERAL (SELECT size, root, note, signed_at FROM ledger_checkpoint AS signed \
           WHERE signed.laboratory_id = numbered.laboratory_id \
             AND signed.log_number = numbered.log_number \
             AND signed.size > numbered.entry_index ORDER BY size {order} LIMIT 1) \
           AS covering ON true"
    )
}

/// Where an act stands in the log, and the first checkpoint over it.
pub(super) async fn covered(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    act: Uuid,
) -> Answer<Option<Covered>> {
    let row: Option<CoveredRow> = crate::statement::statement(format!(
        "SELECT {COLUMNS} FROM ledger_entry AS numbered {} \
         WHERE numbered.laboratory_id = $1 AND numbered.act_id = $2",
        joined(Under::First)
    ))
    .bind::<Integer, _>(laboratory)
    .bind::<SqlUuid, _>(act)
    .get_result(connection)
    .await
    .optional()?;
    row.map_or(Ok(None), CoveredRow::covered)
}

/// Where an act stands in the log, under checkpoints over it that witnesses cosigned: those that
/// most of them cosigned first, and of these the first.
pub(super) async fn cosigned(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    act: Uuid,
) -> Answer<Vec<Covered>> {
    let rows: Vec<CoveredRow> = crate::statement::statement(format!(
        "WITH anchored AS (SELECT anchor.size FROM ledger_entry AS numbered \
             JOIN ledger_anchor AS anchor ON anchor.laboratory_id = numbered.laboratory_id \
              AND anchor.log_number = numbered.log_number AND anchor.kind = 'cosignature' \
              AND anchor.size > numbered.entry_index \
           WHERE numbered.laboratory_id = $1 AND numbered.act_id = $2 \
           ORDER BY anchor.size LIMIT {MOST_COSIGNATURES}), \
         best AS (SELECT size, count(*) AS cosignatures FROM anchored GROUP BY size \
           ORDER BY cosignatures DESC, size LIMIT 4) \
         SELECT {COLUMNS} FROM ledger_entry AS numbered \
           JOIN ledger_log AS log USING (laboratory_id, log_number) CROSS JOIN best \
           JOIN ledger_checkpoint AS covering ON covering.size = best.size \
            AND covering.laboratory_id = numbered.laboratory_id \
            AND covering.log_number = numbered.log_number \
         WHERE numbered.laboratory_id = $1 AND numbered.act_id = $2 \
         ORDER BY cosignatures DESC, best.size",
    ))
    .bind::<Integer, _>(laboratory)
    .bind::<SqlUuid, _>(act)
    .load(connection)
    .await?;
    rows.into_iter()
        .filter_map(|row| row.covered().transpose())
        .collect()
}

/// A record with its act, and the newest checkpoint over that.
pub(super) struct Recorded {
    pub(super) act: Uuid,
    pub(super) position: i16,
    pub(super) hash: Hash,
    pub(super) entry: String,
    pub(super) records: Vec<u8>,
    pub(super) covered: Option<Covered>,
}

#[derive(QueryableByName)]
struct RecordedRow {
    #[diesel(sql_type = SqlUuid)]
    act_id: Uuid,
    #[diesel(sql_type = SmallInt)]
    position: i16,
    #[diesel(sql_type = Binary)]
    record_hash: Vec<u8>,
    #[diesel(sql_type = Text)]
    entry: String,
    #[diesel(sql_type = Binary)]
    records: Vec<u8>,
    #[diesel(embed)]
    covered: CoveredRow,
}

/// A version of a subject, its act, and the newest checkpoint over it.
pub(super) async fn recorded(tx: &mut Tx, subject: Uuid, version: i32) -> Answer<Option<Recorded>> {
    let laboratory = tx.laboratory_id();
    let row: Option<RecordedRow> = crate::statement::statement(format!(
        "SELECT act.act_id, stands.position, stands.record_hash, act.entry, act.records, {COLUMNS} \
         FROM ledger_version AS stands \
         JOIN ledger_act AS act ON act.laboratory_id = stands.laboratory_id \
           AND act.act_id = stands.act_id \
         LEFT JOIN ledger_entry AS numbered ON numbered.laboratory_id = act.laboratory_id \
           AND numbered.act_id = act.act_id {} \
         WHERE stands.laboratory_id = $1 AND stands.subject_id = $2 AND stands.version = $3",
        joined(Under::Newest)
    ))
    .bind::<Integer, _>(laboratory)
    .bind::<SqlUuid, _>(subject)
    .bind::<Integer, _>(version)
    .get_result(tx.connection())
    .await
    .optional()?;
    row.map(|row| {
        Ok(Recorded {
            act: row.act_id,
            position: row.position,
            hash: Hash::from_slice(&row.record_hash).map_err(ApiError::internal)?,
            entry: row.entry,
            records: row.records,
            covered: row.covered.covered()?,
        })
    })
    .transpose()
}

#[derive(QueryableByName)]
struct TileRow {
    #[diesel(sql_type = SmallInt)]
    level: i16,
    #[diesel(sql_type = BigInt)]
    tile_index: i64,
    #[diesel(sql_type = Nullable<Binary>)]
    hashes: Option<Vec<u8>>,
}

/// The hashes of some tiles, by level and index: all of the full ones, of an unfinished one as far
/// as it has come.
pub(super) async fn tiles(
    connection: &mut AsyncPgConnection,
    (laboratory, log): (i32, i32),
    wanted: &BTreeSet<(u32, u64)>,
) -> Answer<HashMap<(u32, u64), Vec<u8>>> {
    let mut levels = Vec::with_capacity(wanted.len());
    let mut indexes = Vec::with_capacity(wanted.len());
    for (level, index) in wanted {
        levels.push(i16::try_from(*level).map_err(ApiError::internal)?);
        indexes.push(i64::try_from(*index).map_err(ApiError::internal)?);
    }
    // One statement, so that a tile which is finished meanwhile is seen in one place or the other.
    let rows: Vec<TileRow> = crate::statement::statement(
        "SELECT wanted.level, wanted.tile_index, \
           COALESCE(tile.hashes, head.unfinished[wanted.level + 1]) AS hashes \
         FROM UNNEST($3, $4) AS wanted (level, tile_index) \
         LEFT JOIN ledger_tile AS tile ON tile.laboratory_id = $1 AND tile.log_number = $2 \
           AND tile.level = wanted.level AND tile.tile_index = wanted.tile_index \
         LEFT JOIN ledger_head AS head ON tile.hashes IS NULL \
           AND head.laboratory_id = $1 AND head.log_number = $2",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Integer, _>(log)
    .bind::<Array<SmallInt>, _>(levels)
    .bind::<Array<BigInt>, _>(indexes)
    .load(connection)
    .await?;
    let mut tiles = HashMap::with_capacity(rows.len());
    for row in rows {
        let level = u32::try_from(row.level).map_err(ApiError::internal)?;
        let index = u64::try_from(row.tile_index).map_err(ApiError::internal)?;
        if let Some(hashes) = row.hashes {
            tiles.insert((level, index), hashes);
        }
    }
    Ok(tiles)
}

/// How many entries the newest checkpoint of a log covers; none where there is no checkpoint.
pub(super) async fn published_size(tx: &mut Tx, log: i32) -> Answer<Option<u64>> {
    #[derive(QueryableByName)]
    struct SizeRow {
        #[diesel(sql_type = BigInt)]
        size: i64,
    }
    let laboratory = tx.laboratory_id();
    let row: Option<SizeRow> = crate::statement::statement(
        "SELECT size FROM ledger_checkpoint WHERE laboratory_id = $1 AND log_number = $2 \
         ORDER BY size DESC LIMIT 1",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Integer, _>(log)
    .get_result(tx.connection())
    .await
    .optional()?;
    row.map(|row| u64::try_from(row.size).map_err(ApiError::internal))
        .transpose()
}
