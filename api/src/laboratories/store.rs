//! All SQL of laboratories.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::{Kept, Subject},
    schema::laboratories_laboratory::dsl,
};
use chrono::{DateTime, Utc};
use diesel::{ExpressionMethods as _, OptionalExtension as _, QueryDsl as _, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl as _};
use domain::laboratories::{DISCLOSED, Laboratory};
use uuid::Uuid;

impl Subject for Laboratory {
    const KIND: &'static str = "laboratory";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;

    fn state(&self) -> &'static str {
        "active"
    }
}

#[derive(QueryableByName)]
struct Number {
    #[diesel(sql_type = diesel::sql_types::Integer)]
    laboratory_id: i32,
}

/// Makes the row and the counter of what its samples share, as the owner of the tables.
pub(super) async fn insert(
    owner: &mut AsyncPgConnection,
    id: Uuid,
    laboratory: &Laboratory,
    now: DateTime<Utc>,
) -> Answer<i32> {
    let content = serde_json::to_value(laboratory).map_err(ApiError::internal)?;
    let made: Number = crate::statement::statement(
        "WITH made AS (INSERT INTO laboratories_laboratory \
           (id, slug, version, state, content, created_at, changed_at) \
           VALUES ($1, $2, 1, $3, $4, $5, $5) RETURNING laboratory_id), \
         counter AS (INSERT INTO laboratories_reference (laboratory_id, stamp) \
           SELECT laboratory_id, 1 FROM made) \
         SELECT laboratory_id FROM made",
    )
    .bind::<diesel::sql_types::Uuid, _>(id)
    .bind::<diesel::sql_types::Text, _>(&laboratory.slug)
    .bind::<diesel::sql_types::Text, _>(laboratory.state())
    .bind::<diesel::sql_types::Jsonb, _>(content)
    .bind::<diesel::sql_types::Timestamptz, _>(now)
    .get_result(owner)
    .await?;
    Ok(made.laboratory_id)
}

/// Dates the row by the act that records it: the row had to be there before the act.
pub(super) async fn date(tx: &mut Tx) -> Answer<()> {
    let (number, now) = (tx.laboratory_id(), tx.now().utc());
    diesel::update(dsl::laboratories_laboratory.filter(dsl::laboratory_id.eq(number)))
        .set((dsl::created_at.eq(now), dsl::changed_at.eq(now)))
        .execute(tx.connection())
        .await?;
    Ok(())
}

/// Takes the row back where its first act could not be recorded.
pub(super) async fn remove(owner: &mut AsyncPgConnection, number: i32) -> Answer<()> {
    for table in ["laboratories_reference", "laboratories_laboratory"] {
        crate::statement::statement(format!("DELETE FROM {table} WHERE laboratory_id = $1"))
            .bind::<diesel::sql_types::Integer, _>(number)
            .execute(owner)
            .await?;
    }
    Ok(())
}

type Row = (Uuid, i32, serde_json::Value, DateTime<Utc>, DateTime<Utc>);

/// Stores what records tell of the laboratory, for a rebuilt copy.
pub(crate) async fn replay(tx: &mut Tx, versions: &[Kept<Laboratory>]) -> Answer<()> {
    use diesel::upsert::excluded;
    let number = tx.laboratory_id();
    for kept in versions {
        let content = serde_json::to_value(&kept.content).map_err(ApiError::internal)?;
        diesel::insert_into(dsl::laboratories_laboratory)
            .values((
                dsl::laboratory_id.eq(number),
                dsl::id.eq(kept.id),
                dsl::slug.eq(&kept.content.slug),
                dsl::version.eq(kept.version),
                dsl::state.eq(kept.content.state()),
                dsl::content.eq(content),
                dsl::created_at.eq(kept.created_at.utc()),
                dsl::changed_at.eq(kept.changed_at.utc()),
            ))
            .on_conflict(dsl::laboratory_id)
            .do_update()
            .set((
                dsl::slug.eq(excluded(dsl::slug)),
                dsl::version.eq(excluded(dsl::version)),
                dsl::state.eq(excluded(dsl::state)),
                dsl::content.eq(excluded(dsl::content)),
                dsl::changed_at.eq(excluded(dsl::changed_at)),
            ))
            .execute(tx.connection())
            .await?;
    }
    Ok(())
}

type Columns = (
    dsl::id,
    dsl::version,
    dsl::content,
    dsl::created_at,
    dsl::changed_at,
);

const COLUMNS: Columns = (
    dsl::id,
    dsl::version,
    dsl::content,
    dsl::created_at,
    dsl::changed_at,
);

/// The laboratory of the transaction.
///
/// # Errors
/// [`ApiError::NotFound`].
pub(crate) async fn find(tx: &mut Tx) -> Answer<Kept<Laboratory>> {
    let number = tx.laboratory_id();
    let row: Option<Row> = dsl::laboratories_laboratory
        .filter(dsl::laboratory_id.eq(number))
        .select(COLUMNS)
        .first(tx.connection())
        .await
        .optional()?;
    kept(tx, row)
}

/// The laboratory of the transaction, locked until that ends.
///
/// # Errors
/// [`ApiError::NotFound`].
pub(super) async fn lock(tx: &mut Tx) -> Answer<Kept<Laboratory>> {
    let number = tx.laboratory_id();
    let row: Option<Row> = dsl::laboratories_laboratory
        .filter(dsl::laboratory_id.eq(number))
        .select(COLUMNS)
        .for_no_key_update()
        .first(tx.connection())
        .await
        .optional()?;
    kept(tx, row)
}

fn kept(tx: &Tx, row: Option<Row>) -> Answer<Kept<Laboratory>> {
    let (id, version, content, created_at, changed_at) =
        row.ok_or_else(|| ApiError::missing("laboratory", &tx.laboratory().slug))?;
    Ok(Kept {
        id,
        version,
        content: serde_json::from_value(content).map_err(ApiError::internal)?,
        created_at: created_at.into(),
        changed_at: changed_at.into(),
    })
}

/// Stores the version after the one that was locked, and records it.
///
/// # Errors
/// [`ApiError::Stale`] where it is not that.
pub(super) async fn save(tx: &mut Tx, kept: &Kept<Laboratory>) -> Answer<()> {
    let number = tx.laboratory_id();
    let content = serde_json::to_value(&kept.content).map_err(ApiError::internal)?;
    let changed = diesel::update(
        dsl::laboratories_laboratory
            .filter(dsl::laboratory_id.eq(number))
            .filter(dsl::version.eq(kept.version.saturating_sub(1))),
    )
    .set((
        dsl::version.eq(kept.version),
        dsl::content.eq(content),
        dsl::changed_at.eq(kept.changed_at.utc()),
    ))
    .execute(tx.connection())
    .await?;
    if changed == 0 {
        return Err(ApiError::Stale(
            "It was changed meanwhile. Look at it again, then decide.".into(),
        ));
    }
    kept.record(tx)
}
