//! All SQL of customers.

use crate::{kept::Subject, request::Page};
use domain::customers::{Customer, CustomerState, DISCLOSED};

impl Subject for Customer {
    const KIND: &'static str = "customer";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;

    fn state(&self) -> &'static str {
        match self.state {
            CustomerState::Active => "active",
            CustomerState::Inactive => "inactive",
        }
    }
}

crate::keep_rows! {
    table: customers_customer,
    key: customer_id,
    content: Customer,
    called: "customer",
    columns: { code: String = |customer| customer.code.clone() }
}

/// A page of customers, newest first; in one state where that is asked for.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    state: Option<&str>,
) -> Answer<Vec<Kept<Customer>>> {
    let mut query = dsl::customers_customer
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::customer_id.lt(page.after.unwrap_or(uuid::Uuid::max())))
        .order(dsl::customer_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(state) = state {
        query = query.filter(dsl::state.eq(state));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
