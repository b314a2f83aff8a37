//! Accepts a kit lot: it is worked with. Refuses one that is not quarantined, and runs of another
//! lot. Where the procedure states how far a new lot may lie from the one in use, an acceptance
//! without a comparison, or against what it says, is refused unless a reason is given.

use super::{
    comparing::{self, NamedRuns},
    store,
    wire::KitLotView,
};
use crate::{
    corrections::Reason,
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    procedures,
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
    /// The lot in use that it is compared with.
    #[serde(default)]
    pub compared_with: Option<KitLotId>,
    /// Runs on that lot, of the same samples as `runs`.
    #[serde(default)]
    pub compared_runs: Vec<RunId>,
    /// Why, where there is something to say; due where the procedure's criterion does not bear the
    /// acceptance out.
    #[serde(default)]
    pub reason: Option<Reason>,
}

impl Entered for AcceptKitLot {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::distinct(&mut faults, "/runs", &self.runs);
        entries::distinct(&mut faults, "/compared_runs", &self.compared_runs);
        let whole = self.compared_with.is_some() != self.compared_runs.is_empty();
        faults.require(whole, "/compared_runs", || {
            "name the lot in use as compared_with, and its runs as compared_runs: both, or neither"
                .to_owned()
        });
        if let Some(reason) = &self.reason {
            faults.nest("/reason", reason.check());
        }
        faults.into_result()
    }
}

/// Accept kit lot
///
/// `GET …/comparison` says beforehand how it compares with the lot in use, and which runs to name.
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
            let comparison = match body.compared_with {
                Some(compared_with) => {
                    let named = NamedRuns {
                        compared_with,
                        runs: &body.runs,
                        compared_runs: &body.compared_runs,
                    };
                    Some(comparing::by_named_runs(tx, &before, named).await?)
                }
                None => {
                    super::must_be_runs_of(tx, before.id, &body.runs, "/runs").await?;
                    None
                }
            };
            let procedure = before.content.entry.procedure;
            let procedure = procedures::store::find(tx, procedure.0).await?.content;
            if let Some(reason) = &body.reason {
                tx.draft.because(reason.code.name(), &reason.text);
            }
            let accepted = before.content.accept_compared(
                body.runs.clone(),
                comparison,
                &procedure.entry.kit_lot_acceptance,
                body.reason.is_some(),
            )?;
            let after = before.next(tx, accepted);
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::KitLot(after.id)).await?;
            Ok((after.version, KitLotView::counted(tx, after).await?))
        })
        .await
}
