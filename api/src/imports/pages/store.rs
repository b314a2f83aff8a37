//! What the list of imports reads beside the imports.

use crate::{db::Tx, error::Answer};
use diesel::{
    QueryableByName,
    sql_types::{BigInt, Integer, Text, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use std::collections::HashMap;
use uuid::Uuid;

/// How many imports there are, and how many rows nobody has mended.
#[derive(QueryableByName)]
pub(super) struct Counts {
    #[diesel(sql_type = BigInt)]
    pub(super) imports: i64,
    #[diesel(sql_type = BigInt)]
    pub(super) to_mend: i64,
}

/// Counts them.
pub(super) async fn counts(tx: &mut Tx) -> Answer<Counts> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(
        "SELECT (SELECT count(*) FROM imports_import WHERE laboratory_id = $1) AS imports, \
                (SELECT count(*) FROM imports_row \
                  WHERE laboratory_id = $1 AND state = 'refused') AS to_mend",
    )
    .bind::<Integer, _>(laboratory)
    .get_result(tx.connection())
    .await?)
}

#[derive(QueryableByName)]
struct Coded {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    code: String,
}

/// Codes of the column maps, by their ids.
pub(super) async fn column_map_codes(tx: &mut Tx) -> Answer<HashMap<Uuid, String>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<Coded> = diesel::sql_query(
        "SELECT column_map_id AS id, code FROM column_maps_column_map WHERE laboratory_id = $1",
    )
    .bind::<Integer, _>(laboratory)
    .load(tx.connection())
    .await?;
    Ok(rows.into_iter().map(|row| (row.id, row.code)).collect())
}
