//! All SQL of runs. Many are written in one statement: they arrive by the hundred thousand.

use super::RunFilter;
use crate::{
    kept::Subject,
    request::Page,
    statement::{Statement, statement},
};
use chrono::{DateTime, Utc};
use diesel::sql_types::{Array, Integer, Nullable, SmallInt, Text, Timestamptz, Uuid as SqlUuid};
use domain::{
    runs::{DISCLOSED, Run, RunState},
    time::Moment,
};
use uuid::Uuid;

impl Subject for Run {
    const KIND: &'static str = "run";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;

    fn state(&self) -> &'static str {
        word(self.state)
    }
}

/// The word of a state in the read model.
pub(super) const fn word(state: RunState) -> &'static str {
    match state {
        RunState::Begun => "begun",
        RunState::Recorded => "recorded",
        RunState::Unassigned => "unassigned",
        RunState::Withdrawn => "withdrawn",
    }
}

crate::keep_rows! {
    table: runs_run,
    key: run_id,
    content: Run,
    called: "run",
    columns: {
        sample_id: Option<Uuid> = |run| run.entry.sample.map(|id| id.0),
        reader_id: Option<Uuid> = |run| run.entry.reader.map(|id| id.0),
        port: i16 = |run| i16::from(run.entry.port),
        read_at: Option<DateTime<Utc>> = |run| run.entry.read_at.map(|at| at.utc()),
        kit_lot_id: Option<Uuid> = |run| run.entry.kit_lot.map(|id| id.0),
        series_id: Option<Uuid> = |run| run.entry.series.map(|id| id.0),
        analyst_id: Option<Uuid> = |run| run.entry.analyst.map(|id| id.0),
        import_key: Option<String> = |_| None,
    }
}

const INSERT: &str = "\
    INSERT INTO runs_run (laboratory_id, run_id, version, state, content, sample_id, reader_id, \
        port, read_at, kit_lot_id, series_id, analyst_id, import_key, created_at, changed_at) \
    SELECT $1, run_id, 1, state, content::jsonb, sample_id, reader_id, port, read_at, kit_lot_id, \
        series_id, analyst_id, import_key, $2, $2 \
    FROM UNNEST($3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13) AS new (run_id, state, content, \
        sample_id, reader_id, port, read_at, kit_lot_id, series_id, analyst_id, import_key)";

/// The statement that stores first versions of runs, each with the key that identifies it in
/// exports. Whoever calls records them.
pub(super) fn insertion(
    laboratory: i32,
    now: Moment,
    runs: &[(Kept<Run>, Option<String>)],
) -> Answer<Statement<'static>> {
    let mut contents = Vec::with_capacity(runs.len());
    for (run, _) in runs {
        contents.push(serde_json::to_string(&run.content).map_err(ApiError::internal)?);
    }
    let of = |get: fn(&Run) -> Option<Uuid>| -> Vec<Option<Uuid>> {
        runs.iter().map(|(run, _)| get(&run.content)).collect()
    };
    let states: Vec<&'static str> = runs.iter().map(|(run, _)| run.content.state()).collect();
    let ports: Vec<i16> = runs
        .iter()
        .map(|(run, _)| i16::from(run.content.entry.port))
        .collect();
    let read: Vec<Option<DateTime<Utc>>> = runs
        .iter()
        .map(|(run, _)| run.content.entry.read_at.map(|at| at.utc()))
        .collect();
    let keys: Vec<Option<String>> = runs.iter().map(|(_, key)| key.clone()).collect();
    Ok(statement(INSERT)
        .bind::<Integer, _>(laboratory)
        .bind::<Timestamptz, _>(now.utc())
        .bind::<Array<SqlUuid>, _>(runs.iter().map(|(run, _)| run.id).collect::<Vec<_>>())
        .bind::<Array<Text>, _>(states)
        .bind::<Array<Text>, _>(contents)
        .bind::<Array<Nullable<SqlUuid>>, _>(of(|run| run.entry.sample.map(|id| id.0)))
        .bind::<Array<Nullable<SqlUuid>>, _>(of(|run| run.entry.reader.map(|id| id.0)))
        .bind::<Array<SmallInt>, _>(ports)
        .bind::<Array<Nullable<Timestamptz>>, _>(read)
        .bind::<Array<Nullable<SqlUuid>>, _>(of(|run| run.entry.kit_lot.map(|id| id.0)))
        .bind::<Array<Nullable<SqlUuid>>, _>(of(|run| run.entry.series.map(|id| id.0)))
        .bind::<Array<Nullable<SqlUuid>>, _>(of(|run| run.entry.analyst.map(|id| id.0)))
        .bind::<Array<Nullable<Text>>, _>(keys))
}

