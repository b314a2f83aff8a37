//! Shows one check; a failed one with the runs in doubt.

use super::{store, wire::JudgedCheckView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, etag},
};
use actix_web::{HttpResponse, get};
use domain::id::EquipmentCheckId;

/// Show check
#[utoipa::path(tag = "equipment",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = EquipmentCheckId, Path, description = "Check")),
    responses((status = 200, body = JudgedCheckView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/equipment-checks/{id}")]
pub(super) async fn show_check(
    actor: Actor,
    check: InLab<EquipmentCheckId>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadEquipment, check.lab())?;
    let (version, view) = app
        .db
        .read(&permit, async |tx| {
            let kept = store::checks::find(tx, check.id().0).await?;
            let checks = store::checks::of(tx, kept.content.of).await?;
            let version = kept.version;
            Ok((version, JudgedCheckView::judged(tx, kept, &checks).await?))
        })
        .await?;
    // What is in doubt changes with later runs and checks: no 304 by the check's own version.
    Ok(HttpResponse::Ok().insert_header(etag(version)).json(view))
}
