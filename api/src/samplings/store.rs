//! All SQL of samplings.

use crate::{kept::Subject, request::Page, schema::samples_sample::dsl as sample};
use domain::samplings::{DISCLOSED, Sampling};
use uuid::Uuid;

impl Subject for Sampling {
    const KIND: &'static str = "sampling";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;
}

crate::keep_rows! {
    table: samplings_sampling,
    key: sampling_id,
    content: Sampling,
    called: "sampling",
    columns: {
        lot_id: Uuid = |sampling| sampling.lot.0,
        taken_at: chrono::DateTime<chrono::Utc> = |sampling| sampling.taken_at.utc(),
    }
}

/// Code of a sample that came from the sampling, where there is one.
pub(super) async fn sample_from(tx: &mut Tx, sampling: Uuid) -> Answer<Option<String>> {
    let laboratory = tx.laboratory_id();
    Ok(sample::samples_sample
        .filter(sample::laboratory_id.eq(laboratory))
        .filter(sample::sampling_id.eq(sampling))
        .select(sample::code)
        .first(tx.connection())
        .await
        .optional()?)
}

/// A page of samplings, newest first; of one lot where that is asked for.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    lot: Option<Uuid>,
) -> Answer<Vec<Kept<Sampling>>> {
    let mut query = dsl::samplings_sampling
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::sampling_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::sampling_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(lot) = lot {
        query = query.filter(dsl::lot_id.eq(lot));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
