//! All SQL of the log's files: only reads, by the role that sees what the public may.

use crate::error::Answer;
use diesel::{
    OptionalExtension as _, QueryableByName,
    sql_types::{BigInt, Binary, Integer, Nullable, SmallInt, Text, Uuid as SqlUuid},
};
use diesel_async::{AsyncPgConnection, RunQueryDsl as _};
use uuid::Uuid;

/// A log and its newest checkpoint.
#[derive(QueryableByName)]
pub(super) struct NewestRow {
    #[diesel(sql_type = Integer)]
    pub(super) laboratory_id: i32,
    #[diesel(sql_type = Text)]
    pub(super) slug: String,
    /// Who may read it, in the laboratory's word; none where it never said.
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) readers: Option<String>,
    #[diesel(sql_type = Nullable<BigInt>)]
    pub(super) size: Option<i64>,
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) note: Option<String>,
}

/// The laboratory with this id, and the newest checkpoint of its log with this number.
pub(super) async fn newest(
    connection: &mut AsyncPgConnection,
    laboratory: Uuid,
    number: i32,
) -> Answer<Option<NewestRow>> {
    Ok(crate::statement::statement(
        "SELECT laboratory.laboratory_id, laboratory.slug, \
           laboratory.content ->> 'log_readers' AS readers, newest.size, \
           ledger_cosigned(laboratory.laboratory_id, $2, newest.size, newest.note) AS note \
         FROM laboratories_laboratory AS laboratory \
         LEFT JOIN LATERAL (SELECT size, note FROM ledger_checkpoint AS checkpoint \
           WHERE checkpoint.laboratory_id = laboratory.laboratory_id \
             AND checkpoint.log_number = $2 ORDER BY size DESC LIMIT 1) AS newest ON true \
         WHERE laboratory.id = $1",
    )
    .bind::<SqlUuid, _>(laboratory)
    .bind::<Integer, _>(number)
    .get_result(connection)
    .await
    .optional()?)
}

#[derive(QueryableByName)]
struct HashesRow {
    #[diesel(sql_type = Nullable<Binary>)]
    hashes: Option<Vec<u8>>,
}

/// The hashes of a tile: all of a full one, else as far as it has come by now.
pub(super) async fn tile(
    connection: &mut AsyncPgConnection,
    (laboratory, number): (i32, i32),
    level: i16,
    index: i64,
) -> Answer<Option<Vec<u8>>> {
    // One statement, so that a tile which is finished meanwhile is seen in one place or the other.
    let row: HashesRow = crate::statement::statement(
        "SELECT COALESCE( \
           (SELECT hashes FROM ledger_tile WHERE laboratory_id = $1 AND log_number = $2 \
              AND level = $3 AND tile_index = $4), \
           (SELECT unfinished[$3 + 1] FROM ledger_head \
            WHERE laboratory_id = $1 AND log_number = $2)) AS hashes",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Integer, _>(number)
    .bind::<SmallInt, _>(level)
    .bind::<BigInt, _>(index)
    .get_result(connection)
    .await?;
    Ok(row.hashes)
}

#[derive(QueryableByName)]
struct EntryRow {
    #[diesel(sql_type = Text)]
    entry: String,
}

/// The entries from one number up to, not including, another, in order.
pub(super) async fn entries(
    connection: &mut AsyncPgConnection,
    (laboratory, number): (i32, i32),
    from: i64,
    to: i64,
) -> Answer<Vec<String>> {
    let rows: Vec<EntryRow> = crate::statement::statement(
        "SELECT act.entry FROM ledger_entry AS numbered \
         JOIN ledger_act AS act USING (laboratory_id, act_id) \
         WHERE numbered.laboratory_id = $1 AND numbered.log_number = $2 \
           AND numbered.entry_index >= $3 AND numbered.entry_index < $4 \
         ORDER BY numbered.entry_index",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Integer, _>(number)
    .bind::<BigInt, _>(from)
    .bind::<BigInt, _>(to)
    .load(connection)
    .await?;
    Ok(rows.into_iter().map(|row| row.entry).collect())
}

/// A log of a laboratory, as the trust file names it.
#[derive(QueryableByName)]
struct PublicLogRow {
    #[diesel(sql_type = Integer)]
    log_number: i32,
    #[diesel(sql_type = Text)]
    origin: String,
    /// Entries under its newest checkpoint.
    #[diesel(sql_type = Nullable<BigInt>)]
    size: Option<i64>,
    /// Where it ended: entries, as the record that began the next one states it.
    #[diesel(sql_type = Nullable<BigInt>)]
    ended_size: Option<i64>,
    #[diesel(sql_type = Nullable<Binary>)]
    ended_root: Option<Vec<u8>>,
}

/// A log of a laboratory, as anybody may know it.
pub(in crate::ledger) struct PublicLog {
    /// Its number.
    pub(in crate::ledger) number: i32,
    /// Its name.
    pub(in crate::ledger) origin: String,
    /// Entries under its newest checkpoint.
    pub(in crate::ledger) size: i64,
    /// Size and root where it ended; none while it goes on.
    pub(in crate::ledger) end: Option<(i64, Vec<u8>)>,
}

/// The logs of a laboratory, the current one last.
pub(in crate::ledger) async fn public_logs(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
) -> Answer<Vec<PublicLog>> {
    let rows: Vec<PublicLogRow> = crate::statement::statement(
        "SELECT log.log_number, log.origin, newest.size, next.follows_size AS ended_size, \
           next.follows_root AS ended_root \
         FROM ledger_log AS log \
         LEFT JOIN ledger_log AS next ON next.laboratory_id = log.laboratory_id \
           AND next.log_number = log.log_number + 1 \
         LEFT JOIN LATERAL (SELECT size FROM ledger_checkpoint AS checkpoint \
           WHERE checkpoint.laboratory_id = log.laboratory_id \
             AND checkpoint.log_number = log.log_number ORDER BY size DESC LIMIT 1) \
           AS newest ON true \
         WHERE log.laboratory_id = $1 ORDER BY log.log_number",
    )
    .bind::<Integer, _>(laboratory)
    .load(connection)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| PublicLog {
            number: row.log_number,
            origin: row.origin,
            size: row.size.unwrap_or(0),
            end: row.ended_size.zip(row.ended_root),
        })
        .collect())
}
