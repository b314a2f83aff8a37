//! Shows one control material.

use super::{store, wire::ControlMaterialView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::ControlMaterialId;

/// Show control material
#[utoipa::path(tag = "control-materials",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ControlMaterialId, Path, description = "Control material")),
    responses((status = 200, body = ControlMaterialView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/control-materials/{id}")]
pub(super) async fn show_control_material(
    actor: Actor,
    control_material: InLab<ControlMaterialId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadControlMaterials, control_material.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| {
            store::find(tx, control_material.id().0).await
        })
        .await?;
    Ok(shown(
        &request,
        kept.version,
        &ControlMaterialView::from(kept),
    ))
}
