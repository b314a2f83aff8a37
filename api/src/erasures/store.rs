//! All SQL of erasures.

use crate::{kept::Subject, request::Page};
use domain::erasures::Erasure;
use uuid::Uuid;

impl Subject for Erasure {
    const KIND: &'static str = "erasure";
    const DISCLOSED: &'static [&'static str] = &[];
}

crate::keep_rows! {
    table: erasures_erasure,
    key: erasure_id,
    content: Erasure,
    called: "erasure",
    columns: {}
}

/// A page of erasures, newest first.
pub(super) async fn list(tx: &mut Tx, page: &Page) -> Answer<Vec<Kept<Erasure>>> {
    let rows: Vec<Row> = dsl::erasures_erasure
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::erasure_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::erasure_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .load(tx.connection())
        .await?;
    rows.into_iter().map(Row::kept).collect()
}
