//! Shows one lot. To a customer that may not know of it, there is no such lot.

use super::{store, wire::LotView};
use crate::{
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::LotId;

/// Show lot
#[utoipa::path(tag = "lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = LotId, Path, description = "Lot")),
    responses((status = 200, body = LotView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/lots/{id}")]
pub(super) async fn show_lot(
    actor: Actor,
    lot: InLab<LotId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadLots, lot.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, lot.id().0).await)
        .await?;
    let view = LotView::to(permit.only_customer(), kept)
        .ok_or_else(|| ApiError::missing("lot", lot.id()))?;
    Ok(shown(&request, view.version, &view))
}
