//! Says which sample a run belongs to that came without one. Who said so and why is recorded.

use super::{
    completed::{completed, with_pipettes},
    record::{refusal, settle_run},
    store,
    wire::RunView,
};
use crate::{
    corrections::{self, Reason},
    error::{Answer, Problem},
    holds,
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Once, Seen, Valid},
    results,
};
use actix_web::{HttpResponse, post};
use domain::{
    faults::Faults,
    holds::LiftedBy,
    id::{RunId, SampleId},
};
use serde::Deserialize;

/// The sample that a run belongs to, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AssignRun {
    /// The sample.
    pub sample: SampleId,
    /// Why.
    pub reason: Reason,
}

impl Entered for AssignRun {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();

        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Assign run to a sample
#[utoipa::path(tag = "runs",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = RunId, Path, description = "Run"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = AssignRun, example = json!({"sample": "019ca869-5003-7d46-b59c-6cf85cca57e4", "reason": {"code": "late-information", "text": "The strip lay in the tray of S-0007."}})),
    responses((status = 200, body = RunView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/runs/{id}/assignment")]
pub(super) async fn assign_run(
    actor: Actor,
    run: InLab<RunId>,
    once: Once,
    seen: Seen,
    body: Valid<AssignRun>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::AssignRun, run.lab())?;
    let id = run.id().0;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            let found = store::find(tx, id).await?;
            let from = found.content.entry.sample.map(|id| id.0);
            let to = Some(body.sample.0);
            let mut samples: Vec<_> = [from, to].into_iter().flatten().collect();
            samples.sort_unstable();
            for sample in samples {
                results::lock_sample(tx, sample).await?;
            }
            let before = store::lock(tx, id).await?;
            seen.must_be(before.version)?;
            let content = before.content.assign(body.sample).map_err(refusal)?;
            let reference = tx.reference().await?;
            let dossiers = results::load_dossiers(tx, &reference, &[body.sample.0]).await?;
            let mut after = before.next(tx, content);
            let dossier = dossiers.samples.get(&body.sample.0);
            after.content.entry = completed(&reference, dossier, after.content.entry);
            after.content = with_pipettes(&reference, dossier, after.content);
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save_version(tx, &after, None).await?;
            let mut concerned: Vec<_> = [from, after.content.entry.sample.map(|id| id.0)]
                .into_iter()
                .flatten()
                .collect();
            concerned.sort_unstable();
            concerned.dedup();
            if concerned.is_empty() {
                settle_run(tx, &after, None, LiftedBy::LaterFact).await?;
            } else {
                results::assess(tx, &concerned, LiftedBy::LaterFact).await?;
            }
            results::ask_again(tx, id, after.version, results::Again::Run(id)).await?;
            let holds = holds::store::of_subjects(tx, &[id]).await?;
            Ok((after.version, RunView::with_holds(after, &holds)))
        })
        .await
}
