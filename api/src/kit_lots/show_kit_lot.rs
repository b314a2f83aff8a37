//! Shows one kit lot.

use super::{store, wire::KitLotView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::KitLotId;

/// Show kit lot
#[utoipa::path(tag = "kit-lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = KitLotId, Path, description = "Kit lot")),
    responses((status = 200, body = KitLotView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/kit-lots/{id}")]
pub(super) async fn show_kit_lot(
    actor: Actor,
    kit_lot: InLab<KitLotId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadKitLots, kit_lot.lab())?;
    let view = app
        .db
        .read(&permit, async |tx| {
            let kept = store::find(tx, kit_lot.id().0).await?;
            KitLotView::counted(tx, kept).await
        })
        .await?;
    Ok(shown(&request, view.version, &view))
}
