//! Registers a kit lot. Refuses a code that is in use, and a procedure that is not there.

use super::{store, wire::KitLotView};
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
    results::{self, Again},
};
use actix_web::{HttpResponse, post};
use domain::{
    faults::Faults,
    kit_lots::{KitLot, KitLotEntry},
};
use uuid::Uuid;

impl Entered for KitLotEntry {
    fn check(&self) -> Result<(), Faults> {
        KitLotEntry::check(self)
    }
}

/// Register kit lot
#[utoipa::path(tag = "kit-lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = KitLotEntry, example = json!({"code": "AF-2601", "name": "Aflatoxin strips, total, 5 to 50", "analytes": [{"analyte": "aflatoxin-total", "loq": "2.5", "upper": "50"}], "curve_lot": "C-2601", "matrices": ["maize"], "curves": [{"analyte": "aflatoxin-total", "response": "test-over-control", "curve": {"lower": "0.05", "upper": "1.6", "slope": "1.1", "midpoint": "9"}, "tolerance": {"proportional": "0.05"}}], "expires_on": "2026-12-31", "procedure": "019ca869-5003-7d46-b59c-6cf85cca57e4", "receipts": [{"received_on": "2026-02-02", "tests": 96, "storage_kept": true}]})),
    responses((status = 201, body = KitLotView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/kit-lots")]
pub(super) async fn register_kit_lot(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<KitLotEntry>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RegisterKitLot, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            super::names(&body, "").must_be_there(tx).await?;
            let kept = Kept::first(tx, id, KitLot::quarantine((*body).clone())?);
            store::insert(tx, &kept).await?;
            results::ask_again(tx, id, kept.version, Again::KitLot(id)).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/kit-lots/{id}", lab.slug()),
                version: kept.version,
                view: KitLotView::counted(tx, kept).await?,
            })
        })
        .await
}
