//! Changes a sample's particulars, its moisture, its barcodes or what is kept of it.
//!
//! Refuses a stale version, a change without a reason, and a change of a custody event. The change
//! is a correction: the old version stays readable.

use super::{store, wire::SampleView};
use crate::{
    corrections::{self, Reason},
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    kept::{Kept, Subject as _},
    request::{Data, Entered, Seen, Valid, shown},
    results,
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{correctable, faults::Faults, holds::LiftedBy, id::SampleId, samples::Sample};
use serde::Deserialize;

/// The sample as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseSample {
    /// The sample as it is to be, its custody events as they stand.
    pub sample: Sample,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseSample {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/sample", self.sample.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise sample
#[utoipa::path(tag = "samples",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = SampleId, Path, description = "Sample"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseSample, example = json!({"sample": {"code": "S-0007", "barcodes": ["4006381333931"], "purpose": "customer", "lot": "019ca869-5003-7d46-b59c-6cf85cca57e4", "commodity": "maize-grain", "mass_g": "1000", "received_at": "2026-03-01T08:15:00Z", "moisture": {"percent": "12.4", "method": "oven, 130 °C"}}, "reason": {"code": "transcription-error", "text": "The moisture was read off wrongly."}})),
    responses((status = 200, body = SampleView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/samples/{id}")]
pub(super) async fn revise_sample(
    actor: Actor,
    sample: InLab<SampleId>,
    seen: Seen,
    body: Valid<ReviseSample>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseSample, sample.lab())?;
    let kept = app
        .db
        .write(&permit, async |tx| {
            let before = store::lock(tx, sample.id().0).await?;
            seen.must_be(before.version)?;
            let after = before.next(tx, body.sample.clone());
            check_custody(&before, &after)?;
            let below = |refusal: ApiError| refusal.within("/sample");
            super::check(tx, &after.content).await.map_err(below)?;
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            super::check_sampling(tx, &after.content)
                .await
                .map_err(below)?;
            results::assess(tx, &[after.id], LiftedBy::Correction).await?;
            Ok(after)
        })
        .await?;
    Ok(shown(&request, kept.version, &SampleView::from(kept)))
}

/// Custody events are neither changed nor taken away here, and none is slipped in: each has its
/// own act.
fn check_custody(before: &Kept<Sample>, after: &Kept<Sample>) -> Answer<()> {
    let old = serde_json::to_value(&before.content).map_err(ApiError::internal)?;
    let new = serde_json::to_value(&after.content).map_err(ApiError::internal)?;
    correctable::check(Sample::KIND, &old, &new)
        .map_err(|fixed| ApiError::refused("never-changes", format!("Refused: {fixed}.")))?;
    if after.content.custody.len() == before.content.custody.len() {
        return Ok(());
    }
    Err(ApiError::field(
        "/sample/custody",
        "A custody event is added by a POST to the sample's custody, not by a revision.",
    ))
}
