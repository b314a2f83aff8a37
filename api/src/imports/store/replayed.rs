//! What only uploads tell, in tables of a rebuilt copy: which line told which run, and what each
//! reading said.

use crate::{
    db::{LIVE, Tx},
    error::Answer,
};
use diesel::{
    ExpressionMethods as _, QueryDsl as _, QueryableByName,
    sql_types::{Array, BigInt, Binary, Bool, Integer, Text, Uuid as SqlUuid},
};
use diesel_async::{RunQueryDsl as _, SimpleAsyncConnection as _};
use domain::{erasures::ERASED, imports::RefusedRow};
use std::collections::HashMap;
use uuid::Uuid;

/// Every line of an import that told something of a run; `place` is where it stands among the
/// run's origins, `is_first` whether no line of an import stands before it.
const TOLD: &str = "\
    INSERT INTO imports_told (import_id, line, run_id, place, is_first) \
    SELECT (origin->>'import')::uuid, (origin->>'line')::bigint, run_id, place, \
        place = min(place) OVER (PARTITION BY run_id) \
    FROM runs_run CROSS JOIN LATERAL jsonb_array_elements(content->'origins') \
        WITH ORDINALITY AS origins (origin, place) \
    WHERE laboratory_id = $1 AND jsonb_exists(origin, 'import')";

/// Makes the tables, and notes from the runs which line told which.
pub(in crate::imports) async fn note_lines(tx: &mut Tx) -> Answer<()> {
    tx.connection()
        .batch_execute(
            "CREATE UNLOGGED TABLE imports_told (import_id uuid NOT NULL, line bigint NOT NULL, \
                 run_id uuid NOT NULL, place bigint NOT NULL, is_first boolean NOT NULL); \
             CREATE UNLOGGED TABLE imports_said (import_id uuid NOT NULL, run_id uuid NOT NULL, \
                 place bigint NOT NULL, entry bytea NOT NULL)",
        )
        .await?;
    let laboratory = tx.laboratory_id();
    crate::statement::statement(TOLD)
        .bind::<Integer, _>(laboratory)
        .execute(tx.connection())
        .await?;
    tx.connection()
        .batch_execute("CREATE INDEX ON imports_told (import_id)")
        .await?;
    Ok(())
}

#[derive(QueryableByName)]
struct IdRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

/// The imports that told something of a run.
pub(in crate::imports) async fn telling(tx: &mut Tx) -> Answer<Vec<Uuid>> {
    let rows: Vec<IdRow> = crate::statement::statement(
        "SELECT import_id AS id FROM imports_import WHERE laboratory_id = $1 \
           AND EXISTS (SELECT FROM imports_told WHERE imports_told.import_id = \
               imports_import.import_id) ORDER BY import_id",
    )
    .bind::<Integer, _>(tx.laboratory_id())
    .load(tx.connection())
    .await?;
    Ok(rows.into_iter().map(|row| row.id).collect())
}

/// What a line of an import told.
#[derive(Clone, Copy, QueryableByName)]
pub(in crate::imports) struct ToldLine {
    #[diesel(sql_type = BigInt)]
    line: i64,
    /// The run.
    #[diesel(sql_type = SqlUuid)]
    pub(in crate::imports) run_id: Uuid,
    /// Where the line stands among the run's origins.
    #[diesel(sql_type = BigInt)]
    pub(in crate::imports) place: i64,
    /// Whether no line of an import stands before it.
    #[diesel(sql_type = Bool)]
    pub(in crate::imports) is_first: bool,
}

/// The lines of an import that told something of a run.
pub(in crate::imports) async fn lines(tx: &mut Tx, import: Uuid) -> Answer<HashMap<u64, ToldLine>> {
    let rows: Vec<ToldLine> = crate::statement::statement(
        "SELECT line, run_id, place, is_first FROM imports_told WHERE import_id = $1",
    )
    .bind::<SqlUuid, _>(import)
    .load(tx.connection())
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| (row.line.unsigned_abs(), row))
        .collect())
}

/// The refused rows of an import that were mended.
pub(in crate::imports) async fn mended(tx: &mut Tx, import: Uuid) -> Answer<Vec<RefusedRow>> {
    use crate::schema::imports_row::dsl;
    let contents: Vec<serde_json::Value> = dsl::imports_row
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::import_id.eq(import))
        .filter(dsl::run_id.is_not_null())
        .order(dsl::line)
        .select(dsl::content)
        .load(tx.connection())
        .await?;
    contents
        .into_iter()
        .map(|content| serde_json::from_value(content).map_err(crate::error::ApiError::internal))
        .collect()
}

