//! All SQL of sequencing.

use crate::{
    error::{Answer, ApiError},
    identity::LaboratoryKey,
    statement::statement,
};
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{
        Array, BigInt, Binary, Bool, Integer, Nullable, SmallInt, Text, Timestamptz,
        Uuid as SqlUuid,
    },
};
use diesel_async::{AsyncPgConnection, RunQueryDsl as _};
use domain::ledger::{
    Hash,
    head::{FullTile, Head},
    tile,
};
use uuid::Uuid;

/// First key of the advisory locks by which sequencers keep out of each other's way.
const SEQUENCING_LOCK: i32 = 0x4153_5153;

/// A laboratory that has something to sequence or to sign.
#[derive(QueryableByName)]
pub(super) struct Waiting {
    #[diesel(embed)]
    pub(super) laboratory: LaboratoryKey,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub(super) pending_since: Option<DateTime<Utc>>,
}

/// Laboratories with pending acts or a head that was not signed, and those named.
pub(super) async fn waiting(
    connection: &mut AsyncPgConnection,
    named: Vec<i32>,
) -> Answer<Vec<Waiting>> {
    Ok(statement(
        "SELECT laboratory_id, id, slug, since AS pending_since \
           FROM (SELECT laboratory_id, min(pending_since) AS since FROM ledger_pending GROUP BY 1 \
                 UNION ALL SELECT laboratory_id, NULL FROM ledger_head WHERE signed_size < size \
                 UNION ALL SELECT laboratory_id, NULL FROM UNNEST($1::integer[]) AS laboratory_id \
                ) AS every (laboratory_id, since) \
           JOIN laboratories_laboratory USING (laboratory_id) \
          ORDER BY laboratory_id, since NULLS LAST",
    )
    .bind::<Array<Integer>, _>(named)
    .load(connection)
    .await?)
}

/// Every laboratory.
pub(super) async fn laboratories(connection: &mut AsyncPgConnection) -> Answer<Vec<LaboratoryKey>> {
    Ok(statement(
        "SELECT laboratory_id, id, slug FROM laboratories_laboratory ORDER BY laboratory_id",
    )
    .load(connection)
    .await?)
}

#[derive(QueryableByName)]
struct Claimed {
    #[diesel(sql_type = Bool)]
    free: bool,
}

/// Takes the laboratory's turn until the transaction ends; false where another process has it.
pub(super) async fn claim(connection: &mut AsyncPgConnection, laboratory: i32) -> Answer<bool> {
    let row: Claimed = statement("SELECT pg_try_advisory_xact_lock($1, $2) AS free")
        .bind::<Integer, _>(SEQUENCING_LOCK)
        .bind::<Integer, _>(laboratory)
        .get_result(connection)
        .await?;
    Ok(row.free)
}

#[derive(QueryableByName)]
struct LogRow {
    #[diesel(sql_type = Integer)]
    log_number: i32,
    #[diesel(sql_type = Text)]
    origin: String,
    #[diesel(sql_type = BigInt)]
    size: i64,
    #[diesel(sql_type = Array<Binary>)]
    unfinished: Vec<Vec<u8>>,
    #[diesel(sql_type = BigInt)]
    signed_size: i64,
}

/// A laboratory's current log.
pub(crate) struct CurrentLog {
    /// Its number.
    pub(crate) number: i32,
    /// Its origin.
    pub(crate) origin: String,
    /// How far it has come.
    pub(crate) head: Head,
    /// Size of its newest checkpoint; none before the first.
    pub(crate) signed_size: Option<u64>,
}

impl TryFrom<LogRow> for CurrentLog {
    type Error = ApiError;
    fn try_from(row: LogRow) -> Answer<Self> {
        let size = u64::try_from(row.size).map_err(ApiError::internal)?;
        let levels: Answer<Vec<Vec<Hash>>> = row.unfinished.iter().map(|one| hashes(one)).collect();
        Ok(Self {
            number: row.log_number,
            origin: row.origin,
            head: Head::new(size, levels?).map_err(ApiError::internal)?,
            signed_size: u64::try_from(row.signed_size).ok(),
        })
    }
}

fn hashes(bytes: &[u8]) -> Answer<Vec<Hash>> {
    if bytes.is_empty() {
        return Ok(Vec::new());
    }
    tile::from_bytes(bytes).map_err(ApiError::internal)
}

/// The current log of a laboratory: that of the highest number.
pub(crate) async fn current_log(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
) -> Answer<CurrentLog> {
    read_log(connection, laboratory, "").await
}

/// The current log of a laboratory, its head locked until the transaction ends.
pub(super) async fn lock_log(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
) -> Answer<CurrentLog> {
    read_log(connection, laboratory, " FOR UPDATE OF ledger_head").await
}

async fn read_log(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    lock: &str,
) -> Answer<CurrentLog> {
    let row: LogRow = statement(format!(
        "SELECT log_number, origin, size, unfinished, signed_size \
           FROM ledger_head JOIN ledger_log USING (laboratory_id, log_number) \
          WHERE laboratory_id = $1 ORDER BY log_number DESC LIMIT 1{lock}"
    ))
    .bind::<Integer, _>(laboratory)
    .get_result(connection)
    .await?;
    row.try_into()
}

/// An act that has no entry yet.
#[derive(QueryableByName)]
pub(super) struct Pending {
    #[diesel(sql_type = BigInt)]
    pub(super) pending_id: i64,
    #[diesel(sql_type = SqlUuid)]
    pub(super) act_id: Uuid,
    #[diesel(sql_type = Text)]
    pub(super) entry: String,
}

