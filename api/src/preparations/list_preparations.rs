//! Lists preparations, newest first.

use super::{
    store::{self, PreparationFilter},
    wire::PreparationView,
};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// List preparations
#[utoipa::path(tag = "preparations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, PreparationFilter),
    responses((status = 200, body = Listed<PreparationView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/preparations")]
pub(super) async fn list_preparations(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<PreparationFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadPreparations, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, &filter).await)
        .await?;
    let views: Vec<PreparationView> = found.into_iter().map(PreparationView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
