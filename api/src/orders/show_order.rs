//! Shows one order.

use super::{store, wire::OrderView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::OrderId;

/// Show order
#[utoipa::path(tag = "orders",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = OrderId, Path, description = "Order")),
    responses((status = 200, body = OrderView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/orders/{id}")]
pub(super) async fn show_order(
    actor: Actor,
    order: InLab<OrderId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadOrders, order.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, order.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &OrderView::from(kept)))
}
