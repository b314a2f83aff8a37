//! What an archive reads of the log: nothing here writes.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    schema::{ledger_act, ledger_checkpoint, ledger_entry, ledger_log},
    statement::statement,
};
use diesel::{
    BoolExpressionMethods as _, ExpressionMethods as _, JoinOnDsl as _, OptionalExtension as _,
    QueryDsl as _, QueryableByName,
    sql_types::{Array, BigInt, Integer, Text},
};
use diesel_async::RunQueryDsl as _;
use uuid::Uuid;

/// The number of the laboratory's newest log.
pub(super) async fn newest_log(tx: &mut Tx) -> Answer<i32> {
    let laboratory = tx.laboratory_id();
    ledger_log::table
        .filter(ledger_log::laboratory_id.eq(laboratory))
        .order(ledger_log::log_number.desc())
        .select(ledger_log::log_number)
        .first(tx.connection())
        .await
        .optional()?
        .ok_or_else(|| ApiError::NotFound("The laboratory has no log.".into()))
}

/// The sizes of a log's checkpoints, smallest first.
pub(super) async fn checkpoint_sizes(tx: &mut Tx, log: i32) -> Answer<Vec<i64>> {
    let laboratory = tx.laboratory_id();
    Ok(ledger_checkpoint::table
        .filter(ledger_checkpoint::laboratory_id.eq(laboratory))
        .filter(ledger_checkpoint::log_number.eq(log))
        .order(ledger_checkpoint::size)
        .select(ledger_checkpoint::size)
        .load(tx.connection())
        .await?)
}

#[derive(QueryableByName)]
struct NoteRow {
    #[diesel(sql_type = BigInt)]
    size: i64,
    #[diesel(sql_type = Text)]
    note: String,
}

/// Some checkpoints as they were signed, with the lines of the witnesses that cosigned them.
pub(super) async fn checkpoints(
    tx: &mut Tx,
    log: i32,
    sizes: &[i64],
) -> Answer<Vec<(i64, String)>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<NoteRow> = statement(
        "SELECT size, ledger_cosigned(laboratory_id, log_number, size, note) AS note \
           FROM ledger_checkpoint WHERE laboratory_id = $1 AND log_number = $2 \
            AND size = ANY($3) ORDER BY size",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Integer, _>(log)
    .bind::<Array<BigInt>, _>(sizes)
    .load(tx.connection())
    .await?;
    Ok(rows.into_iter().map(|row| (row.size, row.note)).collect())
}

/// An entry of a log.
#[derive(diesel::Queryable)]
pub(super) struct EntryRow {
    pub(super) entry_index: i64,
    pub(super) entry: String,
}

/// The entries `from..to` of a log.
pub(super) async fn entries(tx: &mut Tx, log: i32, from: i64, to: i64) -> Answer<Vec<EntryRow>> {
    let laboratory = tx.laboratory_id();
    Ok(ledger_entry::table
        .inner_join(
            ledger_act::table.on(ledger_act::laboratory_id
                .eq(ledger_entry::laboratory_id)
                .and(ledger_act::act_id.eq(ledger_entry::act_id))),
        )
        .filter(ledger_entry::laboratory_id.eq(laboratory))
        .filter(ledger_entry::log_number.eq(log))
        .filter(ledger_entry::entry_index.ge(from))
        .filter(ledger_entry::entry_index.lt(to))
        .order(ledger_entry::entry_index)
        .select((ledger_entry::entry_index, ledger_act::entry))
        .load(tx.connection())
        .await?)
}

/// The records of the acts of the entries `from..to`, each ended by LF.
pub(super) async fn records(
    tx: &mut Tx,
    log: i32,
    from: i64,
    to: i64,
) -> Answer<Vec<(Uuid, Vec<u8>)>> {
    let laboratory = tx.laboratory_id();
    Ok(ledger_entry::table
        .inner_join(
            ledger_act::table.on(ledger_act::laboratory_id
                .eq(ledger_entry::laboratory_id)
                .and(ledger_act::act_id.eq(ledger_entry::act_id))),
        )
        .filter(ledger_entry::laboratory_id.eq(laboratory))
        .filter(ledger_entry::log_number.eq(log))
        .filter(ledger_entry::entry_index.ge(from))
        .filter(ledger_entry::entry_index.lt(to))
        .order(ledger_entry::entry_index)
        .select((ledger_act::act_id, ledger_act::records))
        .load(tx.connection())
        .await?)
}

/// A disclosure that is left.
#[derive(QueryableByName)]
pub(super) struct DisclosureRow {
    #[diesel(sql_type = Text)]
    pub(super) digest: String,
    #[diesel(sql_type = Text)]
    pub(super) disclosure: String,
}

/// The disclosures of the first `size` entries of a log, by their digests after `after`.
pub(super) async fn disclosures(
    tx: &mut Tx,
    log: i32,
    size: i64,
    after: &str,
    rows: i64,
) -> Answer<Vec<DisclosureRow>> {
    let laboratory = tx.laboratory_id();
    Ok(statement(
        "SELECT disclosure.digest COLLATE \"C\" AS digest, disclosure.disclosure \
           FROM ledger_disclosure AS disclosure \
           JOIN ledger_entry AS entry ON entry.laboratory_id = disclosure.laboratory_id \
            AND entry.act_id = disclosure.act_id \
          WHERE disclosure.laboratory_id = $1 AND entry.log_number = $2 \
            AND entry.entry_index < $3 AND disclosure.digest COLLATE \"C\" > $4 \
          ORDER BY disclosure.digest COLLATE \"C\" LIMIT $5",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Integer, _>(log)
    .bind::<BigInt, _>(size)
    .bind::<Text, _>(after)
    .bind::<BigInt, _>(rows)
    .load(tx.connection())
    .await?)
}
