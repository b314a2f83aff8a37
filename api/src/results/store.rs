//! All SQL of results, and of what waits to be computed again.

pub(crate) mod replayed;

use super::ResultFilter;
use crate::{
    kept::Subject,
    request::Page,
    statement::{Batch, Statement, statement},
};
use diesel::QueryableByName;
use diesel::sql_types::{
    Array, BigInt, Integer, Nullable, Numeric, Text, Timestamptz, Uuid as SqlUuid,
};
use domain::{
    decisions::{Decision, Verdict},
    results::{DISCLOSED, ResultState, ResultVersion},
    time::Moment,
};
use rust_decimal::Decimal;
use uuid::Uuid;

impl Subject for ResultVersion {
    const KIND: &'static str = "result";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;

    fn state(&self) -> &'static str {
        word(self.state)
    }
}

/// The word of a state in the read model.
pub(super) const fn word(state: ResultState) -> &'static str {
    match state {
        ResultState::NeedsARun => "needs-a-run",
        ResultState::Held => "held",
        ResultState::Ready => "ready",
        ResultState::Returned => "returned",
        ResultState::Released => "released",
        ResultState::Superseded => "superseded",
        ResultState::Cancelled => "cancelled",
    }
}

/// The purpose of a result, as its column holds it.
fn purpose(result: &ResultVersion) -> String {
    serde_json::to_value(result.computed.purpose)
        .ok()
        .and_then(|word| word.as_str().map(ToOwned::to_owned))
        .unwrap_or_default()
}

/// The worst decision, as its column holds it.
fn worst(result: &ResultVersion) -> Option<String> {
    result
        .computed
        .decisions
        .iter()
        .max_by_key(|decision| rank(decision))
        .map(|decision| decision.decision.name().replace(' ', "-"))
}

/// How bad a decision is for the goods.
const fn rank(decision: &Decision) -> u8 {
    match decision.decision {
        Verdict::Pass | Verdict::Negative => 0,
        Verdict::ConditionalPass => 1,
        Verdict::Undecided { .. } => 2,
        Verdict::ConditionalFail => 3,
        Verdict::Suspect => 4,
        Verdict::Fail => 5,
    }
}

crate::keep_rows! {
    table: results_result,
    key: result_id,
    content: ResultVersion,
    called: "result",
    columns: {
        sample_id: Uuid = |result| result.computed.sample.0,
        analyte: String = |result| result.computed.analyte.slug().to_owned(),
        purpose: String = purpose,
        concentration: Option<Decimal> = |result| {
            result.computed.concentration.map(|value| value.ug_per_kg())
        },
        decision: Option<String> = worst,
        released_at: Option<chrono::DateTime<chrono::Utc>> = |_| None,
    }
}

const INSERT: &str = "\
    INSERT INTO results_result (laboratory_id, result_id, version, state, content, sample_id, \
        analyte, purpose, concentration, decision, released_at, created_at, changed_at) \
    SELECT $1, result_id, 1, state, content::jsonb, sample_id, analyte, purpose, concentration, \
        decision, NULL, $2, $2 \
    FROM UNNEST($3, $4, $5, $6, $7, $8, $9, $10) AS new (result_id, state, content, sample_id, \
        analyte, purpose, concentration, decision)";

/// Later versions keep the time of release while they stay released.
const UPDATE: &str = "\
    UPDATE results_result AS result SET version = new.version, state = new.state, \
        content = new.content::jsonb, concentration = new.concentration, \
        decision = new.decision, changed_at = $2, \
        released_at = CASE WHEN new.state <> 'released' THEN NULL \
            WHEN result.state = 'released' THEN result.released_at ELSE $2 END \
    FROM UNNEST($3, $4, $5, $6, $7, $8) AS new (result_id, version, state, content, \
        concentration, decision) \
    WHERE result.laboratory_id = $1 AND result.result_id = new.result_id \
      AND result.version = new.version - 1";

const STALE: &str = "A result was changed meanwhile. Look at it again, then decide.";

/// Stores results: new ones and later versions each in one statement. Records them.
pub(crate) async fn write_many(tx: &mut Tx, results: &[Kept<ResultVersion>]) -> Answer<()> {
    let mut batch = Batch::default();
    add_rows(tx.laboratory_id(), tx.now(), results, &mut batch)?;
    batch.send(tx).await?;
    for result in results {
        result.record(tx)?;
    }
    Ok(())
}

