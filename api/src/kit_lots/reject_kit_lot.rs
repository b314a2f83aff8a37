//! Rejects a kit lot: it is not worked with, or no longer. Refuses one that is rejected or
//! recalled.

use super::{store, wire::KitLotView};
use crate::{
    corrections::Reason,
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Once, Seen, Valid},
    results::{self, Again},
};
use actix_web::{HttpResponse, post};
use domain::{
    entries,
    faults::Faults,
    id::{KitLotId, RunId},
};
use serde::Deserialize;

/// On what a kit lot is rejected, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RejectKitLot {
    /// The runs that it was rejected on.
    #[serde(default)]
    pub runs: Vec<RunId>,
    /// Why.
    pub reason: Reason,
}

impl Entered for RejectKitLot {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::distinct(&mut faults, "/runs", &self.runs);
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Reject kit lot
#[utoipa::path(tag = "kit-lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = KitLotId, Path, description = "Kit lot"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = RejectKitLot, example = json!({"runs": [], "reason": {"code": "other", "text": "The control runs of the acceptance were out."}})),
    responses((status = 200, body = KitLotView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/kit-lots/{id}/rejection")]
pub(super) async fn reject_kit_lot(
    actor: Actor,
    kit_lot: InLab<KitLotId>,
    once: Once,
    seen: Seen,
    body: Valid<RejectKitLot>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::DecideKitLot, kit_lot.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, kit_lot.id().0).await?;
            seen.must_be(before.version)?;
            super::must_be_runs_of(tx, before.id, &body.runs, "/runs").await?;
            tx.draft.because(body.reason.code.name(), &body.reason.text);
            let after = before.next(tx, before.content.reject(body.runs.clone())?);
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::KitLot(after.id)).await?;
            Ok((after.version, KitLotView::counted(tx, after).await?))
        })
        .await
}
