//! Shows one column map.

use super::{store, wire::ColumnMapView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::ColumnMapId;

/// Show column map
#[utoipa::path(tag = "column-maps",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ColumnMapId, Path, description = "Column map")),
    responses((status = 200, body = ColumnMapView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/column-maps/{id}")]
pub(super) async fn show_column_map(
    actor: Actor,
    map: InLab<ColumnMapId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadColumnMaps, map.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, map.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &ColumnMapView::from(kept)))
}
