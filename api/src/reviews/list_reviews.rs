//! Lists reviews, newest first.

use super::{store, wire::ReviewView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use domain::reviews::Meaning;
use uuid::Uuid;

/// Which reviews are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ReviewFilter {
    /// Only those that signed this result.
    pub result: Option<Uuid>,
    /// Only those of this reviewer.
    pub reviewer: Option<Uuid>,
    /// Only releases, or only returns.
    pub meaning: Option<Meaning>,
}

/// List reviews
#[utoipa::path(tag = "reviews",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, ReviewFilter),
    responses((status = 200, body = Listed<ReviewView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/reviews")]
pub(super) async fn list_reviews(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<ReviewFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadReviews, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, &filter).await)
        .await?;
    let views: Vec<ReviewView> = found.into_iter().map(ReviewView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
