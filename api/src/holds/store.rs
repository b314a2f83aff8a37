//! All SQL of holds. Many are written in one statement, beside the runs that they stand on.

use super::HoldFilter;
use crate::{kept::Subject, request::Page};
use diesel::BoolExpressionMethods as _;
use diesel::sql_types::{Array, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use domain::holds::{DISCLOSED, Hold, HoldKind, HoldState};
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

/// Stores holds: new ones in one statement, later versions over the ones before. Records them.
pub(crate) async fn write_many(tx: &mut Tx, holds: &[Kept<Hold>]) -> Answer<()> {
    insert_rows(tx, holds).await?;
    settle(tx, holds).await
}

/// Records new holds, whose rows are stored already; stores later versions and records them.
pub(crate) async fn settle(tx: &mut Tx, holds: &[Kept<Hold>]) -> Answer<()> {
    let (new, later): (Vec<&Kept<Hold>>, Vec<&Kept<Hold>>) =
        holds.iter().partition(|hold| hold.version == 1);
    for hold in new {
        hold.record(tx)?;
    }
    for hold in later {
        save(tx, hold).await?;
    }
    Ok(())
}

/// Stores the new ones among the holds. Whoever calls has them recorded ([`settle`]).
pub(crate) async fn insert_rows(tx: &Tx, holds: &[Kept<Hold>]) -> Answer<()> {
    let holds: Vec<&Kept<Hold>> = holds.iter().filter(|hold| hold.version == 1).collect();
    if holds.is_empty() {
        return Ok(());
    }
    let (laboratory, now) = (tx.laboratory_id(), tx.now().utc());
    let mut contents = Vec::with_capacity(holds.len());
    for hold in &holds {
        contents.push(serde_json::to_string(&hold.content).map_err(ApiError::internal)?);
    }
    crate::statement::statement(INSERT)
        .bind::<Integer, _>(laboratory)
        .bind::<Timestamptz, _>(now)
        .bind::<Array<SqlUuid>, _>(holds.iter().map(|hold| hold.id).collect::<Vec<_>>())
        .bind::<Array<Text>, _>(
            holds
                .iter()
                .map(|hold| Subject::state(&hold.content))
                .collect::<Vec<_>>(),
        )
        .bind::<Array<Text>, _>(contents)
        .bind::<Array<Text>, _>(
            holds
                .iter()
                .map(|hold| hold.content.kind.word())
                .collect::<Vec<_>>(),
        )
        .bind::<Array<SqlUuid>, _>(
            holds
                .iter()
                .map(|hold| hold.content.of.subject())
                .collect::<Vec<_>>(),
        )
        .bind::<Array<Nullable<SqlUuid>>, _>(
            holds
                .iter()
                .map(|hold| hold.content.sample.map(|id| id.0))
                .collect::<Vec<_>>(),
        )
        .execute(&mut tx.together())
        .await?;
    Ok(())
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
