//! All SQL of preparations.

use crate::{kept::Subject, request::Page};
use domain::preparations::{DISCLOSED, Preparation, PreparationKind};
use uuid::Uuid;

impl Subject for Preparation {
    const KIND: &'static str = "preparation";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;
}

crate::keep_rows! {
    table: preparations_preparation,
    key: preparation_id,
    content: Preparation,
    called: "preparation",
    columns: {
        kind: String = |step| kind(step.kind).to_owned(),
        sample_id: Uuid = |step| step.sample.0,
        parent_id: Option<Uuid> = |step| step.parent.map(Uuid::from),
        prepared_at: chrono::DateTime<chrono::Utc> = |step| step.at.utc(),
    }
}

/// Which preparations are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct PreparationFilter {
    /// Only those of this sample.
    pub sample: Option<Uuid>,
    /// Only those of this kind.
    pub kind: Option<PreparationKind>,
    /// Only those made from this one.
    pub parent: Option<Uuid>,
}

const fn kind(kind: PreparationKind) -> &'static str {
    match kind {
        PreparationKind::GroundSample => "ground-sample",
        PreparationKind::TestPortion => "test-portion",
        PreparationKind::Extract => "extract",
    }
}

/// The steps that were made from one.
pub(super) async fn made_from(tx: &mut Tx, id: Uuid) -> Answer<Vec<Kept<Preparation>>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<Row> = dsl::preparations_preparation
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::parent_id.eq(id))
        .select(Row::as_select())
        .load(tx.connection())
        .await?;
    rows.into_iter().map(Row::kept).collect()
}

/// A page of preparations, newest first.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &PreparationFilter,
) -> Answer<Vec<Kept<Preparation>>> {
    let mut query = dsl::preparations_preparation
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::preparation_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::preparation_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(sample) = filter.sample {
        query = query.filter(dsl::sample_id.eq(sample));
    }
    if let Some(wanted) = filter.kind {
        query = query.filter(dsl::kind.eq(kind(wanted)));
    }
    if let Some(parent) = filter.parent {
        query = query.filter(dsl::parent_id.eq(parent));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
