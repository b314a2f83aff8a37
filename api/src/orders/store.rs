//! All SQL of orders.

use crate::{kept::Subject, request::Page};
use domain::orders::{DISCLOSED, Order};
use uuid::Uuid;

impl Subject for Order {
    const KIND: &'static str = "order";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;
}

crate::keep_rows! {
    table: orders_order,
    key: order_id,
    content: Order,
    called: "order",
    columns: {
        code: String = |order| order.code.clone(),
        customer_id: Uuid = |order| order.customer.0,
    }
}

/// Which orders are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct OrderFilter {
    /// Only those of this customer.
    pub customer: Option<Uuid>,
    /// Only the one with this code.
    pub code: Option<String>,
}

/// A page of orders, newest first.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &OrderFilter,
) -> Answer<Vec<Kept<Order>>> {
    let mut query = dsl::orders_order
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::order_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::order_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(customer) = filter.customer {
        query = query.filter(dsl::customer_id.eq(customer));
    }
    if let Some(code) = &filter.code {
        query = query.filter(dsl::code.eq(code));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
