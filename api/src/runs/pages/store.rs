//! What the list of runs reads beside the runs.

use crate::{db::Tx, error::Answer, kept::Kept};
use diesel::{
    QueryableByName,
    sql_types::{Array, BigInt, Integer, Text, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use domain::runs::Run;
use std::collections::HashMap;
use uuid::Uuid;

/// Codes of samples by their ids.
pub(super) type Codes = HashMap<Uuid, String>;

#[derive(QueryableByName)]
struct Coded {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    code: String,
}

/// Codes of the samples that runs belong to.
pub(super) async fn sample_codes(tx: &mut Tx, runs: &[Kept<Run>]) -> Answer<Codes> {
    let ids: Vec<Uuid> = runs
        .iter()
        .filter_map(|run| run.content.entry.sample.map(Uuid::from))
        .collect();
    let laboratory = tx.laboratory_id();
    let rows: Vec<Coded> = diesel::sql_query(
        "SELECT sample_id AS id, code FROM samples_sample \
         WHERE laboratory_id = $1 AND sample_id = ANY($2)",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(tx.connection())
    .await?;
    Ok(rows.into_iter().map(|row| (row.id, row.code)).collect())
}

/// How many runs there are, and how many are of no sample yet.
#[derive(QueryableByName)]
pub(super) struct Counts {
    #[diesel(sql_type = BigInt)]
    pub(super) runs: i64,
    #[diesel(sql_type = BigInt)]
    pub(super) unassigned: i64,
}

/// Counts them.
pub(super) async fn counts(tx: &mut Tx) -> Answer<Counts> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(
        "SELECT count(*) AS runs, count(*) FILTER (WHERE state = 'unassigned') AS unassigned \
         FROM runs_run WHERE laboratory_id = $1",
    )
    .bind::<Integer, _>(laboratory)
    .get_result(tx.connection())
    .await?)
}
