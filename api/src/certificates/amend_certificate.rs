//! Replaces a certificate by another, with a number of its own.
//!
//! Promises that the new one names the old one, what changed and why, and that the old one's page
//! says by which it was replaced. Refuses to replace one that no longer stands.

use super::{
    issuing::{Order, Replaced, issue},
    opened::open_certificate,
    refusal, store,
    wire::{AmendCertificate, CertificateView},
};
use crate::{
    db::Created,
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Once, Seen, Valid},
};
use actix_web::{HttpResponse, post};
use domain::id::CertificateId;

/// Amend certificate
///
/// Issues another certificate in its place; answers with the new one.
#[utoipa::path(tag = "certificates",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = CertificateId, Path, description = "Certificate that is replaced"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = AmendCertificate, example = json!({"results": [{"result": "019ca869-5003-7d46-b59c-6cf85cca57e5", "version": 6}], "reason": {"code": "wrong-dilution", "text": "The volumes of the dilution were typed wrongly."}})),
    responses((status = 201, body = CertificateView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/certificates/{id}/amendment")]
pub(super) async fn amend_certificate(
    actor: Actor,
    certificate: InLab<CertificateId>,
    once: Once,
    seen: Seen,
    body: Valid<AmendCertificate>,
    app: Data,
) -> Answer<HttpResponse> {
    let lab = certificate.lab();
    let permit = actor.permit(Action::AmendCertificate, lab)?;
    let id = certificate.id();
    let lot = app
        .db
        .read(&permit, async |tx| store::find(tx, id.0).await)
        .await?
        .content
        .lot;
    let order = Order::new(&permit, lot, body.results.clone())?;
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            let before = store::lock(tx, id.0).await?;
            seen.must_be(before.version)?;
            let replaced = before
                .content
                .replace_by(order.id)
                .map_err(|refused| refusal::of_state(&refused))?;
            let document = store::document(tx, id.0).await?;
            let old = open_certificate(&document.certificate).map_err(ApiError::internal)?;
            let replaces = Replaced {
                id,
                certificate: old.certificate,
                reason: body.reason.clone(),
            };
            let issued = issue(tx, &app, &order, Some(&replaces)).await?;
            store::save(tx, &before.next(tx, replaced)).await?;
            tx.draft.because(body.reason.code.name(), &body.reason.text);
            Ok(Created {
                location: format!("/v1/laboratories/{}/certificates/{}", lab.slug(), issued.id),
                version: issued.version,
                view: CertificateView::of(issued, permit.laboratory()),
            })
        })
        .await
}