/// Adds what stores results. Whoever calls records them.
pub(super) fn add_rows(
    laboratory: i32,
    now: Moment,
    results: &[Kept<ResultVersion>],
    batch: &mut Batch,
) -> Answer<()> {
    let (new, later): (Vec<&Kept<ResultVersion>>, Vec<&Kept<ResultVersion>>) =
        results.iter().partition(|result| result.version == 1);
    if !new.is_empty() {
        batch.add(insertion(laboratory, now, &new)?);
    }
    let update = match later.as_slice() {
        [] => return Ok(()),
        [one] => update_of_one(laboratory, now, one)?,
        several => update_of_several(laboratory, now, several)?,
    };
    batch.add_change(update, later.len(), STALE);
    Ok(())
}

fn contents(results: &[&Kept<ResultVersion>]) -> Answer<Vec<String>> {
    results
        .iter()
        .map(|result| serde_json::to_string(&result.content).map_err(ApiError::internal))
        .collect()
}

/// A column of each result.
fn each<T>(results: &[&Kept<ResultVersion>], get: fn(&ResultVersion) -> T) -> Vec<T> {
    results.iter().map(|result| get(&result.content)).collect()
}

fn concentration(result: &ResultVersion) -> Option<Decimal> {
    result.computed.concentration.map(|value| value.ug_per_kg())
}

fn insertion(
    laboratory: i32,
    now: Moment,
    results: &[&Kept<ResultVersion>],
) -> Answer<Statement<'static>> {
    Ok(statement(INSERT)
        .bind::<Integer, _>(laboratory)
        .bind::<Timestamptz, _>(now.utc())
        .bind::<Array<SqlUuid>, _>(results.iter().map(|one| one.id).collect::<Vec<_>>())
        .bind::<Array<Text>, _>(each(results, |one| one.state()))
        .bind::<Array<Text>, _>(contents(results)?)
        .bind::<Array<SqlUuid>, _>(each(results, |one| one.computed.sample.0))
        .bind::<Array<Text>, _>(each(results, |one| one.computed.analyte.slug().to_owned()))
        .bind::<Array<Text>, _>(each(results, purpose))
        .bind::<Array<Nullable<Numeric>>, _>(each(results, concentration))
        .bind::<Array<Nullable<Text>>, _>(each(results, worst)))
}

/// As a row of values, whose plan PostgreSQL keeps; that of arrays it makes anew with each call.
fn update_of_one(
    laboratory: i32,
    now: Moment,
    result: &Kept<ResultVersion>,
) -> Answer<Statement<'static>> {
    let content = serde_json::to_string(&result.content).map_err(ApiError::internal)?;
    let update = UPDATE.replace(
        "UNNEST($3, $4, $5, $6, $7, $8)",
        "(VALUES ($3, $4, $5, $6, $7, $8))",
    );
    Ok(statement(update)
        .bind::<Integer, _>(laboratory)
        .bind::<Timestamptz, _>(now.utc())
        .bind::<SqlUuid, _>(result.id)
        .bind::<Integer, _>(result.version)
        .bind::<Text, _>(result.content.state())
        .bind::<Text, _>(content)
        .bind::<Nullable<Numeric>, _>(concentration(&result.content))
        .bind::<Nullable<Text>, _>(worst(&result.content)))
}

fn update_of_several(
    laboratory: i32,
    now: Moment,
    results: &[&Kept<ResultVersion>],
) -> Answer<Statement<'static>> {
    Ok(statement(UPDATE)
        .bind::<Integer, _>(laboratory)
        .bind::<Timestamptz, _>(now.utc())
        .bind::<Array<SqlUuid>, _>(results.iter().map(|one| one.id).collect::<Vec<_>>())
        .bind::<Array<Integer>, _>(results.iter().map(|one| one.version).collect::<Vec<_>>())
        .bind::<Array<Text>, _>(each(results, |one| one.state()))
        .bind::<Array<Text>, _>(contents(results)?)
        .bind::<Array<Nullable<Numeric>>, _>(each(results, concentration))
        .bind::<Array<Nullable<Text>>, _>(each(results, worst)))
}

