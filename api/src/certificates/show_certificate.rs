//! Shows one certificate: its number, its state, and where its bundle and PDF are.

use super::{store, wire::CertificateView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::CertificateId;

/// Show certificate
#[utoipa::path(tag = "certificates",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = CertificateId, Path, description = "Certificate")),
    responses((status = 200, body = CertificateView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/certificates/{id}")]
pub(super) async fn show_certificate(
    actor: Actor,
    certificate: InLab<CertificateId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadCertificates, certificate.lab())?;
    let customer = permit.only_customer();
    let kept = app
        .db
        .read(&permit, async |tx| {
            store::find_for(tx, certificate.id().0, customer).await
        })
        .await?;
    let view = CertificateView::of(kept, permit.laboratory());
    Ok(shown(&request, view.version, &view))
}
