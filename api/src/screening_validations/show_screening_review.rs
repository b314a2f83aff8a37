//! Shows one review of a validation.

use super::{store, wire::ScreeningReviewView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::ScreeningReviewId;

/// Show screening review
#[utoipa::path(tag = "screening-validations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ScreeningReviewId, Path, description = "Review of a validation")),
    responses((status = 200, body = ScreeningReviewView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/screening-reviews/{id}")]
pub(super) async fn show_screening_review(
    actor: Actor,
    review: InLab<ScreeningReviewId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadScreeningReviews, review.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| {
            store::reviews::find(tx, review.id().0).await
        })
        .await?;
    let view = ScreeningReviewView::from(kept);
    Ok(shown(&request, view.version, &view))
}
