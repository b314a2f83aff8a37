//! All SQL of imports: what is recorded of each, its upload, its refused rows, and the look-ups by
//! which rows are matched. Look-ups take whole columns: no statement a row.

pub(super) mod known;
pub(super) mod replayed;
pub(super) mod rows;
pub(super) mod uploads;

use crate::{kept::Subject, request::Page};
use domain::imports::ImportedExport;
use uuid::Uuid;

impl Subject for ImportedExport {
    const KIND: &'static str = "import";
    const DISCLOSED: &'static [&'static str] = &[];
}

crate::keep_rows! {
    table: imports_import,
    key: import_id,
    content: ImportedExport,
    called: "import",
    columns: {
        column_map_id: Uuid = |import| import.column_map.0,
        digest: String = |import| import.digest.clone(),
    }
}

/// A page of imports, newest first; by one map, or of one upload, where that is asked for.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    column_map: Option<Uuid>,
    digest: Option<&str>,
) -> Answer<Vec<Kept<ImportedExport>>> {
    let mut query = dsl::imports_import
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::import_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::import_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(column_map) = column_map {
        query = query.filter(dsl::column_map_id.eq(column_map));
    }
    if let Some(digest) = digest {
        query = query.filter(dsl::digest.eq(digest));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}

/// Adds to what the readings of an import said.
pub(super) async fn add_fingerprints(tx: &mut Tx, import: Uuid, bytes: &[u8]) -> Answer<()> {
    if bytes.is_empty() {
        return Ok(());
    }
    let laboratory = tx.laboratory_id();
    diesel::sql_query(
        "UPDATE imports_import SET fingerprints = fingerprints || $3 \
         WHERE laboratory_id = $1 AND import_id = $2",
    )
    .bind::<diesel::sql_types::Integer, _>(laboratory)
    .bind::<diesel::sql_types::Uuid, _>(import)
    .bind::<diesel::sql_types::Binary, _>(bytes)
    .execute(tx.connection())
    .await?;
    Ok(())
}
