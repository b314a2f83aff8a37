//! Drafts a procedure. Refuses a code that is in use, and commodities that the vocabulary does
//! not have.

use super::{store, wire::ProcedureView};
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Once, Valid},
    screening_validations::tie_to_validations,
};
use actix_web::{HttpResponse, post};
use domain::{
    id::ProcedureId,
    procedures::{Procedure, ProcedureEntry},
};
use uuid::Uuid;

/// Draft procedure
#[utoipa::path(tag = "procedures",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = ProcedureEntry, example = json!({"code": "P-07", "title": "Aflatoxins in maize by lateral-flow strip", "kit_instructions_revision": "4", "effective_from": "2026-01-05", "commodities": ["maize-grain"], "analytes": [{"analyte": "aflatoxin-total", "lod": "1", "loq": "2", "upper": "50"}], "dilutions": [{"steps": [{"sample_volume_ul": "100", "diluent_volume_ul": "500", "diluent": "water"}]}], "rounding": {"to": "places", "of": 1, "tie": "half-even"}})),
    responses((status = 201, body = ProcedureView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/procedures")]
pub(super) async fn draft_procedure(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<ProcedureEntry>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::DraftProcedure, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            super::require_materials(tx, &body, "").await?;
            let entry = tie_to_validations(tx, ProcedureId(id), &body, "").await?;
            let kept = Kept::first(tx, id, Procedure::draft(entry)?);
            store::insert(tx, &kept).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/procedures/{id}", lab.slug()),
                version: kept.version,
                view: ProcedureView::from(kept),
            })
        })
        .await
}
