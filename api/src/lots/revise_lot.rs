//! Changes a lot's particulars or its parties.
//!
//! Refuses a stale version, a change without a reason, and a commodity that is no longer that of
//! its sublots. The change is a correction: the old version stays readable.

use super::{store, wire::LotView};
use crate::{
    corrections::{self, Reason},
    db::Tx,
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    kept::Kept,
    request::{Data, Entered, Seen, Valid, shown},
    results::{self, Again},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{faults::Faults, id::LotId, lots::Lot};
use serde::Deserialize;

/// The lot as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseLot {
    /// The lot as it is to be.
    pub lot: Lot,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseLot {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/lot", self.lot.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise lot
#[utoipa::path(tag = "lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = LotId, Path, description = "Lot"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseLot, example = json!({"lot": {"code": "L-0417", "commodity": "maize-grain", "mass_kg": "24380", "arrived_on": "2026-03-01"}, "reason": {"code": "transcription-error", "text": "The weighbridge shows 24380 kg."}})),
    responses((status = 200, body = LotView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/lots/{id}")]
pub(super) async fn revise_lot(
    actor: Actor,
    lot: InLab<LotId>,
    seen: Seen,
    body: Valid<ReviseLot>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseLot, lot.lab())?;
    let kept = app
        .db
        .write(&permit, async |tx| {
            let before = store::lock(tx, lot.id().0).await?;
            seen.must_be(before.version)?;
            let after = before.next(tx, body.lot.clone());
            super::check(tx, &after, Some(&before.content))
                .await
                .map_err(|refusal| refusal.within("/lot"))?;
            check_sublots(tx, &after).await?;
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Lot(after.id)).await?;
            Ok(after)
        })
        .await?;
    Ok(shown(&request, kept.version, &LotView::from(kept)))
}

async fn check_sublots(tx: &mut Tx, after: &Kept<Lot>) -> Answer<()> {
    let lot = [(LotId(after.id), &after.content)];
    for sublot in store::sublots(tx, after.id).await? {
        sublot
            .content
            .check_parents(LotId(sublot.id), &lot)
            .map_err(|misfit| {
                ApiError::field(
                    "/lot/commodity",
                    format!("Refused: {misfit}. Take the sublot out of the lot first."),
                )
            })?;
    }
    Ok(())
}
