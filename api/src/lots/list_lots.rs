//! Lists lots, newest first; a customer finds those that it may know of.

use super::{
    store::{self, LotFilter},
    wire::LotView,
};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// List lots
#[utoipa::path(tag = "lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, LotFilter),
    responses((status = 200, body = Listed<LotView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/lots")]
pub(super) async fn list_lots(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<LotFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadLots, &lab)?;
    let only = permit.only_customer();
    let found = app
        .db
        .read(&permit, async |tx| {
            store::list(tx, &page, &filter, only).await
        })
        .await?;
    let views: Vec<LotView> = found
        .into_iter()
        .filter_map(|kept| LotView::to(only, kept))
        .collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
