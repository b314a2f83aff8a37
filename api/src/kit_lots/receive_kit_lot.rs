//! Records a delivery of a kit lot: more tests. Refuses one of a lot that is rejected or recalled.

use super::{store, wire::KitLotView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Once, Valid},
    results::{self, Again},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, id::KitLotId, kit_lots::KitLotReceipt};

impl Entered for KitLotReceipt {
    fn check(&self) -> Result<(), Faults> {
        KitLotReceipt::check(self)
    }
}

/// Receive kit lot
#[utoipa::path(tag = "kit-lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = KitLotId, Path, description = "Kit lot"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = KitLotReceipt, example = json!({"received_on": "2026-04-07", "tests": 96, "storage_kept": true})),
    responses((status = 200, body = KitLotView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/kit-lots/{id}/receipts")]
pub(super) async fn receive_kit_lot(
    actor: Actor,
    kit_lot: InLab<KitLotId>,
    once: Once,
    body: Valid<KitLotReceipt>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReceiveKitLot, kit_lot.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, kit_lot.id().0).await?;
            let after = before.next(tx, before.content.receive(*body)?);
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::KitLot(after.id)).await?;
            Ok((after.version, KitLotView::counted(tx, after).await?))
        })
        .await
}
