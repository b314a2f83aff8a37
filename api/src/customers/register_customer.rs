//! Registers a customer. Refuses a code that is in use.

use super::{store, wire::CustomerView};
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{customers::Customer, faults::Faults};
use uuid::Uuid;

impl Entered for Customer {
    fn check(&self) -> Result<(), Faults> {
        Customer::check(self)
    }
}

/// Register customer
#[utoipa::path(tag = "customers",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = Customer, example = json!({"code": "MILL", "name": "Hollow Mill Ltd", "email": "grain@hollow-mill.example"})),
    responses((status = 201, body = CustomerView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/customers")]
pub(super) async fn register_customer(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<Customer>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RegisterCustomer, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            let kept = Kept::first(tx, id, (*body).clone());
            store::insert(tx, &kept).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/customers/{id}", lab.slug()),
                version: kept.version,
                view: CustomerView::from(kept),
            })
        })
        .await
}
