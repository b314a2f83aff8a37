//! Gives a run that was begun its readings.

use super::{
    completed::{completed, context, with_pipettes},
    record::{refusal, settle_run},
    store,
    wire::RunView,
};
use crate::{
    error::{Answer, Problem},
    holds,
    identity::{Action, Actor, InLab},
    request::{Data, Once, Seen, Valid},
    results,
};
use actix_web::{HttpResponse, post};
use domain::{holds::LiftedBy, id::RunId, runs::RunEntry};

/// Complete a run that was begun
#[utoipa::path(tag = "runs",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = RunId, Path, description = "Run"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = RunEntry, example = json!({"sample": "019ca869-5003-7d46-b59c-6cf85cca57e4", "kit_lot_code": "AF-2601", "reader_serial": "R-1", "port": 2, "begun_at": "2026-03-01T08:25:00Z", "read_at": "2026-03-01T08:31:00Z", "readings": [{"analyte": "aflatoxin-total", "kind": "number", "value": "46", "unit": "ug/kg"}]})),
    responses((status = 200, body = RunView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/runs/{id}/readings")]
pub(super) async fn complete_run(
    actor: Actor,
    run: InLab<RunId>,
    once: Once,
    seen: Seen,
    body: Valid<RunEntry>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RecordRun, run.lab())?;
    let id = run.id().0;
    let mut entry = (*body).clone();
    entry.analyst = entry.analyst.or(permit.account());
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            let sample = entry.sample.map(|id| id.0);
            let reference = tx.reference().await?;
            let samples: Vec<_> = sample.into_iter().collect();
            let dossiers = results::load_dossiers(tx, &reference, &samples).await?;
            let before = store::lock(tx, id).await?;
            seen.must_be(before.version)?;
            let dossier = sample.and_then(|id| dossiers.samples.get(&id));
            let filled = completed(&reference, dossier, entry.clone());
            let reader = context(&reference, &filled);
            let content = before.content.complete(filled, &reader).map_err(refusal)?;
            let content = with_pipettes(&reference, dossier, content);
            let after = before.next(tx, content);
            store::save_version(tx, &after, None).await?;
            settle_run(tx, &after, sample, LiftedBy::AnotherRun).await?;
            let holds = holds::store::of_subjects(tx, &[id]).await?;
            Ok((after.version, RunView::with_holds(after, &holds)))
        })
        .await
}
