//! Registers a sample.
//!
//! Refuses a customer's sample without its lot, a control without its material, a code or barcode
//! that is in use, and a sampling of another lot.

use super::wire::SampleView;
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    request::{Data, Entered, Once, Valid},
    results,
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, holds::LiftedBy, samples::Sample};
use uuid::Uuid;

impl Entered for Sample {
    fn check(&self) -> Result<(), Faults> {
        Sample::check(self)
    }
}

/// Register sample
#[utoipa::path(tag = "samples",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = Sample, example = json!({"code": "S-0007", "barcodes": ["4006381333931"], "purpose": "customer", "lot": "019ca869-5003-7d46-b59c-6cf85cca57e4", "commodity": "maize-grain", "mass_g": "1000", "received_at": "2026-03-01T08:15:00Z", "condition": "dry, seal intact", "moisture": {"percent": "14.2", "method": "oven, 130 °C"}, "retained": {"mass_g": "500", "place": "shelf 4", "until": "2026-06-01", "seal": "778"}})),
    responses((status = 201, body = SampleView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/samples")]
pub(super) async fn register_sample(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<Sample>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RegisterSample, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            let kept = super::register(tx, id, (*body).clone(), permit.account()).await?;
            // What is ordered of it is from now on a result that needs a run.
            results::assess(tx, &[id], LiftedBy::LaterFact).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/samples/{id}", lab.slug()),
                version: kept.version,
                view: SampleView::from(kept),
            })
        })
        .await
}
