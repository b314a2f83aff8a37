//! Withdraws a run: it stays readable, and no result stands on it any more.

use super::{
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
use domain::{faults::Faults, holds::LiftedBy, id::RunId};
use serde::Deserialize;

/// Why a run is withdrawn.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct WithdrawRun {
    /// Why.
    pub reason: Reason,
}

impl Entered for WithdrawRun {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();

        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Withdraw run
#[utoipa::path(tag = "runs",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = RunId, Path, description = "Run"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = WithdrawRun, example = json!({"reason": {"code": "instrument-fault", "text": "The port was dirty: the strip was read twice."}})),
    responses((status = 200, body = RunView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/runs/{id}/withdrawal")]
pub(super) async fn withdraw_run(
    actor: Actor,
    run: InLab<RunId>,
    once: Once,
    seen: Seen,
    body: Valid<WithdrawRun>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::CorrectRun, run.lab())?;
    let id = run.id().0;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            let found = store::find(tx, id).await?;
            let from = found.content.entry.sample.map(|id| id.0);
            let to = None::<uuid::Uuid>;
            let mut samples: Vec<_> = [from, to].into_iter().flatten().collect();
            samples.sort_unstable();
            for sample in samples {
                results::lock_sample(tx, sample).await?;
            }
            let before = store::lock(tx, id).await?;
            seen.must_be(before.version)?;
            let content = before.content.withdraw().map_err(refusal)?;
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
