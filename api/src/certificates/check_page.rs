//! The public check page of a certificate: what it says, and whether it still stands.
//!
//! Promises to show it to whoever has the code, and to nobody who has not: a code cannot be
//! guessed, and the role that reads for the page sees nothing else. Says what a verification
//! shows and what it does not.

use super::{
    RENDERER,
    bundle::{HandedOut, Stored, trust_address},
    hand_out::{USUAL_WAIT_S, bundle_answer, pdf_answer},
    opened::{Opened, WITHHELD, open_certificate},
    store::{self, Shown},
    view,
};
use crate::{
    app::App,
    error::{Answer, ApiError, Problem},
    identity::{LaboratoryKey, Permit},
    ledger::{self, Place, ProofDue},
    pages::{Frame, Page, html},
    request::{Data, Wait},
};
use actix_web::{HttpResponse, get, http::StatusCode, web};
use askama::Template;
use diesel_async::AsyncPgConnection;
use domain::{
    certificates::{CertificateState, Issued},
    id::LaboratoryId,
    ledger::{
        checkpoint::{Checkpoint, ProofFile},
        note::Note,
    },
};

/// The page, which is not in the API document.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(check_page);
}

/// Show a certificate's bundle to whoever has its code
///
/// Right after issue it waits for the checkpoint that proves it, up to 3 seconds or as
/// `Prefer: wait=N` says (at most 10), else answers 202.
#[utoipa::path(tag = "certificates", security(()),
    params(("code" = String, Path, description = "Code of the check page, as the certificate prints it"),
        ("Prefer" = Option<String>, Header, description = "wait=N: wait so many seconds for the checkpoint")),
    responses((status = 200, description = "The bundle", content_type = "application/json", body = Object),
        (status = 202, description = "No checkpoint covers it yet", body = ProofDue),
        (status = "4XX", body = Problem)))]
#[get("/c/{code}/bundle")]
pub(super) async fn show_public_bundle(
    code: web::Path<String>,
    wait: Wait,
    app: Data,
) -> Answer<HttpResponse> {
    let Some((found, permit)) = hand_out(&app, &code, wait).await? else {
        return Ok(wait.applied(ledger::due()));
    };
    found.keep_proof(&app, &permit).await;
    Ok(wait.applied(bundle_answer(&found.number, found.bundle)))
}

/// Show a certificate as PDF to whoever has its code
///
/// Waits for the checkpoint as the bundle does.
#[utoipa::path(tag = "certificates", security(()),
    params(("code" = String, Path, description = "Code of the check page, as the certificate prints it"),
        ("Prefer" = Option<String>, Header, description = "wait=N: wait so many seconds for the checkpoint")),
    responses((status = 200, description = "The PDF", content_type = "application/pdf", body = Vec<u8>),
        (status = 202, description = "No checkpoint covers it yet", body = ProofDue),
        (status = "4XX", body = Problem)))]
#[get("/c/{code}/pdf")]
pub(super) async fn show_public_pdf(
    code: web::Path<String>,
    wait: Wait,
    app: Data,
) -> Answer<HttpResponse> {
    let Some((found, permit)) = hand_out(&app, &code, wait).await? else {
        return Ok(wait.applied(ledger::due()));
    };
    found.keep_proof(&app, &permit).await;
    let number = found.number.clone();
    let pdf = found.pdf(&app, &permit).await?;
    Ok(wait.applied(pdf_answer(&number, pdf)))
}

/// What is handed out, and in whose name the service keeps what it made for that.
async fn hand_out(app: &App, code: &str, wait: Wait) -> Answer<Option<(HandedOut, Permit)>> {
    wait.until(USUAL_WAIT_S, async || {
        let mut connection = app.db.public().await?;
        let found = find(&mut connection, code).await?;
        let handed_out = found
            .stored
            .handed_out(&mut connection, &found.laboratory, &app.config)
            .await?;
        let permit = Permit::process(found.laboratory, "check-page", "hand-out-certificate");
        Ok(handed_out.map(|handed_out| (handed_out, permit)))
    })
    .await
}

struct FoundByCode {
    issued: Issued,
    laboratory: LaboratoryKey,
    laboratory_name: Option<String>,
    changed_at: domain::time::Moment,
    stored: Stored,
    successor: Option<(String, String)>,
}

async fn find(connection: &mut AsyncPgConnection, code: &str) -> Answer<FoundByCode> {
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
    let shown: Shown = store::shown(connection, code).await?.ok_or_else(unknown)?;
    let issued: Issued = serde_json::from_value(shown.content).map_err(ApiError::internal)?;
    Ok(FoundByCode {
        laboratory: LaboratoryKey {
            number: shown.laboratory_number,
            id: LaboratoryId(shown.laboratory),
            slug: shown.laboratory_slug,
        },
        laboratory_name: shown.laboratory_name,
        changed_at: shown.changed_at.into(),
        stored: Stored {
            id: shown.certificate_id,
            number: issued.number.clone(),
            certificate: shown.certificate,
            place: Place::of(shown.entry, shown.records, shown.record_position)?,
            proof: shown.proof,
            renderer: shown.renderer,
            pdf: shown.pdf,
        },
        successor: shown.successor_number.zip(shown.successor_code),
        issued,
    })
}

/// What the page says of the proof.
struct Logged {
    entry: u64,
    size: u64,
    origin: String,
    /// From which entry on the key that signed it is no longer good.
    key_withdrawn: Option<u64>,
}

impl Logged {
    fn of(proof: &str, key_withdrawn: Option<u64>) -> Answer<Self> {
        let proof = ProofFile::parse(proof).map_err(ApiError::internal)?;
        let note = Note::parse(&proof.checkpoint).map_err(ApiError::internal)?;
        let checkpoint = Checkpoint::parse(note.text()).map_err(ApiError::internal)?;
        Ok(Self {
            entry: proof.index,
            size: checkpoint.size,
            origin: checkpoint.origin,
            key_withdrawn,
        })
    }
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
    logged: Option<Logged>,
    code: String,
    trust: String,
    renderer: &'static str,
}

#[get("/c/{code}")]
async fn check_page(code: web::Path<String>, app: Data) -> Page {
    let mut connection = app.db.public().await?;
    let found = find(&mut connection, &code).await?;
    let policy = app.config.anchors.policy.as_ref();
    let stored = &found.stored;
    let proof = stored.proof(&mut connection, &found.laboratory, policy);
    let logged = match proof.await? {
        Some(proof) => {
            let (number, entry) = (found.laboratory.number, &stored.place.entry);
            let until = ledger::signed_until(&mut connection, number, entry).await?;
            Some(Logged::of(&proof.text, until.map(|place| place.entry))?)
        }
        None => None,
    };
    drop(connection);
    let opened: Opened = open_certificate(&found.stored.certificate).map_err(ApiError::internal)?;
    let certificate = &opened.certificate;
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
        results: view::checked(&opened),
        withheld: opened.withheld,
        logged,
        code: code.into_inner(),
        trust: trust_address(&app.config.public_url, found.laboratory.id),
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
