//! Corrects a check. Refuses a stale version, a change without a reason, and one of what was
//! checked.
//!
//! The change is a correction: the old version stays readable. Dates follow the corrected check.

use super::{store, wire::JudgedCheckView};
use crate::{
    corrections::{self, Reason},
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Seen, Valid, etag},
};
use actix_web::{HttpResponse, put};
use domain::{equipment::EquipmentCheck, faults::Faults, id::EquipmentCheckId};
use serde::Deserialize;

/// The check as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseCheck {
    /// The check as it is to be.
    pub check: EquipmentCheck,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseCheck {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/check", self.check.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise check
#[utoipa::path(tag = "equipment",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = EquipmentCheckId, Path, description = "Check"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseCheck, example = json!({"check": {"of": {"equipment": "019ca869-5003-7d46-b59c-6cf85cca57e4"}, "kind": "intermediate", "at": "2026-03-01T07:00:00Z", "readings": [{"nominal": "10", "found": "10.02", "unit": "g"}], "criterion": "within 0.1 g", "as_found": "pass", "as_left": "pass", "next_due_on": "2026-04-01"}, "reason": {"code": "transcription-error", "text": "The reading was 10.02 g."}})),
    responses((status = 200, body = JudgedCheckView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/equipment-checks/{id}")]
pub(super) async fn revise_check(
    actor: Actor,
    check: InLab<EquipmentCheckId>,
    seen: Seen,
    body: Valid<ReviseCheck>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseCheck, check.lab())?;
    let (version, view) = app
        .db
        .write(&permit, async |tx| {
            tx.change_reference().await?;
            let before = store::checks::lock(tx, check.id().0).await?;
            seen.must_be(before.version)?;
            if before.content.of != body.check.of {
                return Err(ApiError::field(
                    "/check/of",
                    "What was checked never changes. Record a check of the other one.",
                ));
            }
            super::names_of_check(&body.check, "/check")
                .must_be_there(tx)
                .await?;
            let after = before.next(tx, body.check.clone());
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::checks::save(tx, &after).await?;
            let checks = super::carry_over(tx, &after).await?;
            let version = after.version;
            Ok((version, JudgedCheckView::judged(tx, after, &checks).await?))
        })
        .await?;
    Ok(HttpResponse::Ok().insert_header(etag(version)).json(view))
}
