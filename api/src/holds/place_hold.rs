//! Places a hold on a run, a result or a sample, with a reason.

use super::{store, wire::HoldView};
use crate::{
    db::{Created, Tx},
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
    results, runs,
};
use actix_web::{HttpResponse, post};
use domain::{
    faults::Faults,
    holds::{Held, Hold, LiftedBy},
    id::SampleId,
};
use serde::Deserialize;
use uuid::Uuid;

/// What is held, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PlaceHold {
    /// A run, a result or a sample.
    pub of: Held,
    /// Why, in words.
    #[schema(example = "The strip was wet.")]
    pub reason: String,
}

impl Entered for PlaceHold {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        domain::entries::text(
            &mut faults,
            "/reason",
            &self.reason,
            domain::entries::TEXT_LENGTH,
        );
        faults.into_result()
    }
}

/// Place hold
#[utoipa::path(tag = "holds",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = PlaceHold, example = json!({"of": {"run": "019ca869-5004-7d1c-a76c-11aa197db3bd"}, "reason": "The strip was wet."})),
    responses((status = 201, body = HoldView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/holds")]
pub(super) async fn place_hold(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<PlaceHold>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::PlaceHold, &lab)?;
    let by = permit
        .account()
        .ok_or_else(|| ApiError::Forbidden("Only a person places a hold.".into()))?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            let sample = sample_of(tx, body.of).await?;
            if let Some(sample) = sample {
                results::lock_sample(tx, sample).await?;
            }
            let hold = Hold::place(body.of, sample.map(SampleId), by, &body.reason)?;
            let kept = Kept::first(tx, id, hold);
            store::insert(tx, &kept).await?;
            if let Some(sample) = sample {
                results::assess(tx, &[sample], LiftedBy::LaterFact).await?;
            }
            Ok(Created {
                location: format!("/v1/laboratories/{}/holds/{id}", lab.slug()),
                version: kept.version,
                view: HoldView::from(kept),
            })
        })
        .await
}

/// The sample of what is held; refuses what is not there.
pub(super) async fn sample_of(tx: &mut Tx, of: Held) -> Answer<Option<Uuid>> {
    Ok(match of {
        Held::Run(run) => {
            let run = runs::store::find(tx, run.0).await?;
            run.content.entry.sample.map(|id| id.0)
        }
        Held::Result(result) => {
            let result = results::store::find(tx, result.0).await?;
            Some(result.content.computed.sample.0)
        }
        Held::Sample(sample) => Some(sample.0),
    })
}
