//! Corrects a preparation.
//!
//! Refuses a stale version, a change without a reason, another kind, and what would no longer fit
//! the steps before and after it. Nothing is filled in from the bench: a correction says all.

use super::{store, wire::PreparationView};
use crate::{
    corrections::{self, Reason},
    db::Tx,
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    kept::Kept,
    request::{Data, Entered, Seen, Valid, shown},
    results, samples,
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{faults::Faults, holds::LiftedBy, id::PreparationId, preparations::Preparation};
use serde::Deserialize;
use uuid::Uuid;

/// The preparation as it should have been recorded, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RevisePreparation {
    /// The preparation as it should have been recorded.
    pub preparation: Preparation,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for RevisePreparation {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/preparation", self.preparation.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise preparation
#[utoipa::path(tag = "preparations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = PreparationId, Path, description = "Preparation"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = RevisePreparation, example = json!({"preparation": {"kind": "test-portion", "sample": "019ca869-5003-7d46-b59c-6cf85cca57e5", "parent": "019ca869-5003-7d46-b59c-6cf85cca57e4", "at": "2026-03-01T08:30:00Z", "mass_g": "10.1"}, "reason": {"code": "transcription-error", "text": "The balance showed 10.1 g."}})),
    responses((status = 200, body = PreparationView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/preparations/{id}")]
pub(super) async fn revise_preparation(
    actor: Actor,
    preparation: InLab<PreparationId>,
    seen: Seen,
    body: Valid<RevisePreparation>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RevisePreparation, preparation.lab())?;
    let kept = app
        .db
        .write(&permit, async |tx| {
            let samples = lock_samples(tx, preparation.id().0, body.preparation.sample.0).await?;
            let before = store::lock(tx, preparation.id().0).await?;
            seen.must_be(before.version)?;
            let after = before.next(tx, body.preparation.clone());
            check(tx, &before, &after).await?;
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            results::assess(tx, &samples, LiftedBy::Correction).await?;
            Ok(after)
        })
        .await?;
    Ok(shown(&request, kept.version, &PreparationView::from(kept)))
}

/// Locks the sample that the step is of and the one it is to be of, the smaller id first, so that
/// two corrections that swap samples queue.
async fn lock_samples(tx: &mut Tx, preparation: Uuid, named: Uuid) -> Answer<Vec<Uuid>> {
    let now = store::find(tx, preparation).await?.content.sample.0;
    let mut samples = vec![now, named];
    samples.sort_unstable();
    samples.dedup();
    for sample in &samples {
        samples::store::lock(tx, *sample)
            .await
            .map_err(|missing| missing.named_at("/preparation/sample"))?;
    }
    Ok(samples)
}

async fn check(tx: &mut Tx, before: &Kept<Preparation>, after: &Kept<Preparation>) -> Answer<()> {
    if before.content.kind != after.content.kind {
        return Err(ApiError::field(
            "/preparation/kind",
            format!(
                "The kind of a preparation never changes, and this is a {}. Record another.",
                before.content.kind.name()
            ),
        ));
    }
    super::check(tx, &after.content)
        .await
        .map_err(|refusal| refusal.within("/preparation"))?;
    for later in store::made_from(tx, after.id).await? {
        later
            .content
            .check_parent(Some(&after.content))
            .map_err(|misfit| {
                let id = later.id;
                ApiError::refused(
                    "later-step-misfits",
                    format!("Refused: {misfit}. Correct the later step {id} first."),
                )
            })?;
    }
    Ok(())
}
