//! Lists orders, newest first.

use super::{
    store::{self, OrderFilter},
    wire::OrderView,
};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// List orders
#[utoipa::path(tag = "orders",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, OrderFilter),
    responses((status = 200, body = Listed<OrderView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/orders")]
pub(super) async fn list_orders(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<OrderFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadOrders, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, &filter).await)
        .await?;
    let views: Vec<OrderView> = found.into_iter().map(OrderView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
