//! Lists the reviews of a validation, newest first.

use super::{store, wire::ScreeningReviewView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use domain::id::ScreeningValidationId;

/// List screening reviews
#[utoipa::path(tag = "screening-validations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ScreeningValidationId, Path, description = "Validation"), Page),
    responses((status = 200, body = Listed<ScreeningReviewView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/screening-validations/{id}/reviews")]
pub(super) async fn list_screening_reviews(
    actor: Actor,
    validation: InLab<ScreeningValidationId>,
    page: web::Query<Page>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadScreeningReviews, validation.lab())?;
    let found = app
        .db
        .read(&permit, async |tx| {
            let id = store::find(tx, validation.id().0).await?.id;
            store::reviews::list(tx, &page, id).await
        })
        .await?;
    let views: Vec<ScreeningReviewView> =
        found.into_iter().map(ScreeningReviewView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
