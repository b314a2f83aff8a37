//! All SQL of column maps.

use crate::{kept::Subject, request::Page};
use diesel::{QueryableByName, sql_types};
use domain::column_maps::ColumnMap;
use std::collections::BTreeSet;
use uuid::Uuid;

impl Subject for ColumnMap {
    const KIND: &'static str = "column-map";
    const DISCLOSED: &'static [&'static str] = &["/operators"];
}

crate::keep_rows! {
    table: column_maps_column_map,
    key: column_map_id,
    content: ColumnMap,
    called: "column map",
    columns: { name: String = |map| map.name.clone() }
}

/// A page of column maps, newest first; those of a name where that is asked for.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    name: Option<&str>,
) -> Answer<Vec<Kept<ColumnMap>>> {
    let mut query = dsl::column_maps_column_map
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::column_map_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::column_map_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(name) = name {
        query = query.filter(dsl::name.eq(name));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}

#[derive(QueryableByName)]
struct AccountRow {
    #[diesel(sql_type = sql_types::Uuid)]
    account_id: Uuid,
}

/// Refuses a map that gives an operator's work to an account that is not in the laboratory.
///
/// # Errors
/// [`ApiError::Invalid`], with the pointer of each operator.
pub(super) async fn check_operators(tx: &mut Tx, map: &ColumnMap) -> Answer<()> {
    if map.operators.is_empty() {
        return Ok(());
    }
    let wanted: BTreeSet<Uuid> = map.operators.values().map(|account| account.0).collect();
    let laboratory = tx.laboratory_id();
    let found: Vec<AccountRow> = crate::statement::statement(
        "SELECT account_id FROM identity_account \
         WHERE laboratory_id = $1 AND account_id = ANY($2)",
    )
    .bind::<sql_types::Integer, _>(laboratory)
    .bind::<sql_types::Array<sql_types::Uuid>, _>(wanted.iter().copied().collect::<Vec<_>>())
    .load(tx.connection())
    .await?;
    let known: BTreeSet<Uuid> = found.into_iter().map(|row| row.account_id).collect();
    let mut faults = domain::faults::Faults::default();
    for (operator, account) in &map.operators {
        faults.require(
            known.contains(&account.0),
            format!(
                "/column_map/operators/{}",
                operator.replace('~', "~0").replace('/', "~1")
            ),
            || format!("there is no account {account} in this laboratory; look it up in the list"),
        );
    }
    Ok(faults.into_result()?)
}
