//! All SQL of checks and calibrations, and of what a failed one throws doubt on.

use crate::{kept::Subject, request::Page};
use chrono::{DateTime, Utc};
use diesel::sql_types::{BigInt, Integer, Nullable, Timestamptz, Uuid as SqlUuid};
use domain::equipment::{Checked, DISCLOSED, EquipmentCheck, SuspectWindow};
use uuid::Uuid;

impl Subject for EquipmentCheck {
    const KIND: &'static str = "equipment-check";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;
}

const fn equipment_of(of: Checked) -> Option<Uuid> {
    match of {
        Checked::Equipment(id) => Some(id.0),
        Checked::Reader(_) => None,
    }
}

const fn reader_of(of: Checked) -> Option<Uuid> {
    match of {
        Checked::Reader(id) => Some(id.0),
        Checked::Equipment(_) => None,
    }
}

crate::keep_rows! {
    table: equipment_check,
    key: check_id,
    content: EquipmentCheck,
    called: "check",
    columns: {
        equipment_id: Option<Uuid> = |check| equipment_of(check.of),
        reader_id: Option<Uuid> = |check| reader_of(check.of),
        checked_at: DateTime<Utc> = |check| check.at.utc(),
    }
}

/// A page of checks, newest first; only those that the filter asks for.
pub(in crate::equipment) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &crate::equipment::list_checks::CheckFilter,
) -> Answer<Vec<Kept<EquipmentCheck>>> {
    let mut query = dsl::equipment_check
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::check_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::check_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(equipment) = filter.equipment {
        query = query.filter(dsl::equipment_id.eq(equipment.0));
    }
    if let Some(reader) = filter.reader {
        query = query.filter(dsl::reader_id.eq(reader.0));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}

/// All checks of one thing, in the order of time.
pub(in crate::equipment) async fn of(tx: &mut Tx, of: Checked) -> Answer<Vec<EquipmentCheck>> {
    let query = dsl::equipment_check
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .order((dsl::checked_at, dsl::check_id))
        .select(Row::as_select())
        .into_boxed();
    let query = match of {
        Checked::Equipment(id) => query.filter(dsl::equipment_id.eq(id.0)),
        Checked::Reader(id) => query.filter(dsl::reader_id.eq(id.0)),
    };
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter()
        .map(|row| Ok(row.kept()?.content))
        .collect()
}

/// The runs that a reader read in the window.
const READ_BY: &str = "\
    SELECT run_id, count(*) OVER () AS all_runs FROM runs_run \
    WHERE laboratory_id = $1 AND reader_id = $2 AND state <> 'withdrawn' \
      AND ($3 IS NULL OR read_at > $3) AND ($4 IS NULL OR read_at <= $4) \
    ORDER BY run_id DESC LIMIT 1000";

/// The runs that were prepared (with all that was made from it) or diluted with a piece of
/// equipment in the window. A run that names no extract may be of any of its sample.
const WORKED_WITH: &str = "\
    WITH RECURSIVE touched AS ( \
        SELECT preparation_id, sample_id FROM preparations_preparation \
        WHERE laboratory_id = $1 AND content->'equipment' ? $2::text \
          AND ($3 IS NULL OR prepared_at > $3) AND ($4 IS NULL OR prepared_at <= $4) \
      UNION \
        SELECT made.preparation_id, made.sample_id FROM preparations_preparation AS made \
        JOIN touched ON made.parent_id = touched.preparation_id \
        WHERE made.laboratory_id = $1) \
    SELECT run_id, count(*) OVER () AS all_runs FROM runs_run \
    WHERE laboratory_id = $1 AND state <> 'withdrawn' AND ( \
        (content->>'extract')::uuid IN (SELECT preparation_id FROM touched) \
        OR (content->>'extract' IS NULL AND sample_id IN (SELECT sample_id FROM touched)) \
        OR (content->'dilution' @> jsonb_build_array(jsonb_build_object('pipette', $2::text)) \
            AND ($3 IS NULL OR read_at > $3) AND ($4 IS NULL OR read_at <= $4))) \
    ORDER BY run_id DESC LIMIT 1000";

#[derive(diesel::QueryableByName)]
struct InDoubt {
    #[diesel(sql_type = SqlUuid)]
    run_id: Uuid,
    #[diesel(sql_type = BigInt)]
    all_runs: i64,
}

/// How many runs were done with a thing in the window, and which (the newest thousand).
pub(in crate::equipment) async fn runs_in(
    tx: &mut Tx,
    of: Checked,
    window: SuspectWindow,
) -> Answer<(i64, Vec<Uuid>)> {
    let laboratory = tx.laboratory_id();
    let (query, id) = match of {
        Checked::Reader(id) => (READ_BY, id.0),
        Checked::Equipment(id) => (WORKED_WITH, id.0),
    };
    let rows: Vec<InDoubt> = diesel::sql_query(query)
        .bind::<Integer, _>(laboratory)
        .bind::<SqlUuid, _>(id)
        .bind::<Nullable<Timestamptz>, _>(window.after.map(|at| at.utc()))
        .bind::<Nullable<Timestamptz>, _>(window.until.map(|at| at.utc()))
        .load(tx.connection())
        .await?;
    let count = rows.iter().map(|row| row.all_runs).next().unwrap_or(0);
    Ok((count, rows.into_iter().map(|row| row.run_id).collect()))
}
