//! Issues a certificate for released results of one lot.
//!
//! Refuses results that are not released, that changed since they were shown, or that wait to be
//! computed again, and whatever ISO/IEC 17025 asks for and is not recorded.

use super::{
    issuing::{Order, issue},
    wire::{CertificateView, IssueCertificate},
};
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Once, Valid},
};
use actix_web::{HttpResponse, post};

/// Issue certificate
///
/// The number is given here. What is issued never changes; an amendment is another certificate.
#[utoipa::path(tag = "certificates",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = IssueCertificate, example = json!({"lot": "019ca869-5003-7d46-b59c-6cf85cca57e4", "results": [{"result": "019ca869-5003-7d46-b59c-6cf85cca57e5", "version": 3}]})),
    responses((status = 201, body = CertificateView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/certificates")]
pub(super) async fn issue_certificate(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<IssueCertificate>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::IssueCertificate, &lab)?;
    let order = Order::new(&permit, body.lot, body.results.clone())?;
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            let issued = issue(tx, &app, &order, None).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/certificates/{}", lab.slug(), issued.id),
                version: issued.version,
                view: CertificateView::of(issued, permit.laboratory()),
            })
        })
        .await
}
