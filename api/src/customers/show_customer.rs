//! Shows one customer.

use super::{store, wire::CustomerView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::CustomerId;

/// Show customer
#[utoipa::path(tag = "customers",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = CustomerId, Path, description = "Customer")),
    responses((status = 200, body = CustomerView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/customers/{id}")]
pub(super) async fn show_customer(
    actor: Actor,
    customer: InLab<CustomerId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadCustomers, customer.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, customer.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &CustomerView::from(kept)))
}
