//! Adopts a procedure: from its day on it is worked by. Refuses one that is no draft.

use super::{store, wire::ProcedureView};
use crate::{
    corrections::Reason,
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Once, Seen, Valid},
    results::{self, Again},
    screening_validations::tie_to_validations,
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, id::ProcedureId};
use serde::Deserialize;

/// That the procedure is adopted.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AdoptProcedure {
    /// Why, where there is something to say.
    #[serde(default)]
    pub reason: Option<Reason>,
}

impl Entered for AdoptProcedure {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        if let Some(reason) = &self.reason {
            faults.nest("/reason", reason.check());
        }
        faults.into_result()
    }
}

/// Adopt procedure
#[utoipa::path(tag = "procedures",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ProcedureId, Path, description = "Procedure"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = AdoptProcedure, example = json!({})),
    responses((status = 200, body = ProcedureView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/procedures/{id}/adoption")]
pub(super) async fn adopt_procedure(
    actor: Actor,
    procedure: InLab<ProcedureId>,
    once: Once,
    seen: Seen,
    body: Valid<AdoptProcedure>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::AdoptProcedure, procedure.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, procedure.id().0).await?;
            seen.must_be(before.version)?;
            if let Some(reason) = &body.reason {
                tx.draft.because(reason.code.name(), &reason.text);
            }
            // What a cut-off names may have been withdrawn since the draft was written.
            tie_to_validations(tx, ProcedureId(before.id), &before.content.entry, "").await?;
            let after = before.next(tx, before.content.adopt()?);
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Procedure(after.id)).await?;
            Ok((after.version, ProcedureView::from(after)))
        })
        .await
}
