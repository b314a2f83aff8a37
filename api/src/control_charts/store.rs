//! All SQL of control charts: it reads runs, samples and results, and writes nothing.

use super::Wanted;
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    statement::statement,
};
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{
        Array, BigInt, Bool, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid,
    },
};
use diesel_async::RunQueryDsl as _;
use domain::{
    control_charts::{DoubtfulStretch, MOST_CHARTED},
    runs::Run,
};
use serde_json::Value;
use uuid::Uuid;

/// Control runs before and after those of a chart that are looked at beside them, of each kit lot
/// and reader: eleven for the rules of the first, and eleven for the rules of those.
const BESIDE: i64 = 22;

/// Most runs that are listed of one stretch in doubt.
pub(super) const MOST_IN_DOUBT: usize = 200;

#[derive(QueryableByName)]
struct ControlRow {
    #[diesel(sql_type = SqlUuid)]
    run_id: Uuid,
    #[diesel(sql_type = Integer)]
    version: i32,
    #[diesel(sql_type = SqlUuid)]
    sample_id: Uuid,
    #[diesel(sql_type = Integer)]
    sample_version: i32,
    #[diesel(sql_type = Text)]
    sample_code: String,
    #[diesel(sql_type = Bool)]
    charted: bool,
    #[diesel(sql_type = BigInt)]
    in_period: i64,
    #[diesel(sql_type = Jsonb)]
    content: Value,
}

/// A control run, its newest version.
pub(super) struct ControlRun {
    pub(super) id: Uuid,
    pub(super) version: i32,
    pub(super) sample: Uuid,
    pub(super) sample_version: i32,
    pub(super) sample_code: String,
    /// Whether it is one of the chart, not one beside it.
    pub(super) charted: bool,
    pub(super) run: Run,
}

/// The newest control runs of the period, and of each kit lot and reader those around them. A run
/// whose procedure, kit lot or reader is not known belongs to every chart that it might be of.
const CONTROLS: &str = "\
    WITH control AS MATERIALIZED ( \
      SELECT run.run_id, run.version, run.read_at, run.kit_lot_id, run.reader_id, \
             sample.sample_id, sample.version AS sample_version, sample.code AS sample_code, \
             CASE WHEN run.read_at < $7::timestamptz THEN 'before' \
                  WHEN run.read_at >= $8::timestamptz THEN 'after' \
                  ELSE 'within' END AS place \
        FROM samples_sample AS sample JOIN runs_run AS run \
          ON run.laboratory_id = sample.laboratory_id AND run.sample_id = sample.sample_id \
       WHERE sample.laboratory_id = $1 AND sample.purpose = 'control' \
         AND sample.control_material_id = $2 AND run.read_at IS NOT NULL \
         AND run.state IN ('recorded', 'withdrawn') \
         AND coalesce(run.content->>'procedure', $3::text) = $3::text \
         AND run.content->'readings' @> jsonb_build_array(jsonb_build_object('analyte', $4::text)) \
         AND ($5::uuid IS NULL OR coalesce(run.kit_lot_id, $5::uuid) = $5::uuid) \
         AND ($6::uuid IS NULL OR coalesce(run.reader_id, $6::uuid) = $6::uuid)), \
    counted AS ( \
      SELECT *, count(*) FILTER (WHERE place = 'within') OVER () AS in_period, \
             row_number() OVER (PARTITION BY place ORDER BY read_at DESC, run_id DESC) AS newest \
        FROM control), \
    placed AS ( \
      SELECT *, place = 'within' AND newest <= $9 AS charted, \
             CASE WHEN place = 'within' AND newest > $9 THEN 'before' ELSE place END AS beside \
        FROM counted), \
    ordered AS ( \
      SELECT *, CASE WHEN beside = 'after' \
               THEN row_number() OVER (PARTITION BY beside, kit_lot_id, reader_id \
                 ORDER BY read_at, run_id) \
               ELSE row_number() OVER (PARTITION BY beside, kit_lot_id, reader_id \
                 ORDER BY read_at DESC, run_id DESC) END AS away FROM placed) \
    SELECT ordered.run_id, ordered.version, ordered.sample_id, sample_version, sample_code, \
           charted, in_period, run.content \
      FROM ordered JOIN runs_run AS run ON run.laboratory_id = $1 AND run.run_id = ordered.run_id \
     WHERE charted OR away <= $10 ORDER BY ordered.read_at, ordered.run_id";

