//! Changes a piece of equipment. Refuses a stale version, and a change without a reason.
//!
//! The change is a correction: the old version stays readable.

use super::{store, wire::EquipmentView};
use crate::{
    corrections::{self, Reason},
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Seen, Valid, shown},
    results::{self, Again},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{equipment::Equipment, faults::Faults, id::EquipmentId};
use serde::Deserialize;

/// The piece of equipment as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseEquipment {
    /// The piece of equipment as it is to be.
    pub equipment: Equipment,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseEquipment {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/equipment", self.equipment.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise piece of equipment
#[utoipa::path(tag = "equipment",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = EquipmentId, Path, description = "Piece of equipment"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseEquipment, example = json!({"equipment": {"code": "P-1", "kind": "pipette", "name": "20 to 200 µL", "minimum_volume_ul": "20", "maximum_volume_ul": "200"}, "reason": {"code": "late-information", "text": "It stands on another bench now."}})),
    responses((status = 200, body = EquipmentView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/equipment/{id}")]
pub(super) async fn revise_equipment(
    actor: Actor,
    equipment: InLab<EquipmentId>,
    seen: Seen,
    body: Valid<ReviseEquipment>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseEquipment, equipment.lab())?;
    let kept = app
        .db
        .write(&permit, async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, equipment.id().0).await?;
            seen.must_be(before.version)?;
            super::names(&body.equipment, "/equipment")
                .must_be_there(tx)
                .await?;
            let after = before.next(tx, body.equipment.clone());
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Equipment(after.id)).await?;
            Ok(after)
        })
        .await?;
    Ok(shown(&request, kept.version, &EquipmentView::from(kept)))
}
