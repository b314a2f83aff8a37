//! The page of the calculator: topic by topic, which address answers what, with a sample.
//!
//! Promises that each answer on it was computed by the function that answers over HTTP. Asks nobody
//! to sign in; a token is needed only for numbers of one's own.

use super::{
    TOPICS,
    answer::MOST_MEMBERS,
    layout::laid_out,
    table::{Computation, Topic},
};
use crate::{
    error::{Answer, ApiError},
    pages::{Frame, Page, html, wanted},
    plots::Plot,
};
use actix_web::{
    HttpRequest, HttpResponse, get,
    http::{StatusCode, header},
    web,
};
use askama::Template;
use std::sync::OnceLock;

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(calculator);
}

#[derive(Template)]
#[template(path = "calculator/calculator.html")]
struct CalculatorPage<'a> {
    frame: Frame,
    topics: &'a [TopicView],
    computations: usize,
    most_members: usize,
}

struct TopicView {
    word: &'static str,
    title: &'static str,
    asks: &'static str,
    computations: Vec<ComputationView>,
}

struct ComputationView {
    /// Its place on the page.
    anchor: String,
    address: String,
    title: &'static str,
    summary: &'static str,
    source: String,
    sample: String,
    answer: String,
    plot: Option<Plot>,
}

/// A picture with its table, as an answer of its own.
#[derive(Template)]
#[template(path = "calculator/plot.html")]
struct PlotPage {
    frame: Frame,
    title: &'static str,
    plot: Plot,
}

/// A picture as an answer: for a browser a page with its table, else the picture.
pub(super) fn picture(title: &'static str, plot: Plot, request: &HttpRequest) -> HttpResponse {
    if wanted(request) {
        let frame = Frame::bare();
        return html(StatusCode::OK, &PlotPage { frame, title, plot });
    }
    HttpResponse::Ok()
        .content_type("image/svg+xml")
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header((header::CONTENT_SECURITY_POLICY, "default-src 'none'"))
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .body(plot.svg)
}

impl ComputationView {
    fn of(computation: &Computation) -> Answer<Self> {
        let body = computation.body();
        let plot = computation.plot.map(|plot| plot(&body)).transpose()?;
        let answer = match &plot {
            Some(_picture) => String::new(),
            None => {
                let answer = (computation.compute)(&body)?;
                laid_out(&answer).map_err(ApiError::internal)?
            }
        };
        Ok(Self {
            anchor: computation.path.replace('/', "-"),
            address: computation.address(),
            title: computation.title,
            summary: computation.summary,
            source: computation.source.words(),
            sample: laid_out(computation.sample).map_err(ApiError::internal)?,
            answer,
            plot,
        })
    }
}

impl TopicView {
    fn of(topic: &Topic) -> Answer<Self> {
        let each = topic.computations.iter().map(ComputationView::of);
        Ok(Self {
            word: topic.word,
            title: topic.title,
            asks: topic.asks,
            computations: each.collect::<Answer<_>>()?,
        })
    }
}

/// The samples never change, so they are computed once.
static SHOWN: OnceLock<Vec<TopicView>> = OnceLock::new();

#[get("/calculator")]
async fn calculator() -> Page {
    if SHOWN.get().is_none() {
        let computed = || TOPICS.into_iter().map(TopicView::of).collect::<Answer<_>>();
        let views = web::block(computed).await.map_err(ApiError::internal)??;
        // Somebody else may have been faster, with the same.
        let _same = SHOWN.set(views);
    }
    let topics = SHOWN.get().map(Vec::as_slice).unwrap_or_default();
    let page = CalculatorPage {
        frame: Frame::bare(),
        topics,
        computations: topics.iter().map(|topic| topic.computations.len()).sum(),
        most_members: MOST_MEMBERS,
    };
    Ok(html(StatusCode::OK, &page))
}
