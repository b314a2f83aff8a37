//! Lists results, newest first.

use super::{
    store,
    wire::{ResultFilter, ResultView},
};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// List results
#[utoipa::path(tag = "results",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, ResultFilter),
    responses((status = 200, body = Listed<ResultView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/results")]
pub(super) async fn list_results(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<ResultFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadResults, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, &filter).await)
        .await?;
    let views: Vec<ResultView> = found.into_iter().map(ResultView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
