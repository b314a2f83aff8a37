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
pub(super) async fn list(tx: &mut Tx, page: &Page) -> Answer<Vec<Kept<Site>>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<Row> = dsl::sites_site
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::site_id.lt(page.after.unwrap_or(uuid::Uuid::max())))
        .order(dsl::site_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .load(tx.connection())
        .await?;
    rows.into_iter().map(Row::kept).collect()
}
