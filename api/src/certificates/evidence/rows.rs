//! Rows of other slices' tables, by their ids: names of tables and columns are this program's own.

use super::{Found, Things};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
};
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{Array, Integer, Jsonb, Nullable, Timestamptz, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use serde::de::DeserializeOwned;
use std::collections::BTreeSet;
use uuid::Uuid;

/// A row of a slice's table.
#[derive(QueryableByName)]
pub(super) struct Row {
    #[diesel(sql_type = SqlUuid)]
    pub(super) id: Uuid,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(super) other: Option<Uuid>,
    #[diesel(sql_type = Integer)]
    version: i32,
    #[diesel(sql_type = Jsonb)]
    content: serde_json::Value,
    #[diesel(sql_type = Timestamptz)]
    created_at: DateTime<Utc>,
}

impl Row {
    /// The thing that the row holds, by its id.
    pub(super) fn found<T: DeserializeOwned>(self) -> Answer<(Uuid, Found<T>)> {
        Ok((
            self.id,
            Found {
                version: self.version,
                content: serde_json::from_value(self.content).map_err(ApiError::internal)?,
                created_at: self.created_at.into(),
            },
        ))
    }
}

/// Rows of a slice's table whose column holds one of some ids.
async fn rows(
    tx: &mut Tx,
    (table, key, column): (&str, &str, &str),
    ids: &[Uuid],
) -> Answer<Vec<Row>> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(format!(
        "SELECT {key} AS id, NULL::uuid AS other, version, content, created_at FROM {table} \
         WHERE laboratory_id = $1 AND {column} = ANY($2) ORDER BY {key}"
    ))
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(tx.connection())
    .await?)
}

/// Things whose column holds one of some ids: table, key, column.
pub(super) async fn things<T: DeserializeOwned>(
    tx: &mut Tx,
    place: (&str, &str, &str),
    ids: impl IntoIterator<Item = Uuid>,
) -> Answer<Things<T>> {
    let ids: Vec<Uuid> = ids
        .into_iter()
        .collect::<BTreeSet<_>>()
        .into_iter()
        .collect();
    if ids.is_empty() {
        return Ok(Things::new());
    }
    rows(tx, place, &ids)
        .await?
        .into_iter()
        .map(Row::found)
        .collect()
}

/// The thing with an id: table, key.
pub(super) async fn one<T: DeserializeOwned>(
    tx: &mut Tx,
    (table, key): (&str, &str),
    id: Uuid,
) -> Answer<Option<T>> {
    let found = things(tx, (table, key, key), [id]).await?;
    Ok(found
        .into_values()
        .next()
        .map(|found: Found<T>| found.content))
}
