//! The public check page of a certificate: what it says, and whether it still stands.
//!
//! Promises to show it to whoever has the code, and to nobody who has not: a code cannot be
//! guessed, and the role that reads for the page sees nothing else. Says what a verification
//! shows and what it does not.

use super::{
    RENDERER,
    bundle::{self, trust_address},
    hand_out::{bundle_answer, pdf_answer},
    opened::{Opened, WITHHELD, open_certificate},
    store::{self, Shown},
    view,
};
use crate::{
    app::App,
    error::{Answer, ApiError, Problem},
    ledger::Place,
    pages::{Frame, Page, html},
    request::Data,
};
use actix_web::{HttpResponse, get, http::StatusCode, web};
use askama::Template;
use domain::{
    certificates::{CertificateState, Issued},
    id::LaboratoryId,
};

/// The page, which is not in the API document.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(check_page);
}

/// Show a certificate's bundle to whoever has its code
#[utoipa::path(tag = "certificates", security(()),
    params(("code" = String, Path, description = "Code of the check page, as the certificate prints it")),
    responses((status = 200, description = "The bundle", content_type = "application/json", body = Object),
        (status = "4XX", body = Problem)))]
#[get("/c/{code}/bundle")]
pub(super) async fn show_public_bundle(code: web::Path<String>, app: Data) -> Answer<HttpResponse> {
    let found = find(&app, &code).await?;
    Ok(bundle_answer(&found.issued.number, found.bundle))
}

/// Show a certificate as PDF to whoever has its code
#[utoipa::path(tag = "certificates", security(()),
    params(("code" = String, Path, description = "Code of the check page, as the certificate prints it")),
    responses((status = 200, description = "The PDF", content_type = "application/pdf", body = Vec<u8>),
        (status = "4XX", body = Problem)))]
#[get("/c/{code}/pdf")]
pub(super) async fn show_public_pdf(code: web::Path<String>, app: Data) -> Answer<HttpResponse> {
    let found = find(&app, &code).await?;
    let pdf = match found.pdf {
        Some(pdf) => pdf,
        None => bundle::set(found.bundle).await?,
    };
    Ok(pdf_answer(&found.issued.number, pdf))
}

struct FoundByCode {
    issued: Issued,
    laboratory: LaboratoryId,
    laboratory_name: Option<String>,
    changed_at: domain::time::Moment,
    opened: Opened,
    bundle: Vec<u8>,
    pdf: Option<Vec<u8>>,
    successor: Option<(String, String)>,
}

async fn find(app: &App, code: &str) -> Answer<FoundByCode> {
    let unknown = || {
        ApiError::NotFound(
            "There is no certificate at this address. Compare it with the one printed on the \
             certificate, letter by letter: what is not here was not issued here."
                .into(),
        )
    };
    let shape = code.len() == 22
        && code
            .bytes()
            .all(|byte| byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'_');
    if !shape {
        return Err(unknown());
    }
    let mut connection = app.db.public().await?;
    let shown: Shown = store::shown(&mut connection, code)
        .await?
        .ok_or_else(unknown)?;
    let laboratory = LaboratoryId(shown.laboratory);
    let opened = open_certificate(&shown.certificate).map_err(ApiError::internal)?;
    let place = Place::of(shown.entry, shown.records, shown.record_position)?;
    let trust = trust_address(&app.config.public_url, laboratory);
    Ok(FoundByCode {
        issued: serde_json::from_value(shown.content).map_err(ApiError::internal)?,
        laboratory,
        laboratory_name: shown.laboratory_name,
        changed_at: shown.changed_at.into(),
        opened,
        bundle: bundle::bytes(shown.certificate, place, trust)?,
        pdf: bundle::kept_pdf(shown.renderer.as_deref(), shown.pdf),
        successor: shown.successor_number.zip(shown.successor_code),
    })
}

#[derive(Template)]
#[template(path = "certificates/check.html")]
struct CheckPage {
    frame: Frame,
    number: String,
    answer: String,
    stands: bool,
    changed: Option<String>,
    successor: Option<(String, String)>,
    issuer: String,
    issued_at: String,
    customer: String,
    lot: String,
    replaces: Option<String>,
    results: Vec<view::CheckedResult>,
    withheld: usize,
    code: String,
    trust: String,
    renderer: &'static str,
}

#[get("/c/{code}")]
async fn check_page(code: web::Path<String>, app: Data) -> Page {
    let found = find(&app, &code).await?;
    let certificate = &found.opened.certificate;
    let mut frame = Frame::bare();
    frame.zone = certificate.time_zone.parse().unwrap_or(chrono_tz::Tz::UTC);
    frame.laboratory = found
        .laboratory_name
        .clone()
        .unwrap_or_else(|| WITHHELD.to_owned());
    let issued_at = chrono::DateTime::from_timestamp(certificate.iat, 0)
        .map(|at| frame.moment(at.into()))
        .unwrap_or_default();
    let state = found.issued.state;
    let text = |text: &Option<String>| text.clone().unwrap_or_else(|| WITHHELD.to_owned());
    let page = CheckPage {
        answer: answer(&found),
        stands: state.stands(),
        changed: (state != CertificateState::Issued).then(|| frame.moment(found.changed_at)),
        successor: found.successor.clone(),
        issuer: text(&certificate.issuer.name),
        issued_at,
        customer: text(&certificate.customer.name),
        lot: format!(
            "{}, {}",
            certificate.lot.code, certificate.lot.commodity.name
        ),
        replaces: certificate.replaces.clone(),
        results: view::checked(&found.opened),
        withheld: found.opened.withheld,
        code: code.into_inner(),
        trust: trust_address(&app.config.public_url, found.laboratory),
        renderer: RENDERER,
        number: found.issued.number,
        frame,
    };
    Ok(html(StatusCode::OK, &page))
}

/// Whether it still stands: the page's one question.
fn answer(found: &FoundByCode) -> String {
    let number = &found.issued.number;
    match (found.issued.state, &found.successor) {
        (CertificateState::Issued, _) => {
            format!("Certificate {number} was issued here and stands.")
        }
        (CertificateState::UnderInvestigation, _) => format!(
            "Certificate {number} was issued here; something that it rests on is being looked into."
        ),
        (CertificateState::Replaced, Some((by, _))) => {
            format!("Certificate {number} no longer stands: {by} replaced it.")
        }
        (CertificateState::Replaced, None) => {
            format!("Certificate {number} no longer stands: another replaced it.")
        }
        (CertificateState::Withdrawn, _) => {
            format!("Certificate {number} no longer stands: the laboratory withdrew it.")
        }
    }
}
