//! Accepts a kit lot: it is worked with. Refuses one that is not quarantined, and runs of another
//! lot.

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

/// On what a kit lot is accepted.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AcceptKitLot {
    /// The runs that it was accepted on.
    #[serde(default)]
    pub runs: Vec<RunId>,
    /// Why, where there is something to say.
    #[serde(default)]
    pub reason: Option<Reason>,
}

impl Entered for AcceptKitLot {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::distinct(&mut faults, "/runs", &self.runs);
        if let Some(reason) = &self.reason {
            faults.nest("/reason", reason.check());
        }
        faults.into_result()
    }
}

/// Accept kit lot
#[utoipa::path(tag = "kit-lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = KitLotId, Path, description = "Kit lot"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = AcceptKitLot, example = json!({"runs": []})),
    responses((status = 200, body = KitLotView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/kit-lots/{id}/acceptance")]
pub(super) async fn accept_kit_lot(
    actor: Actor,
    kit_lot: InLab<KitLotId>,
    once: Once,
    seen: Seen,
    body: Valid<AcceptKitLot>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::DecideKitLot, kit_lot.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, kit_lot.id().0).await?;
            seen.must_be(before.version)?;
            super::must_be_runs_of(tx, before.id, &body.runs).await?;
            if let Some(reason) = &body.reason {
                tx.draft.because(reason.code.name(), &reason.text);
            }
            let after = before.next(tx, before.content.accept(body.runs.clone())?);
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::KitLot(after.id)).await?;
            Ok((after.version, KitLotView::counted(tx, after).await?))
        })
        .await
}
