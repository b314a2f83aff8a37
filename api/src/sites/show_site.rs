//! Shows one site.

use super::{store, wire::SiteView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::SiteId;

/// Show site
#[utoipa::path(tag = "sites",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = SiteId, Path, description = "Site")),
    responses((status = 200, body = SiteView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/sites/{id}")]
pub(super) async fn show_site(
    actor: Actor,
    site: InLab<SiteId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadSites, site.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, site.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &SiteView::from(kept)))
}