/// Acts that have no entry yet, in the order in which they get one.
///
/// A later version of a subject was sealed after the earlier one was committed, so its number in
/// the queue is higher, and whoever sees it sees the earlier one too.
pub(super) async fn pending(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    most: i64,
) -> Answer<Vec<Pending>> {
    Ok(statement(
        "SELECT pending_id, act_id, entry FROM ledger_pending \
           JOIN ledger_act USING (laboratory_id, act_id) \
          WHERE laboratory_id = $1 ORDER BY pending_id LIMIT $2",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<BigInt, _>(most)
    .load(connection)
    .await?)
}

/// Writes entries, the tiles that they filled and the new head, and takes the acts from the queue.
///
/// # Errors
/// [`ApiError::Internal`] where the head is no longer the one that was read.
pub(super) async fn append(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    before: &CurrentLog,
    head: &Head,
    acts: &[Pending],
    full: &[FullTile],
) -> Answer<()> {
    let tiles: Answer<Vec<(i16, i64, Vec<u8>)>> = full
        .iter()
        .map(|one| {
            Ok((
                i16::try_from(one.level).map_err(ApiError::internal)?,
                number(one.index)?,
                tile::to_bytes(&one.hashes),
            ))
        })
        .collect();
    let tiles = tiles?;
    let moved = statement(
        "WITH entries AS (INSERT INTO ledger_entry \
             (laboratory_id, log_number, entry_index, act_id) \
           SELECT $1, $2, $3 + place - 1, act \
             FROM UNNEST($4::uuid[]) WITH ORDINALITY AS new (act, place)), \
         tiles AS (INSERT INTO ledger_tile \
             (laboratory_id, log_number, level, tile_index, hashes) \
           SELECT $1, $2, UNNEST($5::smallint[]), UNNEST($6::bigint[]), UNNEST($7::bytea[])), \
         done AS (DELETE FROM ledger_pending WHERE laboratory_id = $1 AND pending_id = ANY($8)) \
         UPDATE ledger_head SET size = $9, unfinished = $10 \
          WHERE laboratory_id = $1 AND log_number = $2 AND size = $3",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Integer, _>(before.number)
    .bind::<BigInt, _>(number(before.head.size())?)
    .bind::<Array<SqlUuid>, _>(acts.iter().map(|act| act.act_id).collect::<Vec<_>>())
    .bind::<Array<SmallInt>, _>(tiles.iter().map(|one| one.0).collect::<Vec<_>>())
    .bind::<Array<BigInt>, _>(tiles.iter().map(|one| one.1).collect::<Vec<_>>())
    .bind::<Array<Binary>, _>(tiles.iter().map(|one| one.2.as_slice()).collect::<Vec<_>>())
    .bind::<Array<BigInt>, _>(acts.iter().map(|act| act.pending_id).collect::<Vec<_>>())
    .bind::<BigInt, _>(number(head.size())?)
    .bind::<Array<Binary>, _>(unfinished(head))
    .execute(connection)
    .await?;
    if moved == 1 {
        Ok(())
    } else {
        Err(ApiError::internal(
            "the log's head moved while it was locked",
        ))
    }
}

fn unfinished(head: &Head) -> Vec<Vec<u8>> {
    head.unfinished()
        .iter()
        .map(|hashes| tile::to_bytes(hashes))
        .collect()
}

fn number(value: u64) -> Answer<i64> {
    i64::try_from(value).map_err(ApiError::internal)
}

#[derive(QueryableByName)]
struct CheckpointRow {
    #[diesel(sql_type = BigInt)]
    size: i64,
    #[diesel(sql_type = Binary)]
    root: Vec<u8>,
    #[diesel(sql_type = Timestamptz)]
    signed_at: DateTime<Utc>,
}

/// Size, root and time of a log's newest checkpoint.
pub(super) async fn newest_checkpoint(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    log: i32,
) -> Answer<Option<(u64, Hash, DateTime<Utc>)>> {
    let rows: Vec<CheckpointRow> = statement(
        "SELECT size, root, signed_at FROM ledger_checkpoint \
          WHERE laboratory_id = $1 AND log_number = $2 ORDER BY size DESC LIMIT 1",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Integer, _>(log)
    .load(connection)
    .await?;
    rows.into_iter()
        .next()
        .map(|row| {
            Ok((
                u64::try_from(row.size).map_err(ApiError::internal)?,
                Hash::from_slice(&row.root).map_err(ApiError::internal)?,
                row.signed_at,
            ))
        })
        .transpose()
}

/// Keeps a checkpoint that was signed, and says so at the head.
pub(super) async fn insert_checkpoint(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    log: &CurrentLog,
    root: Hash,
    note: &str,
    now: DateTime<Utc>,
) -> Answer<()> {
    statement(
        "WITH kept AS (INSERT INTO ledger_checkpoint \
             (laboratory_id, log_number, size, root, note, signed_at) \
           VALUES ($1, $2, $3, $4, $5, $6)) \
         UPDATE ledger_head SET signed_size = $3 WHERE laboratory_id = $1 AND log_number = $2",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Integer, _>(log.number)
    .bind::<BigInt, _>(number(log.head.size())?)
    .bind::<Binary, _>(root.0.to_vec())
    .bind::<Text, _>(note)
    .bind::<Timestamptz, _>(now)
    .execute(connection)
    .await?;
    Ok(())
}
