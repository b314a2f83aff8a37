//! What stands around every page: the thin line on top, the headers of the answer.

use super::assets;
use crate::error::ApiError;
use actix_web::{
    HttpResponse,
    http::{StatusCode, header},
};
use askama::Template;
use chrono_tz::Tz;

/// Nothing from elsewhere, no script, and no frame around it; the scale sets its own style.
const POLICY: &str = "default-src 'none'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; \
    form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

/// A word in the thin line that leads elsewhere.
#[derive(Debug, Clone)]
pub(crate) struct Lead {
    /// The word.
    pub word: &'static str,
    /// Where it leads.
    pub href: String,
    /// Whether the page is there already.
    pub here: bool,
}

/// What the frame shows.
#[derive(Debug, Clone)]
pub(crate) struct Frame {
    /// The laboratory's name, or the service's where none is known.
    pub laboratory: String,
    /// The laboratory's name in addresses; empty where none is known.
    pub slug: String,
    /// Who is signed in; empty where nobody is.
    pub person: String,
    /// The words that lead elsewhere, as far as the visitor may go there.
    pub leads: Vec<Lead>,
    /// The zone that times are shown in.
    pub zone: Tz,
}

impl Frame {
    /// The frame where no laboratory is known.
    pub(crate) fn bare() -> Self {
        Self {
            laboratory: "Assize".into(),
            slug: String::new(),
            person: String::new(),
            leads: Vec::new(),
            zone: Tz::UTC,
        }
    }

    /// Address of the style sheet.
    pub(crate) fn style(&self) -> &'static str {
        &assets::ADDRESS
    }

    /// Address of a page of the laboratory.
    pub(crate) fn at(&self, path: &str) -> String {
        format!("/{}/{path}", self.slug)
    }

    /// A time in the laboratory's zone, as HTML.
    pub(crate) fn moment(&self, at: domain::time::Moment) -> String {
        super::moment(self.zone, at)
    }
}

/// A page as an answer: never kept by a cache, never framed.
pub(crate) fn html(status: StatusCode, page: &impl Template) -> HttpResponse {
    match page.render() {
        Ok(body) => HttpResponse::build(status)
            .content_type("text/html; charset=utf-8")
            .insert_header((header::CACHE_CONTROL, "no-store"))
            .insert_header((header::CONTENT_SECURITY_POLICY, POLICY))
            .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
            .insert_header((header::REFERRER_POLICY, "same-origin"))
            .body(body),
        Err(fault) => HttpResponse::from_error(ApiError::internal(fault)),
    }
}

/// An address inside the laboratory's own pages that sign-in may lead back to; none for anything
/// else, so that no link through sign-in leads to another site.
pub(crate) fn way_back(slug: &str, asked: &str) -> Option<String> {
    let inside = asked
        .strip_prefix('/')
        .and_then(|rest| rest.strip_prefix(slug))
        .and_then(|rest| rest.strip_prefix('/'))?;
    let plain = asked.len() <= 500
        && !asked.contains("//")
        && !asked.contains('\\')
        && asked.chars().all(|letter| letter.is_ascii_graphic());
    let elsewhere = !inside.starts_with("sign-");
    (plain && elsewhere).then(|| asked.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_way_back_stays_inside_the_laboratory() {
        assert_eq!(
            way_back("quay", "/quay/samples?after=1").as_deref(),
            Some("/quay/samples?after=1")
        );
        for asked in [
            "https://example.org/quay/",
            "//example.org/quay/",
            "/quay//example.org",
            "/quay/\\example.org",
            "/other/samples",
            "/quayside/samples",
            "/quay/sign-in",
            "/quay/a\r\nSet-Cookie: x",
            "",
        ] {
            assert_eq!(way_back("quay", asked), None, "{asked}");
        }
    }
}
