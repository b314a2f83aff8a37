//! Explains each type of problem at the address that names it.

use crate::error::{Answer, ApiError, title};
use actix_web::{HttpResponse, get, web};

/// Routes of the explanations.
pub fn routes(config: &mut actix_web::web::ServiceConfig) {
    config.service(explain_problem);
}

#[get("/problems/{slug}")]
async fn explain_problem(slug: web::Path<String>) -> Answer<HttpResponse> {
    let known = slug.len() <= 60
        && slug
            .chars()
            .all(|letter| letter.is_ascii_lowercase() || letter == '-');
    if !known {
        return Err(ApiError::NotFound(
            "There is no such type of problem.".into(),
        ));
    }
    let page = format!(
        "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>{0}</title>\
         <h1>{0}</h1><p>A refusal of the type <code>/problems/{1}</code>. Its member \
         <code>detail</code> says what was wrong in your request, with the value, and what to do; \
         <code>errors</code>, where it is there, names each field by a JSON pointer. Nothing of \
         a refused request is kept, but the refusal itself under its Idempotency-Key.</p></html>",
        title(&slug),
        slug
    );
    Ok(HttpResponse::Ok()
        .content_type("text/html; charset=utf-8")
        .body(page))
}
