//! The runs of series, with what their controls say, each alone and by the rules over its group.

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
    quality_control::{
        ControlValue, JudgedByRules, SeriesRun, control_values, control_verdicts, judge_series,
        verdicts_as_read,
    },
    runs::Run,
};
use uuid::Uuid;

#[derive(QueryableByName)]
struct SeriesRow {
    /// None of an earlier control run of another series: it is looked at beside the series' own.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    series_id: Option<Uuid>,
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

/// The runs of the series, and of each group of control runs in them (material, procedure, kit lot,
/// reader) those of other series that the rules look at: the eleven before the first, and whatever
/// was read between.
const SERIES: &str = "\
    WITH own AS MATERIALIZED ( \
      SELECT run.series_id, run.run_id, run.version, run.read_at, sample.sample_id, \
             sample.version AS sample_version, sample.control_material_id, run.kit_lot_id, \
             run.reader_id, run.content->>'procedure' AS procedure_id, sample.purpose, run.content \
        FROM runs_run AS run LEFT JOIN samples_sample AS sample \
          ON sample.laboratory_id = run.laboratory_id AND sample.sample_id = run.sample_id \
       WHERE run.laboratory_id = $1 AND run.series_id = ANY($2) \
         AND run.state IN ('recorded', 'unassigned') AND run.read_at IS NOT NULL), \
    grouped AS ( \
      SELECT control_material_id, kit_lot_id, reader_id, procedure_id, \
             min(read_at) AS first_read_at, max(read_at) AS last_read_at FROM own \
       WHERE purpose = 'control' AND control_material_id IS NOT NULL AND kit_lot_id IS NOT NULL \
         AND reader_id IS NOT NULL AND procedure_id IS NOT NULL GROUP BY 1, 2, 3, 4), \
    earlier AS ( \
      SELECT DISTINCT found.* FROM grouped CROSS JOIN LATERAL ( \
        SELECT run.run_id, row_number() OVER (ORDER BY run.read_at DESC, run.run_id DESC) \
                 - count(*) FILTER (WHERE run.read_at >= grouped.first_read_at) OVER () AS before \
          FROM samples_sample AS sample JOIN runs_run AS run \
            ON run.laboratory_id = sample.laboratory_id AND run.sample_id = sample.sample_id \
         WHERE sample.laboratory_id = $1 AND sample.purpose = 'control' \
           AND sample.control_material_id = grouped.control_material_id \
           AND run.state = 'recorded' AND run.kit_lot_id = grouped.kit_lot_id \
           AND run.reader_id = grouped.reader_id \
           AND run.content->>'procedure' = grouped.procedure_id \
           AND run.read_at <= grouped.last_read_at \
           AND (run.series_id IS NULL OR NOT run.series_id = ANY($2))) AS found \
       WHERE found.before <= 11) \
    SELECT series_id, run_id, version, read_at, sample_id, sample_version, control_material_id, \
           CASE WHEN purpose = 'control' THEN content END AS content FROM own UNION ALL \
    SELECT NULL, run.run_id, run.version, run.read_at, sample.sample_id, sample.version, \
           sample.control_material_id, run.content \
      FROM earlier JOIN runs_run AS run ON run.laboratory_id = $1 AND run.run_id = earlier.run_id \
      JOIN samples_sample AS sample \
        ON sample.laboratory_id = run.laboratory_id AND sample.sample_id = run.sample_id";

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
    for id in &wanted {
        dossiers.series.entry(*id).or_default();
    }
    let mut values = Vec::new();
    for row in rows {
        let series = row.series_id;
        let run = series_run(reference, row, &mut values)?;
        if let Some(series) = series {
            dossiers.series.entry(series).or_default().push(run);
        }
    }
    for id in wanted {
        judge_series(dossiers.series.entry(id).or_default(), &values);
    }
    Ok(())
}

/// One run; what it gave as a control is added to `values`.
fn series_run(
    reference: &Reference,
    row: SeriesRow,
    values: &mut Vec<ControlValue>,
) -> Answer<SeriesRun> {
    let mut from = vec![source(row.run_id, row.version)];
    let id = RunId(row.run_id);
    let mut as_read = None;
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
            if let Some((material, known)) = known {
                values.extend(control_values(id, &run, known.facts(material), &from));
                from.push(known.source(material));
            }
            let material = known.map(|(_, material)| &material.content);
            as_read = verdicts_as_read(&run, material);
            Some(control_verdicts(&run, material))
        }
    };
    Ok(SeriesRun {
        run: id,
        read_at: row.read_at.into(),
        control,
        as_read,
        from,
        rules: JudgedByRules::default(),
    })
}
