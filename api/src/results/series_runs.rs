//! The runs of series, with what their controls say.

use super::{
    dossier::{Dossiers, source},
    reference::Reference,
    unparsed::Unparsed,
};
use crate::{db::Tx, error::Answer};
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{Array, Integer, Jsonb, Nullable, Timestamptz, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use domain::{
    id::RunId,
    quality_control::{SeriesRun, control_verdicts},
    runs::Run,
};
use uuid::Uuid;

#[derive(QueryableByName)]
struct SeriesRow {
    #[diesel(sql_type = SqlUuid)]
    series_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    run_id: Uuid,
    #[diesel(sql_type = Integer)]
    version: i32,
    #[diesel(sql_type = Timestamptz)]
    read_at: DateTime<Utc>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    sample_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Integer>)]
    sample_version: Option<i32>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    control_material_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Jsonb>)]
    content: Option<Unparsed>,
}

const SERIES: &str = "\
    SELECT run.series_id, run.run_id, run.version, run.read_at, sample.sample_id, \
           sample.version AS sample_version, sample.control_material_id, \
           CASE WHEN sample.purpose = 'control' THEN run.content END AS content \
      FROM runs_run AS run LEFT JOIN samples_sample AS sample \
        ON sample.laboratory_id = run.laboratory_id AND sample.sample_id = run.sample_id \
     WHERE run.laboratory_id = $1 AND run.series_id = ANY($2) \
       AND run.state IN ('recorded', 'unassigned') AND run.read_at IS NOT NULL";

/// Reads the runs of series, with what their controls say.
pub(crate) async fn load_series(
    tx: &Tx,
    reference: &Reference,
    dossiers: &mut Dossiers,
    series: Vec<Uuid>,
) -> Answer<()> {
    let wanted: Vec<Uuid> = series
        .into_iter()
        .filter(|id| !dossiers.series.contains_key(id))
        .collect();
    if wanted.is_empty() {
        return Ok(());
    }
    let laboratory = tx.laboratory_id();
    let rows: Vec<SeriesRow> = crate::statement::statement(SERIES)
        .bind::<Integer, _>(laboratory)
        .bind::<Array<SqlUuid>, _>(&wanted)
        .load(&mut tx.together())
        .await?;
    for id in wanted {
        dossiers.series.entry(id).or_default();
    }
    for row in rows {
        let series = dossiers.series.entry(row.series_id).or_default();
        series.push(series_run(reference, row)?);
    }
    Ok(())
}

fn series_run(reference: &Reference, row: SeriesRow) -> Answer<SeriesRun> {
    let mut from = vec![source(row.run_id, row.version)];
    let control = match row.content {
        None => None,
        Some(content) => {
            let run: Run = content.parsed()?;
            let known = row
                .control_material_id
                .and_then(|id| Some((id, reference.control_materials.get(&id)?)));
            from.extend(
                row.sample_id
                    .zip(row.sample_version)
                    .map(|(id, version)| source(id, version)),
            );
            from.extend(known.map(|(id, material)| material.source(id)));
            Some(control_verdicts(
                &run,
                known.map(|(_, material)| &material.content),
            ))
        }
    };
    Ok(SeriesRun {
        run: RunId(row.run_id),
        read_at: row.read_at.into(),
        control,
        from,
    })
}
