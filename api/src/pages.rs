//! The page frame, and what every page shares: who visits, refusals as pages, times, figures.
//!
//! Promises pages that need no script, show nothing to whoever is not signed in, and show times in
//! the laboratory's zone. Refuses a form that another site sent.

mod assets;
mod error;
mod figures;
mod form;
mod frame;
mod list;
mod times;
mod visit;
mod words;

pub(crate) use error::PageError;
pub(crate) use figures::{aligned, shown};
pub(crate) use form::Form;
pub(crate) use frame::{Frame, html, way_back};
pub(crate) use list::{Cell, Column, ListPage, older};
pub(crate) use times::{count, moment};
pub(crate) use visit::Visit;
pub(crate) use words::{Tone, analyte, capital, escape, member, plain, word};

/// A page, or the refusal as a page.
pub(crate) type Page = Result<actix_web::HttpResponse, PageError>;

/// Routes of all pages: they are not in the API document.
pub fn routes(config: &mut actix_web::web::ServiceConfig) {
    config
        .configure(assets::routes)
        .configure(crate::problems::routes)
        .configure(crate::calculator::pages::routes)
        .configure(crate::identity::page_routes)
        .configure(crate::certificates::page_routes)
        .configure(crate::control_charts::pages::routes)
        .configure(crate::equipment::pages::routes)
        .configure(crate::imports::pages::routes)
        .configure(crate::kit_lots::pages::routes)
        .configure(crate::ledger::pages::routes)
        .configure(crate::limits::pages::routes)
        .configure(crate::lots::pages::routes)
        .configure(crate::reviews::pages::routes)
        .configure(crate::runs::pages::routes)
        .configure(crate::samples::pages::routes)
        .configure(crate::screening_validations::pages::routes);
}

/// Whether whoever asks would rather have a page than a problem document.
pub(crate) fn wanted(request: &actix_web::HttpRequest) -> bool {
    request
        .headers()
        .get(actix_web::http::header::ACCEPT)
        .and_then(|value| value.to_str().ok())
        .is_some_and(|accepted| accepted.contains("text/html"))
}
