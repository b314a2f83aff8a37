//! Records how a lot was sampled. Refuses a lot, an account or an instrument that is not there.

use super::{store, wire::SamplingView};
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, samplings::Sampling};
use uuid::Uuid;

impl Entered for Sampling {
    fn check(&self) -> Result<(), Faults> {
        Sampling::check(self)
    }
}

/// Record sampling
///
/// The answer says what the plan asks for this lot and what departs from it. Nothing is refused for
/// departing: it holds the results of the samples until a reviewer accepts it.
#[utoipa::path(tag = "samplings",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = Sampling, example = json!({"lot": "019ca869-5003-7d46-b59c-6cf85cca57e4", "taken_at": "2026-03-01T08:00:00Z", "taken_by": "the gate's sampler", "plan": "us-fgis-aflatoxin-truck", "increments": 9, "increment_mass_g": "350", "aggregate_mass_kg": "3.15", "pattern": "five points and four between", "seal": "777"})),
    responses((status = 201, body = SamplingView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/samplings")]
pub(super) async fn record_sampling(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<Sampling>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RecordSampling, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            let kept = Kept::first(tx, id, (*body).clone());
            super::check(tx, &kept.content).await?;
            store::insert(tx, &kept).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/samplings/{id}", lab.slug()),
                version: kept.version,
                view: super::checked(tx, kept).await?,
            })
        })
        .await
}
