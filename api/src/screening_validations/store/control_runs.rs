//! The SQL that finds the control runs of a period.

use crate::{db::Tx, error::Answer};
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{Array, BigInt, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use uuid::Uuid;

/// A control run.
#[derive(QueryableByName)]
pub(in crate::screening_validations) struct ControlRun {
    #[diesel(sql_type = SqlUuid)]
    pub(in crate::screening_validations) run_id: Uuid,
    #[diesel(sql_type = Integer)]
    pub(in crate::screening_validations) version: i32,
    #[diesel(sql_type = Jsonb)]
    pub(in crate::screening_validations) content: serde_json::Value,
    #[diesel(sql_type = Timestamptz)]
    pub(in crate::screening_validations) read_at: DateTime<Utc>,
    #[diesel(sql_type = SqlUuid)]
    pub(in crate::screening_validations) sample_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub(in crate::screening_validations) control_material_id: Uuid,
    #[diesel(sql_type = Nullable<Text>)]
    pub(in crate::screening_validations) series: Option<String>,
}

/// Which control runs are sought.
pub(in crate::screening_validations) struct Sought<'a> {
    /// Of these materials.
    pub(in crate::screening_validations) materials: &'a [Uuid],
    /// By this procedure, that of the run or else that of its series.
    pub(in crate::screening_validations) procedure: Uuid,
    /// Read from this moment on.
    pub(in crate::screening_validations) from: DateTime<Utc>,
    /// Read before this moment.
    pub(in crate::screening_validations) before: DateTime<Utc>,
    /// So many at the most.
    pub(in crate::screening_validations) most: i64,
}

/// The control runs, in the order in which they were read.
pub(in crate::screening_validations) async fn find(
    tx: &mut Tx,
    sought: &Sought<'_>,
) -> Answer<Vec<ControlRun>> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(
        "SELECT run.run_id, run.version, run.content, run.read_at, sample.sample_id, \
                sample.control_material_id, series.code AS series \
           FROM samples_sample AS sample JOIN runs_run AS run \
             ON run.laboratory_id = sample.laboratory_id AND run.sample_id = sample.sample_id \
           LEFT JOIN series_series AS series \
             ON series.laboratory_id = run.laboratory_id AND series.series_id = run.series_id \
          WHERE sample.laboratory_id = $1 AND sample.purpose = 'control' \
            AND sample.control_material_id = ANY($2) AND run.state = 'recorded' \
            AND run.read_at >= $3 AND run.read_at < $4 \
            AND COALESCE(run.content->>'procedure', series.content->>'procedure') = $5 \
          ORDER BY run.read_at, run.run_id LIMIT $6",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(sought.materials)
    .bind::<Timestamptz, _>(sought.from)
    .bind::<Timestamptz, _>(sought.before)
    .bind::<Text, _>(sought.procedure.to_string())
    .bind::<BigInt, _>(sought.most)
    .load(tx.connection())
    .await?)
}