/// Stores a later version of a run, its key in exports left as it is, and records it.
pub(super) async fn save_version(
    tx: &mut Tx,
    run: &Kept<Run>,
    import_key: Option<String>,
) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    let mut row = Row::of(laboratory, run)?;
    let known: Option<String> = dsl::runs_run
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::run_id.eq(run.id))
        .select(dsl::import_key)
        .first(tx.connection())
        .await?;
    row.import_key = import_key.or(known);
    let changed = diesel::update(
        dsl::runs_run
            .filter(dsl::laboratory_id.eq(laboratory))
            .filter(dsl::run_id.eq(run.id))
            .filter(dsl::version.eq(run.version.saturating_sub(1))),
    )
    .set(&row)
    .execute(tx.connection())
    .await?;
    if changed == 0 {
        return Err(ApiError::Stale(
            "The run was changed meanwhile. Look at it again, then decide.".into(),
        ));
    }
    run.record(tx)
}

/// Gives replayed runs the keys by which exports identify them.
pub(crate) async fn replay_import_keys(tx: &mut Tx, keys: Vec<(Uuid, String)>) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    let (runs, keys): (Vec<Uuid>, Vec<String>) = keys.into_iter().unzip();
    crate::statement::statement(
        "UPDATE runs_run SET import_key = told.key FROM UNNEST($2, $3) AS told (id, key) \
         WHERE laboratory_id = $1 AND run_id = told.id",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(runs)
    .bind::<Array<Text>, _>(keys)
    .execute(tx.connection())
    .await?;
    Ok(())
}

/// The runs of a sample, oldest first.
pub(crate) async fn of_sample(tx: &mut Tx, sample: Uuid) -> Answer<Vec<Kept<Run>>> {
    let rows: Vec<Row> = dsl::runs_run
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::sample_id.eq(sample))
        .order(dsl::run_id.asc())
        .select(Row::as_select())
        .load(tx.connection())
        .await?;
    rows.into_iter().map(Row::kept).collect()
}

/// The runs of a sample that name a kit lot or a reader which was not known, oldest first.
pub(super) async fn naming_unknown(tx: &mut Tx, sample: Uuid) -> Answer<Vec<Kept<Run>>> {
    let mut runs = of_sample(tx, sample).await?;
    runs.retain(|run| {
        let entry = &run.content.entry;
        run.content.state != RunState::Withdrawn
            && ((entry.kit_lot.is_none() && entry.kit_lot_code.is_some())
                || (entry.reader.is_none() && entry.reader_serial.is_some()))
    });
    Ok(runs)
}

/// A page of runs, newest first.
pub(super) async fn list(tx: &mut Tx, page: &Page, filter: &RunFilter) -> Answer<Vec<Kept<Run>>> {
    let mut query = dsl::runs_run
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::run_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::run_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(sample) = filter.sample {
        query = query.filter(dsl::sample_id.eq(sample));
    }
    if let Some(reader) = filter.reader {
        query = query.filter(dsl::reader_id.eq(reader));
    }
    if let Some(kit_lot) = filter.kit_lot {
        query = query.filter(dsl::kit_lot_id.eq(kit_lot));
    }
    if let Some(series) = filter.series {
        query = query.filter(dsl::series_id.eq(series));
    }
    if let Some(state) = filter.state {
        query = query.filter(dsl::state.eq(word(state)));
    }
    if let Some(from) = filter.read_from {
        query = query.filter(dsl::read_at.ge(from.utc()));
    }
    if let Some(to) = filter.read_to {
        query = query.filter(dsl::read_at.lt(to.utc()));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
