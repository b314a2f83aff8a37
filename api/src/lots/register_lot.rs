//! Registers a lot, or a sublot of one.
//!
//! Refuses a code that is in use, words that the vocabulary does not have, and what it names and
//! is not there.

use super::wire::LotView;
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, lots::Lot};
use uuid::Uuid;

impl Entered for Lot {
    fn check(&self) -> Result<(), Faults> {
        Lot::check(self)
    }
}

/// Register lot
#[utoipa::path(tag = "lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = Lot, example = json!({"code": "L-0417", "commodity": "maize-grain", "mass_kg": "24800", "arrived_on": "2026-03-01", "carrier": {"kind": "truck", "registration": "AB 123"}, "intended_uses": ["feed-dairy"], "jurisdictions": ["EU"], "parties": [{"customer": "019ca869-5003-7d46-b59c-6cf85cca57e4", "role": "buyer", "sees": "certificates"}]})),
    responses((status = 201, body = LotView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/lots")]
pub(super) async fn register_lot(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<Lot>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RegisterLot, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            let kept = super::register(tx, id, (*body).clone()).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/lots/{id}", lab.slug()),
                version: kept.version,
                view: LotView::from(kept),
            })
        })
        .await
}
