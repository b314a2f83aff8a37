//! Changes a kit lot. Refuses a stale version, a change without a reason, and a procedure that is
//! not there.
//!
//! The change is a correction: the old version stays readable.

use super::{store, wire::KitLotView};
use crate::{
    corrections::{self, Reason},
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Seen, Valid, shown},
    results::{self, Again},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{faults::Faults, id::KitLotId, kit_lots::KitLotEntry};
use serde::Deserialize;

/// The kit lot as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseKitLot {
    /// The kit lot as it is to be.
    pub kit_lot: KitLotEntry,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseKitLot {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/kit_lot", self.kit_lot.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise kit lot
#[utoipa::path(tag = "kit-lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = KitLotId, Path, description = "Kit lot"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseKitLot, example = json!({"kit_lot": {"code": "AF-2601", "name": "Aflatoxin strips, total, 5 to 50", "analytes": [{"analyte": "aflatoxin-total", "loq": "2.5", "upper": "50"}], "curve_lot": "C-2601", "matrices": ["maize"], "expires_on": "2026-12-31", "procedure": "019ca869-5003-7d46-b59c-6cf85cca57e4", "receipts": [{"received_on": "2026-02-02", "tests": 96, "storage_kept": true}]}, "reason": {"code": "transcription-error", "text": "The curve lot was misread."}})),
    responses((status = 200, body = KitLotView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/kit-lots/{id}")]
pub(super) async fn revise_kit_lot(
    actor: Actor,
    kit_lot: InLab<KitLotId>,
    seen: Seen,
    body: Valid<ReviseKitLot>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseKitLot, kit_lot.lab())?;
    let view = app
        .db
        .write(&permit, async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, kit_lot.id().0).await?;
            seen.must_be(before.version)?;
            super::names(&body.kit_lot, "/kit_lot")
                .must_be_there(tx)
                .await?;
            let after = before.next(tx, before.content.amend(body.kit_lot.clone())?);
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::KitLot(after.id)).await?;
            KitLotView::counted(tx, after).await
        })
        .await?;
    Ok(shown(&request, view.version, &view))
}
