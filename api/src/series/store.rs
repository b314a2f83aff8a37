//! All SQL of series.

use crate::{kept::Subject, request::Page};
use domain::series::{DISCLOSED, Series, SeriesState};
use uuid::Uuid;

impl Subject for Series {
    const KIND: &'static str = "series";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;

    fn state(&self) -> &'static str {
        state_word(self.state)
    }
}

/// The word of a state in rows.
fn state_word(state: SeriesState) -> &'static str {
    match state {
        SeriesState::Open => "open",
        SeriesState::Closed => "closed",
    }
}

crate::keep_rows! {
    table: series_series,
    key: series_id,
    content: Series,
    called: "series",
    columns: {
        code: String = |series| series.code.clone(),
        site_id: Option<Uuid> = |series| Some(series.site.0),
        kit_lot_id: Option<Uuid> = |series| Some(series.kit_lot.0),
    }
}

/// A page of series, newest first; only those that the filter asks for.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &super::list_series::SeriesFilter,
) -> Answer<Vec<Kept<Series>>> {
    let mut query = dsl::series_series
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::series_id.lt(page.after.unwrap_or(uuid::Uuid::max())))
        .order(dsl::series_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(state) = &filter.state {
        query = query.filter(dsl::state.eq(state_word(*state)));
    }
    if let Some(site) = &filter.site {
        query = query.filter(dsl::site_id.eq(site.0));
    }
    if let Some(kit_lot) = &filter.kit_lot {
        query = query.filter(dsl::kit_lot_id.eq(kit_lot.0));
    }
    if let Some(code) = &filter.code {
        query = query.filter(dsl::code.eq(code.clone()));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
