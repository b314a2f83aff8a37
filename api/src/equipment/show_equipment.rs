//! Shows one piece of equipment.

use super::{store, wire::EquipmentView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::EquipmentId;

/// Show piece of equipment
#[utoipa::path(tag = "equipment",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = EquipmentId, Path, description = "Piece of equipment")),
    responses((status = 200, body = EquipmentView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/equipment/{id}")]
pub(super) async fn show_equipment(
    actor: Actor,
    equipment: InLab<EquipmentId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadEquipment, equipment.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, equipment.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &EquipmentView::from(kept)))
}
