//! Lists sites, newest first.

use super::{store, wire::SiteView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// Which sites are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct SiteFilter {
    /// Only the one with this code.
    pub code: Option<String>,
}

/// List sites
#[utoipa::path(tag = "sites",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, SiteFilter),
    responses((status = 200, body = Listed<SiteView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/sites")]
pub(super) async fn list_sites(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<SiteFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadSites, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, &filter).await)
        .await?;
    let views: Vec<SiteView> = found.into_iter().map(SiteView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
