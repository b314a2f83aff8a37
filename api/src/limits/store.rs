//! All SQL of limits.

use crate::kept::Subject;
use domain::limits::{Authority, DISCLOSED, Limit, LimitState};

impl Subject for Limit {
    const KIND: &'static str = "limit";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;

    fn state(&self) -> &'static str {
        match self.state {
            LimitState::Proposed => "proposed",
            LimitState::Adopted => "adopted",
            LimitState::Retired => "retired",
        }
    }
}

crate::keep_rows! {
    table: limits_limit,
    key: limit_id,
    content: Limit,
    called: "limit",
    columns: {
        code: String = |limit| limit.id.clone(),
        analyte: String = |limit| limit.analyte.slug().to_owned(),
        jurisdiction: Option<String> = |limit| match &limit.authority {
            Authority::Law { jurisdiction, .. } => Some(jurisdiction.to_string()),
            Authority::Contract { .. } | Authority::Intake { .. } => None,
        },
    }
}

/// Every limit that was adopted, retired or proposed here.
pub(super) async fn all(tx: &mut Tx) -> Answer<Vec<Kept<Limit>>> {
    let rows: Vec<Row> = dsl::limits_limit
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .order(dsl::code)
        .select(Row::as_select())
        .load(tx.connection())
        .await?;
    rows.into_iter().map(Row::kept).collect()
}

/// The limit of this code, where it is more than shipped.
pub(super) async fn by_code(tx: &mut Tx, code: &str) -> Answer<Option<Kept<Limit>>> {
    dsl::limits_limit
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::code.eq(code))
        .select(Row::as_select())
        .first(tx.connection())
        .await
        .optional()?
        .map(Row::kept)
        .transpose()
}

/// Which of these customers the laboratory does not have: where they stand among those asked for.
pub(super) async fn unknown_customers(tx: &mut Tx, asked: &[uuid::Uuid]) -> Answer<Vec<usize>> {
    use crate::schema::customers_customer::dsl::{customer_id, customers_customer, laboratory_id};
    let known: Vec<uuid::Uuid> = customers_customer
        .filter(laboratory_id.eq(tx.laboratory_id()))
        .filter(customer_id.eq_any(asked))
        .select(customer_id)
        .load(tx.connection())
        .await?;
    Ok(asked
        .iter()
        .enumerate()
        .filter(|(_, id)| !known.contains(id))
        .map(|(place, _)| place)
        .collect())
}

/// Whether the laboratory has this site.
pub(super) async fn has_site(tx: &mut Tx, site: uuid::Uuid) -> Answer<bool> {
    use crate::schema::sites_site::dsl::{laboratory_id, site_id, sites_site};
    let found: Option<uuid::Uuid> = sites_site
        .filter(laboratory_id.eq(tx.laboratory_id()))
        .filter(site_id.eq(site))
        .select(site_id)
        .first(tx.connection())
        .await
        .optional()?;
    Ok(found.is_some())
}
