//! Shows one series.

use super::{store, wire::SeriesView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::SeriesId;

/// Show series
#[utoipa::path(tag = "series",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = SeriesId, Path, description = "Series")),
    responses((status = 200, body = SeriesView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/series/{id}")]
pub(super) async fn show_series(
    actor: Actor,
    series: InLab<SeriesId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadSeries, series.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, series.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &SeriesView::from(kept)))
}
