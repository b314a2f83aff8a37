//! The one style sheet, served with an address that changes when it does.

use actix_web::{HttpResponse, get, http::header, web};
use base64::Engine as _;
use sha2::{Digest, Sha256};
use std::sync::LazyLock;

const STYLE: &str = include_str!("../../templates/assize.css");

/// Address of the style sheet, its digest in the query so that it can be kept for a year.
pub(super) static ADDRESS: LazyLock<String> = LazyLock::new(|| {
    let digest = base64::engine::general_purpose::URL_SAFE_NO_PAD.encode(Sha256::digest(STYLE));
    let short: String = digest.chars().take(12).collect();
    format!("/assets/assize.css?v={short}")
});

pub(super) fn routes(config: &mut web::ServiceConfig) {
    config.service(style);
}

#[get("/assets/assize.css")]
async fn style() -> HttpResponse {
    HttpResponse::Ok()
        .content_type("text/css; charset=utf-8")
        .insert_header((header::CACHE_CONTROL, "public, max-age=31536000, immutable"))
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .body(STYLE)
}
