//! All SQL of holds. Many are written in one statement, beside the runs that they stand on.

use super::HoldFilter;
use crate::{
    kept::Subject,
    request::Page,
    statement::{Batch, statement},
};
use diesel::BoolExpressionMethods as _;
use diesel::sql_types::{Array, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use domain::{
    holds::{DISCLOSED, Hold, HoldKind, HoldState},
    time::Moment,
};
use uuid::Uuid;

impl Subject for Hold {
    const KIND: &'static str = "hold";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;

    fn state(&self) -> &'static str {
        Hold::state(self).word()
    }
}

crate::keep_rows! {
    table: holds_hold,
    key: hold_id,
    content: Hold,
    called: "hold",
    columns: {
        kind: String = |hold| hold.kind.word().to_owned(),
        subject_id: Uuid = |hold| hold.of.subject(),
        sample_id: Option<Uuid> = |hold| hold.sample.map(|id| id.0),
    }
}

const INSERT: &str = "\
    INSERT INTO holds_hold (laboratory_id, hold_id, version, state, content, kind, subject_id, \
        sample_id, created_at, changed_at) \
    SELECT $1, hold_id, 1, state, content::jsonb, kind, subject_id, sample_id, $2, $2 \
    FROM UNNEST($3, $4, $5, $6, $7, $8) \
        AS new (hold_id, state, content, kind, subject_id, sample_id)";

/// What a hold stands on, and its kind, stay as they are.
const UPDATE: &str = "\
    UPDATE holds_hold AS hold SET version = new.version, state = new.state, \
        content = new.content::jsonb, sample_id = new.sample_id, changed_at = $2 \
    FROM UNNEST($3, $4, $5, $6, $7) AS new (hold_id, version, state, content, sample_id) \
    WHERE hold.laboratory_id = $1 AND hold.hold_id = new.hold_id \
      AND hold.version = new.version - 1";

const STALE: &str = "A hold was changed meanwhile. Look at it again, then decide.";

/// Stores holds: new ones and later versions each in one statement. Records them.
pub(crate) async fn write_many(tx: &mut Tx, holds: &[Kept<Hold>]) -> Answer<()> {
    let mut batch = Batch::default();
    add_rows(tx.laboratory_id(), tx.now(), holds, &mut batch)?;
    batch.send(tx).await?;
    for hold in holds {
        hold.record(tx)?;
    }
    Ok(())
}

/// Adds what stores holds. Whoever calls records them.
pub(crate) fn add_rows(
    laboratory: i32,
    now: Moment,
    holds: &[Kept<Hold>],
    batch: &mut Batch,
) -> Answer<()> {
    let (new, later): (Vec<&Kept<Hold>>, Vec<&Kept<Hold>>) =
        holds.iter().partition(|hold| hold.version == 1);
    if !new.is_empty() {
        let insertion = statement(INSERT)
            .bind::<Integer, _>(laboratory)
            .bind::<Timestamptz, _>(now.utc())
            .bind::<Array<SqlUuid>, _>(new.iter().map(|hold| hold.id).collect::<Vec<_>>())
            .bind::<Array<Text>, _>(each(&new, Subject::state))
            .bind::<Array<Text>, _>(contents(&new)?)
            .bind::<Array<Text>, _>(each(&new, |hold| hold.kind.word()))
            .bind::<Array<SqlUuid>, _>(each(&new, |hold| hold.of.subject()))
            .bind::<Array<Nullable<SqlUuid>>, _>(each(&new, |hold| hold.sample.map(|id| id.0)));
        batch.add(insertion);
    }
    if !later.is_empty() {
        let versions: Vec<i32> = later.iter().map(|hold| hold.version).collect();
        let update = statement(UPDATE)
            .bind::<Integer, _>(laboratory)
            .bind::<Timestamptz, _>(now.utc())
            .bind::<Array<SqlUuid>, _>(later.iter().map(|hold| hold.id).collect::<Vec<_>>())
            .bind::<Array<Integer>, _>(versions)
            .bind::<Array<Text>, _>(each(&later, Subject::state))
            .bind::<Array<Text>, _>(contents(&later)?)
            .bind::<Array<Nullable<SqlUuid>>, _>(each(&later, |hold| hold.sample.map(|id| id.0)));
        batch.add_change(update, later.len(), STALE);
    }
    Ok(())
}

/// A column of each hold.
fn each<T>(holds: &[&Kept<Hold>], get: fn(&Hold) -> T) -> Vec<T> {
    holds.iter().map(|hold| get(&hold.content)).collect()
}

fn contents(holds: &[&Kept<Hold>]) -> Answer<Vec<String>> {
    holds
        .iter()
        .map(|hold| serde_json::to_string(&hold.content).map_err(ApiError::internal))
        .collect()
}

/// The holds of a sample, of its results and of the runs that belong to it now, oldest first. A
/// run's hold was raised before the run was assigned to the sample, or moved to it, too.
pub(crate) async fn of_sample(tx: &mut Tx, sample: Uuid) -> Answer<Vec<Kept<Hold>>> {
    use crate::schema::runs_run as runs;
    let laboratory = tx.laboratory_id();
    let of_runs = runs::table
        .filter(runs::laboratory_id.eq(laboratory))
        .filter(runs::sample_id.eq(sample))
        .select(runs::run_id);
    let rows: Vec<Row> = dsl::holds_hold
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(
            dsl::subject_id
                .eq_any(of_runs)
                .or(dsl::sample_id.eq(sample)),
        )
        .order(dsl::hold_id.asc())
        .select(Row::as_select())
        .load(tx.connection())
        .await?;
    rows.into_iter().map(Row::kept).collect()
}

/// The holds that stand on some things, oldest first.
pub(crate) async fn of_subjects(tx: &mut Tx, subjects: &[Uuid]) -> Answer<Vec<Kept<Hold>>> {
    let rows: Vec<Row> = dsl::holds_hold
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::subject_id.eq_any(subjects))
        .order(dsl::hold_id.asc())
        .select(Row::as_select())
        .load(tx.connection())
        .await?;
    rows.into_iter().map(Row::kept).collect()
}

/// A page of holds, newest first.
pub(super) async fn list(tx: &mut Tx, page: &Page, filter: &HoldFilter) -> Answer<Vec<Kept<Hold>>> {
    let mut query = dsl::holds_hold
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::hold_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::hold_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(subject) = filter.subject {
        query = query.filter(dsl::subject_id.eq(subject));
    }
    if let Some(sample) = filter.sample {
        query = query.filter(dsl::sample_id.eq(sample));
    }
    if let Some(state) = filter.state {
        query = query.filter(dsl::state.eq(HoldState::word(state)));
    }
    if let Some(kind) = filter.kind {
        query = query.filter(dsl::kind.eq(HoldKind::word(kind)));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
