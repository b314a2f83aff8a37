//! What the log shows and what it does not, in plain words, for whoever has to rely on it.
//!
//! Promises the one text that the project keeps of this; asks nobody to sign in.

use crate::pages::{Frame, html};
use actix_web::{HttpResponse, get, http::StatusCode, web};
use askama::Template;

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(about_log);
}

#[derive(Template)]
#[template(path = "ledger/about_log.html")]
struct AboutLog {
    frame: Frame,
}

#[get("/about/log")]
async fn about_log() -> HttpResponse {
    html(
        StatusCode::OK,
        &AboutLog {
            frame: Frame::bare(),
        },
    )
}
