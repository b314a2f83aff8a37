//! Lists holds, newest first.

use super::{
    store,
    wire::{HoldFilter, HoldView},
};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// List holds
#[utoipa::path(tag = "holds",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, HoldFilter),
    responses((status = 200, body = Listed<HoldView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/holds")]
pub(super) async fn list_holds(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<HoldFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadHolds, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, &filter).await)
        .await?;
    let views: Vec<HoldView> = found.into_iter().map(HoldView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