/// Notes what lines said of runs: each entry with its run and place.
pub(in crate::imports) async fn note_said(
    tx: &mut Tx,
    import: Uuid,
    said: &[(ToldLine, Vec<u8>)],
) -> Answer<()> {
    crate::statement::statement(
        "INSERT INTO imports_said (import_id, run_id, place, entry) \
         SELECT $1, * FROM UNNEST($2, $3, $4)",
    )
    .bind::<SqlUuid, _>(import)
    .bind::<Array<SqlUuid>, _>(said.iter().map(|(told, _)| told.run_id).collect::<Vec<_>>())
    .bind::<Array<BigInt>, _>(said.iter().map(|(told, _)| told.place).collect::<Vec<_>>())
    .bind::<Array<Binary>, _>(
        said.iter()
            .map(|(_, entry)| entry.as_slice())
            .collect::<Vec<_>>(),
    )
    .execute(tx.connection())
    .await?;
    Ok(())
}

/// Gives each import the entries that it was the first to tell of their run and analyte, in the
/// order of their bytes.
pub(in crate::imports) async fn write_fingerprints(tx: &mut Tx) -> Answer<()> {
    crate::statement::statement(
        "UPDATE imports_import SET fingerprints = told.bytes FROM ( \
             SELECT import_id, string_agg(entry, ''::bytea ORDER BY entry) AS bytes FROM ( \
                 SELECT DISTINCT ON (run_id, substring(entry FROM 5 FOR 4)) import_id, entry \
                 FROM imports_said \
                 ORDER BY run_id, substring(entry FROM 5 FOR 4), place) AS first \
             GROUP BY import_id) AS told \
         WHERE laboratory_id = $1 AND imports_import.import_id = told.import_id",
    )
    .bind::<Integer, _>(tx.laboratory_id())
    .execute(tx.connection())
    .await?;
    Ok(())
}

/// Takes over by what refused rows are known again, where their text was erased.
pub(in crate::imports) async fn take_over_text_digests(tx: &mut Tx) -> Answer<()> {
    crate::statement::statement(format!(
        "UPDATE imports_row AS told SET text_digest = live.text_digest \
         FROM {LIVE}.imports_row AS live WHERE told.laboratory_id = $1 \
           AND live.laboratory_id = $1 AND live.row_id = told.row_id \
           AND told.content->>'text' = $2"
    ))
    .bind::<Integer, _>(tx.laboratory_id())
    .bind::<Text, _>(ERASED)
    .execute(tx.connection())
    .await?;
    Ok(())
}

#[derive(QueryableByName)]
struct BytesRow {
    #[diesel(sql_type = Binary)]
    bytes: Vec<u8>,
}

/// What the live row of an import keeps of its readings.
pub(in crate::imports) async fn live_fingerprints(tx: &mut Tx, import: Uuid) -> Answer<Vec<u8>> {
    let rows: Vec<BytesRow> = crate::statement::statement(format!(
        "SELECT fingerprints AS bytes FROM {LIVE}.imports_import \
         WHERE laboratory_id = $1 AND import_id = $2"
    ))
    .bind::<Integer, _>(tx.laboratory_id())
    .bind::<SqlUuid, _>(import)
    .load(tx.connection())
    .await?;
    Ok(rows.into_iter().flat_map(|row| row.bytes).collect())
}

#[derive(QueryableByName)]
struct KeyRow {
    #[diesel(sql_type = SqlUuid)]
    run_id: Uuid,
    #[diesel(sql_type = Text)]
    import_key: String,
}

/// The keys that the live rows of some runs have.
pub(in crate::imports) async fn live_keys(
    tx: &mut Tx,
    runs: Vec<Uuid>,
) -> Answer<Vec<(Uuid, String)>> {
    let rows: Vec<KeyRow> = crate::statement::statement(format!(
        "SELECT run_id, import_key FROM {LIVE}.runs_run \
         WHERE laboratory_id = $1 AND run_id = ANY($2) AND import_key IS NOT NULL"
    ))
    .bind::<Integer, _>(tx.laboratory_id())
    .bind::<Array<SqlUuid>, _>(runs)
    .load(tx.connection())
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| (row.run_id, row.import_key))
        .collect())
}
