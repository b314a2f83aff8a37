//! Changes a control material. Refuses a stale version, and a change without a reason.
//!
//! The change is a correction: the old version stays readable.

use super::{store, wire::ControlMaterialView};
use crate::{
    corrections::{self, Reason},
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Seen, Valid, shown},
    results::{self, Again},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{control_materials::ControlMaterial, faults::Faults, id::ControlMaterialId};
use serde::Deserialize;

/// The control material as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseControlMaterial {
    /// The control material as it is to be.
    pub control_material: ControlMaterial,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseControlMaterial {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/control_material", Entered::check(&self.control_material));
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise control material
#[utoipa::path(tag = "control-materials",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ControlMaterialId, Path, description = "Control material"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseControlMaterial, example = json!({"control_material": {"code": "CM-1", "name": "maize, naturally contaminated", "commodity": "maize-grain", "lot": "2026-A", "analytes": [{"analyte": "deoxynivalenol", "assigned_value": "1000", "lower": "800", "upper": "1200"}], "expires_on": "2027-01-31", "stock_g": "400"}, "reason": {"code": "transcription-error", "text": "The stock was counted again."}})),
    responses((status = 200, body = ControlMaterialView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/control-materials/{id}")]
pub(super) async fn revise_control_material(
    actor: Actor,
    control_material: InLab<ControlMaterialId>,
    seen: Seen,
    body: Valid<ReviseControlMaterial>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseControlMaterial, control_material.lab())?;
    let kept = app
        .db
        .write(&permit, async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, control_material.id().0).await?;
            seen.must_be(before.version)?;
            let after = before.next(tx, body.control_material.clone());
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            results::ask_again(
                tx,
                after.id,
                after.version,
                Again::ControlMaterial(after.id),
            )
            .await?;
            Ok(after)
        })
        .await?;
    Ok(shown(
        &request,
        kept.version,
        &ControlMaterialView::from(kept),
    ))
}
