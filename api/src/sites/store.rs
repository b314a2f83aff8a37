//! All SQL of sites.

use crate::{kept::Subject, request::Page};
use domain::sites::{DISCLOSED, Site};

impl Subject for Site {
    const KIND: &'static str = "site";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;
}

crate::keep_rows! {
    table: sites_site,
    key: site_id,
    content: Site,
    called: "site",
    columns: {
        code: String = |site| site.code.clone(),
    }
}

/// A page of sites, newest first; only those that the filter asks for.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &super::list_sites::SiteFilter,
) -> Answer<Vec<Kept<Site>>> {
    let mut query = dsl::sites_site
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::site_id.lt(page.after.unwrap_or(uuid::Uuid::max())))
        .order(dsl::site_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(code) = &filter.code {
        query = query.filter(dsl::code.eq(code.clone()));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
