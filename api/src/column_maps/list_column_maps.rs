//! Lists column maps, newest first.

use super::{store, wire::ColumnMapView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// Which column maps are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ColumnMapFilter {
    /// Only the one of this name.
    pub name: Option<String>,
}

/// List column maps
#[utoipa::path(tag = "column-maps",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, ColumnMapFilter),
    responses((status = 200, body = Listed<ColumnMapView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/column-maps")]
pub(super) async fn list_column_maps(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<ColumnMapFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadColumnMaps, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| {
            store::list(tx, &page, filter.name.as_deref()).await
        })
        .await?;
    let views: Vec<ColumnMapView> = found.into_iter().map(ColumnMapView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
