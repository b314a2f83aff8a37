//! What the reviewer's queue reads.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::Kept,
};
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{Array, BigInt, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use domain::{holds::Hold, results::ResultVersion, reviews::MOST_RESULTS};
use uuid::Uuid;

/// A result that waits for its reviewer.
pub(super) struct Waiting {
    pub(super) result: Kept<ResultVersion>,
    pub(super) sample_id: Uuid,
    pub(super) sample_code: String,
    pub(super) lot_id: Option<Uuid>,
    pub(super) lot_code: Option<String>,
    /// Who worked the runs that it stands on.
    pub(super) analysts: Vec<Uuid>,
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    result_id: Uuid,
    #[diesel(sql_type = Integer)]
    version: i32,
    #[diesel(sql_type = Jsonb)]
    content: serde_json::Value,
    #[diesel(sql_type = Timestamptz)]
    created_at: DateTime<Utc>,
    #[diesel(sql_type = Timestamptz)]
    changed_at: DateTime<Utc>,
    #[diesel(sql_type = SqlUuid)]
    sample_id: Uuid,
    #[diesel(sql_type = Text)]
    sample_code: String,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    lot_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    lot_code: Option<String>,
    #[diesel(sql_type = Array<SqlUuid>)]
    analysts: Vec<Uuid>,
}

/// The results that wait, those without a hold first, then who waits longest; as many as one
/// signature covers.
pub(super) async fn waiting(tx: &mut Tx) -> Answer<Vec<Waiting>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<Row> = diesel::sql_query(
        "SELECT result.result_id, result.version, result.content, result.created_at, \
                result.changed_at, result.sample_id, sample.code AS sample_code, \
                sample.lot_id, lot.code AS lot_code, \
                ARRAY(SELECT run.analyst_id FROM runs_run AS run \
                  WHERE run.laboratory_id = $1 AND run.sample_id = result.sample_id \
                    AND run.analyst_id IS NOT NULL AND run.state = 'recorded') AS analysts \
         FROM results_result AS result \
         JOIN samples_sample AS sample ON sample.laboratory_id = result.laboratory_id \
           AND sample.sample_id = result.sample_id \
         LEFT JOIN lots_lot AS lot ON lot.laboratory_id = sample.laboratory_id \
           AND lot.lot_id = sample.lot_id \
         WHERE result.laboratory_id = $1 AND result.state IN ('ready', 'held') \
         ORDER BY (result.state = 'held'), result.changed_at, result.result_id LIMIT $2",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<BigInt, _>(i64::try_from(MOST_RESULTS).unwrap_or(100))
    .load(tx.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            Ok(Waiting {
                result: Kept {
                    id: row.result_id,
                    version: row.version,
                    content: serde_json::from_value(row.content).map_err(ApiError::internal)?,
                    created_at: row.created_at.into(),
                    changed_at: row.changed_at.into(),
                },
                sample_id: row.sample_id,
                sample_code: row.sample_code,
                lot_id: row.lot_id,
                lot_code: row.lot_code,
                analysts: row.analysts,
            })
        })
        .collect()
}

#[derive(QueryableByName)]
struct HoldRow {
    #[diesel(sql_type = Jsonb)]
    content: serde_json::Value,
}

/// The holds that stand on some samples.
pub(super) async fn standing_holds(tx: &mut Tx, samples: Vec<Uuid>) -> Answer<Vec<Hold>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<HoldRow> = diesel::sql_query(
        "SELECT content FROM holds_hold \
         WHERE laboratory_id = $1 AND sample_id = ANY($2) AND state = 'raised' ORDER BY hold_id",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(samples)
    .load(tx.connection())
    .await?;
    rows.into_iter()
        .map(|row| serde_json::from_value(row.content).map_err(ApiError::internal))
        .collect()
}

/// How many results are ready, and how many are held.
#[derive(QueryableByName)]
pub(super) struct Counts {
    #[diesel(sql_type = BigInt)]
    pub(super) ready: i64,
    #[diesel(sql_type = BigInt)]
    pub(super) held: i64,
}

/// Counts them.
pub(super) async fn counts(tx: &mut Tx) -> Answer<Counts> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(
        "SELECT count(*) FILTER (WHERE state = 'ready') AS ready, \
                count(*) FILTER (WHERE state = 'held') AS held \
         FROM results_result WHERE laboratory_id = $1 AND state IN ('ready', 'held')",
    )
    .bind::<Integer, _>(laboratory)
    .get_result(tx.connection())
    .await?)
}
