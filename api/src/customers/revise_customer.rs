//! Changes a customer's particulars, or sets it inactive.
//!
//! Refuses a stale version, and a change without a reason. The change is a correction: the old
//! version stays readable.

use super::{store, wire::CustomerView};
use crate::{
    corrections::{self, Reason},
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Seen, Valid, shown},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{customers::Customer, faults::Faults, id::CustomerId};
use serde::Deserialize;

/// The customer as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseCustomer {
    /// The customer as it is to be.
    pub customer: Customer,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseCustomer {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/customer", self.customer.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise customer
#[utoipa::path(tag = "customers",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = CustomerId, Path, description = "Customer"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseCustomer, example = json!({"customer": {"code": "MILL", "name": "Hollow Mill and Sons Ltd"}, "reason": {"code": "late-information", "text": "The company changed its name."}})),
    responses((status = 200, body = CustomerView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/customers/{id}")]
pub(super) async fn revise_customer(
    actor: Actor,
    customer: InLab<CustomerId>,
    seen: Seen,
    body: Valid<ReviseCustomer>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseCustomer, customer.lab())?;
    let kept = app
        .db
        .write(&permit, async |tx| {
            let before = store::lock(tx, customer.id().0).await?;
            seen.must_be(before.version)?;
            let after = before.next(tx, body.customer.clone());
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            Ok(after)
        })
        .await?;
    Ok(shown(&request, kept.version, &CustomerView::from(kept)))
}
