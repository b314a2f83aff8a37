//! Withdraws a certificate, or says that something it rests on is being looked into.
//!
//! Promises that the certificate itself stays as it was signed: only its state changes, and the
//! check page says so. Refuses to change one that no longer stands.

use super::{
    refusal, store,
    wire::{CertificateView, InvestigateCertificate, WithdrawCertificate},
};
use crate::{
    db::Tx,
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Once, Seen, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{
    certificates::{Issued, IssuedError},
    corrections::Reason,
    id::CertificateId,
};

/// Withdraw certificate
#[utoipa::path(tag = "certificates",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = CertificateId, Path, description = "Certificate"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = WithdrawCertificate, example = json!({"reason": {"code": "wrong-sample", "text": "The samples of two lots had been exchanged."}})),
    responses((status = 200, body = CertificateView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/certificates/{id}/withdrawal")]
pub(super) async fn withdraw_certificate(
    actor: Actor,
    certificate: InLab<CertificateId>,
    once: Once,
    seen: Seen,
    body: Valid<WithdrawCertificate>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::AmendCertificate, certificate.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            let change = |issued: &Issued| issued.withdraw(body.reason.clone());
            changed(tx, certificate.id(), seen, &body.reason, change).await
        })
        .await
}

/// Investigate certificate
///
/// Says on the check page that something the certificate rests on is being looked into, or that
/// it was and the certificate stands.
#[utoipa::path(tag = "certificates",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = CertificateId, Path, description = "Certificate"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = InvestigateCertificate, example = json!({"open": true, "reason": {"code": "instrument-fault", "text": "Port 2 failed its check; its runs are assessed."}})),
    responses((status = 200, body = CertificateView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/certificates/{id}/investigation")]
pub(super) async fn investigate_certificate(
    actor: Actor,
    certificate: InLab<CertificateId>,
    once: Once,
    seen: Seen,
    body: Valid<InvestigateCertificate>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::AmendCertificate, certificate.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            let change = |issued: &Issued| issued.investigate(body.open, body.reason.clone());
            changed(tx, certificate.id(), seen, &body.reason, change).await
        })
        .await
}

async fn changed(
    tx: &mut Tx,
    id: CertificateId,
    seen: Seen,
    reason: &Reason,
    change: impl Fn(&Issued) -> Result<Issued, IssuedError>,
) -> Answer<(i32, CertificateView)> {
    let before = store::lock(tx, id.0).await?;
    seen.must_be(before.version)?;
    let next = change(&before.content).map_err(|refused| refusal::of_state(&refused))?;
    let after = before.next(tx, next);
    store::save(tx, &after).await?;
    tx.draft.because(reason.code.name(), &reason.text);
    Ok((after.version, CertificateView::of(after, tx.laboratory())))
}
