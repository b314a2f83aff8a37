//! Records that no test of a kit lot is left. Refuses one of which tests are left by the count.

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

/// That no test of the lot is left.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ExhaustKitLot {
    /// Why, where there is something to say.
    #[serde(default)]
    pub reason: Option<Reason>,
}

impl Entered for ExhaustKitLot {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        if let Some(reason) = &self.reason {
            faults.nest("/reason", reason.check());
        }
        faults.into_result()
    }
}

/// Exhaust kit lot
#[utoipa::path(tag = "kit-lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = KitLotId, Path, description = "Kit lot"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ExhaustKitLot, example = json!({})),
    responses((status = 200, body = KitLotView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/kit-lots/{id}/exhaustion")]
pub(super) async fn exhaust_kit_lot(
    actor: Actor,
    kit_lot: InLab<KitLotId>,
    once: Once,
    seen: Seen,
    body: Valid<ExhaustKitLot>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReceiveKitLot, kit_lot.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, kit_lot.id().0).await?;
            seen.must_be(before.version)?;
            let used = store::tests_used(tx, &[before.id]).await?;
            let used = used.get(&before.id).copied().unwrap_or(0);
            if let Some(reason) = &body.reason {
                tx.draft.because(reason.code.name(), &reason.text);
            }
            let after = before.next(tx, before.content.exhaust(used)?);
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::KitLot(after.id)).await?;
            Ok((after.version, KitLotView::counted(tx, after).await?))
        })
        .await
}
