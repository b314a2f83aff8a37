//! Changes an order.
//!
//! Refuses a stale version, and a change without a reason. The change is a correction: the old
//! version stays readable.

use super::{store, wire::OrderView};
use crate::{
    corrections::{self, Reason},
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Seen, Valid, shown},
    results::{self, Again},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{faults::Faults, id::OrderId, orders::Order};
use serde::Deserialize;

/// The order as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseOrder {
    /// The order as it is to be.
    pub order: Order,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseOrder {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/order", self.order.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise order
#[utoipa::path(tag = "orders",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = OrderId, Path, description = "Order"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseOrder, example = json!({"order": {"code": "O-0093", "customer": "019ca869-5003-7d46-b59c-6cf85cca57e4", "received_on": "2026-03-01", "analytes": [{"analyte": "deoxynivalenol", "number_wanted_above_limit": true}], "jurisdictions": ["EU"]}, "reason": {"code": "late-information", "text": "The customer asks for a number after all."}})),
    responses((status = 200, body = OrderView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/orders/{id}")]
pub(super) async fn revise_order(
    actor: Actor,
    order: InLab<OrderId>,
    seen: Seen,
    body: Valid<ReviseOrder>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseOrder, order.lab())?;
    let kept = app
        .db
        .write(&permit, async |tx| {
            let before = store::lock(tx, order.id().0).await?;
            seen.must_be(before.version)?;
            let after = before.next(tx, body.order.clone());
            super::check(tx, &after.content, Some(&before.content))
                .await
                .map_err(|refusal| refusal.within("/order"))?;
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Order(after.id)).await?;
            Ok(after)
        })
        .await?;
    Ok(shown(&request, kept.version, &OrderView::from(kept)))
}
