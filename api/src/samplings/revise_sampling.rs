//! Corrects a sampling.
//!
//! Refuses a stale version, a change without a reason, and another lot while samples came from the
//! sampling. The results of those samples are computed again: what was taken bears on their holds.

use super::{store, wire::SamplingView};
use crate::{
    corrections::{self, Reason},
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Seen, Valid, shown},
    results::{self, Again},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{faults::Faults, id::SamplingId, samplings::Sampling};
use serde::Deserialize;

/// The sampling as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseSampling {
    /// The sampling as it is to be.
    pub sampling: Sampling,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseSampling {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/sampling", self.sampling.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise sampling
#[utoipa::path(tag = "samplings",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = SamplingId, Path, description = "Sampling"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseSampling, example = json!({"sampling": {"lot": "019ca869-5003-7d46-b59c-6cf85cca57e4", "taken_at": "2026-03-01T08:00:00Z", "increments": 11, "increment_mass_g": "350"}, "reason": {"code": "transcription-error", "text": "Two increments were not counted."}})),
    responses((status = 200, body = SamplingView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/samplings/{id}")]
pub(super) async fn revise_sampling(
    actor: Actor,
    sampling: InLab<SamplingId>,
    seen: Seen,
    body: Valid<ReviseSampling>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseSampling, sampling.lab())?;
    let view = app
        .db
        .write(&permit, async |tx| {
            // The lock also waits for samples that are just being registered from it.
            let before = store::lock(tx, sampling.id().0).await?;
            seen.must_be(before.version)?;
            let after = before.next(tx, body.sampling.clone());
            super::check(tx, &after.content)
                .await
                .map_err(|refusal| refusal.within("/sampling"))?;
            if before.content.lot != after.content.lot
                && let Some(code) = store::sample_from(tx, before.id).await?
            {
                return Err(ApiError::refused(
                    "sampling-has-samples",
                    format!(
                        "Sample {code} came from this sampling. Give it another sampling first, \
                         then change the lot of this one."
                    ),
                ));
            }
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Sampling(after.id)).await?;
            super::checked(tx, after).await
        })
        .await?;
    Ok(shown(&request, view.version, &view))
}
