//! What the pages of lots read.

use crate::{db::Tx, error::Answer, request::Page};
use chrono::{DateTime, NaiveDate, Utc};
use diesel::{
    QueryableByName,
    sql_types::{Array, BigInt, Date, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use std::collections::HashMap;
use uuid::Uuid;

/// A lot in the list.
#[derive(QueryableByName)]
pub(super) struct LotRow {
    #[diesel(sql_type = SqlUuid)]
    pub(super) lot_id: Uuid,
    #[diesel(sql_type = Text)]
    pub(super) code: String,
    #[diesel(sql_type = Text)]
    pub(super) commodity: String,
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) mass_kg: Option<String>,
    #[diesel(sql_type = Date)]
    pub(super) arrived_on: NaiveDate,
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) customer: Option<String>,
    #[diesel(sql_type = BigInt)]
    pub(super) samples: i64,
    #[diesel(sql_type = BigInt)]
    pub(super) results: i64,
    #[diesel(sql_type = BigInt)]
    pub(super) released: i64,
}

/// What a customer may see: its own lots, and those where its part lets it.
const VISIBLE: &str = "($2::uuid IS NULL OR lot.customer_id = $2 OR EXISTS ( \
       SELECT 1 FROM lots_party AS party WHERE party.laboratory_id = $1 \
       AND party.lot_id = lot.lot_id AND party.customer_id = $2 AND party.sees <> 'nothing'))";

/// Results that somebody asks for: not superseded, not cancelled.
const OF_LOT: &str = "FROM results_result AS result JOIN samples_sample AS sample \
       ON sample.laboratory_id = result.laboratory_id AND sample.sample_id = result.sample_id \
       WHERE result.laboratory_id = $1 AND sample.lot_id = lot.lot_id \
       AND result.state NOT IN ('superseded', 'cancelled')";

/// A page of lots, newest first.
pub(super) async fn list(tx: &mut Tx, page: &Page, customer: Option<Uuid>) -> Answer<Vec<LotRow>> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(format!(
        "SELECT lot.lot_id, lot.code, lot.commodity, lot.content->>'mass_kg' AS mass_kg, \
                lot.arrived_on, customer.content->>'name' AS customer, \
                (SELECT count(*) FROM samples_sample AS sample WHERE sample.laboratory_id = $1 \
                  AND sample.lot_id = lot.lot_id) AS samples, \
                (SELECT count(*) {OF_LOT}) AS results, \
                (SELECT count(*) {OF_LOT} AND result.state = 'released') AS released \
         FROM lots_lot AS lot LEFT JOIN customers_customer AS customer \
           ON customer.laboratory_id = lot.laboratory_id \
           AND customer.customer_id = lot.customer_id \
         WHERE lot.laboratory_id = $1 AND {VISIBLE} AND lot.lot_id < $3 \
         ORDER BY lot.lot_id DESC LIMIT $4"
    ))
    .bind::<Integer, _>(laboratory)
    .bind::<Nullable<SqlUuid>, _>(customer)
    .bind::<SqlUuid, _>(page.after.unwrap_or(Uuid::max()))
    .bind::<BigInt, _>(page.rows())
    .load(tx.connection())
    .await?)
}

/// How many lots there are, and how many have a result that is not released yet.
#[derive(QueryableByName)]
pub(super) struct Counts {
    #[diesel(sql_type = BigInt)]
    pub(super) lots: i64,
    #[diesel(sql_type = BigInt)]
    pub(super) waiting: i64,
}

/// Counts them.
pub(super) async fn counts(tx: &mut Tx, customer: Option<Uuid>) -> Answer<Counts> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(format!(
        "SELECT count(*) AS lots, count(*) FILTER (WHERE EXISTS ( \
           SELECT 1 {OF_LOT} AND result.state <> 'released')) AS waiting \
         FROM lots_lot AS lot WHERE lot.laboratory_id = $1 AND {VISIBLE}"
    ))
    .bind::<Integer, _>(laboratory)
    .bind::<Nullable<SqlUuid>, _>(customer)
    .get_result(tx.connection())
    .await?)
}

#[derive(QueryableByName)]
struct Id {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

/// The samples of a lot.
pub(super) async fn samples_of(tx: &mut Tx, lot: Uuid) -> Answer<Vec<Uuid>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<Id> = diesel::sql_query(
        "SELECT sample_id AS id FROM samples_sample WHERE laboratory_id = $1 AND lot_id = $2 \
         ORDER BY sample_id LIMIT 200",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<SqlUuid, _>(lot)
    .load(tx.connection())
    .await?;
    Ok(rows.into_iter().map(|row| row.id).collect())
}

/// A certificate of a lot.
#[derive(QueryableByName)]
pub(super) struct CertificateRow {
    #[diesel(sql_type = Text)]
    pub(super) number: String,
    /// Code of its check page.
    #[diesel(sql_type = Text)]
    pub(super) code: String,
    #[diesel(sql_type = Text)]
    pub(super) state: String,
    #[diesel(sql_type = Timestamptz)]
    pub(super) created_at: DateTime<Utc>,
}

/// The certificates of a lot, newest first.
pub(super) async fn certificates_of(tx: &mut Tx, lot: Uuid) -> Answer<Vec<CertificateRow>> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(
        "SELECT number, code, state, created_at FROM certificates_certificate \
         WHERE laboratory_id = $1 AND lot_id = $2 ORDER BY certificate_id DESC",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<SqlUuid, _>(lot)
    .load(tx.connection())
    .await?)
}

#[derive(QueryableByName)]
struct Named {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
}

/// Names of customers.
pub(super) async fn customer_names(tx: &mut Tx, ids: Vec<Uuid>) -> Answer<HashMap<Uuid, String>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<Named> = diesel::sql_query(
        "SELECT customer_id AS id, coalesce(content->>'name', code) AS name \
         FROM customers_customer WHERE laboratory_id = $1 AND customer_id = ANY($2)",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(tx.connection())
    .await?;
    Ok(rows.into_iter().map(|row| (row.id, row.name)).collect())
}
