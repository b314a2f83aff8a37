//! Lists erasures, newest first.

use super::{store, wire::ErasureView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// List erasures
///
/// Digests and members, no values: those are gone.
#[utoipa::path(tag = "erasures",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page),
    responses((status = 200, body = Listed<ErasureView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/erasures")]
pub(super) async fn list_erasures(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadErasures, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page).await)
        .await?;
    let views: Vec<ErasureView> = found.into_iter().map(ErasureView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