/// A page of results, newest first.
pub(crate) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &ResultFilter,
) -> Answer<Vec<Kept<ResultVersion>>> {
    use crate::schema::samples_sample as samples;
    let laboratory = tx.laboratory_id();
    let mut query = dsl::results_result
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::result_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::result_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(sample) = filter.sample {
        query = query.filter(dsl::sample_id.eq(sample));
    }
    if let Some(lot) = filter.lot {
        query = query.filter(
            dsl::sample_id.eq_any(
                samples::table
                    .filter(samples::laboratory_id.eq(laboratory))
                    .filter(samples::lot_id.eq(lot))
                    .select(samples::sample_id),
            ),
        );
    }
    if let Some(state) = filter.state {
        query = query.filter(dsl::state.eq(word(state)));
    }
    if let Some(analyte) = filter.analyte {
        query = query.filter(dsl::analyte.eq(analyte.slug()));
    }
    if let Some(decision) = &filter.decision {
        query = query.filter(dsl::decision.eq(decision.clone()));
    }
    if let Some(from) = filter.released_from {
        query = query.filter(dsl::released_at.ge(from.utc()));
    }
    if let Some(to) = filter.released_to {
        query = query.filter(dsl::released_at.lt(to.utc()));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}

/// Notes what a query finds as waiting to be computed again: samples (`sample_id`), and runs
/// (`run_id`) that have none; `$3` is the cause's id.
pub(super) async fn ask_again(
    tx: &mut Tx,
    query: &str,
    cause: Uuid,
    cause_version: i32,
) -> Answer<usize> {
    let (laboratory, now) = (tx.laboratory_id(), tx.now().utc());
    let query = format!(
        "INSERT INTO results_recomputation (laboratory_id, sample_id, run_id, cause_id, \
             cause_version, due_since) \
         SELECT DISTINCT $1, found.sample_id, \
             CASE WHEN found.sample_id IS NULL THEN found.run_id END, $3::uuid, $4, $2 \
         FROM ({query}) AS found WHERE num_nonnulls(found.sample_id, found.run_id) > 0"
    );
    Ok(statement(query)
        .bind::<Integer, _>(laboratory)
        .bind::<Timestamptz, _>(now)
        .bind::<SqlUuid, _>(cause)
        .bind::<Integer, _>(cause_version)
        .execute(tx.connection())
        .await?)
}

/// A sample, or a run without one, that waits to be computed again.
#[derive(QueryableByName)]
pub(super) struct Due {
    #[diesel(sql_type = BigInt)]
    pub(super) recomputation_id: i64,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(super) sample_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(super) run_id: Option<Uuid>,
}

/// Some that wait longest, left alone by other processes until the transaction ends.
pub(super) async fn due(tx: &mut Tx, rows: i64) -> Answer<Vec<Due>> {
    let laboratory = tx.laboratory_id();
    Ok(statement(
        "SELECT recomputation_id, sample_id, run_id FROM results_recomputation \
         WHERE laboratory_id = $1 ORDER BY recomputation_id LIMIT $2 FOR UPDATE SKIP LOCKED",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<BigInt, _>(rows)
    .load(tx.connection())
    .await?)
}

/// Takes a sample or a run off the list, once it was computed again.
pub(super) async fn done(tx: &mut Tx, upto: i64, of: Uuid) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    statement(
        "DELETE FROM results_recomputation \
         WHERE laboratory_id = $1 AND (sample_id = $2 OR run_id = $2) AND recomputation_id <= $3",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<SqlUuid, _>(of)
    .bind::<BigInt, _>(upto)
    .execute(tx.connection())
    .await?;
    Ok(())
}

#[derive(QueryableByName)]
struct Waiting {
    #[diesel(sql_type = SqlUuid)]
    sample_id: Uuid,
}

/// Those of some samples that wait to be computed again.
pub(crate) async fn waiting(tx: &mut Tx, samples: &[Uuid]) -> Answer<Vec<Uuid>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<Waiting> = statement(
        "SELECT DISTINCT sample_id FROM results_recomputation \
         WHERE laboratory_id = $1 AND sample_id = ANY($2)",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(samples)
    .load(tx.connection())
    .await?;
    Ok(rows.into_iter().map(|row| row.sample_id).collect())
}
