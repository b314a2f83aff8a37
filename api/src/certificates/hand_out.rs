//! Hands out a certificate: its bundle, and the PDF that carries it.

use super::{bundle, pdf::RENDERER, store};
use crate::{
    db::Tx,
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    ledger,
    request::Data,
};
use actix_web::{HttpResponse, get, http::header};
use domain::id::{CertificateId, CustomerId};

/// Show certificate's bundle
///
/// One JSON file with the signed certificate, its record and the signed act: what
/// `assize verify` checks offline.
#[utoipa::path(tag = "certificates",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = CertificateId, Path, description = "Certificate")),
    responses((status = 200, description = "The bundle", content_type = "application/json", body = Object),
        (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/certificates/{id}/bundle")]
pub(super) async fn show_bundle(
    actor: Actor,
    certificate: InLab<CertificateId>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadCertificates, certificate.lab())?;
    let found = app
        .db
        .read(&permit, async |tx| {
            find(tx, &app, certificate.id(), permit.only_customer()).await
        })
        .await?;
    Ok(bundle_answer(&found.number, found.bundle))
}

/// Show certificate as PDF
///
/// Set from the bundle, which it has attached.
#[utoipa::path(tag = "certificates",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = CertificateId, Path, description = "Certificate")),
    responses((status = 200, description = "The PDF", content_type = "application/pdf", body = Vec<u8>),
        (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/certificates/{id}/pdf")]
pub(super) async fn show_pdf(
    actor: Actor,
    certificate: InLab<CertificateId>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadCertificates, certificate.lab())?;
    let found = app
        .db
        .read(&permit, async |tx| {
            find(tx, &app, certificate.id(), permit.only_customer()).await
        })
        .await?;
    if let Some(pdf) = found.pdf {
        return Ok(pdf_answer(&found.number, pdf));
    }
    let pdf = bundle::set(found.bundle).await?;
    app.db
        .write(&permit, async |tx| {
            // A copy that can be made again is nothing to record.
            tx.draft.nothing_changed();
            store::keep_pdf(tx, certificate.id().0, RENDERER, &pdf).await
        })
        .await?;
    Ok(pdf_answer(&found.number, pdf))
}

struct Found {
    number: String,
    bundle: Vec<u8>,
    pdf: Option<Vec<u8>>,
}

async fn find(
    tx: &mut Tx,
    app: &Data,
    id: CertificateId,
    customer: Option<CustomerId>,
) -> Answer<Found> {
    let kept = store::find_for(tx, id.0, customer).await?;
    let document = store::document(tx, id.0).await?;
    let place = ledger::place_of(tx, id.0, 1).await?;
    let trust = bundle::trust_address(&app.config.public_url, tx.laboratory().id);
    Ok(Found {
        number: kept.content.number,
        bundle: bundle::bytes(document.certificate, place, trust)?,
        pdf: bundle::kept_pdf(document.renderer.as_deref(), document.pdf),
    })
}

/// The answer that hands out a bundle.
pub(super) fn bundle_answer(number: &str, bundle: Vec<u8>) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("application/json")
        .insert_header((header::CONTENT_DISPOSITION, named(number, "bundle.json")))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .body(bundle)
}

/// The answer that hands out a PDF.
pub(super) fn pdf_answer(number: &str, pdf: Vec<u8>) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("application/pdf")
        .insert_header((header::CONTENT_DISPOSITION, named(number, "pdf")))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .body(pdf)
}

/// Numbers hold capital letters, digits and hyphens, so that none breaks out of the quotes.
fn named(number: &str, ending: &str) -> String {
    format!("inline; filename=\"{number}.{ending}\"")
}