/// The control runs of a chart and beside it, in the order of the times read; and how many there
/// are in its period.
pub(super) async fn controls(tx: &Tx, wanted: &Wanted) -> Answer<(Vec<ControlRun>, i64)> {
    let far = |moment: Option<domain::time::Moment>, otherwise: DateTime<Utc>| {
        moment.map_or(otherwise, domain::time::Moment::utc)
    };
    let most = i64::try_from(MOST_CHARTED).unwrap_or(i64::MAX);
    let rows: Vec<ControlRow> = statement(CONTROLS)
        .bind::<Integer, _>(tx.laboratory_id())
        .bind::<SqlUuid, _>(wanted.material.0)
        .bind::<Text, _>(wanted.procedure.to_string())
        .bind::<Text, _>(wanted.analyte.slug())
        .bind::<Nullable<SqlUuid>, _>(wanted.kit_lot.map(|id| id.0))
        .bind::<Nullable<SqlUuid>, _>(wanted.reader.map(|id| id.0))
        .bind::<Timestamptz, _>(far(wanted.from, DateTime::UNIX_EPOCH))
        .bind::<Timestamptz, _>(far(wanted.before, far_ahead()))
        .bind::<BigInt, _>(most)
        .bind::<BigInt, _>(BESIDE)
        .load(&mut tx.together())
        .await?;
    let in_period = rows.as_slice().first().map_or(0, |row| row.in_period);
    let runs = rows.into_iter().map(|row| {
        Ok(ControlRun {
            id: row.run_id,
            version: row.version,
            sample: row.sample_id,
            sample_version: row.sample_version,
            sample_code: row.sample_code,
            charted: row.charted,
            run: serde_json::from_value(row.content).map_err(ApiError::internal)?,
        })
    });
    Ok((runs.collect::<Answer<_>>()?, in_period))
}

/// A time that no control run was read at: the year 9999.
fn far_ahead() -> DateTime<Utc> {
    DateTime::from_timestamp(253_370_764_800, 0).unwrap_or(DateTime::<Utc>::MAX_UTC)
}

/// A run in doubt, and a result of its sample for the analyte where there is one.
#[derive(QueryableByName)]
pub(super) struct DoubtRow {
    /// Which of the stretches, from 1.
    #[diesel(sql_type = BigInt)]
    pub(super) stretch: i64,
    /// How many runs the stretch has.
    #[diesel(sql_type = BigInt)]
    pub(super) runs: i64,
    #[diesel(sql_type = SqlUuid)]
    pub(super) run_id: Uuid,
    #[diesel(sql_type = Integer)]
    pub(super) version: i32,
    #[diesel(sql_type = Timestamptz)]
    pub(super) read_at: DateTime<Utc>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(super) sample_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) sample_code: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(super) result_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Integer>)]
    pub(super) result_version: Option<i32>,
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) result_state: Option<String>,
}

const IN_DOUBT: &str = "\
    WITH found AS ( \
      SELECT stretch.number AS stretch, run.* \
        FROM unnest($2::uuid[], $3::uuid[], $4::timestamptz[], $5::timestamptz[]) \
               WITH ORDINALITY \
               AS stretch (kit_lot_id, reader_id, after_at, before_at, number) \
       CROSS JOIN LATERAL ( \
         SELECT run.run_id, run.version, run.read_at, sample.sample_id, \
                sample.code AS sample_code, count(*) OVER () AS runs \
           FROM runs_run AS run LEFT JOIN samples_sample AS sample \
             ON sample.laboratory_id = run.laboratory_id AND sample.sample_id = run.sample_id \
          WHERE run.laboratory_id = $1 AND run.kit_lot_id = stretch.kit_lot_id \
            AND run.reader_id = stretch.reader_id \
            AND run.state IN ('recorded', 'unassigned') \
            AND (stretch.after_at IS NULL OR run.read_at > stretch.after_at) \
            AND (stretch.before_at IS NULL OR run.read_at < stretch.before_at) \
            AND run.content->>'procedure' = $6::text \
            AND run.content->'readings' @> \
                jsonb_build_array(jsonb_build_object('analyte', $7::text)) \
            AND sample.purpose IS DISTINCT FROM 'control' \
          ORDER BY run.read_at, run.run_id LIMIT $8) AS run) \
    SELECT found.stretch, found.runs, found.run_id, found.version, found.read_at, \
           found.sample_id, found.sample_code, result.result_id, \
           result.version AS result_version, result.state AS result_state \
      FROM found LEFT JOIN results_result AS result \
        ON result.laboratory_id = $1 AND result.sample_id = found.sample_id \
       AND result.analyte = $7::text \
     ORDER BY found.stretch, found.read_at, found.run_id, result.result_id";

