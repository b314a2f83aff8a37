//! Corrects a run, or moves it to another sample: a new version with its reason; the old one stays
//! readable, and what was released on it is due for amendment.

use super::{
    completed::{completed, context, with_pipettes},
    record::{refusal, settle_run},
    store,
    wire::RunView,
};
use crate::{
    corrections::{self, Reason},
    error::{Answer, ApiError, Problem},
    holds,
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Once, Seen, Valid},
    results,
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, holds::LiftedBy, id::RunId, runs::RunEntry};
use serde::Deserialize;

/// The run as it should have been entered, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CorrectRun {
    /// The run as it should have been entered, whole.
    pub run: RunEntry,
    /// Why.
    pub reason: Reason,
}

impl Entered for CorrectRun {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/run", Entered::check(&self.run));
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Correct run
#[utoipa::path(tag = "runs",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = RunId, Path, description = "Run"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = CorrectRun, example = json!({"run": {"sample": "019ca869-5003-7d46-b59c-6cf85cca57e4", "kit_lot_code": "AF-2601", "reader_serial": "R-1", "port": 2, "read_at": "2026-03-01T08:31:00Z", "readings": [{"analyte": "aflatoxin-total", "kind": "number", "value": "25", "unit": "ug/kg"}]}, "reason": {"code": "transcription-error", "text": "Two digits were exchanged in typing."}})),
    responses((status = 200, body = RunView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/runs/{id}/correction")]
pub(super) async fn correct_run(
    actor: Actor,
    run: InLab<RunId>,
    once: Once,
    seen: Seen,
    body: Valid<CorrectRun>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::CorrectRun, run.lab())?;
    let id = run.id().0;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            let found = store::find(tx, id).await?;
            let from = found.content.entry.sample.map(|id| id.0);
            let to = body
                .run
                .sample
                .map(|id| id.0)
                .filter(|to| Some(*to) != from);
            let mut samples: Vec<_> = [from, to].into_iter().flatten().collect();
            samples.sort_unstable();
            for sample in samples {
                results::lock_sample(tx, sample).await?;
            }
            let before = store::lock(tx, id).await?;
            seen.must_be(before.version)?;
            let reference = tx.reference().await?;
            let samples: Vec<_> = body.run.sample.iter().map(|id| id.0).collect();
            let dossiers = results::load_dossiers(tx, &reference, &samples).await?;
            let dossier = samples.first().and_then(|id| dossiers.samples.get(id));
            if dossier.is_none() && !samples.is_empty() {
                return Err(ApiError::field(
                    "/run/sample",
                    "There is no such sample in this laboratory. Look it up in the list.",
                ));
            }
            let mut entry = completed(&reference, dossier, body.run.clone());
            let context = context(&reference, &entry);
            // Who ran it does not become unknown because a correction of something else leaves it
            // out.
            entry.analyst = entry.analyst.or(before.content.entry.analyst);
            let content = before.content.correct(entry, &context).map_err(refusal)?;
            let content = with_pipettes(&reference, dossier, content);
            let after = before.next(tx, content);
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save_version(tx, &after, None).await?;
            let mut concerned: Vec<_> = [from, after.content.entry.sample.map(|id| id.0)]
                .into_iter()
                .flatten()
                .collect();
            concerned.sort_unstable();
            concerned.dedup();
            if concerned.is_empty() {
                settle_run(tx, &after, None, LiftedBy::Correction).await?;
            } else {
                results::assess(tx, &concerned, LiftedBy::Correction).await?;
            }
            results::ask_again(tx, id, after.version, results::Again::Run(id)).await?;
            let holds = holds::store::of_subjects(tx, &[id]).await?;
            Ok((after.version, RunView::with_holds(after, &holds)))
        })
        .await
}
