//! Explains each type of problem at the address that names it: what it means, what to do.
//!
//! Promises a page for every type that the service refuses with; refuses addresses that name none.

mod table;

use crate::{
    error::{ApiError, title},
    pages::{Frame, Page, html},
};
use actix_web::{HttpResponse, get, http::StatusCode, web};
use askama::Template;
use table::{PROBLEMS, Problem};

/// Routes of the explanations.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(list_problems).service(explain_problem);
}

#[derive(Template)]
#[template(path = "problems/problem.html")]
struct ProblemPage<'a> {
    frame: Frame,
    title: &'a str,
    slug: &'a str,
    meaning: &'a str,
    remedy: &'a str,
}

#[derive(Template)]
#[template(path = "problems/problems.html")]
struct ProblemsPage {
    frame: Frame,
    problems: &'static [Problem],
}

#[get("/problems")]
async fn list_problems() -> HttpResponse {
    let page = ProblemsPage {
        frame: Frame::bare(),
        problems: PROBLEMS,
    };
    html(StatusCode::OK, &page)
}

#[get("/problems/{slug}")]
async fn explain_problem(slug: web::Path<String>) -> Page {
    let problem = PROBLEMS
        .iter()
        .find(|problem| problem.slug == slug.as_str())
        .ok_or_else(|| {
            ApiError::NotFound(
                "There is no such kind of refusal. All of them are listed at /problems.".into(),
            )
        })?;
    let page = ProblemPage {
        frame: Frame::bare(),
        title: title(problem.slug),
        slug: problem.slug,
        meaning: problem.meaning,
        remedy: problem.remedy,
    };
    Ok(html(StatusCode::OK, &page))
}
