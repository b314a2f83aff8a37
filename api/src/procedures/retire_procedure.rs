//! Retires a procedure: it is no longer worked by. Refuses one that was not adopted.

use super::{store, wire::ProcedureView};
use crate::{
    corrections::Reason,
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Once, Seen, Valid},
    results::{self, Again},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, id::ProcedureId};
use serde::Deserialize;

/// Why the procedure is retired.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RetireProcedure {
    /// Why.
    pub reason: Reason,
}

impl Entered for RetireProcedure {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Retire procedure
#[utoipa::path(tag = "procedures",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ProcedureId, Path, description = "Procedure"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = RetireProcedure, example = json!({"reason": {"code": "late-information", "text": "Replaced by P-08."}})),
    responses((status = 200, body = ProcedureView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/procedures/{id}/retirement")]
pub(super) async fn retire_procedure(
    actor: Actor,
    procedure: InLab<ProcedureId>,
    once: Once,
    seen: Seen,
    body: Valid<RetireProcedure>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::AdoptProcedure, procedure.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, procedure.id().0).await?;
            seen.must_be(before.version)?;
            tx.draft.because(body.reason.code.name(), &body.reason.text);
            let after = before.next(tx, before.content.retire()?);
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Procedure(after.id)).await?;
            Ok((after.version, ProcedureView::from(after)))
        })
        .await
}
