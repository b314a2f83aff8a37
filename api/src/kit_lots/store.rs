//! All SQL of kit lots.

use crate::{kept::Subject, request::Page};
use chrono::NaiveDate;
use diesel::sql_types::{Array, BigInt, Integer, Jsonb, Uuid as SqlUuid};
use domain::{
    id::RunId,
    kit_lots::{DISCLOSED, KitLot},
};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

impl Subject for KitLot {
    const KIND: &'static str = "kit-lot";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;

    fn state(&self) -> &'static str {
        self.state.word()
    }
}

crate::keep_rows! {
    table: kit_lots_kit_lot,
    key: kit_lot_id,
    content: KitLot,
    called: "kit lot",
    columns: {
        code: String = |lot| lot.entry.code.clone(),
        expires_on: NaiveDate = |lot| lot.entry.expires_on,
        procedure_id: Uuid = |lot| lot.entry.procedure.0,
    }
}

/// A page of kit lots, newest first; only those that the filter asks for.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &super::list_kit_lots::KitLotFilter,
) -> Answer<Vec<Kept<KitLot>>> {
    let mut query = dsl::kit_lots_kit_lot
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::kit_lot_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::kit_lot_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(state) = filter.state {
        query = query.filter(dsl::state.eq(state.word()));
    }
    if let Some(procedure) = filter.procedure {
        query = query.filter(dsl::procedure_id.eq(procedure.0));
    }
    if let Some(code) = &filter.code {
        query = query.filter(dsl::code.eq(code.clone()));
    }
    if let Some(day) = filter.expires_before {
        query = query.filter(dsl::expires_on.lt(day));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}

#[derive(diesel::QueryableByName)]
struct Used {
    #[diesel(sql_type = SqlUuid)]
    kit_lot_id: Uuid,
    #[diesel(sql_type = BigInt)]
    runs: i64,
}

/// How many runs name each of these lots. A run that was withdrawn used a test all the same.
pub(super) async fn tests_used(tx: &mut Tx, lots: &[Uuid]) -> Answer<BTreeMap<Uuid, u64>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<Used> = diesel::sql_query(
        "SELECT kit_lot_id, count(*) AS runs FROM runs_run \
         WHERE laboratory_id = $1 AND kit_lot_id = ANY($2) GROUP BY kit_lot_id",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(lots)
    .load(tx.connection())
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| (row.kit_lot_id, u64::try_from(row.runs).unwrap_or(0)))
        .collect())
}

#[derive(diesel::QueryableByName)]
struct OwnRun {
    #[diesel(sql_type = SqlUuid)]
    run_id: Uuid,
}

/// Those of the runs that were done with the lot.
pub(super) async fn runs_of(tx: &mut Tx, lot: Uuid, runs: &[RunId]) -> Answer<BTreeSet<Uuid>> {
    let laboratory = tx.laboratory_id();
    let ids: Vec<Uuid> = runs.iter().map(|run| run.0).collect();
    let rows: Vec<OwnRun> = diesel::sql_query(
        "SELECT run_id FROM runs_run \
         WHERE laboratory_id = $1 AND kit_lot_id = $2 AND run_id = ANY($3)",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<SqlUuid, _>(lot)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(tx.connection())
    .await?;
    Ok(rows.into_iter().map(|row| row.run_id).collect())
}

/// A run on a lot, its newest version.
#[derive(diesel::QueryableByName)]
pub(super) struct LotRun {
    #[diesel(sql_type = SqlUuid)]
    pub(super) run_id: Uuid,
    #[diesel(sql_type = Integer)]
    pub(super) version: i32,
    #[diesel(sql_type = Jsonb)]
    pub(super) content: serde_json::Value,
}

/// These runs.
pub(super) async fn runs_by_id(tx: &mut Tx, runs: &[RunId]) -> Answer<Vec<LotRun>> {
    let laboratory = tx.laboratory_id();
    let ids: Vec<Uuid> = runs.iter().map(|run| run.0).collect();
    Ok(diesel::sql_query(
        "SELECT run_id, version, content FROM runs_run \
         WHERE laboratory_id = $1 AND run_id = ANY($2) ORDER BY run_id",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(tx.connection())
    .await?)
}

/// The newest 500 recorded runs on a lot of samples that were run on another one too, the oldest
/// first.
pub(super) async fn shared_runs(tx: &mut Tx, lot: Uuid, other: Uuid) -> Answer<Vec<LotRun>> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(
        "SELECT run_id, version, content FROM ( \
           SELECT run_id, version, content, read_at FROM runs_run AS run \
            WHERE laboratory_id = $1 AND kit_lot_id = $2 AND state = 'recorded' \
              AND EXISTS (SELECT FROM runs_run AS beside \
                   WHERE beside.laboratory_id = $1 AND beside.sample_id = run.sample_id \
                     AND beside.kit_lot_id = $3 AND beside.state = 'recorded') \
            ORDER BY read_at DESC, run_id DESC LIMIT 500) AS newest ORDER BY read_at, run_id",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<SqlUuid, _>(lot)
    .bind::<SqlUuid, _>(other)
    .load(tx.connection())
    .await?)
}