/// The runs in doubt of each stretch, with the results of their samples.
pub(super) async fn in_doubt(
    tx: &Tx,
    wanted: &Wanted,
    stretches: &[DoubtfulStretch],
) -> Answer<Vec<DoubtRow>> {
    if stretches.is_empty() {
        return Ok(Vec::new());
    }
    let most = i64::try_from(MOST_IN_DOUBT).unwrap_or(i64::MAX);
    let kit_lots: Vec<Uuid> = stretches.iter().map(|one| one.kit_lot.0).collect();
    let readers: Vec<Uuid> = stretches.iter().map(|one| one.reader.0).collect();
    let after = stretches.iter().map(|one| one.after);
    let after: Vec<Option<DateTime<Utc>>> = after.map(|one| Some(one?.read_at.utc())).collect();
    let before = stretches.iter().map(|one| one.before);
    let before: Vec<Option<DateTime<Utc>>> = before.map(|one| Some(one?.read_at.utc())).collect();
    Ok(statement(IN_DOUBT)
        .bind::<Integer, _>(tx.laboratory_id())
        .bind::<Array<SqlUuid>, _>(kit_lots)
        .bind::<Array<SqlUuid>, _>(readers)
        .bind::<Array<Nullable<Timestamptz>>, _>(after)
        .bind::<Array<Nullable<Timestamptz>>, _>(before)
        .bind::<Text, _>(wanted.procedure.to_string())
        .bind::<Text, _>(wanted.analyte.slug())
        .bind::<BigInt, _>(most)
        .load(&mut tx.together())
        .await?)
}

/// Control runs of one material, procedure, analyte, kit lot and reader.
#[derive(QueryableByName)]
pub(super) struct GroupRow {
    #[diesel(sql_type = SqlUuid)]
    pub(super) control_material_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub(super) procedure_id: Uuid,
    #[diesel(sql_type = Text)]
    pub(super) analyte: String,
    #[diesel(sql_type = SqlUuid)]
    pub(super) kit_lot_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub(super) reader_id: Uuid,
    #[diesel(sql_type = BigInt)]
    pub(super) runs: i64,
    #[diesel(sql_type = Timestamptz)]
    pub(super) first_read_at: DateTime<Utc>,
    #[diesel(sql_type = Timestamptz)]
    pub(super) last_read_at: DateTime<Utc>,
}

/// What there are control runs of, the one that was read last first.
pub(super) async fn groups(
    tx: &Tx,
    filter: &super::list_control_charts::ControlChartFilter,
) -> Answer<Vec<GroupRow>> {
    Ok(statement(
        "SELECT sample.control_material_id, (run.content->>'procedure')::uuid AS procedure_id, \
                reading.one->>'analyte' AS analyte, run.kit_lot_id, run.reader_id, \
                count(*) AS runs, min(run.read_at) AS first_read_at, \
                max(run.read_at) AS last_read_at \
           FROM samples_sample AS sample JOIN runs_run AS run \
             ON run.laboratory_id = sample.laboratory_id AND run.sample_id = sample.sample_id \
          CROSS JOIN LATERAL jsonb_array_elements(run.content->'readings') AS reading (one) \
          WHERE sample.laboratory_id = $1 AND sample.purpose = 'control' \
            AND sample.control_material_id IS NOT NULL AND run.state = 'recorded' \
            AND run.kit_lot_id IS NOT NULL AND run.reader_id IS NOT NULL \
            AND run.read_at IS NOT NULL AND run.content->>'procedure' IS NOT NULL \
            AND ($2::uuid IS NULL OR sample.control_material_id = $2) \
            AND ($3::text IS NULL OR run.content->>'procedure' = $3) \
            AND ($4::text IS NULL OR reading.one->>'analyte' = $4) \
          GROUP BY 1, 2, 3, 4, 5 ORDER BY last_read_at DESC, 1, 2, 3, 4, 5",
    )
    .bind::<Integer, _>(tx.laboratory_id())
    .bind::<Nullable<SqlUuid>, _>(filter.control_material.map(|id| id.0))
    .bind::<Nullable<Text>, _>(filter.procedure.map(|id| id.to_string()))
    .bind::<Nullable<Text>, _>(filter.analyte.map(|one| one.slug().to_owned()))
    .load(&mut tx.together())
    .await?)
}
