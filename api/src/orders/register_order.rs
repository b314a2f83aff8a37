//! Registers an order. Refuses a code that is in use, and what it names and is not there.

use super::{store, wire::OrderView};
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, orders::Order};
use uuid::Uuid;

impl Entered for Order {
    fn check(&self) -> Result<(), Faults> {
        Order::check(self)
    }
}

/// Register order
#[utoipa::path(tag = "orders",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = Order, example = json!({"code": "O-0093", "customer": "019ca869-5003-7d46-b59c-6cf85cca57e4", "received_on": "2026-03-01", "analytes": [{"analyte": "deoxynivalenol"}, {"analyte": "aflatoxin-total", "number_wanted_above_limit": true}], "uses": ["feed-dairy"], "jurisdictions": ["EU"], "decision_rule": "simple", "agreed_on": "2026-02-20"})),
    responses((status = 201, body = OrderView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/orders")]
pub(super) async fn register_order(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<Order>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RegisterOrder, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            let kept = Kept::first(tx, id, (*body).clone());
            super::check(tx, &kept.content, None).await?;
            store::insert(tx, &kept).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/orders/{id}", lab.slug()),
                version: kept.version,
                view: OrderView::from(kept),
            })
        })
        .await
}
