//! Erases personal data and free text.
//!
//! Refuses the name of a signer within its retention time, and the login of an account that is not
//! closed.

use super::{
    erased_file::{ErasedFile, Line},
    erasing, retaining, selecting,
    wire::{EraseDisclosures, ErasureView},
};
use crate::{
    db::{Created, Tx},
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::erasures::Erasure;
use uuid::Uuid;

/// Erase disclosures
///
/// Deletes personal data and free text for good: the disclosures, every row, kept answer, kept PDF
/// and upload that shows them. Digests stay, so that every signature and proof still holds. With
/// `dry_run` nothing is changed, and the answer (200) shows what would go.
#[utoipa::path(tag = "erasures",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = EraseDisclosures, example = json!({
        "subjects": [{"subject": "019ca869-5003-7d46-b59c-6cf85cca57e4", "members": ["/name", "/email"]}],
        "dry_run": true,
        "reason": {"code": "erasure-request", "text": "Request 2026-014 of 3 March, granted on 5 March."}})),
    responses((status = 200, description = "What would go", body = ErasureView), (status = 201, body = ErasureView),
        (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/erasures")]
pub(super) async fn erase_disclosures(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<EraseDisclosures>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::EraseDisclosures, &lab)?;
    let id: Uuid = ids::fresh();
    if body.dry_run {
        let view = app
            .db
            .rehearse(&permit, async |tx| {
                // Whoever writes meanwhile may write down again what is to go.
                tx.hold_keys_alone().await?;
                let selected = selecting::select(tx, &body).await?;
                retaining::check(tx, &selected.located).await?;
                let kept = erasing::erase(tx, id, &selected).await?;
                Ok(ErasureView::rehearsed(kept, &selected.located))
            })
            .await?;
        return Ok(HttpResponse::Ok().json(view));
    }
    let file = ErasedFile::in_directory(&app.config.state_directory);
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            tx.hold_keys_alone().await?;
            let selected = selecting::select(tx, &body).await?;
            retaining::check(tx, &selected.located).await?;
            tx.draft.because(body.reason.code.name(), &body.reason.text);
            let kept = erasing::erase(tx, id, &selected).await?;
            keep_outside(tx, &file, &kept).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/erasures/{id}", lab.slug()),
                version: kept.version,
                view: ErasureView::from(kept),
            })
        })
        .await
}

/// The digests are on the disk outside the database before COMMIT: a backup of the moment before
/// must not bring back what was granted. Where the COMMIT is then lost, the next start of the
/// service does what was asked for.
pub(super) async fn keep_outside(
    tx: &Tx,
    file: &ErasedFile,
    erasure: &Kept<Erasure>,
) -> Answer<()> {
    let line = Line {
        at: tx.now(),
        digests: erasure
            .content
            .erased
            .iter()
            .map(|one| one.digest.clone())
            .collect(),
        erasure: erasure.id,
        laboratory: tx.laboratory().id,
    };
    let file = file.clone();
    actix_web::web::block(move || file.append(&line))
        .await
        .map_err(ApiError::internal)?
        .map_err(ApiError::internal)
}
