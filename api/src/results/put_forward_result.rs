//! Puts a returned result before the reviewer again. Refuses one that was not returned.

use super::{dossier, store, wire::ResultView};
use crate::{
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Once, Seen},
};
use actix_web::{HttpResponse, post};
use domain::{holds::LiftedBy, id::ResultId};

/// Put a returned result before the reviewer again
#[utoipa::path(tag = "results",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ResultId, Path, description = "Result"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    responses((status = 200, body = ResultView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/results/{id}/putting-forward")]
pub(super) async fn put_forward_result(
    actor: Actor,
    result: InLab<ResultId>,
    once: Once,
    seen: Seen,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ComputeResult, result.lab())?;
    let id = result.id().0;
    let fingerprint = seen.fingerprint();
    app.db
        .act(&permit, &once, fingerprint, async |tx| {
            let found = store::find(tx, id).await?;
            dossier::lock(tx, found.content.computed.sample.0).await?;
            let before = store::lock(tx, id).await?;
            seen.must_be(before.version)?;
            super::assess(tx, &[before.content.computed.sample.0], LiftedBy::LaterFact).await?;
            let newest = store::find(tx, id).await?;
            let held = super::is_held(tx, &newest).await?;
            let content = newest
                .content
                .put_forward(held)
                .map_err(|refusal| ApiError::refused("result-state", format!("{refusal}.")))?;
            store::write_many(tx, &[newest.next(tx, content)]).await?;
            let after = store::find(tx, id).await?;
            Ok((after.version, ResultView::from(after)))
        })
        .await
}
