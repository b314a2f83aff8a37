//! All SQL of corrections.

use crate::{kept::Subject, request::Page};
use domain::corrections::{Correction, DISCLOSED};
use uuid::Uuid;

impl Subject for Correction {
    const KIND: &'static str = "correction";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;
}

crate::keep_rows! {
    table: corrections_correction,
    key: correction_id,
    content: Correction,
    called: "correction",
    columns: { subject_id: Uuid = |correction| correction.of.subject }
}

/// A page of corrections, newest first; of one subject where that is asked for.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    subject: Option<Uuid>,
) -> Answer<Vec<Kept<Correction>>> {
    let mut query = dsl::corrections_correction
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::correction_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::correction_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(subject) = subject {
        query = query.filter(dsl::subject_id.eq(subject));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
