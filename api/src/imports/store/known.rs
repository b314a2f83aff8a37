//! What rows are matched with: runs that were imported, samples, lots, readers, runs typed at the
//! bench. Reads tables of other slices; writes none.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
};
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{Array, Binary, Integer, Nullable, SmallInt, Text, Timestamptz, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use domain::runs::{Origin, Reading};
use serde::Deserialize;
use uuid::Uuid;

/// How many keys one statement looks up.
const AT_ONCE: usize = 10_000;

/// A run that was imported before.
pub(in crate::imports) struct ImportedRun {
    /// What identifies it.
    pub(in crate::imports) import_key: String,
    /// The run.
    pub(in crate::imports) id: Uuid,
    /// Where it came from.
    pub(in crate::imports) origins: Vec<Origin>,
}

#[derive(QueryableByName)]
struct RunRow {
    #[diesel(sql_type = Text)]
    import_key: String,
    #[diesel(sql_type = SqlUuid)]
    run_id: Uuid,
    #[diesel(sql_type = Text)]
    origins: String,
}

/// The runs that were imported under these identities.
pub(in crate::imports) async fn runs(tx: &mut Tx, identities: &[&str]) -> Answer<Vec<ImportedRun>> {
    let laboratory = tx.laboratory_id();
    let mut found = Vec::new();
    for chunk in identities.chunks(AT_ONCE) {
        let rows: Vec<RunRow> = diesel::sql_query(
            "SELECT run.import_key, run.run_id, \
                 coalesce(run.content->'origins', '[]'::jsonb)::text AS origins \
             FROM UNNEST($2) AS wanted (import_key) JOIN runs_run AS run \
               ON run.laboratory_id = $1 AND run.import_key = wanted.import_key \
             WHERE run.import_key IS NOT NULL",
        )
        .bind::<Integer, _>(laboratory)
        .bind::<Array<Text>, _>(chunk)
        .load(tx.connection())
        .await?;
        for row in rows {
            found.push(ImportedRun {
                import_key: row.import_key,
                id: row.run_id,
                origins: serde_json::from_str(&row.origins).map_err(ApiError::internal)?,
            });
        }
    }
    Ok(found)
}

#[derive(QueryableByName)]
struct FingerprintRow {
    #[diesel(sql_type = SqlUuid)]
    import_id: Uuid,
    #[diesel(sql_type = Binary)]
    fingerprints: Vec<u8>,
}

/// What the readings of these imports said.
pub(in crate::imports) async fn fingerprints(
    tx: &mut Tx,
    imports: Vec<Uuid>,
) -> Answer<Vec<(Uuid, Vec<u8>)>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<FingerprintRow> = diesel::sql_query(
        "SELECT import_id, fingerprints FROM imports_import \
         WHERE laboratory_id = $1 AND import_id = ANY($2)",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(imports)
    .load(tx.connection())
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| (row.import_id, row.fingerprints))
        .collect())
}

#[derive(QueryableByName)]
struct CodeRow {
    #[diesel(sql_type = Text)]
    code: String,
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

/// Samples by code, else by barcode.
pub(in crate::imports) async fn samples(
    tx: &mut Tx,
    codes: &[&str],
) -> Answer<Vec<(String, Uuid)>> {
    let laboratory = tx.laboratory_id();
    let mut found = Vec::new();
    for chunk in codes.chunks(AT_ONCE) {
        let rows: Vec<CodeRow> = diesel::sql_query(
            "SELECT wanted.code, coalesce(sample.sample_id, label.sample_id) AS id \
             FROM UNNEST($2) AS wanted (code) \
             LEFT JOIN samples_sample AS sample \
               ON sample.laboratory_id = $1 AND sample.code = wanted.code \
             LEFT JOIN samples_barcode AS label \
               ON label.laboratory_id = $1 AND label.barcode = wanted.code \
             WHERE sample.sample_id IS NOT NULL OR label.sample_id IS NOT NULL",
        )
        .bind::<Integer, _>(laboratory)
        .bind::<Array<Text>, _>(chunk)
        .load(tx.connection())
        .await?;
        found.extend(rows.into_iter().map(|row| (row.code, row.id)));
    }
    Ok(found)
}

/// A lot that a row names.
#[derive(Debug, Clone, QueryableByName)]
pub(in crate::imports) struct KnownLot {
    /// Its code.
    #[diesel(sql_type = Text)]
    pub(in crate::imports) code: String,
    /// The lot.
    #[diesel(sql_type = SqlUuid)]
    pub(in crate::imports) lot_id: Uuid,
    /// Its commodity.
    #[diesel(sql_type = Text)]
    pub(in crate::imports) commodity: String,
}

/// Lots by code.
pub(in crate::imports) async fn lots(tx: &mut Tx, codes: Vec<&str>) -> Answer<Vec<KnownLot>> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(
        "SELECT code, lot_id, commodity FROM lots_lot \
         WHERE laboratory_id = $1 AND code = ANY($2)",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<Text>, _>(codes)
    .load(tx.connection())
    .await?)
}

