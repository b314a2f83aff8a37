//! What the list of samples and the history of one read.

use crate::{db::Tx, error::Answer, request::Page};
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{BigInt, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use std::collections::HashMap;
use uuid::Uuid;

/// A sample in the list.
#[derive(QueryableByName)]
pub(super) struct SampleRow {
    #[diesel(sql_type = SqlUuid)]
    pub(super) sample_id: Uuid,
    #[diesel(sql_type = Text)]
    pub(super) code: String,
    #[diesel(sql_type = Text)]
    pub(super) purpose: String,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(super) lot_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) lot_code: Option<String>,
    #[diesel(sql_type = Text)]
    pub(super) commodity: String,
    #[diesel(sql_type = Timestamptz)]
    pub(super) received_at: DateTime<Utc>,
    /// The states of its results, each once, with commas between.
    #[diesel(sql_type = Text)]
    pub(super) results: String,
}

/// A page of samples, newest first.
pub(super) async fn list(tx: &mut Tx, page: &Page) -> Answer<Vec<SampleRow>> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(
        "SELECT sample.sample_id, sample.code, sample.purpose, sample.lot_id, \
                lot.code AS lot_code, sample.content->>'commodity' AS commodity, \
                (sample.content->>'received_at')::timestamptz AS received_at, \
                coalesce((SELECT string_agg(DISTINCT result.state, ', ') \
                  FROM results_result AS result WHERE result.laboratory_id = $1 \
                  AND result.sample_id = sample.sample_id), '') AS results \
         FROM samples_sample AS sample LEFT JOIN lots_lot AS lot \
           ON lot.laboratory_id = sample.laboratory_id AND lot.lot_id = sample.lot_id \
         WHERE sample.laboratory_id = $1 AND sample.sample_id < $2 \
         ORDER BY sample.sample_id DESC LIMIT $3",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<SqlUuid, _>(page.after.unwrap_or(Uuid::max()))
    .bind::<BigInt, _>(page.rows())
    .load(tx.connection())
    .await?)
}

/// How many samples there are, and how many results wait in which state.
#[derive(QueryableByName)]
pub(super) struct Counts {
    #[diesel(sql_type = BigInt)]
    pub(super) samples: i64,
    #[diesel(sql_type = BigInt)]
    pub(super) needs_a_run: i64,
    #[diesel(sql_type = BigInt)]
    pub(super) held: i64,
    #[diesel(sql_type = BigInt)]
    pub(super) ready: i64,
    #[diesel(sql_type = BigInt)]
    pub(super) returned: i64,
}

/// Counts them.
pub(super) async fn counts(tx: &mut Tx) -> Answer<Counts> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(
        "SELECT (SELECT count(*) FROM samples_sample WHERE laboratory_id = $1) AS samples, \
                count(*) FILTER (WHERE state = 'needs-a-run') AS needs_a_run, \
                count(*) FILTER (WHERE state = 'held') AS held, \
                count(*) FILTER (WHERE state = 'ready') AS ready, \
                count(*) FILTER (WHERE state = 'returned') AS returned \
         FROM results_result WHERE laboratory_id = $1 \
           AND state IN ('needs-a-run', 'held', 'ready', 'returned')",
    )
    .bind::<Integer, _>(laboratory)
    .get_result(tx.connection())
    .await?)
}

#[derive(QueryableByName)]
struct Named {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
}

/// Names of the people and programs of the laboratory, by their ids.
pub(super) async fn names(tx: &mut Tx) -> Answer<Names> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<Named> = diesel::sql_query(
        "SELECT account_id AS id, coalesce(content->>'printed_name', login) AS name \
           FROM identity_account WHERE laboratory_id = $1 \
         UNION ALL SELECT client_id, coalesce(content->>'name', 'a program') \
           FROM identity_client WHERE laboratory_id = $1",
    )
    .bind::<Integer, _>(laboratory)
    .load(tx.connection())
    .await?;
    Ok(Names(
        rows.into_iter().map(|row| (row.id, row.name)).collect(),
    ))
}

/// Names of people and programs.
pub(super) struct Names(HashMap<Uuid, String>);

impl Names {
    /// The name of an account or client.
    pub(super) fn of(&self, id: Uuid) -> &str {
        self.0.get(&id).map_or("somebody not known", String::as_str)
    }
}
