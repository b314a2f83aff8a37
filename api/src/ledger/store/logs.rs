//! The logs of a laboratory: which is current, and the beginning of one.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    schema::{ledger_head, ledger_log},
};
use diesel::{
    BoolExpressionMethods as _, ExpressionMethods as _, JoinOnDsl as _, QueryDsl as _,
    sql_types::{BigInt, Binary, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use domain::ledger::log::Log;
use uuid::Uuid;

/// The current log of a laboratory, as the statement that ends it needs it.
pub(in crate::ledger) struct LogBefore {
    pub(in crate::ledger) number: u32,
    pub(in crate::ledger) origin: String,
    pub(in crate::ledger) size: u64,
}

/// The laboratory's current log; nobody else begins the next one until this transaction ends.
pub(in crate::ledger) async fn lock_log(tx: &mut Tx) -> Answer<LogBefore> {
    let laboratory = tx.laboratory_id();
    let (number, origin, size): (i32, String, i64) = ledger_head::table
        .inner_join(
            ledger_log::table.on(ledger_log::laboratory_id
                .eq(ledger_head::laboratory_id)
                .and(ledger_log::log_number.eq(ledger_head::log_number))),
        )
        .filter(ledger_head::laboratory_id.eq(laboratory))
        .order(ledger_head::log_number.desc())
        .select((
            ledger_log::log_number,
            ledger_log::origin,
            ledger_head::size,
        ))
        .first(tx.connection())
        .await?;
    Ok(LogBefore {
        number: u32::try_from(number).map_err(ApiError::internal)?,
        origin,
        size: u64::try_from(size).map_err(ApiError::internal)?,
    })
}

/// Begins a log, empty.
pub(in crate::ledger) async fn insert_log(tx: &mut Tx, id: Uuid, log: &Log) -> Answer<()> {
    let number = i32::try_from(log.number).map_err(ApiError::internal)?;
    let ended = log.follows.as_ref();
    let ended_size = ended.map(|ended| i64::try_from(ended.size)).transpose();
    let ended_size = ended_size.map_err(ApiError::internal)?;
    let ended_root = ended.map(|ended| ended.root.as_bytes().to_vec());
    crate::statement::statement(
        "WITH begun AS (INSERT INTO ledger_log \
             (laboratory_id, log_number, origin, log_id, began_at, follows_size, follows_root) \
           VALUES ($1, $2, $3, $4, $5, $6, $7) RETURNING laboratory_id, log_number) \
         INSERT INTO ledger_head (laboratory_id, log_number, size, unfinished, signed_size) \
         SELECT laboratory_id, log_number, 0, '{}', -1 FROM begun",
    )
    .bind::<Integer, _>(tx.laboratory_id())
    .bind::<Integer, _>(number)
    .bind::<Text, _>(&log.origin)
    .bind::<SqlUuid, _>(id)
    .bind::<Timestamptz, _>(tx.now().utc())
    .bind::<Nullable<BigInt>, _>(ended_size)
    .bind::<Nullable<Binary>, _>(ended_root)
    .execute(tx.connection())
    .await?;
    Ok(())
}
