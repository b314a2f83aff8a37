//! Shows the newest checkpoint of a log.

use super::opening::open;
use crate::{
    error::{Answer, Problem},
    request::Data,
};
use actix_web::{HttpRequest, HttpResponse, get, http::header, web};

/// Show a log's newest checkpoint
///
/// A signed note (C2SP tlog-checkpoint). Keep those that you see: a later one has to be consistent
/// with them. Open to everybody where the laboratory made its log public; else send a token.
#[utoipa::path(tag = "log", security((), ("token" = [])),
    params(("laboratory" = Uuid, Path, description = "Laboratory, by its id"),
        ("number" = i32, Path, description = "Number of the log, 1 unless it could not be continued")),
    responses((status = 200, description = "The checkpoint", content_type = "text/plain", body = String),
        (status = "4XX", body = Problem)))]
#[get("/log/{laboratory}/{number}/checkpoint")]
pub(super) async fn show_checkpoint(
    path: web::Path<(String, String)>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let log = open(&request, &app, &path.0, &path.1).await?;
    Ok(HttpResponse::Ok()
        .content_type("text/plain; charset=utf-8")
        .insert_header((
            header::CACHE_CONTROL,
            format!("{}, max-age=1", log.caches()),
        ))
        .body(log.checkpoint))
}
