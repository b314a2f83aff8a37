//! Records a check or calibration of equipment or of a reader; by the caller, unless somebody else
//! is named.
//!
//! Refuses a check of what is not there. A failed check is answered with the runs in doubt.

use super::{store, wire::JudgedCheckView};
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{equipment::EquipmentCheck, faults::Faults};
use uuid::Uuid;

impl Entered for EquipmentCheck {
    fn check(&self) -> Result<(), Faults> {
        EquipmentCheck::check(self)
    }
}

/// Record check
#[utoipa::path(tag = "equipment",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = EquipmentCheck, example = json!({"of": {"equipment": "019ca869-5003-7d46-b59c-6cf85cca57e4"}, "kind": "intermediate", "at": "2026-03-01T07:00:00Z", "readings": [{"nominal": "10", "found": "10.02", "unit": "g"}], "criterion": "within 0.1 g", "as_found": "pass", "as_left": "pass", "next_due_on": "2026-04-01"})),
    responses((status = 201, body = JudgedCheckView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/equipment-checks")]
pub(super) async fn record_check(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<EquipmentCheck>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RecordCheck, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            super::names_of_check(&body, "").must_be_there(tx).await?;
            let mut content = (*body).clone();
            content.by = content.by.or(permit.account());
            let kept = Kept::first(tx, id, content);
            store::checks::insert(tx, &kept).await?;
            let checks = super::carry_over(tx, &kept).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/equipment-checks/{id}", lab.slug()),
                version: kept.version,
                view: JudgedCheckView::judged(tx, kept, &checks).await?,
            })
        })
        .await
}
