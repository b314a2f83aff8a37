//! Changes a procedure. Refuses a stale version, a retired procedure, and a change without
//! a reason.
//!
//! The change is a correction: the old version stays readable.

use super::{store, wire::ProcedureView};
use crate::{
    corrections::{self, Reason},
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Seen, Valid, shown},
    results::{self, Again},
    screening_validations::tie_to_validations,
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{faults::Faults, id::ProcedureId, procedures::ProcedureEntry};
use serde::Deserialize;

/// The procedure as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseProcedure {
    /// The procedure as it is to be.
    pub procedure: ProcedureEntry,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseProcedure {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/procedure", Entered::check(&self.procedure));
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise procedure
#[utoipa::path(tag = "procedures",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ProcedureId, Path, description = "Procedure"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseProcedure, example = json!({"procedure": {"code": "P-07", "title": "Aflatoxins in maize by lateral-flow strip", "kit_instructions_revision": "4", "effective_from": "2026-01-05", "commodities": ["maize-grain"], "analytes": [{"analyte": "aflatoxin-total", "lod": "1", "loq": "2", "upper": "50"}], "dilutions": [{"steps": [{"sample_volume_ul": "100", "diluent_volume_ul": "500", "diluent": "water"}]}], "rounding": {"to": "places", "of": 1, "tie": "half-even"}}, "reason": {"code": "late-information", "text": "Revision 4 of the instructions."}})),
    responses((status = 200, body = ProcedureView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/procedures/{id}")]
pub(super) async fn revise_procedure(
    actor: Actor,
    procedure: InLab<ProcedureId>,
    seen: Seen,
    body: Valid<ReviseProcedure>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::DraftProcedure, procedure.lab())?;
    let kept = app
        .db
        .write(&permit, async |tx| {
            tx.change_reference().await?;
            super::require_materials(tx, &body.procedure, "/procedure").await?;
            let before = store::lock(tx, procedure.id().0).await?;
            seen.must_be(before.version)?;
            let id = ProcedureId(before.id);
            let entry = tie_to_validations(tx, id, &body.procedure, "/procedure").await?;
            let after = before.next(tx, before.content.revise(entry)?);
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Procedure(after.id)).await?;
            Ok(after)
        })
        .await?;
    Ok(shown(&request, kept.version, &ProcedureView::from(kept)))
}
