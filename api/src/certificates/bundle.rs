//! What is handed out: the bundle, made of certificate, record and act; and the PDF set from it.
//!
//! Promises the same bytes each time, until a disclosure is erased. There is no proof in it while
//! no log of the laboratory is sealed.

use super::pdf::{RENDERER, render};
use crate::{
    error::{Answer, ApiError},
    ledger::Place,
};
use actix_web::web;
use domain::{id::LaboratoryId, ledger::bundle::Bundle};

/// Where the trust file of a laboratory is served.
pub(super) fn trust_address(public_url: &str, laboratory: LaboratoryId) -> String {
    format!("{public_url}/log/{laboratory}/trust.json")
}

/// The bundle's canonical bytes.
pub(super) fn bytes(certificate: String, place: Place, trust: String) -> Answer<Vec<u8>> {
    Bundle {
        act: place.entry,
        act_path: place.path,
        certificate,
        position: place.position,
        proof: None,
        record: place.record,
        trust,
    }
    .to_bytes()
    .map_err(ApiError::internal)
}

/// The kept PDF, where this program's renderer made it.
pub(super) fn kept_pdf(renderer: Option<&str>, pdf: Option<Vec<u8>>) -> Option<Vec<u8>> {
    pdf.filter(|_| renderer == Some(RENDERER))
}

/// Sets the bundle as PDF, away from the threads that serve.
pub(super) async fn set(bundle: Vec<u8>) -> Answer<Vec<u8>> {
    web::block(move || render(&bundle))
        .await
        .map_err(ApiError::internal)?
        .map_err(ApiError::internal)
}
