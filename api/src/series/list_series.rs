//! Lists series, newest first.

use super::{store, wire::SeriesView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use domain::{
    id::{KitLotId, SiteId},
    series::SeriesState,
};

/// Which series are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct SeriesFilter {
    /// Only those in this state.
    pub state: Option<SeriesState>,
    /// Only those worked at this site.
    pub site: Option<SiteId>,
    /// Only those worked with this kit lot.
    pub kit_lot: Option<KitLotId>,
    /// Only the one with this code.
    pub code: Option<String>,
}

/// List series
#[utoipa::path(tag = "series",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, SeriesFilter),
    responses((status = 200, body = Listed<SeriesView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/series")]
pub(super) async fn list_series(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<SeriesFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadSeries, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, &filter).await)
        .await?;
    let views: Vec<SeriesView> = found.into_iter().map(SeriesView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
