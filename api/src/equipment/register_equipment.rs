//! Registers a piece of equipment. Refuses a code that is in use, and a site that is not there.

use super::{store, wire::EquipmentView};
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{equipment::Equipment, faults::Faults};
use uuid::Uuid;

impl Entered for Equipment {
    fn check(&self) -> Result<(), Faults> {
        Equipment::check(self)
    }
}

/// Register piece of equipment
#[utoipa::path(tag = "equipment",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = Equipment, example = json!({"code": "P-1", "kind": "pipette", "name": "20 to 200 µL", "minimum_volume_ul": "20", "maximum_volume_ul": "200", "step_volume_ul": "1", "calibration_due_on": "2027-01-31"})),
    responses((status = 201, body = EquipmentView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/equipment")]
pub(super) async fn register_equipment(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<Equipment>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RegisterEquipment, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            super::names(&body, "").must_be_there(tx).await?;
            let kept = Kept::first(tx, id, (*body).clone());
            store::insert(tx, &kept).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/equipment/{id}", lab.slug()),
                version: kept.version,
                view: EquipmentView::from(kept),
            })
        })
        .await
}