/// A run that was typed at the bench, and not met in an export yet.
#[derive(QueryableByName)]
pub(in crate::imports) struct BenchRow {
    /// The run.
    #[diesel(sql_type = SqlUuid)]
    pub(in crate::imports) run_id: Uuid,
    /// Its reader.
    #[diesel(sql_type = Text)]
    pub(in crate::imports) serial: String,
    /// Its port.
    #[diesel(sql_type = SmallInt)]
    pub(in crate::imports) port: i16,
    /// When it was read.
    #[diesel(sql_type = Timestamptz)]
    pub(in crate::imports) read_at: DateTime<Utc>,
    /// Its sample.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(in crate::imports) sample_id: Option<Uuid>,
    /// The sample's code.
    #[diesel(sql_type = Nullable<Text>)]
    pub(in crate::imports) sample_code: Option<String>,
    /// The kit lot's code.
    #[diesel(sql_type = Nullable<Text>)]
    pub(in crate::imports) kit_lot_code: Option<String>,
    #[diesel(sql_type = Text)]
    readings: String,
}

#[derive(Deserialize)]
#[serde(transparent)]
struct Readings(Vec<Reading>);

impl BenchRow {
    /// What was typed.
    pub(in crate::imports) fn readings(&self) -> Answer<Vec<Reading>> {
        serde_json::from_str::<Readings>(&self.readings)
            .map(|readings| readings.0)
            .map_err(ApiError::internal)
    }
}

const BENCH: &str = "\
    SELECT run.run_id, coalesce(reader.serial, run.content->>'reader_serial', '') AS serial, \
        run.port, run.read_at, run.sample_id, \
        coalesce(sample.code, run.content->>'sample_code') AS sample_code, \
        coalesce(kit.code, run.content->>'kit_lot_code') AS kit_lot_code, \
        coalesce(run.content->'readings', '[]'::jsonb)::text AS readings \
    FROM (SELECT * FROM runs_run WHERE laboratory_id = $1 AND reader_id = ANY($2) \
            AND read_at BETWEEN $4 AND $5 AND import_key IS NULL \
          UNION ALL \
          SELECT * FROM runs_run WHERE laboratory_id = $1 AND reader_id IS NULL \
            AND read_at BETWEEN $4 AND $5 AND import_key IS NULL \
            AND content->>'reader_serial' = ANY($3)) AS run \
    LEFT JOIN readers_reader AS reader \
      ON reader.laboratory_id = $1 AND reader.reader_id = run.reader_id \
    LEFT JOIN samples_sample AS sample \
      ON sample.laboratory_id = $1 AND sample.sample_id = run.sample_id \
    LEFT JOIN kit_lots_kit_lot AS kit \
      ON kit.laboratory_id = $1 AND kit.kit_lot_id = run.kit_lot_id \
    WHERE run.state IN ('recorded', 'unassigned') ORDER BY run.read_at, run.run_id";

/// Runs typed at the bench on these readers, read in a span of time.
pub(in crate::imports) async fn bench(
    tx: &mut Tx,
    readers: Vec<Uuid>,
    serials: Vec<&str>,
    (from, to): (DateTime<Utc>, DateTime<Utc>),
) -> Answer<Vec<BenchRow>> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(BENCH)
        .bind::<Integer, _>(laboratory)
        .bind::<Array<SqlUuid>, _>(readers)
        .bind::<Array<Text>, _>(serials)
        .bind::<Timestamptz, _>(from)
        .bind::<Timestamptz, _>(to)
        .load(tx.connection())
        .await?)
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = diesel::sql_types::BigInt)]
    count: i64,
}

/// How many of these runs have a hold on them.
pub(in crate::imports) async fn held(tx: &mut Tx, runs: &[Uuid]) -> Answer<i64> {
    let laboratory = tx.laboratory_id();
    let mut held: i64 = 0;
    for chunk in runs.chunks(AT_ONCE) {
        let counted: Count = diesel::sql_query(
            "SELECT count(DISTINCT subject_id) AS count FROM holds_hold \
             WHERE laboratory_id = $1 AND subject_id = ANY($2) AND state = 'raised'",
        )
        .bind::<Integer, _>(laboratory)
        .bind::<Array<SqlUuid>, _>(chunk)
        .get_result(tx.connection())
        .await?;
        held = held.saturating_add(counted.count);
    }
    Ok(held)
}
