//! Hands out a certificate: its bundle, and the PDF that carries it.
//!
//! Promises a bundle with its proof: whoever asks right after the certificate was issued waits a
//! moment for the checkpoint, or is told when to come back.

use super::{
    bundle::{HandedOut, Stored},
    store,
};
use crate::{
    db::Tx,
    error::{Answer, Problem},
    identity::{Action, Actor, InLab, Permit},
    ledger::{self, ProofDue},
    request::{Data, Wait},
};
use actix_web::{HttpResponse, get, http::header};
use domain::id::CertificateId;

/// Seconds that whoever does not say otherwise waits for the checkpoint: it comes about once a
/// second.
pub(super) const USUAL_WAIT_S: u32 = 3;

/// Show certificate's bundle
///
/// One JSON file with the signed certificate, its record, the signed act and the proof that it was
/// logged: what `assize verify` checks offline. Right after issue it waits for the checkpoint, up
/// to 3 seconds or as `Prefer: wait=N` says (at most 10), else answers 202.
#[utoipa::path(tag = "certificates",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = CertificateId, Path, description = "Certificate"),
        ("Prefer" = Option<String>, Header, description = "wait=N: wait so many seconds for the checkpoint")),
    responses((status = 200, description = "The bundle", content_type = "application/json", body = Object),
        (status = 202, description = "No checkpoint covers it yet", body = ProofDue),
        (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/certificates/{id}/bundle")]
pub(super) async fn show_bundle(
    actor: Actor,
    certificate: InLab<CertificateId>,
    wait: Wait,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadCertificates, certificate.lab())?;
    let Some(found) = find(&app, &permit, certificate.id(), wait).await? else {
        return Ok(wait.applied(ledger::due()));
    };
    found.keep_proof(&app, &permit).await;
    Ok(wait.applied(bundle_answer(&found.number, found.bundle)))
}

/// Show certificate as PDF
///
/// Set from the bundle, which it has attached. Waits for the checkpoint as the bundle does.
#[utoipa::path(tag = "certificates",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = CertificateId, Path, description = "Certificate"),
        ("Prefer" = Option<String>, Header, description = "wait=N: wait so many seconds for the checkpoint")),
    responses((status = 200, description = "The PDF", content_type = "application/pdf", body = Vec<u8>),
        (status = 202, description = "No checkpoint covers it yet", body = ProofDue),
        (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/certificates/{id}/pdf")]
pub(super) async fn show_pdf(
    actor: Actor,
    certificate: InLab<CertificateId>,
    wait: Wait,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadCertificates, certificate.lab())?;
    let Some(found) = find(&app, &permit, certificate.id(), wait).await? else {
        return Ok(wait.applied(ledger::due()));
    };
    found.keep_proof(&app, &permit).await;
    let number = found.number.clone();
    let pdf = found.pdf(&app, &permit).await?;
    Ok(wait.applied(pdf_answer(&number, pdf)))
}

async fn find(
    app: &Data,
    permit: &Permit,
    id: CertificateId,
    wait: Wait,
) -> Answer<Option<HandedOut>> {
    wait.until(USUAL_WAIT_S, async || {
        app.db
            .read(permit, async |tx| {
                let stored = stored(tx, permit, id).await?;
                let laboratory = tx.laboratory().clone();
                stored
                    .handed_out(tx.connection(), &laboratory, &app.config)
                    .await
            })
            .await
    })
    .await
}

async fn stored(tx: &mut Tx, permit: &Permit, id: CertificateId) -> Answer<Stored> {
    let kept = store::find_for(tx, id.0, permit.only_customer()).await?;
    let document = store::document(tx, id.0).await?;
    Ok(Stored {
        id: id.0,
        number: kept.content.number,
        certificate: document.certificate,
        place: ledger::place_of(tx, id.0, 1).await?,
        proof: document.proof,
        renderer: document.renderer,
        pdf: document.pdf,
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
