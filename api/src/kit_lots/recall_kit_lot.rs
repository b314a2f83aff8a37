//! Records that whoever made a kit lot takes it back, whatever became of it here.
//!
//! Refuses one that is recalled already.

use super::{store, wire::KitLotView};
use crate::{
    corrections::Reason,
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Once, Seen, Valid},
    results::{self, Again},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, id::KitLotId};
use serde::Deserialize;

/// Why a kit lot is recalled.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RecallKitLot {
    /// Why.
    pub reason: Reason,
}

impl Entered for RecallKitLot {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Recall kit lot
#[utoipa::path(tag = "kit-lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = KitLotId, Path, description = "Kit lot"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = RecallKitLot, example = json!({"reason": {"code": "late-information", "text": "Recalled by letter of 2 March: the curve was wrong."}})),
    responses((status = 200, body = KitLotView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/kit-lots/{id}/recall")]
pub(super) async fn recall_kit_lot(
    actor: Actor,
    kit_lot: InLab<KitLotId>,
    once: Once,
    seen: Seen,
    body: Valid<RecallKitLot>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::DecideKitLot, kit_lot.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, kit_lot.id().0).await?;
            seen.must_be(before.version)?;
            tx.draft.because(body.reason.code.name(), &body.reason.text);
            let after = before.next(tx, before.content.recall()?);
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::KitLot(after.id)).await?;
            Ok((after.version, KitLotView::counted(tx, after).await?))
        })
        .await
}
